//! Small shops for the tests: few holders, few slips and a handful of seconds, so that ties and touching ends are
//! common.

#![allow(dead_code, reason = "each test uses a part of it")]

use std::collections::BTreeSet;

use filler::{Process, ProductForm};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use trace::{Amount, Answer, Clear, Id, Interval, Named, Order, Out, OutKind, Slip, SpotCheck, Weld};

/// Everything one answer can depend on.
#[derive(Debug, Clone)]
pub(crate) struct Shop {
    pub(crate) slips: Vec<Slip>,
    pub(crate) clears: Vec<Clear>,
    pub(crate) checks: Vec<SpotCheck>,
    pub(crate) welds: Vec<Weld>,
}

impl Shop {
    pub(crate) fn answer(&self, weld: &Weld) -> Answer {
        trace::sources(weld, &self.slips, &self.clears, &self.checks)
    }
}

/// Sources and others together: all that can have fed the weld.
pub(crate) fn candidates(answer: &Answer) -> BTreeSet<Id> {
    answer.sources.iter().chain(&answer.others).copied().collect()
}

/// An open, counted slip; tests change what they are about.
pub(crate) fn slip(id: Id, lot: Id, holder: Id, issued: i64) -> Slip {
    Slip {
        id,
        number: format!("S-{id}"),
        lot,
        holder,
        form: Some(ProductForm::CutLength),
        classification: Some("ER70S-2".to_owned()),
        issued: Interval::at(issued),
        amount: Amount::pieces(10),
        outs: vec![],
        order: id,
    }
}

/// A closing return.
pub(crate) fn returned(at: i64, order: Order) -> Out {
    Out { at: Interval::at(at), amount: Amount::pieces(1), closes: true, kind: OutKind::Return, order }
}

/// A GTAW weld that names nothing.
pub(crate) fn weld(welder: Id, from: i64, to: i64) -> Weld {
    Weld {
        id: 9_000,
        joint: 500,
        welder,
        when: Interval { from, to },
        processes: vec![Process::Gtaw],
        filler: true,
        named: Named::default(),
    }
}

/// A legible spot check of [`weld`]'s joint.
pub(crate) fn check(welder: Id, at: i64, reads: &str) -> SpotCheck {
    SpotCheck {
        joint: 500,
        welder,
        at: Interval::at(at),
        legible: true,
        reads: Some(reads.to_owned()),
        order: 70,
    }
}

const HOLDERS: [Id; 2] = [1, 2];
const LOTS: [Id; 3] = [10, 11, 12];
const JOINTS: [Id; 2] = [500, 501];
pub(crate) const FIRST_SLIP: Id = 1_000;
pub(crate) const CLASSES: [&str; 5] = ["ER70S-2", "E7018-1 H4R", "ER308L", "308/308L", "ER308"];
pub(crate) const READS: [&str; 7] = ["7018", "70S-6", "70S-2", "308", "308L", "ER308L", " "];

/// An exact time, a short stretch, or a whole day of five seconds.
fn when() -> impl Strategy<Value = Interval> {
    prop_oneof![
        4 => (0..15_i64).prop_map(Interval::at),
        2 => (0..15_i64, 0..5_i64).prop_map(|(from, length)| Interval { from, to: from + length }),
        2 => (0..3_i64).prop_map(|day| Interval { from: day * 5, to: day * 5 + 4 }),
    ]
}

fn amount() -> impl Strategy<Value = Amount> {
    prop_oneof![
        3 => (0..4_i64).prop_map(Amount::pieces),
        1 => (0..4_i64).prop_map(Amount::mg),
        2 => (0..4_i64, 0..4_i64).prop_map(|(pieces, mg)| Amount { pieces: Some(pieces), mg: Some(mg) }),
        1 => Just(Amount::default()),
    ]
}

fn form() -> impl Strategy<Value = Option<ProductForm>> {
    option::weighted(0.85, select(ProductForm::ALL))
}

fn processes() -> impl Strategy<Value = Vec<Process>> {
    let process = prop_oneof![
        8 => select(vec![
            Process::Smaw,
            Process::Gtaw,
            Process::Paw,
            Process::Gmaw,
            Process::Fcaw,
            Process::Saw,
        ]),
        1 => Just(Process::Saw),
        1 => Just(Process::Other("OFW".to_owned())),
    ];
    vec(process, 0..3)
}

/// Orders are given out afterwards, so that no two are the same.
fn out() -> impl Strategy<Value = Out> {
    let kind = select(vec![OutKind::Return, OutKind::HandOver, OutKind::Scrap]);
    (when(), amount(), prop::bool::weighted(0.15), kind).prop_map(|(at, amount, closes, kind)| Out {
        at,
        amount,
        closes,
        kind,
        order: 0,
    })
}

pub(crate) fn any_slip() -> impl Strategy<Value = Slip> {
    let what = (select(&LOTS[..]), select(&HOLDERS[..]), form(), option::weighted(0.9, select(&CLASSES[..])));
    // More is issued than most outs take, so that many slips are used up by the last of several outs or never.
    let issued = (amount(), 0..4_i64).prop_map(|(amount, more)| Amount {
        pieces: amount.pieces.map(|pieces| pieces + more),
        mg: amount.mg.map(|mg| mg + more),
    });
    (what, 0..3_u8, when(), issued, vec(out(), 0..4)).prop_map(|(what, number, issued, amount, outs)| {
        let (lot, holder, form, class) = what;
        Slip {
            id: 0,
            number: number.to_string(),
            lot,
            holder,
            form,
            classification: class.map(str::to_owned),
            issued,
            amount,
            outs,
            order: 0,
        }
    })
}

fn clear() -> impl Strategy<Value = Clear> {
    (select(&HOLDERS[..]), when()).prop_map(|(holder, at)| Clear { holder, at, order: 0 })
}

fn spot_check() -> impl Strategy<Value = SpotCheck> {
    let reads = option::weighted(0.9, select(&READS[..]));
    (select(&JOINTS[..]), select(&HOLDERS[..]), when(), prop::bool::weighted(0.8), reads).prop_map(
        |(joint, welder, at, legible, reads)| SpotCheck {
            joint,
            welder,
            at,
            legible,
            reads: reads.map(str::to_owned),
            order: 0,
        },
    )
}

fn any_weld() -> impl Strategy<Value = Weld> {
    let named = (
        option::weighted(0.35, select(&LOTS[..])),
        option::weighted(0.2, (0..9_u128).prop_map(|n| FIRST_SLIP + n)),
    );
    let filler = prop::bool::weighted(0.92);
    (select(&JOINTS[..]), select(&HOLDERS[..]), when(), processes(), filler, named).prop_map(
        |(joint, welder, when, processes, filler, (lot, slip))| Weld {
            id: 0,
            joint,
            welder,
            when,
            processes,
            filler,
            named: Named { lot, slip },
        },
    )
}

/// A whole shop. Orders follow random keys, so the record's order is independent of every time.
pub(crate) fn shop() -> impl Strategy<Value = Shop> {
    (
        vec(any_slip(), 0..10),
        vec(clear(), 0..3),
        vec(spot_check(), 0..4),
        vec(any_weld(), 1..4),
        vec(any::<u8>(), 45),
    )
        .prop_map(|(slips, clears, checks, welds, keys)| {
            let mut shop = Shop { slips, clears, checks, welds };
            number(&mut shop, &keys);
            shop
        })
}

/// Gives slips and welds their identities and everything a place of its own in the record.
fn number(shop: &mut Shop, keys: &[u8]) {
    let mut counter = 0;
    let mut next = || {
        let key = keys.get(counter).copied().unwrap_or_default();
        counter += 1;
        (Order::from(key) << 64) | counter as Order
    };
    for (index, slip) in shop.slips.iter_mut().enumerate() {
        slip.id = FIRST_SLIP + index as Id;
        slip.order = next();
        slip.outs.iter_mut().for_each(|out| out.order = next());
    }
    shop.clears.iter_mut().for_each(|clear| clear.order = next());
    shop.checks.iter_mut().for_each(|check| check.order = next());
    for (index, weld) in shop.welds.iter_mut().enumerate() {
        weld.id = 9_000 + index as Id;
    }
}
