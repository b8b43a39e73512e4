//! Unmarked wire in a welder's hands: which welds it, or wire like it, can have gone into.
//!
//! Wire whose mark cannot be read may have been unmarked for as long as nobody looked. So a weld is at risk if its
//! welder made it since the last time an inspector saw legible marks in that welder's hands; and so is every weld of
//! whoever was given metal in that time by that welder, directly or through others. Whatever is uncertain puts more
//! welds at risk, never fewer. Autogenous welds are not: no wire went into them.
//!
//! This says where to look. What becomes of a weld is the inspector's to say, under the governing code.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::{Clear, Id, Interval, Slip, SpotCheck, Weld, custody};

/// Unmarked wire found in a welder's hands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct UnmarkedWire {
    /// Whose hands.
    pub welder: Id,
    /// When it was found.
    pub at: Interval,
}

/// Metal handed from one slip to a new one, with the time it happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct HandOver {
    /// The slip it was taken from.
    pub from_slip: Id,
    /// The slip it was put on; its holder is who got the metal.
    pub to_slip: Id,
    /// When.
    pub at: Interval,
}

/// A weld record at risk, and why.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct AtRisk {
    /// Index of the weld record among those given.
    pub weld: usize,
    /// Who welded.
    pub welder: Id,
    /// Everything this welder welded from this second on, up to the finding, is at risk; `None` is the beginning of
    /// time: no legible mark was ever seen before.
    pub since: Option<i64>,
    /// The slips the metal went through, from the finding's welder to the one who welded; empty for the welds of the
    /// finding's own welder. Of several ways the one that reaches furthest back, then the shortest.
    pub through: Vec<Id>,
}

impl UnmarkedWire {
    /// The start of doubt: the earliest second that the welder's last clean spot check can have been made; `None` if
    /// there is none.
    ///
    /// Clean is legible, at any joint. It counts only if it was certainly not made after the finding. Of several, each
    /// uncertain, the one whose earliest second is the latest: all were made, so the latest of them at least then.
    #[must_use]
    pub fn since(&self, checks: &[SpotCheck]) -> Option<i64> {
        last_clean(self.welder, None, self.at, checks)
    }

    /// From the start of doubt to the end of the finding.
    fn doubt(&self, checks: &[SpotCheck]) -> Interval {
        Interval { from: self.since(checks).unwrap_or(i64::MIN), to: self.at.to }
    }

    /// The lots the welder held at any second since the start of doubt: all that the wire can be of, as far as slips
    /// say.
    ///
    /// Held is in custody, or something of the slip left the welder in that time, whatever closed it before: what was
    /// given away was there.
    #[must_use]
    pub fn lots_held(&self, slips: &[Slip], clears: &[Clear], checks: &[SpotCheck]) -> BTreeSet<Id> {
        let doubt = self.doubt(checks);
        let held = |slip: &&Slip| {
            slip.holder == self.welder
                && (custody(slip, clears).overlaps(&doubt)
                    || slip.outs.iter().any(|out| out.at.overlaps(&doubt)))
        };
        slips.iter().filter(held).map(|slip| slip.lot).collect()
    }

    /// The one lot that custody leaves, the only case in which custody says what the wire is; `None` if it leaves
    /// none or several.
    #[must_use]
    pub fn single_lot(&self, slips: &[Slip], clears: &[Clear], checks: &[SpotCheck]) -> Option<Id> {
        let lots = self.lots_held(slips, clears, checks);
        lots.first().copied().filter(|_| lots.len() == 1)
    }

    /// The weld records at risk, by start of the weld, then in the order given (which should be the record's).
    ///
    /// The welder's own: those that share a second with the time from [`UnmarkedWire::since`] to the end of the
    /// finding. Of whoever was handed metal from a slip of that welder, by hand-overs that each share a second with
    /// that time: those that share a second with the time from the hand-over (its earliest second), or from their own
    /// last clean spot check if it was certainly made after the hand-over and not after the finding, to the end of the
    /// finding. What a borrower's check saw clears that borrower's own welds, not those of whoever borrowed from them.
    ///
    /// Custody does not stand in the way: a welder who handed something over had it, whatever closed the slip before.
    /// A slip that is not among those given has no holder, but metal still passes through it.
    #[must_use]
    pub fn at_risk(
        &self,
        slips: &[Slip],
        checks: &[SpotCheck],
        hand_overs: &[HandOver],
        welds: &[Weld],
    ) -> Vec<AtRisk> {
        let since = self.since(checks);
        let borrowed = Borrowed::follow(self.welder, self.doubt(checks), slips, hand_overs);
        let borrowers = borrowed.since(self, checks);

        let mut found = Vec::new();
        for (index, weld) in welds.iter().enumerate().filter(|(_, weld)| weld.filler) {
            let at_risk = |since: Option<i64>, through: Vec<Id>| {
                let from = since.unwrap_or(i64::MIN);
                weld.when
                    .overlaps(&Interval { from, to: self.at.to })
                    .then_some((weld.when.from, AtRisk { weld: index, welder: weld.welder, since, through }))
            };
            if weld.welder == self.welder {
                found.extend(at_risk(since, vec![]));
            } else if let Some((since, _, from_slip, to_slip)) = borrowers.get(&weld.welder) {
                found.extend(at_risk(Some(*since), borrowed.way(*from_slip, *to_slip)));
            }
        }
        found.sort_by_key(|(start, at_risk)| (*start, at_risk.weld));
        found.into_iter().map(|(_, at_risk)| at_risk).collect()
    }
}

/// The earliest second of a welder's last clean spot check that was certainly made after `after` and certainly not
/// after `found`.
fn last_clean<'c>(
    welder: Id,
    after: Option<Interval>,
    found: Interval,
    checks: impl IntoIterator<Item = &'c SpotCheck>,
) -> Option<i64> {
    checks
        .into_iter()
        .filter(|check| check.legible && check.welder == welder && check.at.to <= found.from)
        // At the same second nobody knows which came first, so the check does not count.
        .filter(|check| after.is_none_or(|after| after.to < check.at.from))
        .map(|check| check.at.from)
        .max()
}

/// Where metal of one welder's slips went by hand-overs within a time.
struct Borrowed<'a> {
    /// The hand-overs it took, each with the rank of the slip it came from: fewer hand-overs before it first, then by
    /// the identities of the slips on the way.
    hand_overs: Vec<(usize, &'a HandOver)>,
    /// Each slip it reached, with the slip it came from on the way of lowest rank; `None` for the welder's own.
    reached: BTreeMap<Id, Option<Id>>,
    /// Every slip's holder.
    holders: BTreeMap<Id, Id>,
}

impl<'a> Borrowed<'a> {
    /// Breadth first, so that the first way found to a slip is the shortest and each slip is gone through once: slips
    /// that give to one another in a circle, which no honest record has, end it too.
    fn follow(welder: Id, doubt: Interval, slips: &[Slip], hand_overs: &'a [HandOver]) -> Self {
        let mut from: BTreeMap<Id, Vec<&HandOver>> = BTreeMap::new();
        for hand_over in hand_overs.iter().filter(|hand_over| hand_over.at.overlaps(&doubt)) {
            from.entry(hand_over.from_slip).or_default().push(hand_over);
        }
        let holders: BTreeMap<Id, Id> = slips.iter().map(|slip| (slip.id, slip.holder)).collect();
        let mut reached: BTreeMap<Id, Option<Id>> =
            holders.iter().filter(|(_, holder)| **holder == welder).map(|(slip, _)| (*slip, None)).collect();
        let mut next: VecDeque<Id> = reached.keys().copied().collect();
        let mut taken = Vec::new();
        let mut rank = 0_usize;
        while let Some(slip) = next.pop_front() {
            let mut onward = from.remove(&slip).unwrap_or_default();
            onward.sort_by_key(|hand_over| hand_over.to_slip);
            for hand_over in onward {
                taken.push((rank, hand_over));
                reached.entry(hand_over.to_slip).or_insert_with(|| {
                    next.push_back(hand_over.to_slip);
                    Some(slip)
                });
            }
            rank = rank.saturating_add(1);
        }
        Self { hand_overs: taken, reached, holders }
    }

    /// For everyone who got some of it: since when their welds are at risk, by the hand-over that reaches furthest
    /// back, as (since, rank, its two slips).
    fn since(&self, wire: &UnmarkedWire, checks: &[SpotCheck]) -> BTreeMap<Id, (i64, usize, Id, Id)> {
        let mut checks_of: BTreeMap<Id, Vec<&SpotCheck>> = BTreeMap::new();
        for check in checks {
            checks_of.entry(check.welder).or_default().push(check);
        }
        let mut borrowers: BTreeMap<Id, (i64, usize, Id, Id)> = BTreeMap::new();
        for (rank, hand_over) in &self.hand_overs {
            let Some(holder) = self.holders.get(&hand_over.to_slip) else { continue };
            let own = checks_of.get(holder).into_iter().flatten().copied();
            let since = last_clean(*holder, Some(hand_over.at), wire.at, own).unwrap_or(hand_over.at.from);
            let way = (since, *rank, hand_over.from_slip, hand_over.to_slip);
            borrowers.entry(*holder).and_modify(|best| *best = way.min(*best)).or_insert(way);
        }
        borrowers
    }

    /// The slips from the welder's own to `to_slip`, by way of `from_slip`.
    fn way(&self, from_slip: Id, to_slip: Id) -> Vec<Id> {
        let mut way = vec![to_slip, from_slip];
        let mut at = from_slip;
        while let Some(Some(before)) = self.reached.get(&at) {
            way.push(*before);
            at = *before;
        }
        way.reverse();
        way
    }
}
