//! Small random shops: files of an import, then verbs, corrections, voids and dispositions, all over the same few
//! seconds, so that ends touch and claims contradict each other.

use super::oracle::{self, Book, Holds, Line};
use super::raw;
use crate::laws_support::{START, Shop, acting};
use filler::needed::JointDrawing;
use filler::{Process, Quantity};
use ledger::export::export_record;
use ledger::tell::correct::CorrectRequest;
use ledger::tell::declare::{JointRequest, Needs};
use ledger::tell::dispose::DisposeRequest;
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::issue::IssueRequest;
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::scrap::{ScrapFrom, ScrapRequest};
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::tell::unmarked::UnmarkedRequest;
use ledger::tell::weld::WeldRequest;
use ledger::{Acting, Error, Ledger};
use proptest::collection::vec;
use proptest::prelude::*;
use record::event::{
    CertificateFiled, Condition, Disposition, EntryCorrected, EntryVoided, FindingDisposed, JointRef, Level,
    LotRef, Mark, NoteWritten, PersonRef, PrintedSize, Replacement, SlipRef, SlipReprinted, Subject,
    WireFoundUnmarked,
};
use record::finding::{Code, FindingId};
use record::id::{EntryId, JointId, PersonId};
use record::{Event, Instant, Stated, When};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What one row or one request is made of: choices that are taken one after the other.
type Choices = [u8; 16];

/// A shop as choices.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) lots: Vec<Choices>,
    pub(crate) wps: Vec<Choices>,
    pub(crate) joints: Vec<Choices>,
    pub(crate) issues: Vec<Choices>,
    pub(crate) hand_overs: Vec<Choices>,
    pub(crate) returns: Vec<Choices>,
    pub(crate) welds: Vec<Choices>,
    pub(crate) checks: Vec<Choices>,
    pub(crate) finds: Vec<Choices>,
    pub(crate) scraps: Vec<Choices>,
    pub(crate) told: Vec<(u8, Choices)>,
}

pub(crate) fn plan() -> impl Strategy<Value = Plan> {
    let rows = |n: std::ops::Range<usize>| vec(any::<Choices>(), n);
    let files =
        (rows(2..5), rows(1..3), rows(1..4), rows(2..8), rows(0..3), rows(0..6), rows(0..5), rows(0..4));
    let beside = (rows(0..2), rows(0..3));
    (files, beside, vec(any::<(u8, Choices)>(), 0..12)).prop_map(
        |((lots, wps, joints, issues, hand_overs, returns, welds, checks), (finds, scraps), told)| Plan {
            lots,
            wps,
            joints,
            issues,
            hand_overs,
            returns,
            welds,
            checks,
            finds,
            scraps,
            told,
        },
    )
}

/// Choices, one after the other; zeros when they run out.
pub(crate) struct Dice<'c> {
    left: std::slice::Iter<'c, u8>,
}

impl<'c> Dice<'c> {
    pub(crate) fn new(choices: &'c [u8]) -> Self {
        Self { left: choices.iter() }
    }

    fn byte(&mut self) -> u8 {
        self.left.next().copied().unwrap_or(0)
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { usize::from(self.byte()) % n }
    }

    pub(crate) fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    /// One in `n`.
    fn one_in(&mut self, n: u8) -> bool {
        self.byte() % n == n - 1
    }

    pub(crate) fn some_of<T: Clone>(&mut self, from: &[T]) -> Option<T> {
        if from.is_empty() { None } else { Some(self.pick(from)) }
    }
}

const CODES: [&str; 6] = ["C-10", "C-1O", "CIO", "C-22", "C-Z2", "K-7"];
const MAKER_LOTS: [&str; 7] = ["M-77", "M-55", "M-S5", "M55", "", "unknown", "C-1Q"];
const HEATS: [&str; 7] = ["", "H0117", "HO117", "H-0117", "77;H0117", "unknown", "77"];
const CERTIFICATES: [&str; 8] = ["", "T-1", "n/a", "unknown", "illegible", "T-I", "T1", "T-2"];
const CLASSES: [&str; 6] = ["ER70S-2", "E7018-1 H4R", "ER308L", "E7018", "", "ER70S-6"];
const SPECS: [&str; 5] = ["A5.18", "a 5.18", "A5.1", "", "unknown"];
const SIZES: [&str; 6] = ["3/32 in x 36 in", "3/32 in", "2.4 mm x 1000 mm", "2.4 mm", "", "1/8 in x 14 in"];
const FORMS: [&str; 9] =
    ["cut-length", "cut-length", "cut-length", "cut-length", "covered", "spool", "insert", "flux", ""];
const PROCESSES: [&str; 7] = ["GTAW", "", "GTAW", "", "SMAW", "SAW", "GMAW"];
const WPS_PROCESSES: [&str; 5] = ["GTAW", "SMAW", "GTAW;SMAW", "SAW", ""];
const WPS_CLASSES: [&str; 6] = ["", "ER70S-2", "E7018", "ER70S-2;ER308L", "ER70S-6", "E7018-1"];
const WPS_SPECS: [&str; 4] = ["", "A5.18", "a5.1", "A5.18;A5.1"];
const WPS_SIZES: [&str; 5] = ["", "3/32 in", "2.4 mm", "3/32 in x 36 in;1/8 in x 14 in", "2.4 mm x 1000 mm"];
const AMOUNTS: [&str; 12] = [
    "4 rods", "1 rods", "2 rods", "3 rods", "6 rods", "60 g", "30 g", "", "1 spools", "unknown", "9 rods",
    "8 rods",
];
/// What a joint needs and how uncertain that is, in grams.
pub(super) const NEEDS: [&str; 8] = [",", "5,0.3", "900,20", "40,4", "5,0.3", "900,20", "60,", "150,10"];
const WELDERS: [&str; 3] = ["W-1", "W-2", "W-3"];
/// The same, one of them more often: slips and weld records meet in few hands.
const HANDS: [&str; 5] = ["W-1", "W-1", "W-1", "W-2", "W-3"];
const CONDITIONS: [&str; 5] = ["marked", "unmarked", "damaged", "", "wet"];
const MARKS: [&str; 4] = ["read", "unreadable", "not-looked", ""];
const READS: [&str; 5] = ["70S-2", "7018", "", "308L", "ER70S-6"];

/// Seconds of the history, an early one, and the whole day.
const TIMES: [&str; 5] = [
    "2026-03-02T08:00:06Z",
    "2026-03-02T08:00:12Z",
    "2026-03-02T08:00:02Z",
    "2026-03-02",
    "2026-03-02T08:00:20Z",
];

/// A small fillet, worked out from its measures.
fn fillet() -> Needs {
    let features = [("leg", "6 mm"), ("convexity", "0 mm")];
    Needs::Groove(JointDrawing {
        density: "7.85".into(),
        efficiency: "0.9".into(),
        features: features.map(|(word, text)| (word.to_owned(), text.to_owned())).into(),
        groove: "fillet".into(),
        length: Some("100 mm".into()),
        ..JointDrawing::default()
    })
}

/// A second of the history as a cell: exact, a second and a half, or the whole local day.
fn cell(dice: &mut Dice<'_>, from: i64, seconds: usize) -> String {
    let second = from + dice.below(seconds) as i64;
    let exact = Instant(START + second).to_string();
    match dice.below(12) {
        0 => "2026-03-02".into(),
        1 | 2 => exact.replace('Z', ".5Z"),
        _ => exact,
    }
}

fn claim(dice: &mut Dice<'_>, from: i64, seconds: usize) -> When {
    let second = START + from + dice.below(seconds) as i64;
    let width = if dice.one_in(3) { dice.below(5) as i64 } else { 0 };
    When { from: Instant(second), text: "so typed".into(), to: Instant(second + width) }
}

/// The files of the import.
pub(crate) fn files(plan: &Plan) -> BTreeMap<&'static str, String> {
    let mut files: BTreeMap<&'static str, String> = BTreeMap::new();
    // In half of the shops W-3 has one slip for one joint, and brings it back with stubs that were counted.
    let mut story = Dice::new(&plan.lots[0][12..15]);
    let story = story.one_in(2).then(|| {
        let (much, stubs) = (story.pick(&["9 rods", "2 rods", "20 rods"]), story.pick(&["0", "2", "0"]));
        let code = CODES[plan.lots[0][15] as usize % CODES.len()];
        [
            ("joints.csv", format!("J-9,,class,{},2026-03-02", story.pick(&["5,0.3", "900,20"]))),
            ("issues.csv", format!("P-99,{code},W-3,{much},2026-03-02T08:00:03Z,")),
            ("returns.csv", format!("P-99,1 rods,{stubs},marked,yes,2026-03-02T08:00:18Z")),
            ("welds.csv", "J-9,,,W-3,,,2026-03-02T08:00:10Z,2026-03-02T08:00:10Z,read".to_owned()),
        ]
    });
    let mut put = |file: &'static str, header: &str, mut rows: Vec<String>| {
        let of_story = story.iter().flatten().filter(|(of, _)| *of == file);
        rows.extend(of_story.map(|(_, row)| row.clone()));
        if !rows.is_empty() {
            files.insert(file, format!("{header}\n{}\n", rows.join("\n")));
        }
    };
    put(
        "people.csv",
        "badge,name,roles",
        WELDERS.iter().map(|w| format!("{w},Somebody {w},welder")).collect(),
    );
    let mut rows = Vec::new();
    let offset = plan.lots[0][15] as usize;
    for (i, choices) in plan.lots.iter().enumerate() {
        let mut d = Dice::new(choices);
        let code = CODES[(offset + i) % CODES.len()];
        let (maker_lot, class, size, form) =
            (d.pick(&MAKER_LOTS), d.pick(&CLASSES), d.pick(&SIZES), d.pick(&FORMS));
        let quantity = if form == "spool" { "9 spools" } else { "40 rods" };
        let piece = d.pick(&["", "10"]);
        let again =
            d.one_in(4) && ![maker_lot, class, size, form].iter().any(|c| c.is_empty() || *c == "unknown");
        let released = if d.one_in(4) { String::new() } else { cell(&mut d, 0, 14) };
        for (delivery, released) in [(0, released), (1, String::new())] {
            if delivery == 0 || again {
                rows.push(format!(
                    "{code},Maker {i},{maker_lot},{},{},{class},{size},{form},{quantity},{piece},{},2026-03-01,{released}",
                    d.pick(&HEATS),
                    d.pick(&SPECS),
                    d.pick(&CERTIFICATES),
                ));
            }
        }
    }
    put(
        "lots.csv",
        "lot,maker,maker_lot,heats,spec,classification,size,form,quantity,piece_g,certificate,received_at,released_at",
        rows,
    );
    let wps = |i: usize, c: &Choices| {
        let mut d = Dice::new(c);
        let [p, s, k, z] = [&WPS_PROCESSES[..], &WPS_SPECS, &WPS_CLASSES, &WPS_SIZES].map(|l| d.pick(l));
        format!("P-{i},{p},{s},{k},{z}")
    };
    put(
        "wps.csv",
        "wps,process,spec,classifications,sizes",
        plan.wps.iter().enumerate().map(|(i, c)| wps(i, c)).collect(),
    );
    let joint = |i: usize, c: &Choices| {
        let mut d = Dice::new(c);
        let list = match (plan.wps.len(), d.below(4)) {
            (0, _) | (_, 3) => String::new(),
            (1, _) | (_, 0) => "P-0".into(),
            (_, 1) => "P-1".into(),
            (_, _) => "P-0;P-1".into(),
        };
        let level = d.pick(&["lot", "lot", "class", ""]);
        format!("J-{i},{list},{level},{},{}", d.pick(&NEEDS), d.pick(&["", "2026-03-02", "2026-03-02"]))
    };
    put(
        "joints.csv",
        "joint,wps,level,needed_g,needed_u_g,finished_at",
        plan.joints.iter().enumerate().map(|(i, c)| joint(i, c)).collect(),
    );
    let code = |d: &mut Dice<'_>| CODES[(offset + d.below(plan.lots.len())) % CODES.len()];
    let issue = |i: usize, c: &Choices| {
        let mut d = Dice::new(c);
        let (lot, who, much) = (code(&mut d), d.pick(&HANDS), d.pick(&AMOUNTS));
        let at = cell(&mut d, 0, 12);
        let due = if d.one_in(2) { cell(&mut d, 8, 12) } else { String::new() };
        format!("P-{i},{lot},{who},{much},{at},{due}")
    };
    let issues = plan.issues.iter().enumerate().map(|(i, c)| issue(i, c)).collect();
    put("issues.csv", "slip,lot,welder,quantity,issued_at,due_at", issues);
    if plan.issues.is_empty() {
        // No slips, so nothing that names one.
    } else {
        let slip = |d: &mut Dice<'_>, hand_overs: usize| {
            let n = d.below(plan.issues.len() + hand_overs);
            if n < plan.issues.len() { format!("P-{n}") } else { format!("Q-{}", n - plan.issues.len()) }
        };
        let hand_over = |i: usize, c: &Choices| {
            let mut d = Dice::new(c);
            let (slip, who, much) = (slip(&mut d, i), d.pick(&HANDS), d.pick(&AMOUNTS));
            let (closes, at) = (d.pick(&["", "no", "yes"]), cell(&mut d, 4, 12));
            format!("{slip},Q-{i},{who},{much},{closes},{at}")
        };
        let rows = plan.hand_overs.iter().enumerate().map(|(i, c)| hand_over(i, c)).collect();
        put("hand_overs.csv", "slip,new_slip,to_welder,quantity,closes,at", rows);
        let give_back = |c: &Choices| {
            let mut d = Dice::new(c);
            let (slip, much) = (slip(&mut d, plan.hand_overs.len()), d.pick(&AMOUNTS));
            let (stubs, condition) = (d.pick(&["", "0", "1", "0", "2", "4"]), d.pick(&CONDITIONS));
            let (closes, at) = (d.pick(&["", "no", "yes"]), cell(&mut d, 6, 14));
            format!("{slip},{much},{stubs},{condition},{closes},{at}")
        };
        put(
            "returns.csv",
            "slip,quantity,stubs,condition,closes,returned_at",
            plan.returns.iter().map(give_back).collect(),
        );
        let scrap = |c: &Choices| {
            let mut d = Dice::new(c);
            let (slip, much) = (slip(&mut d, plan.hand_overs.len()), d.pick(&AMOUNTS));
            format!("{slip},{much},bent,{}", cell(&mut d, 6, 14))
        };
        put("scraps.csv", "slip,quantity,why,scrapped_at", plan.scraps.iter().map(scrap).collect());
    }
    let find = |c: &Choices| {
        let mut d = Dice::new(c);
        let (at, who) = (cell(&mut d, 4, 14), d.pick(&["W-1", "", "W-2"]));
        let joints = if d.one_in(2) { format!("J-{}", d.below(plan.joints.len())) } else { String::new() };
        format!("{at},bench 3,{who},{joints}")
    };
    put("found_wire.csv", "found_at,place,welder,joints", plan.finds.iter().map(find).collect());
    let weld = |c: &Choices| {
        let mut d = Dice::new(c);
        let (joint, process) = (d.below(plan.joints.len()), d.pick(&PROCESSES));
        let filler = if d.one_in(8) { "no" } else { "" };
        let (who, mark) = (d.pick(&HANDS), d.pick(&MARKS));
        let (mut lot, mut slip) = (String::new(), String::new());
        match d.below(6) {
            1 if filler.is_empty() => lot = code(&mut d).into(),
            2 if filler.is_empty() && !plan.issues.is_empty() => {
                slip = format!("P-{}", d.below(plan.issues.len()));
            }
            _ => {}
        }
        let from = cell(&mut d, 4, 14);
        let to = if d.one_in(2) { cell(&mut d, 10, 10) } else { String::new() };
        format!("J-{joint},{process},{filler},{who},{lot},{slip},{from},{to},{mark}")
    };
    put(
        "welds.csv",
        "joint,process,filler,welder,lot,slip,from,to,mark",
        plan.welds.iter().map(weld).collect(),
    );
    let check = |c: &Choices| {
        let mut d = Dice::new(c);
        let (joint, who) = (d.below(plan.joints.len()), d.pick(&HANDS));
        let (at, legible, reads) = (cell(&mut d, 4, 14), d.pick(&["yes", "yes", "no"]), d.pick(&READS));
        format!("J-{joint},{who},{at},{legible},{reads}")
    };
    put("spot_checks.csv", "joint,welder,at,legible,reads", plan.checks.iter().map(check).collect());
    files
}

/// How often each thing was told and taken, so that a test that tells nothing is noticed.
pub(crate) type Counts = BTreeMap<String, usize>;

/// A book and what it was told.
pub(crate) struct Told {
    pub(crate) ledger: Ledger,
    pub(crate) shop: Shop,
    pub(crate) log: String,
    counts: Counts,
}

impl Told {
    /// Imports the files and tells the rest; none where the import refuses a label that means two lots.
    pub(crate) fn of(plan: &Plan, counts: &mut Counts) -> Option<Self> {
        let shop = Shop::new();
        let ledger = shop.init(START);
        let mut told = Self { ledger, shop, log: String::new(), counts: Counts::new() };
        let folder = told.shop.path("files");
        std::fs::create_dir(&folder).unwrap();
        for (name, text) in files(plan) {
            let _ = writeln!(told.log, "{name}\n{text}");
            std::fs::write(folder.join(name), text).unwrap();
        }
        match told.ledger.import(&acting("I-1", START + 40), &folder, false, &mut |_| {}) {
            Ok(_) => {}
            Err(Error::BadRows { rows, .. }) => {
                let two = |why: &str| why.contains("means several lots") || why.contains("that is one lot");
                assert!(rows.iter().all(|row| two(&row.why)), "{rows:?}\n{}", told.log);
                *counts.entry("refused import".into()).or_default() += 1;
                return None;
            }
            Err(other) => panic!("{other:?}\n{}", told.log),
        }
        for (kind, choices) in &plan.told {
            told.tell(*kind, &mut Dice::new(choices));
        }
        for (what, n) in std::mem::take(&mut told.counts) {
            *counts.entry(what).or_default() += n;
        }
        Some(told)
    }

    pub(crate) fn lines(&self) -> Vec<Line> {
        let mut record = Vec::new();
        self.ledger.ask(|r| export_record(r, &mut record)).unwrap();
        oracle::lines(&record)
    }

    fn tell(&mut self, kind: u8, d: &mut Dice<'_>) {
        let lines = self.lines();
        let book = Book::of(&lines);
        // At once, or a day and some seconds later: just late, or just not.
        let now = match d.below(4) {
            0 => START + 24 * 3600 + d.below(30) as i64,
            1 => START + 3 * 24 * 3600,
            _ => START + 40,
        };
        let by = Acting { overriding: Some("it is so".into()), ..acting("I-1", now) };
        let (what, taken) = match kind % 23 {
            0 | 1 => self.status(d, &by, &book),
            2 => self.issue(d, &by, &book),
            3 => self.give_back(d, &by, &book),
            4 => self.hand_over(d, &by, &book),
            5 => {
                let (who, at) = (d.pick(&HANDS), claim(d, 3, 10));
                let _ = write!(self.log, "{who} {at:?} ");
                ("clear", self.ledger.clear(&by, who, Some(&at)).map(drop))
            }
            6 | 7 => self.weld(d, &by, &book),
            8 => self.spot_check(d, &by, &book),
            9 => self.found(d, &by, &book),
            10 => self.receive(d, &by),
            11 => self.dispose(d, &by),
            12 | 13 => self.amend(d, now, &lines, &book, false),
            14 => self.amend(d, now, &lines, &book, true),
            15 => self.scrap(d, &by, &book),
            16 => self.certificate(d, now, &book),
            17 => self.raw_disposition(d, now),
            18 => self.beside(d, now, &book),
            19 | 20 => self.correct(d, &by, &lines, &book),
            21 => self.void(d, &by, &lines),
            _ => {
                let request = JointRequest {
                    number: format!("J-{}", d.below(4)),
                    level: d.pick(&[Some(Level::Lot), Some(Level::Class), None]),
                    needs: d.pick(&[
                        None,
                        Some(Needs::Said { mg: 800_000, u_mg: Some(9_000) }),
                        Some(fillet()),
                    ]),
                    ..JointRequest::default()
                };
                let _ = write!(self.log, "{request:?} ");
                ("joint", self.ledger.declare_joint(&by, &request).map(drop))
            }
        };
        let word = match &taken {
            Ok(()) => "taken",
            Err(Error::Refused(_)) => "refused",
            Err(Error::NotUnderstood { .. } | Error::NotFound { .. } | Error::Ambiguous { .. }) => {
                "not understood"
            }
            Err(other) => panic!("a sound book answers {other:?}\n{}", self.log),
        };
        let _ = writeln!(self.log, "{what} at {}: {word}", now - START);
        *self.counts.entry(format!("{what} {word}")).or_default() += 1;
    }

    fn status(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let Some(lot) = d.some_of(&book.lots.keys().copied().collect::<Vec<_>>()) else {
            return ("status", Ok(()));
        };
        let (label, at) = (lot.to_string(), claim(d, 0, 14));
        let _ = write!(self.log, "{} {at:?} ", book.lot(lot).code);
        match d.below(6) {
            0..=2 => ("release", self.ledger.release(by, &label, None, Some(&at)).map(drop)),
            3 => ("hold", self.ledger.hold(by, &label, "so", Some(&at)).map(drop)),
            4 => ("reject", self.ledger.reject(by, &label, "so", Some(&at)).map(drop)),
            _ => ("recall", self.ledger.recall_lots(by, &[label], "so", Some(&at)).map(drop)),
        }
    }

    fn much(d: &mut Dice<'_>) -> Quantity {
        Quantity::parse(
            d.pick(&["4 rods", "1 rods", "2 rods", "3 rods", "6 rods", "60 g", "30 g", "1 spools"]),
        )
        .unwrap()
    }

    fn issue(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let Some(lot) = d.some_of(&book.lots.keys().copied().collect::<Vec<_>>()) else {
            return ("issue", Ok(()));
        };
        let request = IssueRequest {
            lot: lot.to_string(),
            holder: d.pick(&HANDS).into(),
            quantity: Self::much(d),
            joints: Vec::new(),
            quiver: None,
            number: None,
            due: d.one_in(2).then(|| claim(d, 14, 10)),
            at: Some(claim(d, 3, 10)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("issue", self.ledger.issue(by, &request).map(drop))
    }

    fn slip(d: &mut Dice<'_>, book: &Book) -> Option<String> {
        d.some_of(&book.slips.keys().map(ToString::to_string).collect::<Vec<_>>())
    }

    fn give_back(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let Some(slip) = Self::slip(d, book) else { return ("return", Ok(())) };
        let request = ReturnRequest {
            slip,
            quantity: Self::much(d),
            stubs: d.pick(&[None, Some(0), Some(1), Some(3)]),
            condition: d.pick(&[Condition::Marked, Condition::Unmarked, Condition::Wet]),
            more: d.one_in(2),
            at: Some(claim(d, 6, 14)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("return", self.ledger.give_back(by, &request).map(drop))
    }

    fn hand_over(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let Some(slip) = Self::slip(d, book) else { return ("hand-over", Ok(())) };
        let request = HandOverRequest {
            slip,
            to: d.pick(&HANDS).into(),
            quantity: Self::much(d),
            closes: d.one_in(3),
            number: None,
            at: Some(claim(d, 5, 12)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("hand-over", self.ledger.hand_over(by, &request).map(drop))
    }

    fn joint(d: &mut Dice<'_>, book: &Book) -> Option<(JointId, String)> {
        let all: Vec<_> = book.joints.iter().map(|(id, j)| (*id, j[0].1.number.clone())).collect();
        d.some_of(&all)
    }

    fn weld(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let Some((_, joint)) = Self::joint(d, book) else { return ("weld", Ok(())) };
        let also =
            if d.one_in(2) { Self::joint(d, book).map(|(_, j)| j).into_iter().collect() } else { Vec::new() };
        let (mut lot, mut slip) = (None, None);
        match d.below(4) {
            1 => lot = d.some_of(&book.lots.keys().map(ToString::to_string).collect::<Vec<_>>()),
            2 => slip = Self::slip(d, book),
            _ => {}
        }
        let request = WeldRequest {
            arc: record::event::Arc::default(),
            joint,
            also,
            welder: d.pick(&HANDS).into(),
            pass: None,
            cycle: None,
            process: d.pick(&[Some(Process::Gtaw), None, Some(Process::Smaw), Some(Process::Saw)]),
            lot,
            slip,
            filler: !d.one_in(8),
            used: None,
            from: Some(claim(d, 4, 14)),
            to: d.one_in(2).then(|| claim(d, 16, 8)),
            mark: d.pick(&[None, Some(Mark::Read), Some(Mark::Unreadable)]),
            finished: d.one_in(2),
        };
        let _ = write!(self.log, "{request:?} ");
        ("weld", self.ledger.weld(by, &request).map(drop))
    }

    fn spot_check(
        &mut self,
        d: &mut Dice<'_>,
        by: &Acting,
        book: &Book,
    ) -> (&'static str, Result<(), Error>) {
        let Some((_, joint)) = Self::joint(d, book) else { return ("spot check", Ok(())) };
        let request = SpotCheckRequest {
            joint,
            welder: d.pick(&HANDS).into(),
            legible: !d.one_in(3),
            reads: Some(d.pick(&READS).into()).filter(|r: &String| !r.is_empty()),
            at: Some(claim(d, 4, 14)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("spot check", self.ledger.spot_check(by, &request).map(drop))
    }

    fn found(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let joints = (0..d.below(3)).filter_map(|_| Self::joint(d, book)).map(|(_, j)| j).collect();
        let request = UnmarkedRequest {
            place: "bench 4".into(),
            welder: d.pick(&[Some("W-1"), None, Some("W-2")]).map(str::to_owned),
            quantity: None,
            joints,
            at: Some(claim(d, 4, 14)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("found", self.ledger.found_unmarked(by, &request).map(drop))
    }

    fn receive(&mut self, d: &mut Dice<'_>, by: &Acting) -> (&'static str, Result<(), Error>) {
        let form = d.pick(&[Stated::Value(filler::ProductForm::CutLength), Stated::NotAsked]);
        let text = |t: &str| Some(t.to_owned()).filter(|t| !t.is_empty());
        let request = ReceiveRequest {
            values: ledger::tell::certificate_read::ValuesTyped::default(),
            code: d.pick(&["K-8", "C-2Z", "C10", "K-B"]).into(),
            maker: Some("Maker 9".into()),
            maker_lot: text(d.pick(&MAKER_LOTS)),
            heats: text(d.pick(&["", "H0117", "HQ117"])).into_iter().collect(),
            spec: text(d.pick(&SPECS)),
            classification: text(d.pick(&CLASSES)),
            size: text(d.pick(&SIZES)),
            form,
            quantity: Stated::Value(Quantity::parse("30 rods").unwrap()),
            certificate: text(d.pick(&CERTIFICATES)),
            at: Some(claim(d, 0, 4)),
            ..ReceiveRequest::default()
        };
        let _ = write!(self.log, "{request:?} ");
        ("receive", self.ledger.receive(by, &request).map(drop))
    }

    fn dispose(&mut self, d: &mut Dice<'_>, by: &Acting) -> (&'static str, Result<(), Error>) {
        let findings = self.ledger.ask(|r| r.findings(by.now)).unwrap();
        let Some(finding) = d.some_of(&findings) else { return ("dispose", Ok(())) };
        let request = DisposeRequest {
            finding: finding.id.to_string(),
            disposition: d.pick(&Disposition::ALL),
            why: "seen".into(),
            lot: None,
            classification: None,
            at: Some(claim(d, 0, 30)),
        };
        let _ = write!(self.log, "{request:?} ");
        ("dispose", self.ledger.dispose(by, &request).map(drop))
    }

    /// A correction by the verb: one cell of something that stands.
    fn correct(
        &mut self,
        d: &mut Dice<'_>,
        by: &Acting,
        lines: &[Line],
        book: &Book,
    ) -> (&'static str, Result<(), Error>) {
        let can: Vec<&Holds> = book.holds.iter().filter(|h| !fields(&h.event).is_empty()).collect();
        let Some(holds) = d.some_of(&can) else { return ("correct by verb", Ok(())) };
        let (field, cells) = d.pick(fields(&holds.event));
        let request = CorrectRequest {
            entry: lines[holds.line].id.to_string(),
            set: vec![(field.into(), d.pick(cells).into())],
            why: "the paper says so".into(),
        };
        let _ = write!(self.log, "{} {request:?} ", holds.event.kind());
        ("correct by verb", self.ledger.correct(by, &request).map(drop))
    }

    /// A void by the verb, of anything.
    fn void(&mut self, d: &mut Dice<'_>, by: &Acting, lines: &[Line]) -> (&'static str, Result<(), Error>) {
        let line = &lines[d.below(lines.len())];
        let _ = write!(self.log, "{} {:?} ", line.entry.event.kind(), line.id);
        ("void by verb", self.ledger.void(by, &line.id.to_string(), "never was").map(drop))
    }

    // ---- told by entries alone ------------------------------------------------------------------------------------

    fn append(&mut self, event: impl Into<Event>, now: i64) -> EntryId {
        let event = event.into();
        let _ = write!(self.log, "{event:?} ");
        raw::append(&mut self.ledger, &self.shop.home(), &[(event, now)])[0]
    }

    fn raw_disposition(&mut self, d: &mut Dice<'_>, now: i64) -> (&'static str, Result<(), Error>) {
        let at = [START + 30, START + 24 * 3600 + 60][d.below(2)];
        let findings = self.ledger.ask(|r| r.findings(Instant(at))).unwrap();
        let Some(finding) = d.some_of(&findings) else { return ("raw disposition", Ok(())) };
        let disposition = d.pick(&Disposition::ALL);
        let disposed = disposed(finding.code, &finding.entries, disposition, claim(d, 0, 30));
        self.append(disposed, now);
        ("raw disposition", Ok(()))
    }

    fn scrap(&mut self, d: &mut Dice<'_>, by: &Acting, book: &Book) -> (&'static str, Result<(), Error>) {
        let some = if d.one_in(3) { None } else { Some(Self::much(d)) };
        let from = match (d.below(4), Self::slip(d, book), d.some_of(&book.lots.keys().collect::<Vec<_>>())) {
            (1..=3, Some(slip), _) => ScrapFrom::Slip(slip, some),
            (_, _, Some(lot)) => ScrapFrom::Crib(lot.to_string(), some),
            (_, _, None) => return ("scrap", Ok(())),
        };
        let request = ScrapRequest { from, why: "bent".into(), at: Some(claim(d, 6, 14)) };
        let _ = write!(self.log, "{request:?} ");
        ("scrap", self.ledger.scrap(by, &request).map(drop))
    }

    fn certificate(&mut self, d: &mut Dice<'_>, now: i64, book: &Book) -> (&'static str, Result<(), Error>) {
        let lots: Vec<_> = book.lots.keys().copied().collect();
        let lots = (0..d.below(3)).filter_map(|_| d.some_of(&lots));
        let filed = CertificateFiled {
            lots: lots.map(|lot| LotRef { label: "L".into(), lot }).collect(),
            at: claim(d, 0, 30),
            bytes: 1,
            certificate: d.pick(&["T-1", "T-l", "TI", "X-9"]).into(),
            certificate_type: Stated::NotAsked,
            file: "paper.pdf".into(),
            sha256: "00".repeat(32),
        };
        self.append(filed, now);
        ("certificate", Ok(()))
    }

    /// A note, a slip printed again, or a find of a file.
    fn beside(&mut self, d: &mut Dice<'_>, now: i64, book: &Book) -> (&'static str, Result<(), Error>) {
        let at = claim(d, 0, 30);
        match (d.below(3), d.some_of(&book.slips.values().collect::<Vec<_>>())) {
            (0, Some(slip)) => {
                let slip = SlipRef { number: slip.number.clone(), slip: slip.id };
                self.append(SlipReprinted { at, slip, why: String::new() }, now);
            }
            (1, Some(slip)) => {
                let about = Subject::Slip(slip.id);
                let note = NoteWritten { about, at, label: slip.number.clone(), text: "wet floor".into() };
                self.append(note, now);
            }
            _ => {
                let joint = Self::joint(d, book).map(|(joint, number)| JointRef { joint, number });
                let found = WireFoundUnmarked {
                    at,
                    by: Stated::NotAsked,
                    imported: Some(record::event::Imported { file: "found_wire.csv".into(), row: 2 }),
                    joints: joint.into_iter().collect(),
                    place: "floor".into(),
                    quantity: Stated::NotAsked,
                    welder: Stated::NotAsked,
                };
                self.append(found, now);
            }
        }
        ("beside", Ok(()))
    }

    /// A correction or a void of something that stands, or a void of the newest void of a chain.
    fn amend(
        &mut self,
        d: &mut Dice<'_>,
        now: i64,
        lines: &[Line],
        book: &Book,
        void: bool,
    ) -> (&'static str, Result<(), Error>) {
        let what = if void { "void" } else { "correct" };
        if void && d.one_in(4) {
            let Some(target) = d.some_of(&voids(lines)) else { return ("void of void", Ok(())) };
            self.append(EntryVoided { voids: target, why: "after all".into() }, now);
            return ("void of void", Ok(()));
        }
        let told_once = |h: &Holds| matches!(h.event, Event::PersonEnrolled(_) | Event::FilesImported(_));
        let free: Vec<&Holds> =
            book.holds.iter().filter(|h| !told_once(h) && (!void || may_void(book, h))).collect();
        let Some(holds) = d.some_of(&free) else { return (what, Ok(())) };
        let target = lines[holds.line].id;
        if void {
            self.append(EntryVoided { voids: target, why: "never was".into() }, now);
            return (what, Ok(()));
        }
        let Some(event) = changed(d, book, holds) else { return ("correct nothing", Ok(())) };
        self.append(correction(target, &event), now);
        ("correct", Ok(()))
    }
}

/// Fields of an entry that the verb can set, each with cells.
type Fields = &'static [(&'static str, &'static [&'static str])];

fn fields(event: &Event) -> Fields {
    match event {
        Event::LotReceived(_) => &[
            ("certificate", &CERTIFICATES),
            ("classification", &CLASSES),
            ("spec", &SPECS),
            ("size", &SIZES),
            ("heats", &HEATS),
            ("maker_lot", &MAKER_LOTS),
        ],
        Event::LotReleased(_) | Event::LotHeld(_) | Event::LotRejected(_) | Event::LotRecalled(_) => {
            &[("at", &TIMES)]
        }
        Event::JointDeclared(_) => &[("level", &["lot", "class", ""]), ("wps", &["", "P-0"])],
        Event::WpsDeclared(_) => {
            &[("classifications", &WPS_CLASSES), ("sizes", &WPS_SIZES), ("spec", &WPS_SPECS)]
        }
        Event::RodIssued(_) => &[
            ("quantity", &AMOUNTS),
            ("issued_at", &TIMES),
            ("due_at", &TIMES),
            ("lot", &CODES),
            ("welder", &WELDERS),
        ],
        Event::RodReturned(_) => &[
            ("quantity", &AMOUNTS),
            ("stubs", &["0", "", "2", "unknown"]),
            ("condition", &CONDITIONS),
            ("closes", &["no", "yes"]),
            ("slip", &["P-0", "P-1"]),
            ("returned_at", &TIMES),
        ],
        Event::RodHandedOver(_) => {
            &[("quantity", &AMOUNTS), ("closes", &["yes", "no"]), ("to_welder", &WELDERS), ("at", &TIMES)]
        }
        Event::RodScrapped(_) => &[("quantity", &AMOUNTS)],
        Event::WelderCleared(_) => &[("at", &TIMES), ("welder", &WELDERS)],
        Event::JointWelded(_) => &[
            ("mark", &MARKS),
            ("process", &PROCESSES),
            ("lot", &CODES),
            ("welder", &WELDERS),
            ("joint", &["J-0", "J-1"]),
            ("from", &TIMES),
        ],
        Event::MarkSpotChecked(_) => &[("legible", &["no", "yes"]), ("reads", &READS), ("at", &TIMES)],
        Event::WireFoundUnmarked(_) => {
            &[("joints", &["J-0", "", "J-1;J-0"]), ("welder", &["W-1", "", "W-3"])]
        }
        _ => &[],
    }
}

pub(crate) fn correction(corrects: EntryId, event: &Event) -> EntryCorrected {
    let replacement = Replacement { body: event.body().unwrap(), kind: event.kind().to_owned() };
    EntryCorrected { changes: Vec::new(), corrects, replacement, why: "it was so".into() }
}

pub(crate) fn disposed(
    code: Code,
    entries: &[EntryId],
    disposition: Disposition,
    at: When,
) -> FindingDisposed {
    FindingDisposed {
        at,
        by: PersonRef { badge: "I-1".into(), person: PersonId::from_bytes([7; 16]) },
        classification: Stated::NotAsked,
        code: code.word().into(),
        disposition,
        entries: entries.to_vec(),
        finding: FindingId::of(code, entries),
        lot: Stated::NotAsked,
        said: "it said so".into(),
        why: "seen".into(),
    }
}

/// Voids that hold and are the last word about what they name.
fn voids(lines: &[Line]) -> Vec<EntryId> {
    let chain = |at: usize| match &lines[at].entry.event {
        Event::EntryVoided(e) => {
            let target = lines.iter().position(|l| l.id == e.voids).unwrap();
            Some((matches!(lines[target].entry.event, Event::EntryVoided(_)), oracle::origin(lines, target)))
        }
        Event::EntryCorrected(_) => Some((false, oracle::origin(lines, at))),
        _ => None,
    };
    let last =
        |at: usize| !(at + 1..lines.len()).any(|later| chain(later).map(|c| c.1) == chain(at).map(|c| c.1));
    (0..lines.len())
        .filter(|at| matches!(lines[*at].entry.event, Event::EntryVoided(_)))
        .filter(|at| oracle::stands(lines, *at) && chain(*at).is_some_and(|c| !c.0) && last(*at))
        .map(|at| lines[at].id)
        .collect()
}

/// What may be voided without taking away what other entries name.
fn may_void(book: &Book, holds: &Holds) -> bool {
    match &holds.event {
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::PersonEnrolled(_)
        | Event::FilesImported(_)
        | Event::WpsDeclared(_)
        | Event::NotUnderstood(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_) => false,
        Event::LotReceived(e) => book.lots[&e.lot].len() > 1,
        Event::JointDeclared(e) => {
            let named = book.holds.iter().any(|h| match &h.event {
                Event::JointWelded(w) => w.joints.iter().any(|j| j.joint == e.joint),
                Event::MarkSpotChecked(c) => c.joint.joint == e.joint,
                Event::WireFoundUnmarked(f) => f.joints.iter().any(|j| j.joint == e.joint),
                Event::RodIssued(i) => i.joints.iter().any(|j| j.joint == e.joint),
                _ => false,
            });
            book.joints[&e.joint].len() > 1 || !named
        }
        Event::RodIssued(e) => !leaves(book, e.slip),
        Event::RodHandedOver(e) => !leaves(book, e.new_slip.slip),
        _ => true,
    }
}

/// Whether anything left a slip.
fn leaves(book: &Book, slip: record::id::SlipId) -> bool {
    book.holds.iter().any(|h| match &h.event {
        Event::RodReturned(e) => e.slip.slip == slip,
        Event::RodHandedOver(e) => e.slip.slip == slip,
        Event::RodScrapped(e) => e.slip.as_ref().is_some_and(|s| s.slip.slip == slip),
        _ => false,
    })
}

fn quantity(d: &mut Dice<'_>) -> Stated<Quantity> {
    match d.below(6) {
        0 => Stated::Unknown,
        1 => Stated::NotAsked,
        _ => Stated::Value(Told::much(d)),
    }
}

/// What an entry says after one of its values was set right; none where the kind is not corrected here.
fn changed(d: &mut Dice<'_>, book: &Book, holds: &Holds) -> Option<Event> {
    let mut event = holds.event.clone();
    let text = |t: &str| Stated::read(t);
    let list =
        |t: &str| -> Vec<String> { t.split(';').filter(|t| !t.is_empty()).map(str::to_owned).collect() };
    let size = |t: &str| PrintedSize { size: filler::Size::parse(t).unwrap(), text: t.to_owned() };
    match &mut event {
        Event::LotReceived(e) => match d.below(6) {
            0 => e.certificate = text(d.pick(&CERTIFICATES)),
            1 => e.classification = text(d.pick(&CLASSES)),
            2 => e.spec = text(d.pick(&SPECS)),
            3 => e.size = text(d.pick(&SIZES)).map(|s| size(&s)),
            4 => e.heats = list(d.pick(&["", "H0117", "HQ117", "H0117;HO117"])),
            _ => e.maker_lot = text(d.pick(&MAKER_LOTS)),
        },
        Event::LotReleased(e) => e.at = claim(d, 0, 20),
        Event::LotHeld(e) => e.at = claim(d, 0, 20),
        Event::LotRejected(e) => e.at = claim(d, 0, 20),
        Event::LotRecalled(e) => e.at = claim(d, 0, 20),
        Event::JointDeclared(e) => match d.below(2) {
            0 => {
                e.level = d.pick(&[Stated::Value(Level::Lot), Stated::Value(Level::Class), Stated::NotAsked])
            }
            _ => e.wps.clear(),
        },
        Event::WpsDeclared(e) => match d.below(4) {
            0 => e.classifications = list(d.pick(&WPS_CLASSES)),
            1 => e.specs = list(d.pick(&WPS_SPECS)),
            2 => e.sizes = list(d.pick(&WPS_SIZES)).iter().map(|s| size(s)).collect(),
            _ => e.processes = d.pick(&[vec![], vec![Process::Gtaw], vec![Process::Smaw, Process::Saw]]),
        },
        Event::RodIssued(e) => match d.below(5) {
            0 => e.at = claim(d, 0, 14),
            1 => e.due = if d.one_in(4) { Stated::NotAsked } else { Stated::Value(claim(d, 8, 12)) },
            2 if !leaves(book, e.slip) => {
                e.lot.lot = d.some_of(&book.lots.keys().copied().collect::<Vec<_>>())?;
            }
            3 if !leaves(book, e.slip) => {
                let people: Vec<PersonRef> = book
                    .holds
                    .iter()
                    .filter_map(|h| match &h.event {
                        Event::PersonEnrolled(p) => {
                            Some(PersonRef { badge: p.badge.clone(), person: p.person })
                        }
                        _ => None,
                    })
                    .collect();
                e.holder = d.some_of(&people)?;
            }
            _ => e.quantity = quantity(d),
        },
        Event::RodReturned(e) => match d.below(5) {
            0 => e.quantity = quantity(d),
            1 => e.stubs = d.pick(&[Stated::NotAsked, Stated::Value(0), Stated::Value(2), Stated::Illegible]),
            2 => {
                let conditions = [Condition::Unmarked, Condition::Marked, Condition::Damaged];
                e.condition = Stated::Value(d.pick(&conditions));
            }
            3 => e.closes = !e.closes,
            _ => e.at = claim(d, 6, 14),
        },
        Event::RodHandedOver(e) => match d.below(3) {
            0 => e.quantity = quantity(d),
            1 => e.closes = !e.closes,
            _ => e.at = claim(d, 5, 12),
        },
        Event::RodScrapped(e) => e.quantity = quantity(d),
        Event::WelderCleared(e) => e.at = claim(d, 3, 10),
        Event::JointWelded(e) => match d.below(7) {
            0 => {
                e.mark =
                    d.pick(&[Stated::Value(Mark::Unreadable), Stated::Value(Mark::Read), Stated::Illegible])
            }
            1 => {
                e.process =
                    d.pick(&[Stated::Unknown, Stated::Value(Process::Gtaw), Stated::Value(Process::Smaw)])
            }
            2 => e.from = claim(d, 4, 14),
            3 => e.to = Stated::Value(claim(d, 4, 20)),
            4 => {
                e.slip = Stated::NotAsked;
                let lot = d.some_of(&book.lots.keys().copied().collect::<Vec<_>>())?;
                e.lot = Stated::Value(LotRef { label: "L".into(), lot });
            }
            5 => {
                let (joint, number) = Told::joint(d, book)?;
                e.joints = vec![JointRef { joint, number }];
            }
            _ => {
                e.slip = Stated::NotAsked;
                e.lot = Stated::Unknown;
            }
        },
        Event::MarkSpotChecked(e) => match d.below(3) {
            0 => e.legible = !e.legible,
            1 => e.reads = text(d.pick(&READS)),
            _ => e.at = claim(d, 4, 14),
        },
        Event::WireFoundUnmarked(e) => match d.below(2) {
            0 => e.joints.clear(),
            _ => e.at = claim(d, 4, 14),
        },
        _ => return None,
    }
    (event != holds.event).then_some(event)
}
