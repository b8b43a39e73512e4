//! The same facts told in different orders. No two of them claim the same second, and no number is on the papers of two
//! lots: where the record's order decides a tie by definition, there is none.

use super::oracle::{self, Line};
use super::raw;
use super::shop::{Dice, NEEDS, correction, disposed};
use crate::laws_support::{START, Shop, acting};
use filler::{Process, Quantity};
use ledger::Ledger;
use ledger::ask::finding::Finding;
use ledger::export::export_record;
use proptest::collection::vec;
use proptest::prelude::*;
use record::event::{
    CertificateFiled, Condition, Disposition, EntryVoided, Level, LotHeld, LotRecalled, LotRef, LotReleased,
    Mark, PersonRef, WelderCleared,
};
use record::finding::Code;
use record::id::{EntryId, PersonId};
use record::{Event, Instant, Stated, When};
use std::collections::{BTreeMap, BTreeSet};

/// One thing to be told.
#[derive(Clone, Debug)]
enum Fact {
    /// A row of a file.
    Row {
        file: &'static str,
        row: String,
    },
    /// A status of the lot of a fact.
    Status {
        lot: usize,
        word: usize,
    },
    Clear {
        welder: &'static str,
    },
    Certificate {
        lot: usize,
        number: &'static str,
    },
    /// What a fact says is set right, by the choice.
    Correct {
        of: usize,
        choice: usize,
    },
    Void {
        of: usize,
    },
    /// The void of a fact is void itself.
    Stands {
        of: usize,
    },
    /// The finding of this code that these facts make.
    Dispose {
        code: Code,
        of: Vec<usize>,
        disposition: Disposition,
    },
}

/// A fact, the facts that it names, the second it claims, and when the clock of the station shows it.
#[derive(Clone, Debug)]
struct Told {
    fact: Fact,
    needs: Vec<usize>,
    second: i64,
    recorded: i64,
}

/// Facts, and for each of two tellings a rank by which the next of those that can be told is chosen.
#[derive(Clone, Debug)]
pub(crate) struct Facts {
    told: Vec<Told>,
    ranks: [Vec<u8>; 2],
}

const HEADERS: [(&str, &str); 10] = [
    ("wps.csv", "wps,process,classifications,sizes"),
    ("joints.csv", "joint,wps,level,needed_g,needed_u_g,finished_at"),
    (
        "lots.csv",
        "lot,maker,maker_lot,heats,spec,classification,size,form,quantity,piece_g,certificate,received_at",
    ),
    ("issues.csv", "slip,lot,welder,quantity,issued_at,due_at"),
    ("hand_overs.csv", "slip,new_slip,to_welder,quantity,closes,at"),
    ("returns.csv", "slip,quantity,stubs,condition,closes,returned_at"),
    ("scraps.csv", "slip,quantity,why,scrapped_at"),
    ("welds.csv", "joint,process,welder,lot,slip,from,to,mark"),
    ("spot_checks.csv", "joint,welder,at,legible,reads"),
    ("found_wire.csv", "found_at,place,welder,joints"),
];
const WELDERS: [&str; 4] = ["W-1", "W-1", "W-1", "W-2"];
const CODES: [&str; 3] = ["C-10", "C-1O", "K-7"];
const AMOUNTS: [&str; 6] = ["4 rods", "2 rods", "8 rods", "1 rods", "", "20 g"];

/// The most facts of one history.
const MOST: usize = 40;

pub(crate) fn facts() -> impl Strategy<Value = Facts> {
    let choices = vec(any::<(u8, [u8; 12])>(), 8..MOST - 16);
    let ranks = || vec(any::<u8>(), MOST);
    (choices, ranks(), ranks())
        .prop_map(|(choices, a, b)| Facts { told: Making::of(&choices), ranks: [a, b] })
}

/// Facts while they are made.
#[derive(Default)]
struct Making {
    told: Vec<Told>,
    /// The facts of the lots, joints, procedures.
    lots: Vec<usize>,
    joints: Vec<usize>,
    wps: Vec<usize>,
    /// How often W-3 used up a slip.
    used_up: usize,
    /// Number and fact of each slip.
    slips: Vec<(String, usize)>,
    /// The newest amendment of a fact, and whether it is a void.
    amended: BTreeMap<usize, (usize, bool)>,
    disposed: BTreeMap<(Code, Vec<usize>), usize>,
}

impl Making {
    fn of(choices: &[(u8, [u8; 12])]) -> Vec<Told> {
        let mut this = Self::default();
        let first = choices.first().map_or([0; 12], |(_, c)| c.to_owned());
        let mut d = Dice::new(&first);
        for i in 0..=d.below(2) {
            let row = format!(
                "P-{i},{},{},{}",
                d.pick(&["GTAW", "SMAW", ""]),
                d.pick(&["", "ER70S-2", "E7018"]),
                d.pick(&["", "3/32 in"])
            );
            let wps = this.add(Fact::Row { file: "wps.csv", row }, vec![], &mut d);
            this.wps.push(wps);
        }
        for (kind, choices) in choices {
            this.make(*kind, &mut Dice::new(choices));
        }
        this.told
    }

    fn add(&mut self, fact: Fact, needs: Vec<usize>, d: &mut Dice<'_>) -> usize {
        let at = self.told.len();
        let second = (d.below(24) * MOST + at) as i64;
        let recorded = START + d.pick(&[1_000, 24 * 3600 + 300]);
        self.told.push(Told { fact, needs, second, recorded });
        at
    }

    /// A fact of which it matters which comes first.
    fn row_in(
        &mut self,
        file: &'static str,
        needs: Vec<usize>,
        hour: usize,
        row: impl Fn(&str, i64) -> String,
    ) -> usize {
        // The first choice of a fact is its place in time.
        self.row(file, needs, &mut Dice::new(&[hour as u8]), row)
    }

    /// W-3 has one slip for one joint, brings it back with stubs that were counted, and used far too much or too little.
    fn used_up(&mut self, lot: usize, d: &mut Dice<'_>) {
        if self.used_up == 2 {
            return;
        }
        self.used_up += 1;
        let (i, need) = (self.joints.len(), d.pick(&["5,0.3", "900,20"]));
        let row = |_: &str, _| format!("J-{i},,class,{need},2026-03-02");
        let joint = self.row_in("joints.csv", vec![], 0, row);
        self.joints.push(joint);
        let (slip, code, number) = (format!("S-{}", self.told.len()), self.code(lot), self.number(joint));
        let much = d.pick(&["8 rods", "30 rods"]);
        let of = self.row_in("issues.csv", vec![lot], 1, |at, _| format!("{slip},{code},W-3,{much},{at},"));
        self.slips.push((slip.clone(), of));
        self.row_in("welds.csv", vec![joint], 10, |at, _| format!("{number},,W-3,,,{at},{at},read"));
        self.row_in("returns.csv", vec![of], 20, |at, _| format!("{slip},1 rods,0,marked,yes,{at}"));
    }

    /// The second that the next fact will claim, as a cell; its fact must then be added with the same dice.
    fn row(
        &mut self,
        file: &'static str,
        needs: Vec<usize>,
        d: &mut Dice<'_>,
        row: impl Fn(&str, i64) -> String,
    ) -> usize {
        let at = self.add(Fact::Row { file, row: String::new() }, needs, d);
        let second = START + self.told[at].second;
        let row = row(&Instant(second).to_string(), second);
        self.told[at].fact = Fact::Row { file, row };
        at
    }

    fn make(&mut self, kind: u8, d: &mut Dice<'_>) {
        let kind = kind % 18;
        if self.lots.len() < 2 || (kind == 0 && self.lots.len() < 3) {
            return self.lot(d);
        }
        if self.joints.is_empty() || (kind == 1 && self.joints.len() < 3) {
            return self.joint(d);
        }
        let lot = d.pick(&self.lots);
        let joint = d.pick(&self.joints);
        let welder = d.pick(&WELDERS);
        let slip = d.some_of(&self.slips);
        let (code, number) = (self.code(lot), self.number(joint));
        match (kind, slip) {
            (0..=3, _) => {
                let slip = format!("S-{}", self.told.len());
                let (much, due) = (d.pick(&AMOUNTS), d.pick(&["", "2026-03-02T08:10:00Z"]));
                let fact = self.row("issues.csv", vec![lot], d, |at, _| {
                    format!("{slip},{code},{welder},{much},{at},{due}")
                });
                self.slips.push((slip, fact));
            }
            (4, Some((slip, of))) => {
                let new = format!("S-{}", self.told.len());
                let (much, closes) = (d.pick(&AMOUNTS), d.pick(&["no", "yes"]));
                let fact = self.row("hand_overs.csv", vec![of], d, |at, _| {
                    format!("{slip},{new},{welder},{much},{closes},{at}")
                });
                self.slips.push((new, fact));
            }
            (5 | 6, Some((slip, of))) => {
                let (much, stubs) = (d.pick(&AMOUNTS), d.pick(&["0", "", "2"]));
                let (condition, closes) = (d.pick(&["marked", "unmarked", ""]), d.pick(&["yes", "no"]));
                self.row("returns.csv", vec![of], d, |at, _| {
                    format!("{slip},{much},{stubs},{condition},{closes},{at}")
                });
            }
            (7, Some((slip, of))) => {
                let much = d.pick(&AMOUNTS);
                self.row("scraps.csv", vec![of], d, |at, _| format!("{slip},{much},bent,{at}"));
            }
            (8 | 9, slip) => {
                let named = d.below(4);
                let (mut needs, mut by_lot, mut by_slip) = (vec![joint], String::new(), String::new());
                match (named, slip) {
                    (1, _) => {
                        needs.push(lot);
                        by_lot = code;
                    }
                    (2, Some((slip, of))) => {
                        needs.push(of);
                        by_slip = slip;
                    }
                    _ => {}
                }
                let (process, mark) =
                    (d.pick(&["", "GTAW", "", "SMAW"]), d.pick(&["read", "unreadable", ""]));
                let long = d.pick(&[0, 200]);
                self.row("welds.csv", needs, d, |at, second| {
                    let to = Instant(second + long);
                    format!("{number},{process},{welder},{by_lot},{by_slip},{at},{to},{mark}")
                });
            }
            (10, _) => {
                let (legible, reads) = (d.pick(&["yes", "no"]), d.pick(&["70S-2", "7018", ""]));
                self.row("spot_checks.csv", vec![joint], d, |at, _| {
                    format!("{number},{welder},{at},{legible},{reads}")
                });
            }
            (11, _) => {
                self.row("found_wire.csv", vec![joint], d, |at, _| format!("{at},bench 3,{welder},{number}"));
            }
            (12, _) => {
                let word = d.below(3);
                self.add(Fact::Status { lot, word }, vec![lot], d);
            }
            (13, _) => match d.below(2) {
                0 => drop(self.add(Fact::Clear { welder }, vec![], d)),
                _ => drop(self.add(Fact::Certificate { lot, number: "X-9" }, vec![lot], d)),
            },
            (14, _) => self.amend(d),
            (16 | 17, _) => self.used_up(lot, d),
            (_, _) => self.dispose(d),
        }
    }

    fn lot(&mut self, d: &mut Dice<'_>) {
        let i = self.lots.len();
        let (code, heat) = (CODES[i], ["H0117", "HO117", ""][i]);
        let paper = if d.below(2) == 0 { "" } else { ["T-1", "T-I", "T-2"][i] };
        let (class, size, form) = (
            d.pick(&["ER70S-2", "E7018", ""]),
            d.pick(&["3/32 in", "2.4 mm"]),
            d.pick(&["cut-length", "cut-length", "covered", ""]),
        );
        let lot = self.row("lots.csv", vec![], d, |at, _| {
            format!("{code},Maker {i},M-{i},{heat},A5.18,{class},{size},{form},90 rods,10,{paper},{at}")
        });
        self.lots.push(lot);
    }

    fn joint(&mut self, d: &mut Dice<'_>) {
        let i = self.joints.len();
        let (n, level) = (d.below(self.wps.len() + 1), d.pick(&["lot", "lot", "class"]));
        let list = (0..n).map(|w| format!("P-{w}")).collect::<Vec<_>>().join(";");
        let needs = self.wps[..n].to_vec();
        let mass = format!("{},{}", d.pick(&NEEDS), d.pick(&["", "2026-03-02", "2026-03-02"]));
        let joint = self.row("joints.csv", needs, d, |_, _| format!("J-{i},{list},{level},{mass}"));
        self.joints.push(joint);
    }

    fn code(&self, lot: usize) -> String {
        CODES[self.lots.iter().position(|l| *l == lot).unwrap()].to_owned()
    }

    fn number(&self, joint: usize) -> String {
        format!("J-{}", self.joints.iter().position(|j| *j == joint).unwrap())
    }

    /// A correction or a void of a fact, or a void of its void.
    fn amend(&mut self, d: &mut Dice<'_>) {
        let can: Vec<usize> = (0..self.told.len())
            .filter(|i| self.amended.get(i).is_none_or(|(at, _)| *at != usize::MAX))
            .filter(|i| match &self.told[*i].fact {
                Fact::Row { .. } | Fact::Status { .. } | Fact::Clear { .. } => true,
                Fact::Dispose { .. } | Fact::Certificate { .. } => true,
                Fact::Correct { .. } | Fact::Void { .. } | Fact::Stands { .. } => false,
            })
            .collect();
        let of = d.pick(&can);
        let before = self.amended.get(&of).copied();
        let needs = [Some(of), before.map(|(at, _)| at)].into_iter().flatten().collect();
        let (fact, void) = match before {
            Some((_, true)) => (Fact::Stands { of }, false),
            _ if d.below(2) == 0 && self.may_void(of) => (Fact::Void { of }, true),
            _ => (Fact::Correct { of, choice: d.below(12) }, false),
        };
        // What may be voided must not be named after it.
        if void {
            self.slips.retain(|(_, fact)| *fact != of);
        }
        let at = self.add(fact, needs, d);
        self.amended.insert(of, (at, void));
    }

    fn may_void(&self, of: usize) -> bool {
        let named = self.told.iter().any(|told| {
            told.needs.contains(&of)
                && !matches!(
                    told.fact,
                    Fact::Correct { .. } | Fact::Void { .. } | Fact::Stands { .. } | Fact::Dispose { .. }
                )
        });
        let kept = |file: &str| matches!(file, "wps.csv" | "joints.csv" | "lots.csv");
        !named && !matches!(&self.told[of].fact, Fact::Row { file, .. } if kept(file))
    }

    /// A disposition of a finding that a fact can make, or one that was disposed of and opened again.
    fn dispose(&mut self, d: &mut Dice<'_>) {
        let of = d.below(self.told.len());
        let (codes, of): (&[Code], _) = match &self.told[of].fact {
            Fact::Row { file: "issues.csv", .. } => (
                &[Code::LotNotReleased, Code::LotWithoutCertificate, Code::SlipUnused, Code::CountShort],
                vec![of],
            ),
            Fact::Row { file: "hand_overs.csv", .. } => (&[Code::SlipUnused, Code::CountOver], vec![of]),
            Fact::Row { file: "welds.csv", .. } => (
                &[Code::NoSource, Code::ContradictedSource, Code::ClassNotInWps, Code::UnmarkedWire],
                vec![of],
            ),
            Fact::Row { file: "joints.csv", .. } => (&[Code::JointWithoutWeldRecord], vec![of]),
            Fact::Row { file: "lots.csv", .. } if self.lots.len() > 1 => {
                (&[Code::LookAlikeNumber], self.lots[..2].to_vec())
            }
            Fact::Row { file: "returns.csv" | "found_wire.csv" | "spot_checks.csv", .. } => {
                (&[Code::UnmarkedWire], vec![of])
            }
            _ => return,
        };
        let code = d.pick(codes);
        let mut needs = of.clone();
        if let Some(before) = self.disposed.get(&(code, of.clone())) {
            // Only what was opened again, or is not disposed of at all: of two the record's order decides.
            match self.amended.get(before) {
                Some((void, true)) => needs.push(*void),
                _ => return,
            }
            // For good: else the first could come back by a void of its void.
            self.amended.insert(*before, (usize::MAX, false));
        }
        let disposition = d.pick(&Disposition::ALL);
        let at = self.add(Fact::Dispose { code, of: of.clone(), disposition }, needs, d);
        self.disposed.insert((code, of), at);
    }
}

/// A book in which facts are told one after the other.
pub(crate) struct Telling {
    pub(crate) ledger: Ledger,
    shop: Shop,
    pub(crate) log: String,
    /// How many imports it took.
    pub(crate) imports: usize,
    /// By fact: its entry and the corrections of it, and the void of one of these.
    chains: BTreeMap<usize, Vec<EntryId>>,
    voids: BTreeMap<usize, EntryId>,
    rows: Vec<usize>,
}

impl Telling {
    fn lines(&self) -> Vec<Line> {
        let mut record = Vec::new();
        self.ledger.ask(|r| export_record(r, &mut record)).unwrap();
        oracle::lines(&record)
    }

    /// Tells all facts, each when those it names are told; at random where several can be. `parts` says after how many
    /// rows at most an import ends.
    pub(crate) fn of(facts: &Facts, telling: usize, parts: usize) -> Self {
        let shop = Shop::new();
        let ledger = shop.init(START);
        let mut this = Self {
            ledger,
            shop,
            log: String::new(),
            imports: 0,
            chains: BTreeMap::new(),
            voids: BTreeMap::new(),
            rows: Vec::new(),
        };
        this.import(
            &[("people.csv", "badge,name,roles\nW-1,A,welder\nW-2,B,welder\nW-3,C,welder\n".into())].into(),
        );
        let ranks = &facts.ranks[telling];
        let mut done: BTreeSet<usize> = BTreeSet::new();
        while done.len() < facts.told.len() {
            let ready = (0..facts.told.len())
                .filter(|i| !done.contains(i) && facts.told[*i].needs.iter().all(|need| done.contains(need)));
            let next = ready.min_by_key(|i| (ranks[*i], *i)).unwrap();
            done.insert(next);
            this.log.push_str(&format!("{next} {:?}\n", facts.told[next]));
            match &facts.told[next].fact {
                Fact::Row { .. } => this.rows.push(next),
                _ => {
                    this.import_rows(facts);
                    this.tell(facts, next);
                }
            }
            if this.rows.len() >= parts {
                this.import_rows(facts);
            }
        }
        this.import_rows(facts);
        this
    }

    fn import(&mut self, files: &BTreeMap<&'static str, String>) -> usize {
        let before = self.lines().len();
        let folder = self.shop.path(&format!("import {}", self.imports));
        std::fs::create_dir(&folder).unwrap();
        for (name, text) in files {
            std::fs::write(folder.join(name), text).unwrap();
        }
        self.imports += 1;
        let done = self.ledger.import(&acting("I-1", START + 2_000), &folder, false, &mut |_| {});
        done.unwrap_or_else(|e| panic!("{e:?}\n{files:?}\n{}", self.log));
        before
    }

    fn import_rows(&mut self, facts: &Facts) {
        let mut files: BTreeMap<&'static str, String> = BTreeMap::new();
        let mut of_row: BTreeMap<(String, u64), usize> = BTreeMap::new();
        for at in std::mem::take(&mut self.rows) {
            if let Fact::Row { file, row } = &facts.told[at].fact {
                let header = HEADERS.iter().find(|(name, _)| name == file).unwrap().1;
                let text = files.entry(file).or_insert_with(|| format!("{header}\n"));
                text.push_str(&format!("{row}\n"));
                of_row.insert(((*file).to_owned(), text.lines().count() as u64), at);
            }
        }
        if files.is_empty() {
            return;
        }
        let before = self.import(&files);
        for line in &self.lines()[before..] {
            let body = line.entry.event.body().unwrap();
            let imported = &body["imported"];
            if let (Some(file), Some(row)) = (imported["file"].as_str(), imported["row"].as_u64()) {
                self.chains.insert(of_row[&(file.to_owned(), row)], vec![line.id]);
            }
        }
    }

    fn tell(&mut self, facts: &Facts, at: usize) {
        let lines = self.lines();
        let told = &facts.told[at];
        let claimed = |second: i64| When {
            from: Instant(START + second),
            text: String::new(),
            to: Instant(START + second),
        };
        let when = claimed(told.second);
        // What the chain of a fact says now.
        let event = |id: &EntryId| lines.iter().find(|l| l.id == *id).unwrap().entry.event.clone().effect();
        let first = |fact: &usize| self.chains[fact][0];
        let lot = |fact: &usize| -> LotRef {
            let Event::LotReceived(e) = event(&first(fact)) else { panic!("no lot") };
            LotRef { label: e.code, lot: e.lot }
        };
        let new: Event = match &told.fact {
            Fact::Row { .. } => return,
            Fact::Status { lot: of, word } => match word {
                0 => LotReleased { at: when, imported: None, lot: lot(of), why: String::new() }.into(),
                1 => LotHeld { at: when, lot: lot(of), why: "so".into() }.into(),
                _ => LotRecalled { at: when, lot: lot(of), why: "so".into() }.into(),
            },
            Fact::Clear { welder } => {
                let person = lines.iter().find_map(|l| match &l.entry.event {
                    Event::PersonEnrolled(p) if p.badge == *welder => Some(p.person),
                    _ => None,
                });
                let person: PersonId = person.unwrap();
                WelderCleared { at: when, welder: PersonRef { badge: (*welder).into(), person } }.into()
            }
            Fact::Certificate { lot: of, number } => CertificateFiled {
                at: when,
                bytes: 1,
                certificate: (*number).into(),
                certificate_type: Stated::NotAsked,
                file: "paper.pdf".into(),
                lots: vec![lot(of)],
                sha256: "00".repeat(32),
            }
            .into(),
            Fact::Correct { of, choice } => {
                let target = self.chains[of].last().unwrap();
                correction(*target, &set_right(event(target), *choice, claimed(told.second))).into()
            }
            Fact::Void { of } => {
                let voids = *self.chains[of].last().unwrap();
                EntryVoided { voids, why: "never was".into() }.into()
            }
            Fact::Stands { of } => EntryVoided { voids: self.voids[of], why: "after all".into() }.into(),
            Fact::Dispose { code, of, disposition } => {
                let mut entries: Vec<EntryId> = of.iter().map(first).collect();
                entries.sort();
                disposed(*code, &entries, *disposition, when).into()
            }
        };
        let id = raw::append(&mut self.ledger, &self.shop.home(), &[(new, told.recorded)])[0];
        match &told.fact {
            Fact::Correct { of, .. } => self.chains.get_mut(of).unwrap().push(id),
            Fact::Void { of } => drop(self.voids.insert(*of, id)),
            Fact::Stands { .. } | Fact::Row { .. } => {}
            Fact::Status { .. } | Fact::Clear { .. } | Fact::Certificate { .. } | Fact::Dispose { .. } => {
                self.chains.insert(at, vec![id]);
            }
        }
    }

    /// The findings with facts in the place of their entries, which have other ids in every book.
    pub(crate) fn findings(&self, now: i64) -> Vec<String> {
        let findings = self.ledger.ask(|r| r.findings(Instant(now))).unwrap();
        let fact =
            |id: &EntryId| self.chains.iter().find(|(_, chain)| chain[0] == *id).map(|(fact, _)| *fact);
        let said = |f: &Finding| {
            let mut causes: Vec<usize> = f.entries.iter().map(|id| fact(id).unwrap()).collect();
            causes.sort_unstable();
            let disposed = f.disposed.as_ref().map(|d| (fact(&d.entry), d.disposition, d.why.clone()));
            format!(
                "{:?} {} of {causes:?}: joint {:?} lot {:?} slip {:?} welder {:?}: {} {disposed:?}",
                f.severity,
                f.code.word(),
                f.joint,
                f.lot,
                f.slip,
                f.welder,
                f.why
            )
        };
        let mut all: Vec<String> = findings.iter().map(said).collect();
        all.sort();
        all
    }
}

/// What an entry says after one of its values was set right: of the same entry always the same.
fn set_right(mut event: Event, choice: usize, when: When) -> Event {
    let much = || Stated::Value(Quantity::parse(["3 rods", "5 rods"][choice % 2]).unwrap());
    match &mut event {
        Event::LotReceived(e) => match choice % 3 {
            0 => e.certificate = Stated::Unknown,
            1 => e.classification = Stated::Value("ER308L".into()),
            _ => e.heats.clear(),
        },
        Event::JointDeclared(e) => match choice % 2 {
            0 => e.level = Stated::Value(Level::Lot),
            _ => e.wps.clear(),
        },
        Event::WpsDeclared(e) => e.classifications = vec!["E7018".into()],
        Event::RodIssued(e) => match choice % 3 {
            0 => e.at = when,
            1 => e.due = Stated::NotAsked,
            _ => e.quantity = much(),
        },
        Event::RodReturned(e) => match choice % 4 {
            0 => e.quantity = much(),
            1 => e.stubs = Stated::Value(1),
            2 => e.condition = Stated::Value(Condition::Unmarked),
            _ => e.closes = !e.closes,
        },
        Event::RodHandedOver(e) => match choice % 2 {
            0 => e.quantity = much(),
            _ => e.closes = !e.closes,
        },
        Event::RodScrapped(e) => e.quantity = much(),
        Event::WelderCleared(e) => e.at = when,
        Event::LotReleased(e) => e.at = when,
        Event::LotHeld(e) => e.at = when,
        Event::LotRecalled(e) => e.at = when,
        Event::JointWelded(e) => match choice % 4 {
            0 => e.mark = Stated::Value(Mark::Unreadable),
            1 => e.process = Stated::Value(Process::Gtaw),
            2 => (e.lot, e.slip) = (Stated::Unknown, Stated::NotAsked),
            _ => e.filler = false,
        },
        Event::MarkSpotChecked(e) => match choice % 2 {
            0 => e.legible = !e.legible,
            _ => e.reads = Stated::Value("308L".into()),
        },
        Event::WireFoundUnmarked(e) => e.joints.clear(),
        Event::CertificateFiled(e) => e.lots.clear(),
        Event::FindingDisposed(e) => e.why = "seen again".into(),
        other => panic!("{} is not set right here", other.kind()),
    }
    event
}
