//! Laws that hold for any shop: every one of them says that knowing less leaves more candidates.

#![allow(clippy::indexing_slicing, reason = "a test may panic")]

mod shop;

use std::collections::BTreeSet;

use proptest::prelude::*;
use proptest::sample::Index;
use shop::{Shop, any_slip, candidates, shop};
use trace::{Amount, Answer, Certainty, Clear, Holdings, Id, Interval, Named, Out, OutKind, Slip, Weld};

fn config() -> ProptestConfig {
    ProptestConfig {
        cases: 2_000,
        max_global_rejects: 20_000,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Fails if a weld has lost a candidate between two shops with the same welds.
fn nothing_lost(before: &Shop, after: &Shop) -> Result<(), TestCaseError> {
    for (old, new) in before.welds.iter().zip(&after.welds) {
        let (had, has) = (candidates(&before.answer(old)), candidates(&after.answer(new)));
        prop_assert!(has.is_superset(&had), "{:?} had {:?}, has {:?}", new, had, has);
    }
    Ok(())
}

/// Where every out of every slip can be found: (slip, out).
fn outs(shop: &Shop, which: impl Fn(&Out) -> bool) -> Vec<(usize, usize)> {
    let mut found = vec![];
    for (s, slip) in shop.slips.iter().enumerate() {
        found.extend(slip.outs.iter().enumerate().filter(|(_, out)| which(out)).map(|(o, _)| (s, o)));
    }
    found
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn adding_a_slip_removes_no_candidate(before in shop(), mut slip in any_slip(), order: u8) {
        let mut after = before.clone();
        slip.id = 7_777;
        slip.order = u128::from(order) << 64 | 0xffff;
        after.slips.push(slip);
        nothing_lost(&before, &after)?;
    }

    #[test]
    fn delaying_a_closing_removes_no_candidate(
        before in shop(), which: Index, later in 0..9_i64, only_the_end: bool,
    ) {
        let closing = outs(&before, |out| out.closes);
        prop_assume!(!closing.is_empty());
        let (s, o) = *which.get(&closing);
        let mut after = before.clone();
        let at = &mut after.slips[s].outs[o].at;
        at.to += later;
        at.from += if only_the_end { 0 } else { later };
        nothing_lost(&before, &after)?;
    }

    /// Where everything is counted, so that amounts can be compared in any order. (A weighed return that comes after
    /// the last counted one no longer stands in the way of that count.)
    #[test]
    fn delaying_any_out_of_counted_slips_removes_no_candidate(
        mut before in shop(), which: Index, later in 0..9_i64,
    ) {
        for slip in &mut before.slips {
            slip.amount = Amount::pieces(slip.amount.pieces.unwrap_or(2));
            slip.outs.iter_mut().for_each(|out| out.amount = Amount::pieces(out.amount.pieces.unwrap_or(1)));
        }
        let any = outs(&before, |_| true);
        prop_assume!(!any.is_empty());
        let (s, o) = *which.get(&any);
        let mut after = before.clone();
        after.slips[s].outs[o].at.to += later;
        nothing_lost(&before, &after)?;
    }

    /// The end of an uncertain clear. (One declared later as a whole may close a slip it did not speak of before.)
    #[test]
    fn delaying_the_end_of_a_clear_removes_no_candidate(before in shop(), which: Index, later in 0..9_i64) {
        prop_assume!(!before.clears.is_empty());
        let mut after = before.clone();
        let clear = which.index(after.clears.len());
        after.clears[clear].at.to += later;
        nothing_lost(&before, &after)?;
    }

    #[test]
    fn dropping_a_clear_removes_no_candidate(before in shop(), which: Index) {
        prop_assume!(!before.clears.is_empty());
        let mut after = before.clone();
        after.clears.remove(which.index(before.clears.len()));
        nothing_lost(&before, &after)?;
    }

    #[test]
    fn widening_a_weld_removes_no_candidate(before in shop(), earlier in 0..9_i64, later in 0..9_i64) {
        let mut after = before.clone();
        for weld in &mut after.welds {
            weld.when = Interval { from: weld.when.from - earlier, to: weld.when.to + later };
        }
        nothing_lost(&before, &after)?;
    }

    /// Without clears, which an earlier issue may come before, and without closings before the issue, which move with it.
    #[test]
    fn widening_an_issue_removes_no_candidate(before in shop(), which: Index, earlier in 0..9_i64) {
        prop_assume!(!before.slips.is_empty());
        let mut before = Shop { clears: vec![], ..before };
        let slip = which.index(before.slips.len());
        let issued = before.slips[slip].issued.from;
        before.slips[slip].outs.iter_mut().for_each(|out| out.at.to = out.at.to.max(issued));
        let mut after = before.clone();
        after.slips[slip].issued.from -= earlier;
        nothing_lost(&before, &after)?;
    }

    #[test]
    fn not_knowing_the_process_or_the_forms_removes_no_candidate(before in shop(), process: bool) {
        let mut after = before.clone();
        if process {
            after.welds.iter_mut().for_each(|weld| weld.processes.clear());
        } else {
            after.slips.iter_mut().for_each(|slip| slip.form = None);
        }
        nothing_lost(&before, &after)?;
    }

    #[test]
    fn what_the_record_names_changes_no_candidate(shop in shop(), lot in 9..14_u128, slip in 999..1_010_u128) {
        for weld in &shop.welds {
            let unnamed = Weld { named: Named::default(), ..weld.clone() };
            let had = candidates(&shop.answer(&unnamed));
            for named in [
                Named { lot: Some(lot), slip: None },
                Named { lot: None, slip: Some(slip) },
                Named { lot: Some(lot), slip: Some(slip) },
            ] {
                prop_assert_eq!(&candidates(&shop.answer(&Weld { named, ..weld.clone() })), &had);
            }
        }
    }

    #[test]
    fn spot_checks_change_no_list_of_slips(shop in shop()) {
        let unchecked = Shop { checks: vec![], ..shop.clone() };
        for weld in &shop.welds {
            let (with, without) = (shop.answer(weld), unchecked.answer(weld));
            prop_assert_eq!(&with.sources, &without.sources);
            prop_assert_eq!(&with.others, &without.others);
            prop_assert_eq!(&with.flux, &without.flux);
            if with.contradicting.is_empty() {
                prop_assert_eq!(with.certainty, without.certainty);
            } else {
                prop_assert_eq!(with.certainty, Certainty::Contradicted);
            }
        }
    }

    #[test]
    fn the_order_of_the_lists_does_not_matter(
        (shop, slips, clears, checks) in shop().prop_flat_map(|shop| {
            let order = |n: usize| Just((0..n).collect::<Vec<_>>()).prop_shuffle();
            let (s, c, k) = (order(shop.slips.len()), order(shop.clears.len()), order(shop.checks.len()));
            (Just(shop), s, c, k)
        }),
    ) {
        let mut shuffled = Shop {
            slips: slips.iter().map(|i| shop.slips[*i].clone()).collect(),
            clears: clears.iter().map(|i| shop.clears[*i].clone()).collect(),
            checks: checks.iter().map(|i| shop.checks[*i].clone()).collect(),
            welds: shop.welds.clone(),
        };
        shuffled.slips.iter_mut().for_each(|slip| slip.outs.reverse());
        for weld in &shop.welds {
            let (a, b) = (shop.answer(weld), shuffled.answer(weld));
            let back = |indexes: &[usize]| indexes.iter().map(|i| checks[*i]).collect::<Vec<_>>();
            prop_assert_eq!(&a.checks, &back(&b.checks));
            prop_assert_eq!(&a.contradicting, &back(&b.contradicting));
            prop_assert_eq!(
                (a.certainty, a.sources, a.others, a.flux, a.reasons.len()),
                (b.certainty, b.sources, b.others, b.flux, b.reasons.len())
            );
        }
    }

    #[test]
    fn slips_of_other_holders_change_nothing(shop in shop()) {
        for weld in &shop.welds {
            let own = |slip: &&Slip| slip.holder == weld.welder;
            let alone = Shop { slips: shop.slips.iter().filter(own).cloned().collect(), ..shop.clone() };
            prop_assert_eq!(alone.answer(weld), shop.answer(weld));
        }
    }

    #[test]
    fn holdings_answer_the_same(shop in shop()) {
        let holdings = Holdings::new(&shop.slips, &shop.clears, &shop.checks);
        for weld in &shop.welds {
            let answer = holdings.sources(weld);
            prop_assert_eq!(&answer, &shop.answer(weld));
            let during: BTreeSet<Id> =
                holdings.during(weld.welder, weld.when).map(|(slip, _)| slip.id).collect();
            prop_assert!(during.is_superset(&candidates(&answer)));
        }
    }

    /// Any numbers at all, intervals with their ends the wrong way round included: no panic, and no answer that
    /// breaks its own promises.
    #[test]
    fn any_numbers_get_an_answer(
        times: [i64; 8], amounts: [Option<i64>; 6], orders: [u128; 4], kind_closes: [bool; 2], mark in ".{0,6}",
        class in ".{0,9}",
    ) {
        let interval = |i: usize| Interval { from: times[i], to: times[i + 1] };
        let out = |i: usize| Out {
            at: interval(i),
            amount: Amount { pieces: amounts[i], mg: amounts[i + 1] },
            closes: kind_closes[i / 2],
            kind: OutKind::Scrap,
            order: orders[i],
        };
        let slip = Slip {
            issued: interval(4),
            amount: Amount { pieces: amounts[4], mg: amounts[5] },
            outs: vec![out(0), out(2)],
            classification: Some(class),
            order: orders[1],
            ..shop::slip(1_000, 10, 1, 0)
        };
        let clear = Clear { holder: 1, at: interval(3), order: orders[3] };
        let custody = trace::custody(&slip, std::slice::from_ref(&clear));
        prop_assert_eq!(custody.from, times[4]);
        prop_assert!(custody.to.is_none_or(|to| to >= custody.from));
        prop_assert_eq!(custody.to.is_some(), custody.closed_by.is_some());
        let weld = Weld { when: interval(6), ..shop::weld(1, 0, 0) };
        let check = trace::SpotCheck { at: interval(5), ..shop::check(1, 0, &mark) };
        let answer: Answer = trace::sources(&weld, &[slip], &[clear], &[check]);
        prop_assert!(answer.sources.len() <= 1 && answer.others.is_empty());
    }
}
