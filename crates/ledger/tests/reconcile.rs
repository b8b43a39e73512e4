//! The count of every slip, over random histories told through the public methods: the identity holds in every row and
//! sum, and the figures are those that a list kept beside the book adds up to.

// clippy.toml allows these inside #[test] functions only; the helpers here are test code too.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic, dead_code)]

mod laws_support;

use filler::{ProductForm, Quantity, Unit};
use laws_support::{START, Shop};
use ledger::ask::reconcile::{Asked, Row};
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::issue::IssueRequest;
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::scrap::{ScrapFrom, ScrapRequest};
use ledger::{Acting, Error, Ledger};
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use record::event::Condition;
use record::person::Role;
use record::{Instant, Stated};
use std::cell::RefCell;
use std::collections::BTreeMap;
use trace::{Balance, Measure, Verdict};

#[derive(Clone, Debug)]
enum Step {
    Issue { lot: bool, to: bool, much: (i64, bool) },
    Return { slip: usize, much: (i64, bool), stubs: Option<i64>, condition: u8, more: bool },
    HandOver { slip: usize, to: bool, much: (i64, bool), closes: bool },
    Scrap { slip: usize, much: (i64, bool) },
    Clear { welder: bool },
}

fn step() -> impl Strategy<Value = Step> {
    let much = || (0..14_i64, prop::bool::weighted(0.85));
    prop_oneof![
        3 => (any::<bool>(), any::<bool>(), much()).prop_map(|(lot, to, much)| Step::Issue { lot, to, much }),
        6 => (0..40_usize, much(), prop::option::weighted(0.7, 0..16_i64), 0..4_u8, any::<bool>())
            .prop_map(|(slip, much, stubs, condition, more)| Step::Return { slip, much, stubs, condition, more }),
        3 => (0..40_usize, any::<bool>(), much(), any::<bool>())
            .prop_map(|(slip, to, much, closes)| Step::HandOver { slip, to, much, closes }),
        2 => (0..40_usize, much()).prop_map(|(slip, much)| Step::Scrap { slip, much }),
        1 => any::<bool>().prop_map(|welder| Step::Clear { welder }),
    ]
}

/// Rods, or grams.
fn quantity((n, rods): (i64, bool)) -> Quantity {
    if rods { Quantity::new(n, 0, Unit::Rods) } else { Quantity::new(n * 30, 0, Unit::Grams) }.unwrap()
}

fn badge(first: bool) -> String {
    if first { "W-1" } else { "W-2" }.to_owned()
}

/// What was accepted of one slip, in rods; none once something was weighed.
#[derive(Clone, Debug, Default)]
struct Kept {
    issued: Option<i64>,
    handed_over: Option<i64>,
    marked: Option<i64>,
    otherwise: Option<i64>,
    scrapped: Option<i64>,
    stubs: Option<i64>,
}

impl Kept {
    fn of(issued: Option<i64>) -> Self {
        let none = Some(0);
        Self { issued, handed_over: none, marked: none, otherwise: none, scrapped: none, stubs: None }
    }

    /// Everything in rods: issued, handed over, returned marked and otherwise, scrapped.
    fn rods(&self) -> Option<[i64; 5]> {
        Some([self.issued?, self.handed_over?, self.marked?, self.otherwise?, self.scrapped?])
    }
}

fn plus(sum: &mut Option<i64>, much: (i64, bool)) {
    *sum = sum.filter(|_| much.1).map(|sum| sum + much.0);
}

fn balances(balance: &Balance) {
    let out = balance.handed_over + balance.returned + balance.scrapped;
    assert_eq!(balance.issued + balance.over_out, out + balance.rest, "{balance:?}");
    let parts = balance.used + balance.unaccounted + balance.used_or_unaccounted + balance.still_out;
    assert_eq!(balance.rest, parts, "{balance:?}");
    for figure in
        [balance.issued, out, balance.rest, balance.over_out, balance.unaccounted, balance.over_stubs]
    {
        assert!(figure >= 0, "{balance:?}");
    }
}

/// The row of a slip against the list kept beside the book.
fn compare(row: &Row, kept: &Kept) {
    let Some(account) = &row.account else {
        assert_eq!(kept.rods(), None, "all in rods is comparable");
        return;
    };
    balances(&account.balance);
    assert_eq!(account.balance.returned, row.returned_marked + row.returned_otherwise);
    let Some([issued, handed_over, marked, otherwise, scrapped]) = kept.rods() else {
        assert_eq!(account.measure, Measure::Mg, "something was weighed");
        return;
    };
    assert_eq!(account.measure, Measure::Pieces);
    let figures = [
        account.balance.issued,
        account.balance.handed_over,
        row.returned_marked,
        row.returned_otherwise,
        account.balance.scrapped,
    ];
    assert_eq!(figures, [issued, handed_over, marked, otherwise, scrapped].map(i128::from));
    assert_eq!(account.balance.stubs, kept.stubs.map(i128::from));
    // The verdict again, by the sum on the form: issued - handed over - returned - scrapped - stubs.
    let left = issued - handed_over - marked - otherwise - scrapped;
    let closed = row.view.custody.to.is_some();
    let expected = match (kept.stubs, closed) {
        _ if left < 0 => None,
        (Some(stubs), true) => Some(left - stubs),
        (None, true) if left == 0 => Some(0),
        (_, false) | (None, true) => None,
    };
    match (row.verdict, expected) {
        (Verdict::Balanced, Some(0)) => {}
        (Verdict::Short(n), Some(left)) => assert_eq!(n, i128::from(left)),
        (Verdict::Over(n), Some(over)) => assert_eq!(n, i128::from(-over)),
        (Verdict::Over(n), None) => assert!(left < 0 && n >= i128::from(-left)),
        (Verdict::NotChecked(_), None) => assert!(left >= 0),
        (verdict, expected) => panic!("{verdict:?}, and by hand {expected:?}: {kept:?}"),
    }
}

/// Tells the history; returns what was accepted, by slip number.
fn tell(ledger: &mut Ledger, steps: &[Step]) -> BTreeMap<String, Kept> {
    let mut kept: BTreeMap<String, Kept> = BTreeMap::new();
    let mut numbers: Vec<String> = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        let acting = Acting {
            badge: "I-1".into(),
            now: Instant(START + 10_000 + 60 * i as i64),
            dry_run: false,
            overriding: Some("to see what the count says".into()),
        };
        let named = |n: usize| numbers.get(n % numbers.len().max(1)).cloned();
        let done: Result<(), Error> = match step.clone() {
            Step::Issue { lot, to, much } => {
                let request = IssueRequest {
                    lot: if lot { "L-1" } else { "L-2" }.into(),
                    holder: badge(to),
                    quantity: quantity(much),
                    joints: vec![],
                    quiver: None,
                    number: None,
                    due: None,
                    at: None,
                };
                ledger.issue(&acting, &request).map(|done| {
                    let number = done.value.slip.slip.number.clone();
                    kept.insert(number.clone(), Kept::of(much.1.then_some(much.0)));
                    numbers.push(number);
                })
            }
            Step::Return { slip, much, stubs, condition, more } => {
                let Some(slip) = named(slip) else { continue };
                let conditions = [Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];
                let condition = conditions[usize::from(condition)];
                let request = ReturnRequest {
                    slip: slip.clone(),
                    quantity: quantity(much),
                    stubs,
                    condition,
                    more,
                    at: None,
                };
                ledger.give_back(&acting, &request).map(|_| {
                    let kept = kept.get_mut(&slip).unwrap();
                    let marked = condition == Condition::Marked;
                    plus(if marked { &mut kept.marked } else { &mut kept.otherwise }, much);
                    if let Some(stubs) = stubs {
                        *kept.stubs.get_or_insert(0) += stubs;
                    }
                })
            }
            Step::HandOver { slip, to, much, closes } => {
                let Some(slip) = named(slip) else { continue };
                let request = HandOverRequest {
                    slip: slip.clone(),
                    to: badge(to),
                    quantity: quantity(much),
                    closes,
                    number: None,
                    at: None,
                };
                ledger.hand_over(&acting, &request).map(|done| {
                    plus(&mut kept.get_mut(&slip).unwrap().handed_over, much);
                    let number = done.value.to.slip.number.clone();
                    kept.insert(number.clone(), Kept::of(much.1.then_some(much.0)));
                    numbers.push(number);
                })
            }
            Step::Scrap { slip, much } => {
                let Some(slip) = named(slip) else { continue };
                let request = ScrapRequest {
                    from: ScrapFrom::Slip(slip.clone(), Some(quantity(much))),
                    why: "bent".into(),
                    at: None,
                };
                ledger
                    .scrap(&acting, &request)
                    .map(|_| plus(&mut kept.get_mut(&slip).unwrap().scrapped, much))
            }
            Step::Clear { welder } => ledger.clear(&acting, &badge(welder), None).map(drop),
        };
        match done {
            Ok(()) | Err(Error::Refused(_) | Error::NotUnderstood { .. }) => {}
            Err(other) => panic!("{step:?}: {other:?}"),
        }
    }
    kept
}

fn book(shop: &Shop) -> Ledger {
    let mut ledger = shop.init(START);
    let acting =
        |n: i64| Acting { badge: "I-1".into(), now: Instant(START + n), dry_run: false, overriding: None };
    for (i, badge) in ["W-1", "W-2"].into_iter().enumerate() {
        ledger.enroll(&acting(1 + i as i64), badge, badge, &[Role::Welder]).unwrap();
    }
    // L-1 has a piece mass, so that rods and grams compare; L-2 has none.
    for (code, piece_mg) in [("L-1", Some(30_000)), ("L-2", None)] {
        let request = ReceiveRequest {
            values: ledger::tell::certificate_read::ValuesTyped::default(),
            code: code.into(),
            form: Stated::Value(ProductForm::CutLength),
            quantity: Stated::Value(Quantity::new(500, 0, Unit::Rods).unwrap()),
            piece_mg,
            ..ReceiveRequest::default()
        };
        ledger.receive(&acting(5), &request).unwrap();
        ledger.release(&acting(6), code, None, None).unwrap();
    }
    ledger
}

#[test]
fn every_row_balances_and_is_what_was_told() {
    let seen: RefCell<BTreeMap<&str, usize>> = RefCell::default();
    let config = ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() };
    // The same histories in every run: each verdict must come up among them.
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let told = TestRunner::new_with_rng(config, rng).run(&prop::collection::vec(step(), 10..45), |steps| {
        let shop = Shop::new();
        let mut ledger = book(&shop);
        let kept = tell(&mut ledger, &steps);
        for (number, kept) in &kept {
            let one = ledger.ask(|r| r.reconcile(&Asked::Slip(number.clone()))).unwrap().count;
            prop_assert_eq!(one.rows.len(), 1);
            compare(&one.rows[0], kept);
            let word = match one.rows[0].verdict {
                Verdict::Balanced => "within",
                Verdict::Short(_) => "short",
                Verdict::Over(_) => "over",
                Verdict::NotChecked(why) => why.as_str(),
            };
            *seen.borrow_mut().entry(word).or_default() += 1;
        }
        // Each slip is of one welder and of one lot; the sums are those of the rows, and all of them together of the book.
        let all = ledger.ask(|r| r.reconcile(&Asked::All)).unwrap().count;
        prop_assert_eq!(all.all.slips, kept.len());
        for row in &all.rows {
            prop_assert!(matches!(row.verdict, Verdict::Short(_) | Verdict::Over(_)));
        }
        let by_welder =
            ["W-1", "W-2"].map(|b| ledger.ask(|r| r.reconcile(&Asked::Welder(b.into()))).unwrap().count);
        let by_lot =
            ["L-1", "L-2"].map(|l| ledger.ask(|r| r.reconcile(&Asked::Lot(l.into()))).unwrap().count);
        for parts in [&by_welder, &by_lot] {
            let rows: Vec<&Row> = parts.iter().flat_map(|part| &part.rows).collect();
            prop_assert_eq!(rows.len(), kept.len());
            let uneven =
                rows.iter().filter(|r| matches!(r.verdict, Verdict::Short(_) | Verdict::Over(_))).count();
            prop_assert_eq!(uneven, all.rows.len());
            for measure in [Measure::Pieces, Measure::Mg] {
                let issued: i128 = rows
                    .iter()
                    .filter_map(|r| r.account.filter(|a| a.measure == measure).map(|a| a.balance.issued))
                    .sum();
                let total = match measure {
                    Measure::Pieces => all.all.pieces,
                    Measure::Mg => all.all.mg,
                };
                prop_assert_eq!(total.map_or(0, |t| t.balance.issued), issued);
                if let Some(total) = total {
                    balances(&total.balance);
                    prop_assert_eq!(
                        total.slips,
                        total.balanced + total.short + total.over + total.not_checked
                    );
                }
            }
        }
        Ok(())
    });
    told.unwrap();
    // A test that never saw a verdict says nothing about it.
    for word in ["within", "short", "over", "open", "stubs-not-counted", "weighed", "not-comparable"] {
        assert!(seen.borrow().contains_key(word), "{word} never came up: {seen:?}");
    }
}
