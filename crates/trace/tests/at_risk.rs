//! Which welds unmarked wire puts at risk: one story by hand, a second-by-second oracle, and laws.

#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "a test may panic")]

mod shop;

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use shop::{check, returned, slip, weld};
use trace::{
    Amount, AtRisk, Clear, HandOver, Id, Interval, Out, OutKind, Slip, SpotCheck, UnmarkedWire, Weld,
};

fn hand_over(from_slip: Id, to_slip: Id, at: Interval) -> HandOver {
    HandOver { from_slip, to_slip, at }
}

fn illegible(welder: Id, at: i64) -> SpotCheck {
    SpotCheck { legible: false, reads: None, ..check(welder, at, "") }
}

fn at_risk(weld: usize, welder: Id, since: Option<i64>, through: &[Id]) -> AtRisk {
    AtRisk { weld, welder, since, through: through.to_vec() }
}

/// One morning, in minutes: wire of welder 1 is found without a mark at 100, legible at 40 for the last time.
/// Welder 2 borrows at 60, welder 3 from welder 2 at 70; welder 4 borrowed before 40; welder 5 has nothing to do with
/// it.
#[test]
fn a_morning_by_hand() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let slips = [
        slip(101, 50, 1, 10),
        slip(102, 50, 2, 60),
        slip(103, 50, 3, 70),
        slip(104, 50, 4, 20),
        slip(105, 51, 5, 5),
    ];
    let hand_overs = [
        hand_over(101, 104, Interval::at(20)),
        hand_over(101, 102, Interval::at(60)),
        hand_over(102, 103, Interval::at(70)),
    ];
    let checks = [
        check(1, 15, "70S-2"),
        check(1, 40, "70S-2"),
        illegible(1, 90),
        check(1, 101, "70S-2"),
        check(3, 65, "70S-2"),
        check(5, 80, "70S-2"),
    ];
    let no_filler = |weld: Weld| Weld { filler: false, ..weld };
    let welds = [
        weld(1, 30, 39),
        weld(1, 30, 40),
        weld(1, 100, 110),
        weld(1, 101, 110),
        no_filler(weld(1, 50, 60)),
        weld(2, 50, 59),
        weld(2, 50, 60),
        weld(3, 66, 69),
        weld(3, 80, 85),
        weld(4, 50, 90),
        weld(5, 50, 90),
        weld(1, 30, 95),
    ];
    let found = wire.at_risk(&slips, &checks, &hand_overs, &welds);
    let own = |index| at_risk(index, 1, Some(40), &[]);
    assert_eq!(
        found,
        [
            own(1),
            own(11),
            at_risk(6, 2, Some(60), &[101, 102]),
            at_risk(8, 3, Some(70), &[101, 102, 103]),
            own(2),
        ]
    );

    // A check of welder 3 after the hand-over clears what welder 3 welded before it; one in the same minute may have
    // come before, and one that may be later than the finding says nothing.
    let with = |more: SpotCheck| {
        let checks: Vec<SpotCheck> = checks.iter().cloned().chain([more]).collect();
        wire.at_risk(&slips, &checks, &hand_overs, &welds).iter().filter(|risk| risk.welder == 3).count()
    };
    assert_eq!(with(check(3, 85, "70S-2")), 1);
    assert_eq!(with(check(3, 86, "70S-2")), 0);
    assert_eq!(with(illegible(3, 86)), 1);
    assert_eq!(with(check(3, 70, "70S-2")), 1);
    assert_eq!(with(SpotCheck { at: Interval { from: 86, to: 101 }, ..check(3, 86, "") }), 1);
}

#[test]
fn without_a_clean_check_everything_before_is_at_risk() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let checks = [illegible(1, 20), check(1, 101, "70S-2"), check(2, 50, "70S-2")];
    assert_eq!(wire.since(&checks), None);
    let welds = [weld(1, i64::MIN, i64::MIN), weld(1, 3, 4)];
    assert_eq!(
        wire.at_risk(&[], &checks, &[], &welds),
        [at_risk(0, 1, None, &[]), at_risk(1, 1, None, &[])],
        "no slip is needed for the welder's own"
    );
}

#[test]
fn an_uncertain_check_counts_from_its_start_and_only_if_certainly_before() {
    let day = |from, to| SpotCheck { at: Interval { from, to }, ..check(1, 0, "70S-2") };
    let wire = |from, to| UnmarkedWire { welder: 1, at: Interval { from, to } };
    assert_eq!(wire(100, 100).since(&[day(20, 50)]), Some(20));
    assert_eq!(wire(100, 100).since(&[day(20, 100)]), Some(20));
    assert_eq!(wire(100, 100).since(&[day(20, 101)]), None);
    assert_eq!(wire(50, 100).since(&[day(20, 51)]), None, "the finding is uncertain too");
    assert_eq!(wire(100, 100).since(&[day(20, 50), day(10, 90)]), Some(20), "both were made");
}

/// Whatever closed the slip before: who hands something over has it.
#[test]
fn a_hand_over_after_the_closing_still_carries_metal() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let given = Out { kind: OutKind::HandOver, closes: false, amount: Amount::pieces(1), ..returned(60, 12) };
    let slips = [Slip { outs: vec![returned(20, 11), given], ..slip(101, 50, 1, 10) }, slip(102, 50, 2, 60)];
    let checks = [check(1, 40, "70S-2")];
    let found = wire.at_risk(&slips, &checks, &[hand_over(101, 102, Interval::at(60))], &[weld(2, 70, 80)]);
    assert_eq!(found, [at_risk(0, 2, Some(60), &[101, 102])]);
    assert_eq!(wire.lots_held(&slips, &[], &checks), BTreeSet::from([50]));
}

#[test]
fn metal_that_comes_back_goes_on_and_a_circle_ends() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let slips = [slip(101, 50, 1, 10), slip(102, 50, 2, 20), slip(103, 50, 1, 30), slip(104, 50, 3, 40)];
    let hand_overs = [
        hand_over(101, 102, Interval::at(20)),
        hand_over(102, 103, Interval::at(30)),
        hand_over(103, 104, Interval::at(40)),
        hand_over(104, 101, Interval::at(50)),
        hand_over(102, 102, Interval::at(55)),
    ];
    let found = wire.at_risk(&slips, &[], &hand_overs, &[weld(3, 60, 60), weld(2, 60, 60), weld(1, 5, 5)]);
    assert_eq!(
        found,
        [
            at_risk(2, 1, None, &[]),
            at_risk(0, 3, Some(40), &[103, 104]),
            at_risk(1, 2, Some(20), &[101, 102]),
        ]
    );
}

#[test]
fn of_several_ways_the_one_that_reaches_furthest_back_then_the_shortest() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let slips = [
        slip(101, 50, 1, 10),
        slip(102, 50, 2, 20),
        slip(103, 50, 3, 30),
        slip(104, 50, 3, 30),
        slip(105, 50, 3, 25),
    ];
    let long = [hand_over(101, 102, Interval::at(20)), hand_over(102, 103, Interval::at(30))];
    let short = hand_over(101, 104, Interval::at(30));
    let early = hand_over(102, 105, Interval::at(25));
    let way = |hand_overs: &[HandOver]| {
        let found = wire.at_risk(&slips, &[], hand_overs, &[weld(3, 60, 60)]);
        (found[0].since, found[0].through.clone())
    };
    assert_eq!(way(&long), (Some(30), vec![101, 102, 103]));
    assert_eq!(way(&[long[0], long[1], short]), (Some(30), vec![101, 104]));
    assert_eq!(way(&[long[0], long[1], short, early]), (Some(25), vec![101, 102, 105]));
}

#[test]
fn metal_passes_through_a_slip_that_is_not_given() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let slips = [slip(101, 50, 1, 10), slip(103, 50, 3, 30)];
    let hand_overs = [hand_over(101, 999, Interval::at(20)), hand_over(999, 103, Interval::at(30))];
    let found = wire.at_risk(&slips, &[], &hand_overs, &[weld(3, 60, 60)]);
    assert_eq!(found, [at_risk(0, 3, Some(30), &[101, 999, 103])]);
}

#[test]
fn custody_says_what_the_wire_is_only_if_one_lot_was_held() {
    let wire = UnmarkedWire { welder: 1, at: Interval::at(100) };
    let one = slip(101, 50, 1, 10);
    let again = slip(102, 50, 1, 60);
    let of_another = slip(103, 51, 2, 10);
    let before = Slip { outs: vec![returned(30, 11)], ..slip(104, 52, 1, 10) };
    let after = slip(105, 53, 1, 101);
    let checks = [check(1, 40, "70S-2")];
    let mut slips = vec![one, again, of_another, before, after];
    assert_eq!(wire.single_lot(&slips, &[], &checks), Some(50));
    assert_eq!(wire.single_lot(&slips, &[], &[]), None, "two lots since the beginning of time");
    assert_eq!(wire.lots_held(&slips, &[], &[]), BTreeSet::from([50, 52]));
    slips.push(slip(106, 54, 1, 100));
    assert_eq!(wire.single_lot(&slips, &[], &checks), None, "issued in the second of the finding");
    assert_eq!(wire.single_lot(&[], &[], &checks), None, "no lot at all");
    let cleared = [Clear { holder: 1, at: Interval::at(39), order: 1_000 }];
    assert_eq!(wire.lots_held(&slips[..1], &cleared, &checks), BTreeSet::new());
}

// Random shops of a few seconds.

const LAST: i64 = 16;
const WELDERS: [Id; 4] = [1, 2, 3, 4];
const SLIPS: u128 = 7;

#[derive(Debug, Clone)]
struct Facts {
    wire: UnmarkedWire,
    slips: Vec<Slip>,
    clears: Vec<Clear>,
    checks: Vec<SpotCheck>,
    hand_overs: Vec<HandOver>,
    welds: Vec<Weld>,
}

impl Facts {
    fn at_risk(&self) -> Vec<AtRisk> {
        self.wire.at_risk(&self.slips, &self.checks, &self.hand_overs, &self.welds)
    }

    /// The identities of the weld records at risk.
    fn ids(&self) -> BTreeSet<Id> {
        self.at_risk().iter().map(|risk| self.welds[risk.weld].id).collect()
    }

    fn lots(&self) -> BTreeSet<Id> {
        self.wire.lots_held(&self.slips, &self.clears, &self.checks)
    }
}

fn when() -> impl Strategy<Value = Interval> {
    prop_oneof![
        3 => (0..LAST).prop_map(Interval::at),
        1 => (0..LAST, 0..5_i64).prop_map(|(from, long)| Interval { from, to: (from + long).min(LAST) }),
    ]
}

fn any_slip() -> impl Strategy<Value = Slip> {
    let kind = select(vec![OutKind::Return, OutKind::HandOver, OutKind::Scrap]);
    let outs = vec((when(), 0..4_i64, prop::bool::weighted(0.3), kind), 0..3);
    (select(&WELDERS[..]), 50..53_u128, when(), 1..5_i64, outs).prop_map(
        |(holder, lot, issued, pieces, outs)| Slip {
            issued,
            amount: Amount::pieces(pieces),
            outs: outs
                .into_iter()
                .enumerate()
                .map(|(n, (at, pieces, closes, kind))| Out {
                    at,
                    amount: Amount::pieces(pieces),
                    closes,
                    kind,
                    order: 500 + n as u128,
                })
                .collect(),
            ..slip(0, lot, holder, 0)
        },
    )
}

fn any_check() -> impl Strategy<Value = SpotCheck> {
    (select(&WELDERS[..]), when(), prop::bool::weighted(0.8), 500..502_u128).prop_map(
        |(welder, at, legible, joint)| SpotCheck { at, legible, joint, ..check(welder, 0, "70S-2") },
    )
}

/// Mostly down a chain, else any slip to any slip: circles, and a slip or two that nobody has.
fn any_hand_over() -> impl Strategy<Value = HandOver> {
    let chain = (0..SLIPS - 1, 1..3_u128).prop_map(|(from, step)| (from, from + step));
    let slips = prop_oneof![2 => chain, 1 => (0..SLIPS, 0..SLIPS)];
    (slips, when()).prop_map(|((from, to), at)| hand_over(100 + from, 100 + to, at))
}

fn any_weld() -> impl Strategy<Value = Weld> {
    (select(&WELDERS[..]), when(), prop::bool::weighted(0.9)).prop_map(|(welder, when, filler)| Weld {
        when,
        filler,
        ..weld(welder, 0, 0)
    })
}

fn facts() -> impl Strategy<Value = Facts> {
    let clear = (select(&WELDERS[..]), when()).prop_map(|(holder, at)| Clear { holder, at, order: 800 });
    // Mostly late in the day, so that much can have happened before.
    let found = prop_oneof![2 => (LAST - 5..LAST).prop_map(Interval::at), 1 => when()];
    (
        found,
        vec(any_slip(), 2..=(SLIPS as usize)),
        vec(clear, 0..2),
        vec(any_check(), 0..4),
        vec(any_hand_over(), 0..9),
        vec(any_weld(), 1..8),
    )
        .prop_map(|(at, mut slips, clears, checks, hand_overs, mut welds)| {
            slips[0].holder = 1;
            for (n, slip) in slips.iter_mut().enumerate() {
                slip.id = 100 + n as u128;
                slip.order = slip.id;
            }
            for (n, weld) in welds.iter_mut().enumerate() {
                weld.id = 9_000 + n as u128;
            }
            Facts { wire: UnmarkedWire { welder: 1, at }, slips, clears, checks, hand_overs, welds }
        })
}

// The oracle: sets of seconds and nothing else. Time has no beginning; -1 stands for all of it before the first second.

type Seconds = BTreeSet<i64>;

fn seconds(when: Interval) -> Seconds {
    (-1..=LAST).filter(|second| when.from <= *second && *second <= when.to).collect()
}

fn share(a: &Seconds, b: &Seconds) -> bool {
    a.intersection(b).next().is_some()
}

/// The seconds at which a clean check of this welder can have been made, of each check that was before the finding
/// whichever second of it is the true one.
fn clean(facts: &Facts, welder: Id) -> Vec<Seconds> {
    let found = seconds(facts.wire.at);
    facts
        .checks
        .iter()
        .filter(|check| check.welder == welder && check.legible)
        .map(|check| seconds(check.at))
        .filter(|made| made.iter().all(|second| found.iter().all(|found| second <= found)))
        .collect()
}

/// The seconds of doubt: every one up to the finding that has no clean check wholly after it.
fn doubt(facts: &Facts) -> Seconds {
    let checks = clean(facts, facts.wire.welder);
    let wholly_after = |second: i64| checks.iter().any(|made| made.iter().all(|check| second < *check));
    let end = *seconds(facts.wire.at).last().unwrap();
    (-1..=end).filter(|second| !wholly_after(*second)).collect()
}

/// The seconds at which a borrower's weld is at risk by one hand-over: every one from when it can have happened up to
/// the finding that has no clean check after it, of those that were after the hand-over for certain.
fn doubt_of_borrower(facts: &Facts, borrower: Id, at: &Seconds) -> Seconds {
    let after = |made: &Seconds| made.iter().all(|check| at.iter().all(|handed| handed < check));
    let checks: Vec<Seconds> = clean(facts, borrower).into_iter().filter(|made| after(made)).collect();
    let wholly_after = |second: i64| checks.iter().any(|made| made.iter().all(|check| second < *check));
    let end = *seconds(facts.wire.at).last().unwrap();
    (*at.first().unwrap()..=end).filter(|second| !wholly_after(*second)).collect()
}

fn holder(facts: &Facts, slip: Id) -> Option<Id> {
    facts.slips.iter().find(|given| given.id == slip).map(|given| given.holder)
}

/// The hand-overs that carried metal of the finding's welder in the time of doubt: those from the welder's slips, and,
/// until there are no more, those from a slip that one of them filled.
fn carried(facts: &Facts) -> Vec<&HandOver> {
    let doubt = doubt(facts);
    let in_doubt: Vec<_> = facts.hand_overs.iter().filter(|h| share(&seconds(h.at), &doubt)).collect();
    let mut carried: Vec<&HandOver> = vec![];
    loop {
        let more: Vec<_> = in_doubt
            .iter()
            .filter(|h| !carried.contains(*h))
            .filter(|h| {
                holder(facts, h.from_slip) == Some(facts.wire.welder)
                    || carried.iter().any(|before| before.to_slip == h.from_slip)
            })
            .copied()
            .collect();
        if more.is_empty() {
            return carried;
        }
        carried.extend(more);
    }
}

/// The weld records at risk with the first second of doubt; `-1` for none.
fn expected(facts: &Facts) -> BTreeMap<usize, i64> {
    let own = doubt(facts);
    let mut expected = BTreeMap::new();
    for (index, weld) in facts.welds.iter().enumerate().filter(|(_, weld)| weld.filler) {
        let doubts: Vec<Seconds> = if weld.welder == facts.wire.welder {
            vec![own.clone()]
        } else {
            carried(facts)
                .iter()
                .filter(|h| holder(facts, h.to_slip) == Some(weld.welder))
                .map(|h| doubt_of_borrower(facts, weld.welder, &seconds(h.at)))
                .collect()
        };
        let at_risk = doubts.iter().filter(|doubt| share(doubt, &seconds(weld.when)));
        if let Some(since) = at_risk.filter_map(|doubt| doubt.first().copied()).min() {
            expected.insert(index, since);
        }
    }
    expected
}

/// The way to a borrower by which the metal went: by the hand-overs in the time of doubt, the last of them one that
/// explains the start; of those ways the shortest, of those the first by the identities of its slips. All ways of one
/// length are tried before any longer one.
fn expected_way(facts: &Facts, risk: &AtRisk) -> Vec<Id> {
    if risk.welder == facts.wire.welder {
        return vec![];
    }
    let carried = carried(facts);
    let explains = |h: &HandOver| {
        holder(facts, h.to_slip) == Some(risk.welder)
            && doubt_of_borrower(facts, risk.welder, &seconds(h.at)).first().copied() == risk.since
    };
    let own = facts.slips.iter().filter(|slip| slip.holder == facts.wire.welder);
    let mut ways: BTreeSet<Vec<Id>> = own.map(|slip| vec![slip.id]).collect();
    for _ in 0..=SLIPS {
        let mut arrived = BTreeSet::new();
        let mut longer = BTreeSet::new();
        for way in &ways {
            for h in carried.iter().filter(|h| Some(&h.from_slip) == way.last()) {
                let on = [&way[..], &[h.to_slip]].concat();
                if explains(h) {
                    arrived.insert(on.clone());
                }
                longer.insert(on);
            }
        }
        if let Some(first) = arrived.pop_first() {
            return first;
        }
        ways = longer;
    }
    vec![]
}

/// In the welder's hands at this second: from the issue until the last second of the first closing, by the rules in
/// words, or at a second at which something left.
fn in_hand(slip: &Slip, clears: &[Clear], second: i64) -> bool {
    if slip.outs.iter().any(|out| seconds(out.at).contains(&second)) {
        return true;
    }
    if second <= slip.issued.from {
        return second == slip.issued.from;
    }
    let gone: Vec<&Out> = slip.outs.iter().filter(|out| out.at.to < second).collect();
    let all_gone =
        gone.iter().filter_map(|out| out.amount.pieces).sum::<i64>() >= slip.amount.pieces.unwrap();
    let closed = gone.iter().any(|out| out.closes) || (!gone.is_empty() && all_gone);
    let cleared = clears.iter().any(|clear| {
        clear.holder == slip.holder
            && (slip.issued.from, slip.order) < (clear.at.from, clear.order)
            && clear.at.to < second
    });
    !closed && !cleared
}

fn expected_lots(facts: &Facts) -> BTreeSet<Id> {
    let doubt = doubt(facts);
    facts
        .slips
        .iter()
        .filter(|slip| slip.holder == facts.wire.welder)
        .filter(|slip| doubt.iter().any(|second| in_hand(slip, &facts.clears, *second)))
        .map(|slip| slip.lot)
        .collect()
}

#[test]
fn twenty_thousand_shops_agree_with_the_second_by_second_answer() {
    let config = Config { cases: 20_000, failure_persistence: None, ..Config::default() };
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let seen: RefCell<BTreeMap<&str, u32>> = RefCell::default();
    runner
        .run(&facts(), |facts| {
            let found = facts.at_risk();
            let got: BTreeMap<usize, i64> =
                found.iter().map(|risk| (risk.weld, risk.since.unwrap_or(-1))).collect();
            prop_assert_eq!(&got, &expected(&facts));
            prop_assert_eq!(got.len(), found.len(), "each weld once");
            prop_assert!(found.is_sorted_by_key(|risk| (facts.welds[risk.weld].when.from, risk.weld)));
            for risk in &found {
                prop_assert_eq!(risk.welder, facts.welds[risk.weld].welder);
                prop_assert_eq!(&risk.through, &expected_way(&facts, risk));
            }
            let lots = facts.lots();
            prop_assert_eq!(&lots, &expected_lots(&facts));
            let single = facts.wire.single_lot(&facts.slips, &facts.clears, &facts.checks);
            prop_assert_eq!(single.into_iter().collect::<BTreeSet<_>>() == lots, lots.len() < 2);

            let mut seen = seen.borrow_mut();
            for (what, there) in [
                ("own since a check", found.iter().any(|r| r.through.is_empty() && r.since.is_some())),
                ("own since ever", found.iter().any(|r| r.since.is_none())),
                ("borrowed", found.iter().any(|r| r.through.len() == 2)),
                ("through others", found.iter().any(|r| r.through.len() > 2)),
                ("not at risk", found.len() < facts.welds.iter().filter(|w| w.filler).count()),
                ("single lot", single.is_some()),
                ("several lots", lots.len() > 1),
            ] {
                *seen.entry(what).or_default() += u32::from(there);
            }
            Ok(())
        })
        .unwrap();
    // Every kind of answer must have come up often, else the comparison says little.
    assert!(seen.borrow().values().all(|times| *times >= 400), "{seen:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn another_weld_removes_none(before in facts(), mut more in any_weld(), place: Index) {
        let mut after = before.clone();
        more.id = 9_999;
        after.welds.insert(place.index(before.welds.len() + 1), more);
        let mut had = after.ids();
        had.remove(&9_999);
        prop_assert_eq!(had, before.ids());
    }

    #[test]
    fn another_clean_check_adds_none(before in facts(), more in any_check()) {
        let mut after = before.clone();
        after.checks.push(SpotCheck { legible: true, ..more });
        prop_assert!(after.ids().is_subset(&before.ids()));
        prop_assert!(after.lots().is_subset(&before.lots()));
    }

    #[test]
    fn an_illegible_check_changes_nothing(before in facts(), more in any_check()) {
        let mut after = before.clone();
        after.checks.push(SpotCheck { legible: false, ..more });
        prop_assert_eq!(after.at_risk(), before.at_risk());
        prop_assert_eq!(after.lots(), before.lots());
    }

    #[test]
    fn another_hand_over_removes_none(before in facts(), more in any_hand_over()) {
        let mut after = before.clone();
        after.hand_overs.push(more);
        prop_assert!(after.ids().is_superset(&before.ids()));
    }

    #[test]
    fn another_slip_removes_none(before in facts(), mut more in any_slip()) {
        let mut after = before.clone();
        more.id = 100 + before.slips.len() as u128;
        after.slips.push(more);
        prop_assert!(after.ids().is_superset(&before.ids()));
        prop_assert!(after.lots().is_superset(&before.lots()));
    }

    /// A time less certain puts no weld out of risk, whatever it is the time of.
    #[test]
    fn less_certain_times_remove_none(
        before in facts(), what in 0..4_u8, which: Index, earlier in 0..5_i64, later in 0..5_i64,
    ) {
        let mut after = before.clone();
        let at = match what {
            0 => Some(&mut after.wire.at),
            1 if !before.checks.is_empty() => Some(&mut after.checks[which.index(before.checks.len())].at),
            2 if !before.hand_overs.is_empty() =>
                Some(&mut after.hand_overs[which.index(before.hand_overs.len())].at),
            _ => Some(&mut after.welds[which.index(before.welds.len())].when),
        };
        if let Some(at) = at {
            *at = Interval { from: at.from - earlier, to: at.to + later };
        }
        prop_assert!(after.ids().is_superset(&before.ids()));
        prop_assert!(after.lots().is_superset(&before.lots()));
    }

    #[test]
    fn the_order_of_the_lists_does_not_matter(before in facts()) {
        let mut after = before.clone();
        after.slips.reverse();
        after.checks.reverse();
        after.hand_overs.reverse();
        prop_assert_eq!(after.at_risk(), before.at_risk());
    }
}

/// A long chain of hand-overs and a wide fan at the ends of time: no overflow, no deep stack, no blow-up.
#[test]
fn hostile_sizes_and_times() {
    let n: u128 = 20_000;
    let slips: Vec<Slip> = (0..n).map(|id| slip(id, 50, if id == 0 { 1 } else { 2 + id % 3 }, 0)).collect();
    let always = Interval { from: i64::MIN, to: i64::MAX };
    let mut hand_overs: Vec<HandOver> = (1..n).map(|id| hand_over(id - 1, id, always)).collect();
    hand_overs.extend((1..n).map(|id| hand_over(id, 0, always)));
    let wire = UnmarkedWire { welder: 1, at: always };
    let welds: Vec<Weld> = (1..5).map(|welder| Weld { when: always, ..weld(welder, 0, 0) }).collect();
    let checks = [SpotCheck { at: always, ..check(1, 0, "70S-2") }];
    let found = wire.at_risk(&slips, &checks, &hand_overs, &welds);
    assert_eq!(found.len(), 4);
    assert_eq!(found.last().unwrap().since, Some(i64::MIN));
    assert_eq!(wire.single_lot(&slips, &[], &checks), Some(50));
}
