//! Laws that every book keeps, whatever is told it: random histories on a real file, through the public methods.

// clippy.toml allows these inside #[test] functions only; the helpers here are test code too.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod laws_support;
#[path = "laws_support/model.rs"]
mod model;

use filler::reading::{Reading, ReadingMethod, SurfaceState};
use filler::{Process, ProductForm, Quantity, Unit};
use laws_support::{START, Shop, acting, connect, verified};
use ledger::ask::slip::SlipAndLot;
use ledger::ask::where_used;
use ledger::export::{export_checkpoints, export_record};
use ledger::tell::declare::JointRequest;
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::issue::IssueRequest;
use ledger::tell::metal_read::{On, ReadingRequest};
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::tell::weld::WeldRequest;
use ledger::verify::Extent;
use ledger::{Acting, Done, Error, Ledger};
use model::{Leaving, Lot, Model, Slip, WeldRecord};
use proptest::prelude::*;
use proptest::test_runner::{TestCaseError, TestRunner};
use record::event::Condition;
use record::person::Role;
use record::rules::Balance;
use record::time::Shift;
use record::{Instant, Stated, When};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use trace::where_used::{Link, flux_links_of_lots, links_of_lot};
use trace::{Interval, Named, OutKind, SpotCheck};

// ---- what is told -------------------------------------------------------------------------------------------------

/// A claimed time in seconds after the start; the clock of a history runs over the same few seconds, so that claims
/// touch, overlap, lie in the future and contradict each other.
#[derive(Clone, Copy, Debug)]
enum Claim {
    Now,
    At(i64),
    Span(i64, i64),
}

/// How a lot is named.
#[derive(Clone, Copy, Debug)]
enum LotName {
    /// By the identity of one that is there.
    Identity(u8),
    /// By a code or maker's lot number, which may mean several or none.
    Label(u8),
}

#[derive(Clone, Copy, Debug)]
enum SlipName {
    There(u8),
    Number(u8),
}

#[derive(Clone, Copy, Debug)]
enum Much {
    /// In the lot's own pieces.
    Pieces(i64),
    Grams(i64),
}

#[derive(Clone, Debug)]
struct Receipt {
    code: u8,
    maker: u8,
    maker_lot: u8,
    form: u8,
    size: bool,
    class: u8,
    much: Option<Much>,
    piece_mg: Option<i64>,
    at: Claim,
}

#[derive(Clone, Debug)]
enum Verb {
    Enroll {
        badge: u8,
        roles: u8,
    },
    Joint {
        number: u8,
    },
    Shifts,
    Receive(Receipt),
    Status {
        lot: LotName,
        release: bool,
        at: Claim,
    },
    Issue {
        lot: LotName,
        to: u8,
        much: Much,
        number: Option<u8>,
        at: Claim,
    },
    GiveBack {
        slip: SlipName,
        much: Much,
        condition: u8,
        more: bool,
        at: Claim,
    },
    HandOver {
        slip: SlipName,
        to: u8,
        much: Much,
        closes: bool,
        number: Option<u8>,
        at: Claim,
    },
    Clear {
        welder: u8,
        at: Claim,
    },
    Weld {
        joints: Vec<u8>,
        welder: u8,
        process: u8,
        lot: Option<LotName>,
        slip: Option<SlipName>,
        from: Claim,
        to: Option<Claim>,
    },
    SpotCheck {
        joint: u8,
        welder: u8,
        legible: bool,
        reads: u8,
        at: Claim,
    },
    /// A reading of a rod in hand, of a lot or of a slip.
    ReadMetal {
        on: ReadOnWhat,
        /// Whether it reads ER70S-6; else ER70S-2.
        other_class: bool,
        at: Claim,
    },
    /// Close the book, drop and replay its facts, and go on.
    RebuildAndReopen,
}

#[derive(Clone, Debug)]
enum ReadOnWhat {
    Hand { joint: u8, welder: u8 },
    Lot(LotName),
    Slip(SlipName),
}

#[derive(Clone, Debug)]
struct Told {
    verb: Verb,
    by: u8,
    overriding: bool,
    try_first: bool,
    seconds_later: i64,
}

const BADGES: [&str; 6] = ["I-1", "W-1", "W-2", "W-3", "X-9", ""];
const JOINTS: [&str; 4] = ["J-1", "J-2", "J-3", "j 1"];
const LABELS: [&str; 8] = ["C-1", "C-2", "C-3", "ML-1", "M1:C-1", "M2:ML-1", "c1", "C-9"];
const CLASSES: [Option<&str>; 4] = [Some("ER70S-2"), Some("E7018-1 H4R"), Some("ER308L"), None];

/// So many seconds after the start the clock of a history begins; it may go on by as many again.
const BEGIN: i64 = 12;

/// A claim that mostly lies in a range of seconds, now and then anywhere, and now and then is left out.
fn claim(mostly: std::ops::Range<i64>) -> impl Strategy<Value = Claim> {
    prop_oneof![
        2 => Just(Claim::Now),
        6 => mostly.clone().prop_map(Claim::At),
        4 => (mostly, 0..6_i64).prop_map(|(from, width)| Claim::Span(from, width)),
        1 => (0..BEGIN + 20, 0..6_i64).prop_map(|(from, width)| Claim::Span(from, width)),
    ]
}

fn lot_name() -> impl Strategy<Value = LotName> {
    prop_oneof![7 => any::<u8>().prop_map(LotName::Identity), 2 => any::<u8>().prop_map(LotName::Label)]
}

fn slip_name() -> impl Strategy<Value = SlipName> {
    prop_oneof![12 => any::<u8>().prop_map(SlipName::There), 1 => any::<u8>().prop_map(SlipName::Number)]
}

fn much() -> impl Strategy<Value = Much> {
    prop_oneof![5 => (0..9_i64).prop_map(Much::Pieces), 2 => (0..300_i64).prop_map(Much::Grams)]
}

/// From here on, a number for a badge means the holder of one of the slips that are there.
const HOLDER: u8 = 100;

/// A badge that is mostly a welder's.
fn welder() -> impl Strategy<Value = u8> {
    prop_oneof![9 => Just(1_u8), 5 => Just(2_u8), 2 => Just(3_u8), 1 => 0..6_u8]
}

/// A badge that is mostly one of somebody who holds or held something.
fn holder() -> impl Strategy<Value = u8> {
    prop_oneof![5 => HOLDER..=u8::MAX, 3 => welder()]
}

fn receipt() -> impl Strategy<Value = Verb> {
    let size_of_delivery = prop_oneof![
        5 => (4..24_i64).prop_map(|n| Some(Much::Pieces(n))),
        2 => (200..900_i64).prop_map(|g| Some(Much::Grams(g))),
        1 => Just(None),
    ];
    let piece = prop_oneof![Just(None), Just(Some(33_000_i64))];
    (0..3_u8, 0..3_u8, 0..5_u8, 0..5_u8, any::<bool>(), 0..4_u8, size_of_delivery, piece, claim(0..4))
        .prop_map(|(code, maker, maker_lot, form, size, class, much, piece_mg, at)| {
            Verb::Receive(Receipt { code, maker, maker_lot, form, size, class, much, piece_mg, at })
        })
}

/// The number of a slip already written, now and then.
fn number() -> impl Strategy<Value = Option<u8>> {
    prop_oneof![5 => Just(None), 1 => any::<u8>().prop_map(Some)]
}

fn issue() -> impl Strategy<Value = Verb> {
    (lot_name(), welder(), much(), number(), claim(3..8))
        .prop_map(|(lot, to, much, number, at)| Verb::Issue { lot, to, much, number, at })
}

fn verb() -> impl Strategy<Value = Verb> {
    prop_oneof![
        1 => (0..6_u8, 0..4_u8).prop_map(|(badge, roles)| Verb::Enroll { badge, roles }),
        1 => (0..4_u8).prop_map(|number| Verb::Joint { number }),
        1 => Just(Verb::Shifts),
        3 => receipt(),
        3 => (lot_name(), prop::bool::weighted(0.8), claim(2..BEGIN))
            .prop_map(|(lot, release, at)| Verb::Status { lot, release, at }),
        7 => issue(),
        8 => (slip_name(), much(), 0..5_u8, any::<bool>(), claim(5..BEGIN + 6))
            .prop_map(|(slip, much, condition, more, at)| Verb::GiveBack { slip, much, condition, more, at }),
        6 => (slip_name(), welder(), much(), any::<bool>(), number(), claim(5..BEGIN + 4)).prop_map(
            |(slip, to, much, closes, number, at)| Verb::HandOver { slip, to, much, closes, number, at }
        ),
        3 => (holder(), claim(3..9)).prop_map(|(welder, at)| Verb::Clear { welder, at }),
        7 => (
            prop::collection::vec(0..3_u8, 1..4),
            holder(),
            0..8_u8,
            prop::option::weighted(0.3, lot_name()),
            prop::option::weighted(0.3, slip_name()),
            claim(4..BEGIN),
            prop::option::weighted(0.4, claim(8..BEGIN + 6)),
        )
            .prop_map(|(joints, welder, process, lot, slip, from, to)| Verb::Weld {
                joints, welder, process, lot, slip, from, to
            }),
        3 => (0..3_u8, holder(), prop::bool::weighted(0.8), 0..5_u8, claim(4..BEGIN)).prop_map(
            |(joint, welder, legible, reads, at)| Verb::SpotCheck { joint, welder, legible, reads, at }
        ),
        3 => (
            prop_oneof![
                2 => (0..3_u8, holder()).prop_map(|(joint, welder)| ReadOnWhat::Hand { joint, welder }),
                1 => lot_name().prop_map(ReadOnWhat::Lot),
                1 => slip_name().prop_map(ReadOnWhat::Slip),
            ],
            prop::bool::weighted(0.7),
            claim(4..BEGIN),
        )
            .prop_map(|(on, other_class, at)| Verb::ReadMetal { on, other_class, at }),
        1 => Just(Verb::RebuildAndReopen),
    ]
}

fn told(verb: impl Strategy<Value = Verb>) -> impl Strategy<Value = Told> {
    let by = prop_oneof![20 => Just(0_u8), 3 => Just(1_u8), 1 => 0..6_u8];
    (verb, by, prop::bool::weighted(0.3), prop::bool::weighted(0.15), 0..2_i64).prop_map(
        |(verb, by, overriding, try_first, seconds_later)| Told {
            verb,
            by,
            overriding,
            try_first,
            seconds_later,
        },
    )
}

/// A history: lots come first, or there is nothing to hand out.
fn history(length: std::ops::Range<usize>) -> impl Strategy<Value = Vec<Told>> {
    let release =
        (0..4_u8).prop_map(|n| Verb::Status { lot: LotName::Identity(n), release: true, at: Claim::Now });
    let begin = (
        prop::collection::vec(told(receipt()), 2..4),
        prop::collection::vec(told(release), 3..6),
        prop::collection::vec(told(issue()), 4..7),
        prop::collection::vec(told(verb()), length),
    );
    begin.prop_map(|(receipts, releases, issues, rest)| [receipts, releases, issues, rest].concat())
}

// ---- telling it ---------------------------------------------------------------------------------------------------

/// How often each thing happened in all histories of a test, so that a test that tells nothing is noticed.
type Counts = RefCell<BTreeMap<String, usize>>;

fn count(counts: &Counts, what: impl Into<String>) {
    *counts.borrow_mut().entry(what.into()).or_default() += 1;
}

/// What an accepted request does to the model.
type Effect = Box<dyn FnOnce(&mut Model)>;

/// A book, what it must answer, and the clock.
struct Book<'c> {
    ledger: Ledger,
    home: std::path::PathBuf,
    model: Model,
    now: i64,
    /// Seconds between two moments of a history: one, so that claims touch; or days, so that slips are out for weeks.
    tick: i64,
    counts: &'c Counts,
}

/// Everything in the file that a refused request must leave alone, and the mark beside it.
#[derive(Debug, PartialEq)]
struct Untouched {
    lines: Vec<u8>,
    notes: Vec<u8>,
    facts: String,
    beside: Vec<String>,
    mark: Vec<Vec<u8>>,
}

/// What one request came to.
struct Answered {
    /// The number of entries, and whether it was a trial.
    done: Result<(usize, bool), Error>,
    effect: Option<Effect>,
}

impl Answered {
    fn new<T>(done: Result<Done<T>, Error>, effect: impl FnOnce(&Done<T>) -> Effect) -> Self {
        match done {
            Ok(done) => {
                assert_eq!(done.head.map(|h| h.1), done.entries.last().map(|e| e.id), "head and last entry");
                let effect = effect(&done);
                Self { done: Ok((done.entries.len(), done.dry_run)), effect: Some(effect) }
            }
            Err(error) => Self { done: Err(error), effect: None },
        }
    }
}

/// The name of an answer, to compare a trial with the real thing.
fn outcome(answered: &Answered) -> String {
    match &answered.done {
        Ok(_) => "accepted".into(),
        Err(Error::Refused(refusals)) => refusals.iter().map(|r| r.code).collect::<Vec<_>>().join(" and "),
        Err(Error::NotFound { what, .. }) => format!("no such {what}"),
        Err(Error::Ambiguous { what, .. }) => format!("several such {what}s"),
        Err(Error::NotUnderstood { .. }) => "not understood".into(),
        Err(other) => panic!("a sound book answers {other:?}"),
    }
}

/// A claimed time, both ends in seconds.
fn between(from: i64, to: i64) -> When {
    When { from: Instant(from), text: format!("{from} to {to}"), to: Instant(to) }
}

fn interval(when: &When) -> Interval {
    Interval { from: when.from.0, to: when.to.0 }
}

impl<'c> Book<'c> {
    /// A new book with three welders and three joints.
    fn begin(shop: &Shop, counts: &'c Counts) -> Self {
        Self::begin_with(shop, counts, 1)
    }

    fn begin_with(shop: &Shop, counts: &'c Counts, tick: i64) -> Self {
        let ledger = shop.init(START);
        let mut book = Self {
            ledger,
            home: shop.home(),
            model: Model::default(),
            now: START + BEGIN * tick,
            tick,
            counts,
        };
        for (badge, name) in
            [("W-1", "Marit Oldervane"), ("W-2", "Teo Brandrake"), ("W-3", "Dália Quenmarsh")]
        {
            let done = book.ledger.enroll(&acting("I-1", START), badge, name, &[Role::Welder]).unwrap();
            book.model.people.insert(badge.into(), done.value);
        }
        let inspector = book.ledger.ask(|r| Ok(r.trace_welder("I-1")?.welder.id)).unwrap();
        book.model.people.insert("I-1".into(), inspector);
        for number in &JOINTS[..3] {
            let request = JointRequest { number: (*number).into(), ..JointRequest::default() };
            let done = book.ledger.declare_joint(&acting("I-1", START), &request).unwrap();
            book.model.joints.insert((*number).into(), done.value.joint);
        }
        book
    }

    fn untouched(&self) -> Untouched {
        let conn = connect(self.ledger.path());
        let beside = [
            "SELECT * FROM person_name",
            "SELECT * FROM tree_edge",
            "SELECT * FROM checkpoint",
            "SELECT * FROM book",
        ]
        .iter()
        .flat_map(|sql| {
            let mut statement = conn.prepare(sql).unwrap();
            let columns = statement.column_count();
            let rows = statement.query_map([], |row| {
                (0..columns).map(|i| row.get::<_, rusqlite::types::Value>(i)).collect::<Result<Vec<_>, _>>()
            });
            rows.unwrap().map(|row| format!("{:?}", row.unwrap())).collect::<Vec<_>>()
        })
        .collect();
        let (mut lines, mut notes) = (Vec::new(), Vec::new());
        self.ledger.ask(|r| export_record(r, &mut lines)).unwrap();
        self.ledger.ask(|r| export_checkpoints(r, &mut notes)).unwrap();
        let mut marks: Vec<_> =
            std::fs::read_dir(self.home.join("stations")).unwrap().map(|d| d.unwrap().path()).collect();
        marks.sort();
        let mark = marks.iter().map(|dir| std::fs::read(dir.join("mark")).unwrap()).collect();
        Untouched { lines, notes, facts: self.ledger.facts_dump().unwrap(), beside, mark }
    }

    fn claimed(&self, claim: Claim) -> Option<When> {
        match claim {
            Claim::Now => None,
            Claim::At(moment) => Some(between(START + moment * self.tick, START + moment * self.tick)),
            Claim::Span(from, width) => {
                Some(between(START + from * self.tick, START + (from + width) * self.tick))
            }
        }
    }

    fn badge(&self, n: u8) -> String {
        if n < HOLDER {
            return BADGES[usize::from(n)].into();
        }
        let Some(slip) = self.model.slips.get(usize::from(n) % self.model.slips.len().max(1)) else {
            return "W-1".into();
        };
        let holder = self.model.people.iter().find(|(_, person)| **person == slip.holder);
        holder.unwrap().0.clone()
    }

    fn lot_label(&self, name: LotName) -> String {
        match name {
            LotName::Identity(n) if !self.model.lots.is_empty() => {
                self.model.lots[usize::from(n) % self.model.lots.len()].id.to_string()
            }
            LotName::Identity(n) | LotName::Label(n) => LABELS[usize::from(n) % LABELS.len()].into(),
        }
    }

    fn slip_number(&self, name: SlipName) -> String {
        match name {
            SlipName::There(n) if !self.model.slips.is_empty() => {
                self.model.slips[usize::from(n) % self.model.slips.len()].number.clone()
            }
            // The identity of no slip of the book.
            SlipName::Number(n) if n % 4 == 0 => record::SlipId::from_bytes([n; 16]).to_string(),
            SlipName::There(n) | SlipName::Number(n) => format!("S-{:05}", n % 12),
        }
    }

    fn quantity(&self, much: Much, lot: Option<&Lot>) -> Quantity {
        match much {
            Much::Pieces(n) => Quantity::new(n, 0, lot.map_or(Unit::Rods, Lot::count_unit)).unwrap(),
            Much::Grams(n) => Quantity::new(n, 0, Unit::Grams).unwrap(),
        }
    }

    /// The quantity of a slip's lot.
    fn of_slip(&self, much: Much, number: &str) -> Quantity {
        let lot = self.model.slips.iter().find(|s| s.number == number).map(|s| self.model.lot(s.lot));
        self.quantity(much, lot)
    }

    fn receive(&mut self, acting: &Acting, r: &Receipt) -> Answered {
        let forms = [ProductForm::CutLength, ProductForm::Covered, ProductForm::Spool, ProductForm::Flux];
        let form = forms.get(usize::from(r.form)).copied();
        let unit = if form == Some(ProductForm::Spool) { Unit::Spools } else { Unit::Rods };
        let quantity = r.much.map(|much| match much {
            Much::Pieces(n) => Quantity::new(n, 0, unit).unwrap(),
            Much::Grams(n) => Quantity::new(n, 0, Unit::Grams).unwrap(),
        });
        let text = |t: Option<&str>| t.map(str::to_owned);
        let request = ReceiveRequest {
            values: ledger::tell::certificate_read::ValuesTyped::default(),
            code: LABELS[usize::from(r.code)].into(),
            maker: text([Some("M1"), Some("M2"), None][usize::from(r.maker)]),
            maker_lot: text(
                [Some("ML-1"), Some("ML-2"), Some("C-1"), Some("n/a"), None][usize::from(r.maker_lot)],
            ),
            heats: vec!["H0117".into()],
            spec: text(Some("A5.18")),
            classification: text(CLASSES[usize::from(r.class)]),
            size: r.size.then(|| "3/32 in x 36 in".into()),
            form: Stated::from_option(form),
            quantity: Stated::from_option(quantity),
            piece_mg: r.piece_mg,
            certificate: text(Some("CERT-4")),
            at: self.claimed(r.at),
            ..ReceiveRequest::default()
        };
        Answered::new(self.ledger.receive(acting, &request), |done| {
            let (lot, further) = (done.value.lot.clone(), done.value.further);
            Box::new(move |model| {
                model.next();
                if further {
                    model.lot_mut(lot.id).deliveries.push(quantity);
                    return;
                }
                assert!(model.lots.iter().all(|known| known.id != lot.id), "a new lot has a new identity");
                model.lots.push(Lot {
                    id: lot.id,
                    code: request.code.clone(),
                    maker: request.maker,
                    maker_lot: request.maker_lot.filter(|m| m != "n/a"),
                    form,
                    classification: request.classification,
                    piece_mg: lot.received.piece.map(|p| p.mg),
                    deliveries: vec![quantity],
                    overdrawn: false,
                });
            })
        })
    }

    fn issue(
        &mut self,
        acting: &Acting,
        lot: LotName,
        to: u8,
        much: Much,
        number: Option<u8>,
        at: Claim,
    ) -> Answered {
        let label = self.lot_label(lot);
        let called = self.model.lots_called(&label);
        let quantity = self.quantity(much, called.first().map(|id| self.model.lot(*id)));
        let request = IssueRequest {
            lot: label,
            holder: self.badge(to),
            quantity,
            joints: Vec::new(),
            quiver: None,
            number: number.map(|n| format!("S-{:05}", n % 12)),
            due: None,
            at: self.claimed(at),
        };
        let when = request.at.clone().unwrap_or_else(|| When::now(acting.now));
        let overriding = acting.overriding.is_some();
        let done = self.ledger.issue(acting, &request);
        same_meaning(&done, &called, |d| d.value.slip.lot.id);
        Answered::new(done, |done| {
            let slip = done.value.slip.slip.clone();
            Box::new(move |model| {
                let order = model.next();
                let new = Slip {
                    id: slip.id,
                    number: slip.number.clone(),
                    lot: called[0],
                    holder: model.people[&request.holder],
                    issued: interval(&when),
                    quantity,
                    from_crib: true,
                    order,
                    outs: Vec::new(),
                    overdrawn: false,
                };
                model.lot_mut(new.lot).overdrawn |= overriding;
                begin_slip(model, new, request.number.as_deref());
            })
        })
    }

    fn give_back(
        &mut self,
        acting: &Acting,
        slip: SlipName,
        much: Much,
        condition: u8,
        more: bool,
        at: Claim,
    ) -> Answered {
        let number = self.slip_number(slip);
        let conditions =
            [Condition::Marked, Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];
        let request = ReturnRequest {
            quantity: self.of_slip(much, &number),
            slip: number,
            stubs: Some(2),
            condition: conditions[usize::from(condition)],
            more,
            at: self.claimed(at),
        };
        let when = request.at.clone().unwrap_or_else(|| When::now(acting.now));
        let overriding = acting.overriding.is_some();
        Answered::new(self.ledger.give_back(acting, &request), |done| {
            let slip = done.value.slip.slip.id;
            Box::new(move |model| {
                let order = model.next();
                let slip = model.slip_mut(slip);
                assert_eq!(slip.number, request.slip);
                slip.overdrawn |= overriding;
                slip.outs.push(Leaving {
                    at: interval(&when),
                    quantity: request.quantity,
                    closes: !request.more,
                    kind: OutKind::Return,
                    condition: Some(request.condition),
                    order,
                });
            })
        })
    }

    fn hand_over(&mut self, acting: &Acting, request: HandOverRequest) -> Answered {
        let when = request.at.clone().unwrap_or_else(|| When::now(acting.now));
        let overriding = acting.overriding.is_some();
        Answered::new(self.ledger.hand_over(acting, &request), |done| {
            let (from, to) = (done.value.from.slip.clone(), done.value.to.slip.clone());
            Box::new(move |model| {
                let order = model.next();
                let old = model.slip_mut(from.id);
                assert_eq!(old.number, request.slip);
                old.overdrawn |= overriding;
                old.outs.push(Leaving {
                    at: interval(&when),
                    quantity: request.quantity,
                    closes: request.closes,
                    kind: OutKind::HandOver,
                    condition: None,
                    order,
                });
                let new = Slip {
                    id: to.id,
                    number: to.number.clone(),
                    lot: old.lot,
                    holder: model.people[&request.to],
                    issued: interval(&when),
                    quantity: request.quantity,
                    from_crib: false,
                    order,
                    outs: Vec::new(),
                    overdrawn: false,
                };
                begin_slip(model, new, request.number.as_deref());
            })
        })
    }

    fn weld(&mut self, acting: &Acting, request: WeldRequest) -> Answered {
        let when = request.from.clone().unwrap_or_else(|| When::now(acting.now));
        let end = request.to.as_ref().map_or(when.to.0, |to| to.to.0).max(when.from.0);
        let covers = Interval { from: when.from.0, to: end };
        let called = request.lot.as_ref().map(|label| self.model.lots_called(label));
        let done = self.ledger.weld(acting, &request);
        if let Some(called) = &called {
            match &done {
                Ok(_) => assert_eq!(called.len(), 1, "{request:?}"),
                Err(Error::NotFound { what: "lot", .. }) => assert_eq!(called.len(), 0, "{request:?}"),
                Err(Error::Ambiguous { what: "lot", .. }) => assert!(called.len() > 1, "{request:?}"),
                Err(_) => {}
            }
        }
        Answered::new(done, |done| {
            let written = done.entries[0];
            Box::new(move |model| {
                let order = model.next();
                let mut joints: Vec<String> = Vec::new();
                for number in std::iter::once(&request.joint).chain(&request.also) {
                    if !joints.contains(number) {
                        joints.push(number.clone());
                    }
                }
                let slip = request.slip.as_ref().map(|number| {
                    model.slips.iter().find(|slip| slip.number == *number).unwrap().id.number()
                });
                let record = WeldRecord {
                    entry: written.id,
                    place: written.place,
                    joints,
                    welder: model.people[&request.welder],
                    when: covers,
                    process: request.process,
                    filler: request.filler,
                    named: Named { lot: called.map(|called| called[0].number()), slip },
                    order,
                };
                model.welds.push(record);
            })
        })
    }

    fn tell(&mut self, verb: &Verb, acting: &Acting) -> Answered {
        let badge = |n: u8| self.badge(n);
        match verb {
            Verb::Enroll { badge: n, roles } => {
                let roles: &[Role] = match roles {
                    0 => &[Role::Attendant, Role::Inspector],
                    1 => &[Role::Welder],
                    2 => &[Role::Welder, Role::Inspector],
                    _ => &[],
                };
                let badge = badge(*n);
                Answered::new(self.ledger.enroll(acting, &badge, "Somebody Else", roles), |done| {
                    let person = done.value;
                    Box::new(move |model| {
                        model.next();
                        let known = model.people.insert(badge, person);
                        assert!(known.is_none_or(|known| known == person), "a badge keeps its person");
                    })
                })
            }
            Verb::Joint { number } => {
                let number = JOINTS[usize::from(*number)].to_owned();
                let request = JointRequest { number: number.clone(), ..JointRequest::default() };
                Answered::new(self.ledger.declare_joint(acting, &request), |done| {
                    let joint = done.value.joint;
                    Box::new(move |model| {
                        model.next();
                        let known = model.joints.insert(number, joint);
                        assert!(known.is_none_or(|known| known == joint), "a number keeps its joint");
                    })
                })
            }
            Verb::Shifts => {
                let shifts = [Shift::parse("22:00-06:00").unwrap()];
                Answered::new(self.ledger.declare_shifts(acting, &shifts), |_| {
                    Box::new(|model| {
                        model.next();
                    })
                })
            }
            Verb::Receive(receipt) => self.receive(acting, receipt),
            Verb::Status { lot, release, at } => {
                let (label, at) = (self.lot_label(*lot), self.claimed(*at));
                let called = self.model.lots_called(&label);
                let done = if *release {
                    self.ledger.release(acting, &label, None, at.as_ref())
                } else {
                    self.ledger.hold(acting, &label, "certificate not accepted", at.as_ref())
                };
                same_meaning(&done, &called, |d| d.value.lot);
                Answered::new(done, |_| {
                    Box::new(|model| {
                        model.next();
                    })
                })
            }
            Verb::Issue { lot, to, much, number, at } => self.issue(acting, *lot, *to, *much, *number, *at),
            Verb::GiveBack { slip, much, condition, more, at } => {
                self.give_back(acting, *slip, *much, *condition, *more, *at)
            }
            Verb::HandOver { slip, to, much, closes, number, at } => {
                let slip = self.slip_number(*slip);
                let request = HandOverRequest {
                    quantity: self.of_slip(*much, &slip),
                    slip,
                    to: badge(*to),
                    closes: *closes,
                    number: number.map(|n| format!("S-{:05}", n % 12)),
                    at: self.claimed(*at),
                };
                self.hand_over(acting, request)
            }
            Verb::Clear { welder, at } => {
                let (badge, at) = (badge(*welder), self.claimed(*at));
                let when = at.clone().unwrap_or_else(|| When::now(acting.now));
                let open_before = self.model.open_slips();
                Answered::new(self.ledger.clear(acting, &badge, at.as_ref()), |done| {
                    let closed: BTreeSet<u128> = done.value.iter().map(|v| v.slip.id.number()).collect();
                    Box::new(move |model| {
                        let order = model.next();
                        let clear = trace::Clear {
                            holder: model.people[&badge].number(),
                            at: interval(&when),
                            order,
                        };
                        model.clears.push(clear);
                        let expected: BTreeSet<u128> =
                            open_before.difference(&model.open_slips()).copied().collect();
                        assert_eq!(closed, expected, "the slips that a clearing says it closed");
                    })
                })
            }
            Verb::Weld { joints, welder, process, lot, slip, from, to } => {
                let joint = |n: u8| JOINTS[usize::from(n)].to_owned();
                // Mostly the slip of the welder, or its lot, is what the record names.
                let held = (*welder >= HOLDER).then(|| self.slip_number(SlipName::There(*welder)));
                let held_lot = held.as_ref().and_then(|number| {
                    self.model.slips.iter().find(|s| s.number == *number).map(|s| s.lot.to_string())
                });
                let lot = lot.map(|lot| match (lot, &held_lot) {
                    (LotName::Identity(n), Some(held)) if n % 4 > 0 => held.clone(),
                    _ => self.lot_label(lot),
                });
                let slip = slip.map(|slip| match (slip, &held) {
                    (SlipName::There(n), Some(held)) if n % 4 > 0 => held.clone(),
                    _ => self.slip_number(slip),
                });
                let processes = [Some(Process::Gtaw), Some(Process::Smaw), Some(Process::Saw)];
                let request = WeldRequest {
                    arc: record::event::Arc::default(),
                    joint: joint(joints[0]),
                    also: joints[1..].iter().map(|n| joint(*n)).collect(),
                    welder: badge(*welder),
                    pass: None,
                    cycle: None,
                    process: processes.get(usize::from(*process)).cloned().flatten(),
                    lot,
                    slip,
                    filler: *process != 7,
                    used: None,
                    from: self.claimed(*from),
                    to: to.and_then(|to| self.claimed(to)),
                    mark: None,
                    finished: false,
                };
                self.weld(acting, request)
            }
            Verb::SpotCheck { joint, welder, legible, reads, at } => {
                let reads = ["70S-2", "7018", "70S-6", "unknown", ""][usize::from(*reads)];
                let request = SpotCheckRequest {
                    joint: JOINTS[usize::from(*joint)].into(),
                    welder: badge(*welder),
                    legible: *legible,
                    reads: Some(reads.into()),
                    at: self.claimed(*at),
                };
                let when = request.at.clone().unwrap_or_else(|| When::now(acting.now));
                Answered::new(self.ledger.spot_check(acting, &request), |_| {
                    Box::new(move |model| {
                        let order = model.next();
                        model.checks.push(SpotCheck {
                            joint: model.joints[&request.joint].number(),
                            welder: model.people[&request.welder].number(),
                            at: interval(&when),
                            legible: request.legible,
                            reads: (!["unknown", ""].contains(&reads)).then(|| reads.to_owned()),
                            order,
                        });
                    })
                })
            }
            Verb::ReadMetal { on, other_class, at } => {
                // Manganese, silicon, titanium and zirconium as of ER70S-6, or as of ER70S-2 (constructed).
                let text = if *other_class {
                    "Mn=1.75/0.06,Si=0.95/0.10,Ti=0.01/0.01,Zr=0.00/0.01"
                } else {
                    "Mn=1.15/0.06,Si=0.55/0.10,Ti=0.09/0.02,Zr=0.05/0.02"
                };
                let reading =
                    Reading::parse(text, Some("2"), None, ReadingMethod::Xrf, SurfaceState::Abraded).unwrap();
                let on = match on {
                    ReadOnWhat::Hand { joint, welder } => {
                        On::Joint { joint: JOINTS[usize::from(*joint)].into(), welder: badge(*welder) }
                    }
                    ReadOnWhat::Lot(lot) => On::Lot(self.lot_label(*lot)),
                    ReadOnWhat::Slip(slip) => On::Slip(self.slip_number(*slip)),
                };
                let request = ReadingRequest { on, reading, at: self.claimed(*at) };
                let when = request.at.clone().unwrap_or_else(|| When::now(acting.now));
                let other_class = *other_class;
                Answered::new(self.ledger.read_metal(acting, &request), |done| {
                    let on = match &done.value.read.on {
                        record::event::ReadOn::Joint { joint, welder } => trace::ReadOn::Hand {
                            joint: joint.joint.number(),
                            welder: welder.person.number(),
                            at: interval(&when),
                        },
                        record::event::ReadOn::Lot(lot) => trace::ReadOn::Lot(lot.lot.number()),
                        record::event::ReadOn::Slip(slip) => trace::ReadOn::Slip(slip.slip.number()),
                        other @ (record::event::ReadOn::Find(_) | record::event::ReadOn::WeldMetal(_)) => {
                            panic!("{other:?} was not asked for")
                        }
                    };
                    Box::new(move |model| {
                        let order = model.next();
                        model.readings.push((trace::Reading { on, order }, other_class));
                    })
                })
            }
            Verb::RebuildAndReopen => unreachable!("handled by `step`"),
        }
    }

    /// Tells one thing and checks what it may and may not have changed.
    fn step(&mut self, told: &Told) {
        self.now += told.seconds_later * self.tick;
        if matches!(told.verb, Verb::RebuildAndReopen) {
            let before = self.untouched();
            self.ledger.rebuild(&mut |_, _| {}).unwrap();
            self.ledger = Ledger::open_for_writing(self.ledger.path(), &self.home).unwrap();
            assert_eq!(self.untouched(), before, "rebuilding and reopening changes nothing");
            return;
        }
        let mut acting = acting(BADGES[usize::from(told.by)], self.now);
        acting.overriding = told.overriding.then(|| "counted twice by two people".into());
        let before = self.untouched();
        let tried = told.try_first.then(|| {
            let trial = Acting { dry_run: true, ..acting.clone() };
            let answered = self.tell(&told.verb, &trial);
            assert_eq!(self.untouched(), before, "a trial writes nothing: {told:?}");
            if let Ok((_, dry_run)) = &answered.done {
                assert!(dry_run);
                count(self.counts, "tried");
            }
            outcome(&answered)
        });
        let stock_before = self.stock();
        let answered = self.tell(&told.verb, &acting);
        let outcome = outcome(&answered);
        if let Some(tried) = tried {
            assert_eq!(tried, outcome, "a trial decides as the real thing: {told:?}");
        }
        match (answered.done, answered.effect) {
            (Ok((entries, dry_run)), Some(effect)) => {
                assert_eq!((entries, dry_run), (1, false));
                effect(&mut self.model);
                self.after(told, &stock_before);
                let name = format!("{:?}", told.verb);
                let name: String = name.chars().take_while(|c| c.is_alphanumeric()).collect();
                count(self.counts, name);
            }
            (Err(_), None) => {
                assert_eq!(self.untouched(), before, "a refusal writes nothing: {told:?}");
                count(self.counts, outcome);
            }
            _ => panic!("an effect comes with an acceptance"),
        }
    }

    fn stock(&self) -> BTreeMap<u128, Balance> {
        let stock = self.ledger.ask(|r| r.stock()).unwrap();
        stock.into_iter().map(|l| (l.lot.id.number(), l.in_crib)).collect()
    }

    /// The balances after an acceptance.
    fn after(&self, told: &Told, stock_before: &BTreeMap<u128, Balance>) {
        let stock = self.stock();
        let leaves_stock_alone = match told.verb {
            Verb::HandOver { .. }
            | Verb::Clear { .. }
            | Verb::Weld { .. }
            | Verb::SpotCheck { .. }
            | Verb::ReadMetal { .. }
            | Verb::Enroll { .. }
            | Verb::Joint { .. }
            | Verb::Shifts
            | Verb::Status { .. } => true,
            Verb::Receive(_) | Verb::Issue { .. } | Verb::GiveBack { .. } | Verb::RebuildAndReopen => false,
        };
        if leaves_stock_alone {
            assert_eq!(&stock, stock_before, "{told:?}");
        }
        let expected: BTreeMap<u128, Balance> =
            self.model.lots.iter().map(|lot| (lot.id.number(), self.model.in_crib(lot))).collect();
        assert_eq!(stock, expected, "what is in the crib, after {told:?}");
        for lot in &self.model.lots {
            let (Balance::Pieces(n) | Balance::Milligrams(n)) = stock[&lot.id.number()] else { continue };
            if n < 0 {
                count(self.counts, "overdrawn");
            }
            assert!(n >= 0 || lot.overdrawn, "{n} in the crib, and no rule was set aside: {told:?}");
        }
        self.ledger
            .ask(|r| {
                for slip in &self.model.slips {
                    let view = r.slip_and_lot(slip.id)?;
                    let left = view.slip.left(&view.lot);
                    assert_eq!(left, self.model.left(slip), "what is out on {} after {told:?}", slip.number);
                    if let Balance::Pieces(n) | Balance::Milligrams(n) = left {
                        assert!(n >= 0 || slip.overdrawn, "{n} out, and no rule was set aside: {told:?}");
                    }
                }
                Ok(())
            })
            .unwrap();
    }

    /// The laws at the end of a history.
    fn end(&self, seed: u64) {
        let facts = self.ledger.facts_dump().unwrap();
        assert_eq!(facts, self.ledger.facts_dump_replayed(|_| {}).unwrap(), "incremental = replayed");
        let mut before = Vec::new();
        let shuffled = self.ledger.facts_dump_replayed(|places| {
            before.clone_from(places);
            shuffle(places, seed);
        });
        assert_eq!(facts, shuffled.unwrap(), "incremental = replayed in another order");
        let report = verified(&self.ledger, Extent::Everything);
        assert!(report.is_sound(), "{:?}", report.problems);
        let entries: u64 = report.stations.iter().map(|s| s.entries).sum();
        assert_eq!(entries, before.len() as u64);
        for station in &report.stations {
            assert_eq!(station.entries, station.signed);
        }
        self.traces_are_those_of_all_slips();
    }

    /// Every trace on the book, which looks only at slips that its tables point to, is the pure computation over all
    /// slips of the book.
    fn traces_are_those_of_all_slips(&self) {
        let slips = self.model.traced_slips();
        let answers = self.model.answers(&slips);
        let ids = |views: &[SlipAndLot]| -> Vec<u128> { views.iter().map(|v| v.slip.id.number()).collect() };
        for number in self.model.joints.keys() {
            let traced = self.ledger.ask(|r| r.trace_joint(number)).unwrap();
            let expected: Vec<_> = answers.iter().filter(|(_, joint, ..)| joint == number).collect();
            assert_eq!(traced.welds.len(), expected.len());
            for (found, (record, _, weld, answer)) in traced.welds.iter().zip(expected) {
                assert_eq!((found.entry, found.place), (record.entry, record.place), "order of weld records");
                assert_eq!(found.certainty, answer.certainty, "{weld:?}");
                assert_eq!(ids(&found.sources), answer.sources, "{weld:?}");
                assert_eq!(ids(&found.others), answer.others, "{weld:?}");
                assert_eq!(ids(&found.flux), answer.flux, "{weld:?}");
                let contradicting = found.checks.iter().filter(|(.., contradicts)| *contradicts).count();
                assert_eq!(
                    (found.checks.len(), contradicting),
                    (answer.checks.len(), answer.contradicting.len()),
                    "{weld:?}"
                );
                let refuted: usize = found.readings.iter().map(|(_, slips)| slips.len()).sum();
                assert_eq!(
                    (found.readings.len(), refuted),
                    (answer.readings.len(), answer.refuted.len()),
                    "{weld:?}"
                );
                (0..refuted).for_each(|_| count(self.counts, "refuted"));
                count(self.counts, answer.certainty.as_str());
            }
        }
        let pairs: Vec<_> =
            answers.iter().map(|(_, _, weld, answer)| (weld.clone(), answer.clone())).collect();
        let at = |index: usize| (answers[index].0.entry, answers[index].1.clone());
        for lot in &self.model.lots {
            let found = self.ledger.ask(|r| r.trace_lot(&lot.id.to_string())).unwrap();
            let found: BTreeSet<_> = found
                .welds
                .iter()
                .map(|u| ((u.weld.entry, u.joint.declared.number.clone()), u.link.word(), u.of))
                .collect();
            let mut expected: BTreeMap<_, _> = links_of_lot(lot.id.number(), &pairs, &slips)
                .into_iter()
                .map(|(index, link, of)| {
                    let link = match link {
                        Link::Source => where_used::Link::Source,
                        Link::Named => where_used::Link::Named,
                        Link::Other => where_used::Link::Other,
                    };
                    (at(index), (link.word(), of))
                })
                .collect();
            for (index, _) in flux_links_of_lots(&BTreeSet::from([lot.id.number()]), &pairs, &slips) {
                let lots: BTreeSet<_> = pairs[index]
                    .1
                    .sources
                    .iter()
                    .map(|id| slips.iter().find(|slip| slip.id == *id).unwrap().lot)
                    .collect();
                expected.entry(at(index)).or_insert((where_used::Link::Flux.word(), lots.len()));
            }
            let expected: BTreeSet<_> = expected.into_iter().map(|(at, (link, of))| (at, link, of)).collect();
            assert_eq!(found, expected, "where lot {} was used", lot.code);
            found.iter().for_each(|(_, link, _)| count(self.counts, format!("link {link}")));
        }
        let out = self.ledger.ask(|r| r.out()).unwrap();
        let out: BTreeSet<u128> = out.iter().map(|view| view.slip.id.number()).collect();
        assert_eq!(out, self.model.open_slips(), "what is out");
    }
}

/// A label that was accepted means exactly one lot, and one that was not found or means several does so in the model.
fn same_meaning<T>(
    done: &Result<Done<T>, Error>,
    called: &[record::LotId],
    lot: impl FnOnce(&Done<T>) -> record::LotId,
) {
    match done {
        Ok(done) => assert_eq!(called, [lot(done)]),
        Err(Error::NotFound { what: "lot", .. }) => assert_eq!(called.len(), 0),
        Err(Error::Ambiguous { what: "lot", .. }) => assert!(called.len() > 1),
        Err(_) => {}
    }
}

fn begin_slip(model: &mut Model, slip: Slip, wanted: Option<&str>) {
    assert!(model.slips.iter().all(|s| s.number != slip.number && s.id != slip.id), "{} twice", slip.number);
    assert!(wanted.is_none_or(|wanted| wanted == slip.number));
    model.slips.push(slip);
}

/// Fisher–Yates with a linear congruential generator (Knuth's MMIX constants, from memory).
fn shuffle<T>(things: &mut [T], mut seed: u64) {
    for i in (1..things.len()).rev() {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        things.swap(i, (seed >> 33) as usize % (i + 1));
    }
}

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, max_shrink_iters: 400, ..ProptestConfig::default() }
}

/// Fails where something happened too seldom for the test to say anything about it.
fn at_least(counts: &Counts, wanted: &[(&str, usize)]) {
    let counts = counts.borrow();
    for (what, least) in wanted {
        let found = counts.get(*what).copied().unwrap_or(0);
        assert!(found >= *least, "{what}: {found} times in all histories, {least} wanted; all: {counts:#?}");
    }
}

#[test]
fn any_history_keeps_the_laws() {
    let counts = Counts::default();
    let strategy = (history(18..32), any::<u64>());
    TestRunner::new(config(180))
        .run(&strategy, |(history, seed)| {
            let shop = Shop::new();
            let tick = if seed % 3 == 0 { 4 * 86_400 } else { 1 };
            let mut book = Book::begin_with(&shop, &counts, tick);
            history.iter().for_each(|told| book.step(told));
            book.end(seed);
            Ok::<(), TestCaseError>(())
        })
        .unwrap();
    at_least(
        &counts,
        &[
            ("Enroll", 30),
            ("Joint", 30),
            ("Shifts", 30),
            ("Receive", 300),
            ("Status", 300),
            ("Issue", 200),
            ("GiveBack", 100),
            ("HandOver", 40),
            ("Clear", 50),
            ("Weld", 200),
            ("SpotCheck", 100),
            ("ReadMetal", 60),
            ("refuted", 8),
            ("tried", 100),
            ("overdrawn", 20),
            ("recorded", 30),
            ("by-custody", 50),
            ("one-of", 12),
            ("contradicted", 50),
            ("unknown", 50),
            ("no-filler", 50),
            ("link source", 100),
            ("link named", 50),
            ("link other", 5),
            ("link flux", 1),
        ],
    );
}

/// A copy is made in the middle of a history, the old book may go on for a little, and a successor station goes on from
/// the copy: the laws hold on both, and the old book takes what it took before.
#[test]
fn a_history_goes_on_from_a_copy() {
    let counts = Counts::default();
    let strategy = (history(4..14), history(8..16), 0..3_u64, any::<u64>());
    TestRunner::new(config(50))
        .run(&strategy, |(before, after, lost, seed)| {
            let shop = Shop::new();
            let mut old = Book::begin(&shop, &counts);
            before.iter().for_each(|told| old.step(told));
            let copied = old.ledger.backup(&shop.path("copy"), &shop.home()).unwrap();
            assert!(copied.verified.is_sound());
            let at_copy = old.model.clone();
            let facts_of_copy = old.ledger.facts_dump().unwrap();
            for n in 0..lost {
                let shifts = [Shift::parse(&format!("0{n}:00-12:00")).unwrap()];
                old.ledger.declare_shifts(&acting("W-1", old.now), &shifts).unwrap();
            }

            let restored = shop.path("restored.rodbook");
            let opened = Ledger::restore(
                &restored,
                &shop.home(),
                &acting("W-1", old.now),
                &shop.path("copy"),
                "crib 2",
            )
            .unwrap();
            assert_eq!(opened.value.lost, (lost > 0).then_some(lost), "entries that the copy has not got");
            let ledger = Ledger::open_for_writing(&restored, &shop.home()).unwrap();
            let (now, counts) = (old.now, old.counts);
            let mut book = Book { ledger, home: shop.home(), model: at_copy, now, tick: 1, counts };
            book.model.next();
            let facts = book.ledger.facts_dump().unwrap();
            let facts: BTreeSet<&str> = facts.lines().collect();
            let kept = facts_of_copy.lines().filter(|line| facts.contains(line)).count();
            assert_eq!(
                (kept, facts.len()),
                (facts_of_copy.lines().count(), kept + 1),
                "one entry more, no fact less"
            );
            after.iter().for_each(|told| book.step(told));
            book.end(seed);
            let report = verified(&book.ledger, Extent::Everything);
            assert_eq!(report.stations.iter().map(|s| s.own).collect::<Vec<_>>(), [false, true]);

            // The old book neither knows nor minds.
            let report = verified(&old.ledger, Extent::Everything);
            assert!(report.is_sound(), "{:?}", report.problems);
            let mut old = Book {
                ledger: shop.writer(),
                home: old.home,
                model: old.model,
                now: old.now,
                tick: 1,
                counts,
            };
            after.iter().for_each(|told| old.step(told));
            old.end(seed);
            Ok::<(), TestCaseError>(())
        })
        .unwrap();
    at_least(&counts, &[("Receive", 200), ("Issue", 200), ("Weld", 100), ("one-of", 2), ("by-custody", 10)]);
}

/// A slip book may begin anywhere, and the next free number is found all the same.
#[test]
fn the_greatest_slip_number_leaves_a_next_one() {
    let (sender, receiver) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let counts = Counts::default();
        let shop = Shop::new();
        let mut book = Book::begin(&shop, &counts);
        let acting = acting("I-1", book.now);
        let lot = ReceiveRequest { code: "C-1".into(), ..ReceiveRequest::default() };
        book.ledger.receive(&acting, &lot).unwrap();
        book.ledger.release(&acting, "C-1", None, None).unwrap();
        let mut issue = |number: Option<&str>| {
            let request = IssueRequest {
                lot: "C-1".into(),
                holder: "W-1".into(),
                quantity: Quantity::parse("1 rod").unwrap(),
                joints: Vec::new(),
                quiver: None,
                number: number.map(str::to_owned),
                due: None,
                at: None,
            };
            book.ledger.issue(&acting, &request).unwrap().value.slip.slip.number.clone()
        };
        let numbers: Vec<String> = [
            Some("S-00007"),
            None,
            Some(&format!("S-{}", i64::MAX)),
            None,
            Some("S-99999999999999999999"),
            None,
        ]
        .into_iter()
        .map(&mut issue)
        .collect();
        let _ = sender.send(numbers);
    });
    let numbers = receiver.recv_timeout(std::time::Duration::from_secs(30)).expect("no next number is found");
    assert_eq!(numbers.iter().collect::<BTreeSet<_>>().len(), 6, "{numbers:?}");
}
