//! Laws of corrections and voids: random histories on a real file, through the public methods.
//!
//! A book in which something was typed wrong and corrected answers as one in which it was typed right at once; a void
//! that is voided leaves everything as it was; and whatever is amended, nothing is less than nothing at the window.

// clippy.toml allows these inside #[test] functions only; the helpers here are test code too.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

#[allow(dead_code, reason = "other laws use the rest")]
mod laws_support;

use filler::{Process, ProductForm, Quantity};
use laws_support::{START, Shop, acting, verified};
use ledger::ask::slip::Way;
use ledger::tell::correct::{Amended, CorrectRequest};
use ledger::tell::declare::JointRequest;
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::issue::IssueRequest;
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::scrap::{ScrapFrom, ScrapRequest};
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::tell::weld::WeldRequest;
use ledger::verify::Extent;
use ledger::{Acting, Done, Error, Ledger};
use proptest::prelude::*;
use proptest::test_runner::{TestCaseError, TestRunner};
use record::event::Condition;
use record::id::EntryId;
use record::person::Role;
use record::rules::Balance;
use record::{Instant, Stated, When};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

// ---- what is told -------------------------------------------------------------------------------------------------

/// What one line of a form says. Slips are numbered in the order in which they were written.
#[derive(Clone, Debug)]
enum Told {
    Receive { lot: usize, pieces: i64, at: i64 },
    Issue { number: String, lot: usize, to: usize, pieces: i64, quiver: usize, at: i64 },
    Return { slip: String, pieces: i64, stubs: i64, condition: usize, closes: bool, at: i64 },
    HandOver { number: String, slip: String, to: usize, pieces: i64, closes: bool, at: i64 },
    Clear { who: usize, at: i64 },
    Weld { joint: usize, who: usize, lot: Option<usize>, slip: Option<String>, from: i64, lasts: i64 },
    Scrap { slip: String, pieces: i64, at: i64 },
    SpotCheck { joint: usize, who: usize, reads: usize, at: i64 },
}

const WELDERS: [&str; 3] = ["W-1", "W-2", "W-3"];
const JOINTS: [&str; 3] = ["J-1", "J-2", "J-3"];
const LOTS: [&str; 3] = ["R-1", "R-2", "R-3"];
const CLASSES: [&str; 3] = ["ER70S-2", "ER70S-6", "ER308L"];
const CONDITIONS: [Condition; 4] =
    [Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];

/// Numbers out of which a line is made: so that two lines of one kind can be made that differ in everything.
#[derive(Clone, Copy, Debug)]
struct Dice([u32; 7]);

impl Dice {
    fn below(self, n: usize, of: usize) -> usize {
        self.0[n] as usize % of
    }
}

fn dice() -> impl Strategy<Value = Dice> {
    any::<[u32; 7]>().prop_map(Dice)
}

/// A line of a kind; `number` is that of the slip that it may begin, `slips` are those written before.
fn line(kind: usize, dice: Dice, number: &str, slips: &[String], at: i64) -> Told {
    let slip = || slips[dice.below(0, slips.len().max(1)).min(slips.len() - 1)].clone();
    let at = at + dice.below(6, 40) as i64;
    match kind {
        0 => Told::Receive {
            lot: dice.below(0, 3),
            pieces: 10 + dice.below(1, 20) as i64,
            at: dice.below(6, 50) as i64,
        },
        1 => Told::Issue {
            number: number.to_owned(),
            lot: dice.below(1, 3),
            to: dice.below(2, 3),
            pieces: 1 + dice.below(3, 9) as i64,
            quiver: dice.below(4, 3),
            at,
        },
        2 => Told::Return {
            slip: slip(),
            pieces: dice.below(1, 5) as i64,
            stubs: dice.below(2, 9) as i64,
            condition: dice.below(3, 6).saturating_sub(2),
            closes: dice.below(4, 3) == 0,
            at,
        },
        3 => Told::HandOver {
            number: number.to_owned(),
            slip: slip(),
            to: dice.below(1, 3),
            pieces: 1 + dice.below(2, 4) as i64,
            closes: dice.below(3, 6) == 0,
            at,
        },
        4 => Told::Clear { who: dice.below(0, 3), at },
        5 => Told::Weld {
            joint: dice.below(1, 3),
            who: dice.below(2, 3),
            lot: [None, None, Some(0), Some(1), Some(2)][dice.below(3, 5)],
            slip: None,
            from: at,
            lasts: dice.below(4, 60) as i64,
        },
        6 => Told::Weld {
            joint: dice.below(1, 3),
            who: dice.below(2, 3),
            lot: None,
            slip: Some(slip()),
            from: at,
            lasts: dice.below(4, 60) as i64,
        },
        7 => Told::Scrap { slip: slip(), pieces: dice.below(1, 3) as i64, at },
        _ => Told::SpotCheck { joint: dice.below(0, 3), who: dice.below(1, 3), reads: dice.below(2, 3), at },
    }
}

/// Kinds of lines, the commoner ones more often.
fn kind() -> impl Strategy<Value = usize> {
    prop_oneof![1 => Just(0_usize), 6 => Just(1), 5 => Just(2), 4 => Just(3), 1 => Just(4), 4 => Just(5), 3 => Just(6), 2 => Just(7), 2 => Just(8)]
}

/// A second of the shop's first days, as a cell has it.
fn cell(at: i64) -> String {
    Instant(START + at).to_string()
}

fn when(at: i64) -> When {
    let at = Instant(START + at);
    When { from: at, text: at.to_string(), to: at }
}

fn rods(pieces: i64) -> Quantity {
    Quantity::parse(&format!("{pieces} rods")).unwrap()
}

impl Told {
    /// Every cell of the line.
    fn cells(&self) -> Vec<(String, String)> {
        let yes = |b: bool| if b { "yes" } else { "no" }.to_owned();
        let cells: Vec<(&str, String)> = match self {
            Told::Receive { pieces, at, .. } => {
                vec![("quantity", rods(*pieces).to_string()), ("received_at", cell(*at))]
            }
            Told::Issue { lot, to, pieces, quiver, at, .. } => vec![
                ("lot", LOTS[*lot].into()),
                ("welder", WELDERS[*to].into()),
                ("quantity", rods(*pieces).to_string()),
                ("quiver", format!("Q-{quiver}")),
                ("issued_at", cell(*at)),
            ],
            Told::Return { slip, pieces, stubs, condition, closes, at } => vec![
                ("slip", slip.clone()),
                ("quantity", rods(*pieces).to_string()),
                ("stubs", stubs.to_string()),
                ("condition", CONDITIONS[*condition].word().into()),
                ("closes", yes(*closes)),
                ("returned_at", cell(*at)),
            ],
            Told::HandOver { slip, to, pieces, closes, at, .. } => vec![
                ("slip", slip.clone()),
                ("to_welder", WELDERS[*to].into()),
                ("quantity", rods(*pieces).to_string()),
                ("closes", yes(*closes)),
                ("at", cell(*at)),
            ],
            Told::Clear { who, at } => vec![("welder", WELDERS[*who].into()), ("at", cell(*at))],
            Told::Weld { joint, who, lot, slip, from, lasts } => vec![
                ("joint", JOINTS[*joint].into()),
                ("welder", WELDERS[*who].into()),
                ("lot", lot.map_or("", |lot| LOTS[lot]).into()),
                ("slip", slip.clone().unwrap_or_default()),
                ("from", cell(*from)),
                ("to", cell(from + lasts)),
            ],
            Told::Scrap { slip, pieces, at } => vec![
                ("slip", slip.clone()),
                ("quantity", rods(*pieces).to_string()),
                ("scrapped_at", cell(*at)),
            ],
            Told::SpotCheck { joint, who, reads, at } => vec![
                ("joint", JOINTS[*joint].into()),
                ("welder", WELDERS[*who].into()),
                ("reads", CLASSES[*reads].into()),
                ("at", cell(*at)),
            ],
        };
        cells.into_iter().map(|(field, cell)| (field.to_owned(), cell)).collect()
    }

    /// The number of the slip that it begins.
    fn begins(&self) -> Option<&String> {
        match self {
            Told::Issue { number, .. } | Told::HandOver { number, .. } => Some(number),
            Told::Receive { .. }
            | Told::Return { .. }
            | Told::Clear { .. }
            | Told::Weld { .. }
            | Told::Scrap { .. }
            | Told::SpotCheck { .. } => None,
        }
    }
}

// ---- telling it ---------------------------------------------------------------------------------------------------

/// How often each thing happened in all histories of a test, so that a test that tells nothing is noticed.
type Counts = RefCell<BTreeMap<String, usize>>;

fn count(counts: &Counts, what: impl Into<String>) {
    *counts.borrow_mut().entry(what.into()).or_default() += 1;
}

struct Book {
    _shop: Shop,
    ledger: Ledger,
    acting: Acting,
    /// From an entry that was corrected because of another one to what stands in its place.
    followed: BTreeMap<EntryId, EntryId>,
}

fn first<T>(done: Result<Done<T>, Error>) -> Result<Vec<EntryId>, Error> {
    done.map(|done| done.entries.iter().map(|e| e.id).collect())
}

impl Book {
    /// People, joints and lots; everything that follows is told by the inspector, days after it happened.
    fn begin(overriding: bool) -> Self {
        let shop = Shop::new();
        let mut ledger = shop.init(START);
        let mut acting = acting("I-1", START + 200_000);
        acting.overriding = overriding.then(|| "the paper says so".to_owned());
        for badge in WELDERS {
            let _ = ledger.enroll(&acting, badge, "Marit Oldervane", &[Role::Welder]).unwrap();
        }
        for number in JOINTS {
            let request = JointRequest { number: number.into(), ..JointRequest::default() };
            let _ = ledger.declare_joint(&acting, &request).unwrap();
        }
        let mut this = Self { _shop: shop, ledger, acting, followed: BTreeMap::new() };
        for (lot, code) in LOTS.iter().enumerate() {
            let _ = this.tell(&Told::Receive { lot, pieces: 40, at: 0 }).unwrap();
            let _ = this.ledger.release(&this.acting, code, None, Some(&when(100))).unwrap();
        }
        this
    }

    fn tell(&mut self, told: &Told) -> Result<Vec<EntryId>, Error> {
        let (ledger, acting) = (&mut self.ledger, &self.acting);
        match told {
            Told::Receive { lot, pieces, at } => first(ledger.receive(
                acting,
                &ReceiveRequest {
                    values: ledger::tell::certificate_read::ValuesTyped::default(),
                    code: LOTS[*lot].into(),
                    maker: Some("Tarvemire Wire".into()),
                    maker_lot: Some(format!("ML-{lot}")),
                    heats: vec!["7K2214".into()],
                    spec: Some("A5.18".into()),
                    classification: Some(CLASSES[*lot].into()),
                    size: Some("3/32 in x 36 in".into()),
                    form: Stated::Value(ProductForm::CutLength),
                    quantity: Stated::Value(rods(*pieces)),
                    at: Some(when(*at)),
                    ..ReceiveRequest::default()
                },
            )),
            Told::Issue { number, lot, to, pieces, quiver, at } => first(ledger.issue(
                acting,
                &IssueRequest {
                    lot: LOTS[*lot].into(),
                    holder: WELDERS[*to].into(),
                    quantity: rods(*pieces),
                    joints: Vec::new(),
                    quiver: Some(format!("Q-{quiver}")),
                    number: Some(number.clone()),
                    due: None,
                    at: Some(when(*at)),
                },
            )),
            Told::Return { slip, pieces, stubs, condition, closes, at } => first(ledger.give_back(
                acting,
                &ReturnRequest {
                    slip: slip.clone(),
                    quantity: rods(*pieces),
                    stubs: Some(*stubs),
                    condition: CONDITIONS[*condition],
                    more: !closes,
                    at: Some(when(*at)),
                },
            )),
            Told::HandOver { number, slip, to, pieces, closes, at } => first(ledger.hand_over(
                acting,
                &HandOverRequest {
                    slip: slip.clone(),
                    to: WELDERS[*to].into(),
                    quantity: rods(*pieces),
                    closes: *closes,
                    number: Some(number.clone()),
                    at: Some(when(*at)),
                },
            )),
            Told::Clear { who, at } => first(ledger.clear(acting, WELDERS[*who], Some(&when(*at)))),
            Told::Weld { joint, who, lot, slip, from, lasts } => first(ledger.weld(
                acting,
                &WeldRequest {
                    arc: record::event::Arc::default(),
                    joint: JOINTS[*joint].into(),
                    also: Vec::new(),
                    welder: WELDERS[*who].into(),
                    pass: None,
                    cycle: None,
                    process: Some(Process::Gtaw),
                    lot: lot.map(|lot| LOTS[lot].into()),
                    slip: slip.clone(),
                    filler: true,
                    used: None,
                    from: Some(when(*from)),
                    to: Some(when(from + lasts)),
                    mark: None,
                    finished: false,
                },
            )),
            Told::Scrap { slip, pieces, at } => {
                let from = ScrapFrom::Slip(slip.clone(), Some(rods(*pieces)));
                let request = ScrapRequest { from, at: Some(when(*at)), why: "bent".into() };
                first(ledger.scrap(acting, &request))
            }
            Told::SpotCheck { joint, who, reads, at } => first(ledger.spot_check(
                acting,
                &SpotCheckRequest {
                    joint: JOINTS[*joint].into(),
                    welder: WELDERS[*who].into(),
                    legible: true,
                    reads: Some(CLASSES[*reads].into()),
                    at: Some(when(*at)),
                },
            )),
        }
    }

    fn correct(&mut self, entry: EntryId, set: Vec<(String, String)>) -> Result<Vec<EntryId>, Error> {
        let entry = self.now(entry).to_string();
        let request = CorrectRequest { entry, set, why: "typed wrong".into() };
        let done = self.ledger.correct(&self.later(), &request);
        self.amended(done)
    }

    /// Two days after everything else: what is corrected then was not written late.
    fn later(&self) -> Acting {
        Acting { now: Instant(self.acting.now.0 + 2 * 24 * 3600), ..self.acting.clone() }
    }

    /// Voids an entry and whatever corrects it.
    fn void(&mut self, entry: EntryId) -> Result<Vec<EntryId>, Error> {
        let done = self.ledger.void(&self.later(), &entry.to_string(), "never was");
        self.amended(done)
    }

    /// What stands in the place of an entry, as far as it was corrected because of others.
    fn now(&self, entry: EntryId) -> EntryId {
        let mut entry = entry;
        while let Some(next) = self.followed.get(&entry) {
            entry = *next;
        }
        entry
    }

    fn amended(&mut self, done: Result<Done<Amended>, Error>) -> Result<Vec<EntryId>, Error> {
        let done = done?;
        if !done.dry_run {
            self.followed.extend(done.value.followed.iter().map(|f| (f.corrects, f.entry)));
        }
        Ok(done.entries.iter().map(|e| e.id).collect())
    }

    /// What the book answers, without the ids of entries and things: those are of the book alone.
    fn answers(&self, slips: &BTreeSet<String>) -> String {
        self.ledger
            .ask(|reading| {
                let mut text = String::new();
                for lot in reading.stock()? {
                    let (r, crib) = (&lot.lot.received, lot.in_crib.shown());
                    let further: Vec<_> =
                        lot.lot.further.iter().map(|r| (r.quantity.cell(), r.at.from)).collect();
                    writeln!(
                        text,
                        "{} {} {crib} {} {further:?}",
                        r.code,
                        lot.status.word(),
                        r.quantity.cell()
                    )
                    .unwrap();
                }
                for view in reading.out()? {
                    writeln!(text, "out {} {}", view.slip.number, view.slip.left_shown(&view.lot)).unwrap();
                }
                for number in slips {
                    let view = reading.find_slip(number)?;
                    let (slip, code) = (&view.slip, &view.lot.received.code);
                    let parent = slip.parent.as_ref().map(|(_, number)| number);
                    writeln!(
                        text,
                        "{number} {code} {} {} {} {:?} {} {} {parent:?} {:?}",
                        slip.holder.badge,
                        slip.quantity.cell(),
                        slip.quiver.cell(),
                        slip.issued.from,
                        slip.issued.to,
                        slip.void,
                        view.custody
                    )
                    .unwrap();
                    for out in &slip.outs {
                        let more = match &out.way {
                            Way::Returned(e) => {
                                format!(
                                    "back {} {} {}",
                                    e.stubs.cell(),
                                    e.closes,
                                    e.condition.value().unwrap().word()
                                )
                            }
                            Way::HandedOver(e) => {
                                format!("on to {} {} {}", e.to.badge, e.new_slip.number, e.closes)
                            }
                            Way::Scrapped(_) => "scrapped".into(),
                        };
                        writeln!(text, "  {} {} {more}", out.at().from, out.quantity().cell()).unwrap();
                    }
                }
                for joint in JOINTS {
                    for weld in reading.trace_joint(joint)?.welds {
                        let numbers = |views: &[ledger::ask::slip::SlipAndLot]| -> Vec<String> {
                            views
                                .iter()
                                .map(|v| format!("{} {}", v.slip.number, v.lot.received.code))
                                .collect()
                        };
                        writeln!(
                            text,
                            "{joint} {} written {} {:?} {} from {:?} beside {:?} for {:?} checks {:?} named {:?}",
                            weld.record.welder.badge,
                            weld.recorded,
                            weld.covers,
                            weld.certainty,
                            numbers(&weld.sources),
                            numbers(&weld.others),
                            weld.reasons,
                            weld.checks
                                .iter()
                                .map(|(_, check, against)| (check.reads.cell(), *against))
                                .collect::<Vec<_>>(),
                            ledger::ask::joint_trace::named(&weld.record),
                        )
                        .unwrap();
                    }
                }
                for lot in LOTS {
                    let used = match reading.trace_lot(lot) {
                        Ok(used) => used,
                        // Two lots of one code that are both void.
                        Err(Error::Ambiguous { meanings, .. }) => {
                            writeln!(text, "{lot} means {}", meanings.len()).unwrap();
                            continue;
                        }
                        Err(error) => return Err(error),
                    };
                    let welds: Vec<_> = used
                        .welds
                        .iter()
                        .map(|u| (u.joint.declared.number.clone(), u.link, u.of, u.weld.covers))
                        .collect();
                    let out: Vec<_> = used.out.iter().map(|v| v.slip.number.clone()).collect();
                    writeln!(text, "{lot} {welds:?} {out:?} {:?}", used.in_crib_mg).unwrap();
                }
                for welder in WELDERS {
                    let trace = reading.trace_welder(welder)?;
                    let held: BTreeSet<_> = trace.slips.iter().map(|v| v.slip.number.clone()).collect();
                    writeln!(text, "{welder} {held:?} {}", trace.welds.len()).unwrap();
                }
                Ok(text)
            })
            .unwrap()
    }

    /// The facts are those of the record alone, in whatever order its entries arrive.
    fn is_its_record(&self, seed: u64) {
        let facts = self.ledger.facts_dump().unwrap();
        assert_eq!(facts, self.ledger.facts_dump_replayed(|_| {}).unwrap(), "as replayed");
        let shuffled = self.ledger.facts_dump_replayed(|places| {
            let mut state = seed;
            for i in (1..places.len()).rev() {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                places.swap(i, (state >> 33) as usize % (i + 1));
            }
        });
        assert_eq!(facts, shuffled.unwrap(), "as replayed in another order");
        let report = verified(&self.ledger, Extent::Everything);
        assert!(report.is_sound(), "{:?}", report.problems);
    }
}

/// The name of an answer; anything that a sound book does not answer is a failure.
fn outcome(done: &Result<Vec<EntryId>, Error>) -> String {
    match done {
        Ok(_) => "accepted".into(),
        Err(Error::Refused(refusals)) => refusals.iter().map(|r| r.code).collect::<Vec<_>>().join(" and "),
        Err(Error::NotFound { what, .. }) => format!("no such {what}"),
        Err(Error::Ambiguous { what, .. }) => format!("several such {what}s"),
        Err(Error::NotUnderstood { .. }) => "not understood".into(),
        Err(other) => panic!("a sound book answers {other:?}"),
    }
}

fn run<S: Strategy>(cases: u32, strategy: S, test: impl Fn(S::Value) -> Result<(), TestCaseError>) {
    let config = ProptestConfig {
        cases,
        max_global_rejects: cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    TestRunner::new(config).run(&strategy, test).unwrap_or_else(|e| panic!("{e}"));
}

// ---- corrected = right at once ------------------------------------------------------------------------------------

/// A line that is right, one or two that were typed in its place before, and when it is corrected.
#[derive(Clone, Debug)]
struct Typed {
    kind: usize,
    right: Dice,
    wrong: Vec<Dice>,
    later: usize,
    /// A line that never should have been typed, and is voided in the end.
    extra: Option<(usize, Dice)>,
}

fn typed() -> impl Strategy<Value = Typed> {
    let wrong = prop_oneof![4 => Just(0_usize), 4 => Just(1), 2 => Just(2)];
    let extra = prop::option::weighted(0.2, (kind(), dice()));
    (kind(), dice(), wrong.prop_flat_map(|n| prop::collection::vec(dice(), n)), 0..8_usize, extra)
        .prop_map(|(kind, right, wrong, later, extra)| Typed { kind, right, wrong, later, extra })
}

/// An entry that is to be said anew as this.
struct Pending {
    entry: EntryId,
    ways: Vec<Told>,
    due: usize,
}

#[test]
fn corrected_is_as_if_it_had_been_right_at_once() {
    let counts = Counts::default();
    run(64, prop::collection::vec(typed(), 8..26), |history| corrected_or_right(&history, &counts));
    let counts = counts.into_inner();
    let of = |what: &str| counts.get(what).copied().unwrap_or_default();
    assert!(of("corrected") > 300 && of("corrected twice") > 60 && of("voided") > 60, "{counts:?}");
    assert!(of("followed") > 40, "nothing followed from a correction: {counts:?}");
    assert!(of("compared") * 4 > 64 * 3, "too few histories came to an end: {counts:?}");
}

fn corrected_or_right(history: &[Typed], counts: &Counts) -> Result<(), TestCaseError> {
    // As it should have been: what is refused there is left out of both books.
    let mut right = Book::begin(true);
    let mut slips: Vec<String> = Vec::new();
    let mut plan: Vec<(Told, Vec<Told>, Option<Told>, usize)> = Vec::new();
    for (n, typed) in history.iter().enumerate() {
        let kind = if slips.is_empty() && matches!(typed.kind, 2 | 3 | 6 | 7) { 1 } else { typed.kind };
        let number = format!("S-{:05}", n + 1);
        let at = 1_000 + 100 * n as i64;
        let told = line(kind, typed.right, &number, &slips, at);
        if right.tell(&told).is_err() {
            continue;
        }
        let wrong = typed.wrong.iter().map(|dice| line(kind, *dice, &number, &slips, at));
        // What lot was delivered is not a field: another lot is another entry.
        let wrong = wrong
            .map(|wrong| match (&told, wrong) {
                (Told::Receive { lot, .. }, Told::Receive { pieces, at, .. }) => {
                    Told::Receive { lot: *lot, pieces, at }
                }
                (_, wrong) => wrong,
            })
            .collect();
        let extra = typed.extra.filter(|(kind, _)| !slips.is_empty() || !matches!(kind, 2 | 3 | 6 | 7));
        let extra = extra.map(|(kind, dice)| line(kind, dice, &format!("X-{n}"), &slips, at + 50));
        slips.extend(told.begins().cloned());
        plan.push((told, wrong, extra, typed.later));
    }
    // As it was.
    let mut book = Book::begin(true);
    let mut pending: Vec<Pending> = Vec::new();
    let mut never: Vec<EntryId> = Vec::new();
    for (n, (told, wrong, extra, later)) in plan.into_iter().enumerate() {
        let mut ways: Vec<Told> = wrong;
        ways.push(told);
        // A wrong line that the window would not have taken was never typed.
        let entry = loop {
            let way = ways.remove(0);
            match book.tell(&way) {
                Ok(written) => break written[0],
                Err(error) => {
                    outcome(&Err(error));
                    if ways.is_empty() {
                        count(counts, "given up");
                        return Err(TestCaseError::reject("the wrong lines before stand in its way"));
                    }
                }
            }
        };
        if !ways.is_empty() {
            pending.push(Pending { entry, ways, due: n + later });
        }
        if let Some(extra) = extra
            && let Ok(written) = book.tell(&extra)
        {
            never.push(written[0]);
        }
        while set_right(&mut book, &mut pending, &mut never, n, counts) {}
    }
    while set_right(&mut book, &mut pending, &mut never, usize::MAX, counts) {}
    if !pending.is_empty() || !never.is_empty() {
        count(counts, "given up");
        return Err(TestCaseError::reject("corrections that wait for each other"));
    }
    let numbers: BTreeSet<String> = slips.into_iter().collect();
    prop_assert_eq!(book.answers(&numbers), right.answers(&numbers));
    book.is_its_record(history.len() as u64);
    count(counts, "compared");
    Ok(())
}

/// Corrects the first of what is due that can be corrected, or voids what never was. False when there is none.
fn set_right(
    book: &mut Book,
    pending: &mut Vec<Pending>,
    never: &mut Vec<EntryId>,
    now: usize,
    counts: &Counts,
) -> bool {
    for i in 0..pending.len() {
        if pending[i].due > now {
            continue;
        }
        let twice = pending[i].ways.len() > 1;
        let way = pending[i].ways[0].clone();
        let done = book.correct(pending[i].entry, way.cells());
        match &done {
            Ok(written) => {
                count(counts, "corrected");
                if written.len() > 1 {
                    count(counts, "followed");
                }
                pending[i].entry = written[0];
            }
            // Two wrong lines may be the same, or the wrong one right.
            Err(_) if outcome(&done) == "nothing-to-correct" => {}
            // What is wrong only for a while may be left out; what is right must go in some time.
            Err(_) if twice => count(counts, outcome(&done)),
            Err(_) => {
                count(counts, outcome(&done));
                continue;
            }
        }
        if twice {
            count(counts, "corrected twice");
        }
        pending[i].ways.remove(0);
        if pending[i].ways.is_empty() {
            pending.remove(i);
        }
        return true;
    }
    if now == usize::MAX {
        for i in (0..never.len()).rev() {
            let done = book.void(never[i]);
            count(counts, format!("void: {}", outcome(&done)));
            if done.is_ok() {
                count(counts, "voided");
                never.remove(i);
                return true;
            }
        }
    }
    false
}

// ---- nothing is less than nothing ---------------------------------------------------------------------------------

/// What is done next in a book where no rule is ever set aside.
#[derive(Clone, Debug)]
enum Next {
    Tell(usize, Dice),
    /// Says one of the lines anew: all of it, or one cell.
    Correct {
        which: usize,
        dice: Dice,
        cell: Option<usize>,
    },
    /// Voids one of the entries, whatever it is.
    Void {
        which: usize,
    },
}

fn next() -> impl Strategy<Value = Next> {
    prop_oneof![
        8 => (kind(), dice()).prop_map(|(kind, dice)| Next::Tell(kind, dice)),
        6 => (any::<u16>(), dice(), prop::option::weighted(0.7, 0..6_usize))
            .prop_map(|(which, dice, cell)| Next::Correct { which: which.into(), dice, cell }),
        5 => any::<u16>().prop_map(|which| Next::Void { which: which.into() }),
    ]
}

#[test]
fn whatever_is_amended_nothing_is_less_than_nothing() {
    let counts = Counts::default();
    run(96, prop::collection::vec(next(), 20..50), |history| amended_at_will(&history, &counts));
    let counts = counts.into_inner();
    let of = |what: &str| counts.get(what).copied().unwrap_or_default();
    for (what, least) in
        [("correct: accepted", 200), ("void: accepted", 200), ("taken back", 200), ("followed", 6)]
    {
        assert!(of(what) > least, "{what}: {counts:?}");
    }
    for what in
        ["more-than-out", "same-holder", "has-followers", "already-struck", "is-in-use", "follows-its-slip"]
    {
        let all: usize = counts.iter().filter(|(said, _)| said.contains(what)).map(|(_, n)| n).sum();
        assert!(all > 0, "{what}: {counts:?}");
    }
}

/// A line, where it stands now, and how it was made.
struct Written {
    entry: EntryId,
    kind: usize,
    number: String,
    slips: Vec<String>,
    at: i64,
}

fn amended_at_will(history: &[Next], counts: &Counts) -> Result<(), TestCaseError> {
    let mut book = Book::begin(false);
    let mut written: Vec<Written> = Vec::new();
    let mut slips: Vec<String> = Vec::new();
    // Every entry that may be voided, those of the beginning included.
    let mut entries: Vec<EntryId> = Vec::new();
    for n in 0..13_u64 {
        let void = book.ledger.void(&Acting { dry_run: true, ..book.acting.clone() }, &n.to_string(), "look");
        entries.extend(void.ok().map(|done| done.value.before.id));
    }
    for (n, next) in history.iter().enumerate() {
        let before = book.ledger.facts_dump().unwrap();
        let numbers: BTreeSet<String> = slips.iter().cloned().collect();
        let done = match next {
            Next::Tell(kind, dice) => {
                let kind = if slips.is_empty() && matches!(kind, 2 | 3 | 6 | 7) { 1 } else { *kind };
                let (number, at) = (format!("S-{:05}", n + 1), 1_000 + 100 * n as i64);
                let told = line(kind, *dice, &number, &slips, at);
                let done = book.tell(&told);
                if let Ok(done) = &done {
                    written.push(Written { entry: done[0], kind, number, slips: slips.clone(), at });
                    entries.extend(done);
                    slips.extend(told.begins().cloned());
                }
                done
            }
            Next::Correct { which, dice, cell } => {
                let Some(i) = which.checked_rem(written.len()) else { continue };
                let w = &written[i];
                let mut cells = line(w.kind, *dice, &w.number, &w.slips, w.at).cells();
                if let Some(cell) = cell {
                    cells = vec![cells.swap_remove(cell % cells.len())];
                }
                let entry = w.entry;
                let dry = CorrectRequest {
                    entry: book.now(entry).to_string(),
                    set: cells.clone(),
                    why: "look".into(),
                };
                let dry = book.ledger.correct(&Acting { dry_run: true, ..book.acting.clone() }, &dry);
                prop_assert_eq!(
                    &book.ledger.facts_dump().unwrap(),
                    &before,
                    "a trial leaves everything as it was"
                );
                let done = book.correct(entry, cells);
                prop_assert_eq!(outcome(&first(dry)), outcome(&done), "a trial says what would be");
                count(counts, format!("correct: {}", outcome(&done)));
                if let Ok(done) = &done {
                    if done.len() > 1 {
                        count(counts, "followed");
                    }
                    written[i].entry = done[0];
                    entries.extend(done);
                }
                done
            }
            Next::Void { which } => {
                // Mostly one of the newest: whoever types something wrong notices it soon.
                let among = if which % 8 == 0 { entries.len() } else { entries.len().min(7) };
                let Some(i) = which.checked_rem(among).map(|back| entries.len() - 1 - back) else { continue };
                let answers = book.answers(&numbers);
                let done = book.void(entries[i]);
                count(counts, format!("void: {}", outcome(&done)));
                if let Ok(void) = &done {
                    entries.extend(void);
                }
                // Of a chain of corrections, each has its own void.
                if let Ok([void]) = done.as_deref() {
                    let again = book.void(*void);
                    prop_assert!(again.is_ok(), "a void just written can be taken back: {again:?}");
                    count(counts, "taken back");
                    prop_assert_eq!(&book.answers(&numbers), &answers, "void, and void of the void");
                    // And now for good.
                    let for_good = book.void(entries[i]);
                    prop_assert!(for_good.is_ok(), "{for_good:?}");
                    entries.extend(again.unwrap());
                    entries.extend(for_good.unwrap());
                }
                done
            }
        };
        if done.is_err() {
            outcome(&done);
            prop_assert_eq!(
                &book.ledger.facts_dump().unwrap(),
                &before,
                "a refusal leaves everything as it was"
            );
        } else {
            let numbers: BTreeSet<String> = slips.iter().cloned().collect();
            is_borne(&book, &numbers)?;
        }
    }
    book.is_its_record(history.len() as u64);
    Ok(())
}

/// What every book keeps in which no rule was set aside.
fn is_borne(book: &Book, slips: &BTreeSet<String>) -> Result<(), TestCaseError> {
    let at_least_nothing = |balance: Balance| match balance {
        Balance::Pieces(n) | Balance::Milligrams(n) => n >= 0,
        Balance::NotKnown => true,
    };
    let (stock, views) = book
        .ledger
        .ask(|reading| {
            let views =
                slips.iter().map(|number| reading.find_slip(number)).collect::<Result<Vec<_>, _>>()?;
            Ok((reading.stock()?, views))
        })
        .unwrap();
    for lot in stock {
        prop_assert!(
            at_least_nothing(lot.in_crib),
            "{} in the crib of {}",
            lot.in_crib.shown(),
            lot.lot.received.code
        );
    }
    for view in views {
        let slip = &view.slip;
        if slip.void {
            prop_assert!(slip.outs.is_empty(), "metal left {}, which is void", slip.number);
            continue;
        }
        prop_assert!(!view.lot.void, "{} is of a lot that never was", slip.number);
        let pieces = |q: &Stated<Quantity>| q.value().unwrap().pieces().unwrap();
        let (mut back, mut on, mut gone) = (0, 0, 0);
        for out in &slip.outs {
            match &out.way {
                Way::Returned(e) => {
                    back += pieces(&e.quantity);
                    prop_assert_eq!((e.lot, e.holder), (slip.lot, slip.holder.person));
                }
                Way::HandedOver(e) => {
                    on += pieces(&e.quantity);
                    prop_assert_eq!((e.lot, e.from), (slip.lot, slip.holder.person));
                    prop_assert!(e.to.person != slip.holder.person, "handed to its own holder");
                }
                Way::Scrapped(e) => {
                    gone += pieces(&e.quantity);
                    prop_assert_eq!(
                        (e.lot.lot, e.slip.as_ref().map(|s| s.holder)),
                        (slip.lot, Some(slip.holder.person))
                    );
                }
            }
            prop_assert!(out.at().to >= slip.issued.from, "left {} before it was handed out", slip.number);
        }
        let left = slip.left(&view.lot);
        prop_assert!(at_least_nothing(left));
        prop_assert_eq!(left, Balance::Pieces(pieces(&slip.quantity) - back - on - gone), "{}", slip.number);
    }
    Ok(())
}
