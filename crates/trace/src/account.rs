//! The count of one slip: what was issued, what left, and what is to be said of the rest.
//!
//! A material balance: whatever was issued and did not leave again was used, or nobody can account for it, or it is
//! still out. In pieces it is exact and finds one missing rod, since every piece used leaves its stub; by mass it only
//! says how much is left to explain.

use std::fmt;

use crate::{Amount, Out, OutKind};

/// What an account is kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Measure {
    /// Whole pieces.
    Pieces,
    /// Milligrams.
    Mg,
}

impl Measure {
    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Measure::Pieces => "pieces",
            Measure::Mg => "mg",
        }
    }

    /// What is known of an amount in this measure; negative is not known.
    fn of(self, amount: &Amount) -> Option<i128> {
        known(match self {
            Measure::Pieces => amount.pieces,
            Measure::Mg => amount.mg,
        })
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// The figures of one slip, or of many, all in one measure and none negative.
///
/// Always `issued + over_out = handed_over + returned + scrapped + rest`, and `rest = used + unaccounted +
/// used_or_unaccounted + still_out`. 128 bits: sums of 64-bit amounts cannot overflow in any record that fits a
/// machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Balance {
    /// What was issued. A hand-over's new slip counts what was handed over once more: over slips that gave to one
    /// another, the metal that came in is `issued - handed_over`.
    pub issued: i128,
    /// What was handed to other welders.
    pub handed_over: i128,
    /// What was taken back, in any condition.
    pub returned: i128,
    /// What went out for good.
    pub scrapped: i128,
    /// What did not leave again: `issued` less the three above, at least 0.
    pub rest: i128,
    /// By how much what left exceeds what was issued.
    pub over_out: i128,
    /// Stubs counted, in pieces whatever the measure; `None` if nobody counted.
    pub stubs: Option<i128>,
    /// The part of the rest that stubs show to have been used: closed slips with counted stubs, in pieces.
    pub used: i128,
    /// The part of the rest of the same slips that no stub shows: missing.
    pub unaccounted: i128,
    /// Stubs of the same slips beyond the rest: more came back than can have been used.
    pub over_stubs: i128,
    /// The rest of closed slips that no count of stubs splits.
    pub used_or_unaccounted: i128,
    /// The rest of open slips: used, in the holder's hands or missing; not yet a question.
    pub still_out: i128,
}

impl Balance {
    /// By how much more came back than was out: leaving again, or as stubs.
    #[must_use]
    pub fn over(&self) -> i128 {
        self.over_out.saturating_add(self.over_stubs)
    }

    /// Adds the figures of more slips in the same measure. An excess of one never makes good what another lacks.
    fn add(&mut self, other: &Balance) {
        let plus = |mine: &mut i128, theirs: i128| *mine = mine.saturating_add(theirs);
        plus(&mut self.issued, other.issued);
        plus(&mut self.handed_over, other.handed_over);
        plus(&mut self.returned, other.returned);
        plus(&mut self.scrapped, other.scrapped);
        plus(&mut self.rest, other.rest);
        plus(&mut self.over_out, other.over_out);
        if let Some(stubs) = other.stubs {
            plus(self.stubs.get_or_insert(0), stubs);
        }
        plus(&mut self.used, other.used);
        plus(&mut self.unaccounted, other.unaccounted);
        plus(&mut self.over_stubs, other.over_stubs);
        plus(&mut self.used_or_unaccounted, other.used_or_unaccounted);
        plus(&mut self.still_out, other.still_out);
    }
}

/// The account of one slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Account {
    /// What it is kept in.
    pub measure: Measure,
    /// Whether the slip is closed.
    pub closed: bool,
    /// The figures.
    pub balance: Balance,
}

/// The account of a slip, given what was issued, what left it (in any order), the stubs counted (`None`, or a negative
/// number: nobody counted) and whether it is closed.
///
/// In pieces if the slip and all that left were counted, else by mass if all were weighed, else `None`: figures that
/// cannot be compared make no account.
#[must_use]
pub fn account(issued: &Amount, outs: &[Out], stubs: Option<i64>, closed: bool) -> Option<Account> {
    let (measure, mut balance) = [Measure::Pieces, Measure::Mg]
        .into_iter()
        .find_map(|measure| left(measure, issued, outs).map(|balance| (measure, balance)))?;

    let gone = balance.handed_over.saturating_add(balance.returned).saturating_add(balance.scrapped);
    balance.rest = balance.issued.saturating_sub(gone).max(0);
    balance.over_out = gone.saturating_sub(balance.issued).max(0);
    balance.stubs = known(stubs);
    match (closed, measure, balance.stubs) {
        (false, _, _) => balance.still_out = balance.rest,
        (true, Measure::Pieces, Some(stubs)) => {
            balance.used = stubs.min(balance.rest);
            balance.unaccounted = balance.rest.saturating_sub(balance.used);
            balance.over_stubs = stubs.saturating_sub(balance.used);
        }
        (true, _, _) => balance.used_or_unaccounted = balance.rest,
    }
    Some(Account { measure, closed, balance })
}

/// What was issued and what left, each kind summed; `None` if anything is not known in this measure.
fn left(measure: Measure, issued: &Amount, outs: &[Out]) -> Option<Balance> {
    let mut balance = Balance { issued: measure.of(issued)?, ..Balance::default() };
    for out in outs {
        let sum = match out.kind {
            OutKind::HandOver => &mut balance.handed_over,
            OutKind::Return => &mut balance.returned,
            OutKind::Scrap => &mut balance.scrapped,
        };
        *sum = sum.saturating_add(measure.of(&out.amount)?);
    }
    Some(balance)
}

fn known(number: Option<i64>) -> Option<i128> {
    number.filter(|n| *n >= 0).map(i128::from)
}

/// What the count of one slip says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Everything issued is accounted for.
    Balanced,
    /// So many pieces are missing.
    Short(i128),
    /// So much more came back than was out, in the account's measure.
    Over(i128),
    /// The count says nothing, for this reason.
    NotChecked(NotChecked),
}

/// Why a count says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NotChecked {
    /// The slip is still open.
    Open,
    /// The slip is closed and in pieces, but nobody counted its stubs.
    StubsNotCounted,
    /// The slip is weighed: stubs, a count, do not show what mass was used.
    Weighed,
    /// What was issued and what left are not known in one measure.
    NotComparable,
}

impl NotChecked {
    /// All of them, in the order of their declaration.
    pub const ALL: [NotChecked; 4] =
        [NotChecked::Open, NotChecked::StubsNotCounted, NotChecked::Weighed, NotChecked::NotComparable];

    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            NotChecked::Open => "open",
            NotChecked::StubsNotCounted => "stubs-not-counted",
            NotChecked::Weighed => "weighed",
            NotChecked::NotComparable => "not-comparable",
        }
    }
}

impl fmt::Display for NotChecked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl Verdict {
    /// The verdict on what [`account`] gave.
    #[must_use]
    pub fn of(account: Option<&Account>) -> Self {
        account.map_or(Verdict::NotChecked(NotChecked::NotComparable), Account::verdict)
    }
}

impl Account {
    /// What the count says. More out than issued is `Over` even on an open or weighed slip. A closed slip of which
    /// everything left whole is balanced without a count of stubs: there can be none.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let balance = &self.balance;
        if balance.over() > 0 {
            return Verdict::Over(balance.over());
        }
        if balance.unaccounted > 0 {
            return Verdict::Short(balance.unaccounted);
        }
        if !self.closed {
            return Verdict::NotChecked(NotChecked::Open);
        }
        let explained = balance.used_or_unaccounted == 0;
        match self.measure {
            Measure::Pieces if explained => Verdict::Balanced,
            Measure::Pieces => Verdict::NotChecked(NotChecked::StubsNotCounted),
            // Stubs of a slip that came back to the last milligram: the two cannot both be right, and neither can be
            // turned into the other.
            Measure::Mg if explained && balance.stubs.unwrap_or(0) == 0 => Verdict::Balanced,
            Measure::Mg => Verdict::NotChecked(NotChecked::Weighed),
        }
    }
}

/// The accounts of many slips (of a lot, a welder, a joint) added up in one measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Total {
    /// What it is kept in.
    pub measure: Measure,
    /// The sums. `unaccounted` and `over()` may both be there: of different slips.
    pub balance: Balance,
    /// How many slips are in the sums; the next four add up to it.
    pub slips: usize,
    /// How many of them are balanced.
    pub balanced: usize,
    /// How many of them are short.
    pub short: usize,
    /// How many of them are over.
    pub over: usize,
    /// How many of them the count says nothing of.
    pub not_checked: usize,
    /// How many slips are not in the sums: kept in the other measure, or without an account. Unless it is 0, the sums
    /// are not the whole.
    pub left_out: usize,
}

/// Adds up the accounts in one measure; `None` is a slip without an account, which is left out, as are those in the
/// other measure.
#[must_use]
pub fn sum<'a>(measure: Measure, accounts: impl IntoIterator<Item = Option<&'a Account>>) -> Total {
    let mut total = Total {
        measure,
        balance: Balance::default(),
        slips: 0,
        balanced: 0,
        short: 0,
        over: 0,
        not_checked: 0,
        left_out: 0,
    };
    for account in accounts {
        let Some(account) = account.filter(|account| account.measure == measure) else {
            total.left_out = total.left_out.saturating_add(1);
            continue;
        };
        total.balance.add(&account.balance);
        total.slips = total.slips.saturating_add(1);
        let kind = match account.verdict() {
            Verdict::Balanced => &mut total.balanced,
            Verdict::Short(_) => &mut total.short,
            Verdict::Over(_) => &mut total.over,
            Verdict::NotChecked(_) => &mut total.not_checked,
        };
        *kind = kind.saturating_add(1);
    }
    total
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_are_stable() {
        assert_eq!([Measure::Pieces, Measure::Mg].map(Measure::as_str), ["pieces", "mg"]);
        let words = NotChecked::ALL.map(NotChecked::as_str);
        assert_eq!(words, ["open", "stubs-not-counted", "weighed", "not-comparable"]);
    }
}
