//! How long a slip was in its holder's hands.

use crate::amount::Tally;
use crate::{Clear, Interval, Order, OutKind, Slip};

/// When a slip was in its holder's custody, in UTC seconds, closed at both ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Custody {
    /// The first second: the earliest the issue can have been.
    pub from: i64,
    /// The last second, never before `from`; `None` if nothing closed it, which is for ever.
    pub to: Option<i64>,
    /// What ended it; `None` exactly when `to` is.
    pub closed_by: Option<ClosedBy>,
}

impl Custody {
    /// Whether any second of `when` is in custody. Both ends count.
    #[must_use]
    pub fn overlaps(&self, when: &Interval) -> bool {
        self.from <= when.to && self.to.is_none_or(|to| when.from <= to)
    }
}

/// What ended a custody, with its place in the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ClosedBy {
    /// A closing return.
    Return(Order),
    /// A closing hand-over.
    HandOver(Order),
    /// A scrap of all that was left.
    Scrap(Order),
    /// The holder declared that nothing is left.
    Clear(Order),
    /// The return, hand-over or scrap with which what left reached what was issued.
    Exhausted(Order),
}

/// The custody of a slip, given the `clears` of its shop (those of other holders do nothing).
///
/// It starts when the issue can first have been (`issued.from`) and ends when the earliest closing can last have been
/// (its `at.to`), but never before the start. Of two closings at the same second the first in the record counts.
/// What left is summed in that order too, and ends custody when it reaches what was issued: counted in pieces if the
/// slip and all that left so far were counted, else weighed if all were weighed, else never. A slip of nothing stays
/// open until something leaves it.
#[must_use]
pub fn custody(slip: &Slip, clears: &[Clear]) -> Custody {
    let out = first_closing_out(slip);
    let clear = clears
        .iter()
        .filter(|clear| closes(clear, slip))
        .map(|clear| (clear.at.to, clear.order, ClosedBy::Clear(clear.order)))
        .min_by_key(|(to, order, _)| (*to, *order));
    let first = out.into_iter().chain(clear).min_by_key(|(to, order, _)| (*to, *order));
    let from = slip.issued.from;
    Custody { from, to: first.map(|(to, _, _)| to.max(from)), closed_by: first.map(|(_, _, by)| by) }
}

/// Whether a clear speaks of this slip: the slip was issued before it, by the earliest times that both can have been
/// and, of two at the same second, by the record's order.
fn closes(clear: &Clear, slip: &Slip) -> bool {
    clear.holder == slip.holder && (slip.issued.from, slip.order) < (clear.at.from, clear.order)
}

/// The first return, hand-over or scrap that ends custody, with when it acts and its place in the record.
fn first_closing_out(slip: &Slip) -> Option<(i64, Order, ClosedBy)> {
    let mut outs: Vec<_> = slip.outs.iter().collect();
    outs.sort_by_key(|out| (out.at.to, out.order));
    let mut tally = Tally::of(&slip.amount);
    outs.into_iter().find_map(|out| {
        tally.add(&out.amount);
        let by = if out.closes {
            match out.kind {
                OutKind::Return => ClosedBy::Return(out.order),
                OutKind::HandOver => ClosedBy::HandOver(out.order),
                OutKind::Scrap => ClosedBy::Scrap(out.order),
            }
        } else if tally.reached() {
            ClosedBy::Exhausted(out.order)
        } else {
            return None;
        };
        Some((out.at.to, out.order, by))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Amount, Out};

    const W: u128 = 1;

    fn slip(issued: Interval, amount: Amount, outs: Vec<Out>) -> Slip {
        Slip {
            id: 100,
            number: "S-1".to_string(),
            lot: 50,
            holder: W,
            form: None,
            classification: None,
            issued,
            amount,
            outs,
            order: 10,
        }
    }

    fn out(kind: OutKind, at: Interval, pieces: i64, closes: bool, order: Order) -> Out {
        Out { at, amount: Amount::pieces(pieces), closes, kind, order }
    }

    fn held(from: i64, to: i64, by: ClosedBy) -> Custody {
        Custody { from, to: Some(to), closed_by: Some(by) }
    }

    #[test]
    fn a_slip_with_no_closing_is_held_for_ever() {
        let s = slip(Interval::at(5), Amount::pieces(10), vec![]);
        let custody = custody(&s, &[]);
        assert_eq!(custody, Custody { from: 5, to: None, closed_by: None });
        assert!(custody.overlaps(&Interval::at(i64::MAX)));
        assert!(custody.overlaps(&Interval::at(5)));
        assert!(!custody.overlaps(&Interval::at(4)));
    }

    #[test]
    fn uncertain_times_widen_start_and_end() {
        let day = Interval { from: 100, to: 199 };
        let s = slip(day, Amount::pieces(10), vec![out(OutKind::Return, day, 3, true, 11)]);
        assert_eq!(custody(&s, &[]), held(100, 199, ClosedBy::Return(11)));
    }

    #[test]
    fn each_kind_of_closing_is_named() {
        for (kind, by) in [
            (OutKind::Return, ClosedBy::Return(11)),
            (OutKind::HandOver, ClosedBy::HandOver(11)),
            (OutKind::Scrap, ClosedBy::Scrap(11)),
        ] {
            let s = slip(Interval::at(5), Amount::pieces(10), vec![out(kind, Interval::at(9), 1, true, 11)]);
            assert_eq!(custody(&s, &[]), held(5, 9, by));
        }
    }

    #[test]
    fn a_partial_out_does_not_close() {
        for kind in [OutKind::Return, OutKind::HandOver, OutKind::Scrap] {
            let s = slip(Interval::at(5), Amount::pieces(10), vec![out(kind, Interval::at(9), 9, false, 11)]);
            assert_eq!(custody(&s, &[]).to, None);
        }
    }

    #[test]
    fn what_left_reaching_what_was_issued_closes() {
        let s = slip(
            Interval::at(5),
            Amount::pieces(10),
            vec![
                out(OutKind::Scrap, Interval::at(20), 1, false, 13),
                out(OutKind::HandOver, Interval::at(9), 4, false, 11),
                out(OutKind::Return, Interval::at(12), 5, false, 12),
                out(OutKind::Return, Interval::at(30), 5, true, 14),
            ],
        );
        assert_eq!(custody(&s, &[]), held(5, 20, ClosedBy::Exhausted(13)));
    }

    #[test]
    fn more_back_than_out_closes_too() {
        let s = slip(
            Interval::at(5),
            Amount::pieces(2),
            vec![out(OutKind::Return, Interval::at(9), 3, false, 11)],
        );
        assert_eq!(custody(&s, &[]), held(5, 9, ClosedBy::Exhausted(11)));
    }

    #[test]
    fn the_sum_follows_the_end_of_uncertain_times_then_the_record() {
        // Counted 10 of 10 first, then a weighed return: order decides whether the count was still comparable.
        let counted = out(OutKind::Return, Interval::at(9), 10, false, 12);
        let weighed =
            |at: Interval, order| Out { amount: Amount::mg(1), ..out(OutKind::Return, at, 0, false, order) };
        let after =
            slip(Interval::at(5), Amount::pieces(10), vec![weighed(Interval::at(9), 13), counted.clone()]);
        assert_eq!(custody(&after, &[]), held(5, 9, ClosedBy::Exhausted(12)));
        let before =
            slip(Interval::at(5), Amount::pieces(10), vec![counted.clone(), weighed(Interval::at(9), 11)]);
        assert_eq!(custody(&before, &[]).to, None);
        let wide = Interval { from: 0, to: 10 };
        let later = slip(Interval::at(5), Amount::pieces(10), vec![weighed(wide, 11), counted]);
        assert_eq!(custody(&later, &[]), held(5, 9, ClosedBy::Exhausted(12)));
    }

    #[test]
    fn the_earliest_closing_wins() {
        let s = slip(
            Interval::at(5),
            Amount::pieces(10),
            vec![
                out(OutKind::Return, Interval { from: 6, to: 30 }, 0, true, 11),
                out(OutKind::HandOver, Interval::at(20), 1, true, 12),
            ],
        );
        assert_eq!(custody(&s, &[]), held(5, 20, ClosedBy::HandOver(12)));
        let clear = Clear { holder: W, at: Interval::at(15), order: 13 };
        assert_eq!(custody(&s, &[clear]), held(5, 15, ClosedBy::Clear(13)));
    }

    #[test]
    fn of_two_closings_at_one_second_the_first_recorded_counts() {
        let s = slip(
            Interval::at(5),
            Amount::pieces(10),
            vec![out(OutKind::Return, Interval::at(9), 1, true, 12)],
        );
        let clear = |order| Clear { holder: W, at: Interval::at(9), order };
        assert_eq!(custody(&s, &[clear(13), clear(11)]).closed_by, Some(ClosedBy::Clear(11)));
        assert_eq!(custody(&s, &[clear(13)]).closed_by, Some(ClosedBy::Return(12)));
    }

    #[test]
    fn a_closing_before_the_issue_counts_at_the_issue() {
        let s = slip(
            Interval::at(5),
            Amount::pieces(10),
            vec![out(OutKind::Return, Interval::at(2), 1, true, 11)],
        );
        let custody = custody(&s, &[]);
        assert_eq!(custody, held(5, 5, ClosedBy::Return(11)));
        assert!(custody.overlaps(&Interval::at(5)));
        assert!(!custody.overlaps(&Interval::at(6)));
    }

    #[test]
    fn a_slip_of_nothing_stays_open_until_something_says_so() {
        let empty = slip(Interval::at(5), Amount::pieces(0), vec![]);
        assert_eq!(custody(&empty, &[]).to, None);
        let said = slip(
            Interval::at(5),
            Amount::pieces(0),
            vec![out(OutKind::Return, Interval::at(8), 0, false, 11)],
        );
        assert_eq!(custody(&said, &[]), held(5, 8, ClosedBy::Exhausted(11)));
    }

    #[test]
    fn a_clear_closes_the_slips_of_its_holder_issued_before_it() {
        let s = slip(Interval::at(5), Amount::pieces(10), vec![]);
        let clear = |holder, at, order| Clear { holder, at, order };
        assert_eq!(
            custody(&s, &[clear(W, Interval { from: 6, to: 9 }, 11)]),
            held(5, 9, ClosedBy::Clear(11)),
            "the end of an uncertain time"
        );
        assert_eq!(custody(&s, &[clear(W + 1, Interval::at(6), 11)]).to, None, "another holder");
        assert_eq!(custody(&s, &[clear(W, Interval::at(4), 11)]).to, None, "before the issue");
        assert_eq!(custody(&s, &[clear(W, Interval::at(5), 11)]).to, Some(5), "same second, recorded after");
        assert_eq!(custody(&s, &[clear(W, Interval::at(5), 9)]).to, None, "same second, recorded before");
        assert_eq!(
            custody(&s, &[clear(W, Interval { from: 4, to: 9 }, 11)]).to,
            None,
            "may have been declared before the issue"
        );
    }

    #[test]
    fn a_late_clear_after_an_early_one_that_does_not_count() {
        let s = slip(Interval::at(5), Amount::pieces(10), vec![]);
        let clears = [
            Clear { holder: W, at: Interval::at(3), order: 11 },
            Clear { holder: W, at: Interval::at(8), order: 12 },
        ];
        assert_eq!(custody(&s, &clears), held(5, 8, ClosedBy::Clear(12)));
    }
}
