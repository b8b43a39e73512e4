//! The mass check: is the metal that was drawn explained by what came back, the stubs, the scrap and the joints?
//!
//! D = issued − handed over − returned − stubs − scrap − needed by the joints (weld metal over efficiency). Its uncertainty
//! is propagated over what was measured (GUM, JCGM 100:2008, 5.1.2): an error that several figures share, such as the
//! diameter of a lot, is added up with its sign before it is squared; errors of their own add in quadrature.
//!
//! D is beyond its uncertainty when |D| > k·u. k is the two-sided 5 % point for as many checks as were made together
//! (Šidák), and never below 2. A discrepancy of (k + 1.645)·u is found in 95 of 100 cases: it is said with every
//! verdict, so that *within* is not read as *proven*. The count of [`account()`](crate::account()) comes first: it is
//! exact, and finds one rod.

use crate::Id;
use filler::statistics::family_limit;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Micrograms in a milligram.
const UG_PER_MG: i128 = 1000;

/// Thousandths, in which k is kept.
const MILLI: i128 = 1000;

/// Chance that at least one of the checks made together flags, though everything is explained.
const FALSE_ALARM: f64 = 0.05;

/// Least k, in thousandths: common practice for an expanded uncertainty (GUM 6.3.3).
const LEAST_K_MILLI: i128 = 2000;

/// One-sided 95 % point of the normal distribution, in thousandths, for the power.
const POWER_MILLI: i128 = 1645;

/// An error that several figures share: an input and whose it is.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SharedError {
    /// The input: `diameter`, `density`, `cap-height`.
    pub input: String,
    /// Whose: the lot's diameter, the welder's cap height. 0 for what is the same in the whole shop.
    pub of: Id,
}

/// A mass with its uncertainty.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mass {
    mg: i128,
    /// What one standard uncertainty of each shared error does to it, in micrograms, with its sign.
    shared: BTreeMap<SharedError, i128>,
    /// Standard uncertainties of its own, by name, in micrograms.
    own: Vec<(&'static str, i128)>,
}

impl Mass {
    /// Counted pieces of a known mass each. `spread` is what one standard uncertainty of each shared error does to one
    /// piece, in micrograms; `count_u_milli` is how uncertain the count is, in thousandths of a piece: 500 for a bundle that
    /// was not counted out, 0 for pieces tagged one by one.
    #[must_use]
    pub fn of_pieces(pieces: i64, piece_mg: i64, spread: &[(SharedError, i64)], count_u_milli: i64) -> Self {
        // Products of 64-bit numbers fit 128 bits.
        let times = |a: i64, b: i64| i128::from(a).saturating_mul(i128::from(b));
        let mut mass = Mass { mg: times(pieces, piece_mg), ..Mass::default() };
        for (error, ug) in spread {
            mass.share(error.clone(), times(pieces, *ug));
        }
        // Thousandths of a piece times milligrams are micrograms.
        mass.own.push(("count", times(count_u_milli, piece_mg)));
        mass
    }

    /// A weighed mass. `u_mg` is the standard uncertainty of the weighing: see [`weighing_u_mg`].
    #[must_use]
    pub fn weighed(mg: i64, u_mg: i64) -> Self {
        Mass {
            mg: mg.into(),
            shared: BTreeMap::new(),
            own: vec![("weighing", i128::from(u_mg).saturating_mul(UG_PER_MG))],
        }
    }

    /// What a joint needs. `shared` is what one standard uncertainty of each shared error does to it, in milligrams; `own`
    /// its standard uncertainty from the rest.
    #[must_use]
    pub fn needed(mg: i64, shared: &[(SharedError, i64)], own_u_mg: i64) -> Self {
        let mut mass = Mass {
            mg: mg.into(),
            shared: BTreeMap::new(),
            own: vec![("each joint's own", i128::from(own_u_mg).saturating_mul(UG_PER_MG))],
        };
        for (error, mg) in shared {
            mass.share(error.clone(), i128::from(*mg).saturating_mul(UG_PER_MG));
        }
        mass
    }

    fn share(&mut self, error: SharedError, ug: i128) {
        let sum = self.shared.entry(error).or_insert(0);
        *sum = sum.saturating_add(ug);
    }
}

/// Standard uncertainty of one reading of a scale that shows steps of `resolution_mg`, in milligrams, rounded up:
/// resolution/√12 (GUM F.2.2.1). Linearity is not in it.
#[must_use]
pub fn weighing_u_mg(resolution_mg: u32) -> i64 {
    let squared = u64::from(resolution_mg).saturating_mul(resolution_mg.into());
    let twelfth = squared.div_ceil(12);
    i64::try_from(root_rounded_up(twelfth.into())).unwrap_or(i64::MAX)
}

/// What a mass is in the balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Drawn on a slip; of a hand-over's new slip, what was handed over.
    Issued,
    /// Handed to another welder.
    HandedOver,
    /// Brought back.
    Returned,
    /// Stubs.
    Stubs,
    /// Gone for good.
    Scrapped,
    /// Needed by the joints.
    Needed,
}

impl Side {
    /// All of them, in the order of their declaration.
    pub const ALL: [Side; 6] =
        [Side::Issued, Side::HandedOver, Side::Returned, Side::Stubs, Side::Scrapped, Side::Needed];

    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Side::Issued => "issued",
            Side::HandedOver => "handed-over",
            Side::Returned => "returned",
            Side::Stubs => "stubs",
            Side::Scrapped => "scrapped",
            Side::Needed => "needed",
        }
    }

    /// Its sign in the difference.
    fn sign(self) -> i128 {
        match self {
            Side::Issued => 1,
            Side::HandedOver | Side::Returned | Side::Stubs | Side::Scrapped | Side::Needed => -1,
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// Why a mass check says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NotChecked {
    /// There is no slip, or no joint, to compare.
    NothingToCompare,
    /// A slip is still open.
    Open,
    /// Metal of these slips went, or can have gone, into joints outside of the group, or other metal into these joints.
    NotApart,
    /// What a joint needs is not known, or the joint is not finished.
    NeededNotKnown,
    /// How uncertain a figure is, is not known.
    UncertaintyNotKnown,
    /// The mass of a piece is not known.
    PieceMassNotKnown,
    /// Nobody counted or weighed the stubs.
    StubsNotKnown,
    /// Nobody wrote down how much was issued, or left again.
    AmountNotKnown,
    /// Metal went, or can have gone, into a repair or a temporary weld, of which nobody says what it needs, or was cut out.
    OtherCycle,
    /// The figures are larger than can be worked out.
    TooLarge,
}

impl NotChecked {
    /// All of them, in the order of their declaration.
    pub const ALL: [NotChecked; 10] = [
        NotChecked::NothingToCompare,
        NotChecked::Open,
        NotChecked::NotApart,
        NotChecked::NeededNotKnown,
        NotChecked::UncertaintyNotKnown,
        NotChecked::PieceMassNotKnown,
        NotChecked::StubsNotKnown,
        NotChecked::AmountNotKnown,
        NotChecked::OtherCycle,
        NotChecked::TooLarge,
    ];

    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            NotChecked::NothingToCompare => "nothing-to-compare",
            NotChecked::Open => "open",
            NotChecked::NotApart => "not-apart",
            NotChecked::NeededNotKnown => "needed-not-known",
            NotChecked::UncertaintyNotKnown => "uncertainty-not-known",
            NotChecked::PieceMassNotKnown => "piece-mass-not-known",
            NotChecked::StubsNotKnown => "stubs-not-known",
            NotChecked::AmountNotKnown => "amount-not-known",
            NotChecked::OtherCycle => "other-cycle",
            NotChecked::TooLarge => "too-large",
        }
    }
}

impl fmt::Display for NotChecked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// What a mass check says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// The difference is within its uncertainty.
    Within,
    /// So many milligrams more were issued than anything explains: lost, not recorded, or in another joint.
    Short(i128),
    /// So many milligrams more are in the joints than were issued: metal of unknown origin, or a joint drawn too large.
    Over(i128),
    /// Nothing, for this reason.
    NotChecked(NotChecked),
}

/// A verdict with the figures that decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Checked {
    /// The verdict.
    pub verdict: Verdict,
    /// D in milligrams: above 0, more was issued than is explained.
    pub difference_mg: i128,
    /// Its standard uncertainty in milligrams, rounded up.
    pub u_mg: i128,
    /// k in thousandths, rounded up.
    pub k_milli: i128,
    /// k·u in milligrams, rounded up: a difference beyond it is flagged.
    pub threshold_mg: i128,
    /// (k + 1.645)·u in milligrams, rounded up: the smallest discrepancy that would be found in 95 of 100 cases.
    pub detectable_mg: i128,
}

/// The masses of one group of slips and joints: of a slip, a welder, a shift, a joint or a lot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MassBalance {
    sides: BTreeMap<Side, i128>,
    shared: BTreeMap<SharedError, i128>,
    own: Vec<(&'static str, i128)>,
    lacking: BTreeSet<NotChecked>,
}

impl MassBalance {
    /// Nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a mass to a side.
    pub fn add(&mut self, side: Side, mass: &Mass) {
        let sum = self.sides.entry(side).or_insert(0);
        *sum = sum.saturating_add(mass.mg);
        for (error, ug) in &mass.shared {
            let sum = self.shared.entry(error.clone()).or_insert(0);
            *sum = sum.saturating_add(ug.saturating_mul(side.sign()));
        }
        self.own.extend_from_slice(&mass.own);
    }

    /// Says that something is missing without which the group cannot be checked.
    pub fn lacks(&mut self, why: NotChecked) {
        self.lacking.insert(why);
    }

    /// All that is missing.
    pub fn lacking(&self) -> impl Iterator<Item = NotChecked> + '_ {
        self.lacking.iter().copied()
    }

    /// The sum of one side, in milligrams.
    #[must_use]
    pub fn side_mg(&self, side: Side) -> i128 {
        self.sides.get(&side).copied().unwrap_or(0)
    }

    /// D, in milligrams.
    #[must_use]
    pub fn difference_mg(&self) -> i128 {
        Side::ALL
            .into_iter()
            .fold(0, |sum, side| sum.saturating_add(self.side_mg(side).saturating_mul(side.sign())))
    }

    /// What each input adds to the variance of D, in squared micrograms, by the input's name.
    fn variances(&self) -> Option<BTreeMap<&str, u128>> {
        let shared = self.shared.iter().map(|(error, ug)| (error.input.as_str(), *ug));
        let own = self.own.iter().copied();
        let mut variances: BTreeMap<&str, u128> = BTreeMap::new();
        for (input, ug) in shared.chain(own) {
            let square = ug.unsigned_abs().checked_mul(ug.unsigned_abs())?;
            let sum = variances.entry(input).or_insert(0);
            *sum = sum.checked_add(square)?;
        }
        Some(variances)
    }

    /// The share of each input in the variance of D, in thousandths, rounded down; the largest first. Empty when there is
    /// none or it is too large.
    #[must_use]
    pub fn shares_milli(&self) -> Vec<(String, u32)> {
        let variances = self.variances().unwrap_or_default();
        let total = variances.values().fold(0_u128, |sum, variance| sum.saturating_add(*variance));
        let mut shares: Vec<(String, u32)> = variances
            .into_iter()
            .filter_map(|(input, variance)| {
                // The total first, so that a large variance cannot overflow.
                let share = match variance.checked_mul(1000) {
                    Some(thousandfold) => thousandfold.checked_div(total)?,
                    None => variance.checked_div(total.checked_div(1000)?)?,
                };
                Some((input.to_owned(), u32::try_from(share).ok()?))
            })
            .collect();
        shares.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        shares
    }

    /// The verdict, when `checks` groups are checked together.
    #[must_use]
    pub fn check(&self, checks: u32) -> Checked {
        let k_milli = family_k_milli(checks);
        let difference_mg = self.difference_mg();
        let figures = self.variances().and_then(|variances| {
            let total = variances.into_values().try_fold(0_u128, u128::checked_add)?;
            let u_ug = i128::try_from(root_rounded_up(total)).ok()?;
            let times = |milli: i128| Some(rounded_up(milli.checked_mul(u_ug)?, MILLI * UG_PER_MG));
            let detectable_mg = times(k_milli.checked_add(POWER_MILLI)?)?;
            Some((rounded_up(u_ug, UG_PER_MG), times(k_milli)?, detectable_mg))
        });
        let (u_mg, threshold_mg, detectable_mg) = figures.unwrap_or((0, 0, 0));
        let mut lacking = self.lacking.clone();
        if !self.sides.contains_key(&Side::Issued) || !self.sides.contains_key(&Side::Needed) {
            lacking.insert(NotChecked::NothingToCompare);
        }
        if figures.is_none() {
            lacking.insert(NotChecked::TooLarge);
        } else if u_mg == 0 {
            // Nothing is known without any uncertainty: nobody said what it is.
            lacking.insert(NotChecked::UncertaintyNotKnown);
        }
        let verdict = match lacking.first() {
            Some(why) => Verdict::NotChecked(*why),
            None if difference_mg > threshold_mg => Verdict::Short(difference_mg),
            None if difference_mg < threshold_mg.saturating_neg() => {
                Verdict::Over(difference_mg.saturating_neg())
            }
            None => Verdict::Within,
        };
        Checked { verdict, difference_mg, u_mg, k_milli, threshold_mg, detectable_mg }
    }
}

/// k in thousandths, rounded up: the two-sided 5 % point shared between so many independent checks (Z. Šidák, Journal of
/// the American Statistical Association 62 (1967), 626 to 633, from memory), at least 2.
#[must_use]
#[allow(
    clippy::float_arithmetic,
    reason = "a quantile; it is rounded up to thousandths before anything is compared with it"
)]
pub fn family_k_milli(checks: u32) -> i128 {
    // No number of checks that fits brings it to 10.
    let k = family_limit(FALSE_ALARM, checks.max(1), 0.5) * 1000.0;
    let milli = if k < 10_000.0 { k.ceil() as i128 } else { 10_000 };
    milli.max(LEAST_K_MILLI)
}

/// √n, rounded up.
fn root_rounded_up(n: u128) -> u128 {
    let root = n.isqrt();
    if root.saturating_mul(root) < n { root.saturating_add(1) } else { root }
}

/// n / d for n of zero or more, rounded up.
fn rounded_up(n: i128, d: i128) -> i128 {
    let whole = n.checked_div(d).unwrap_or(0);
    if whole.saturating_mul(d) < n { whole.saturating_add(1) } else { whole }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_are_stable() {
        let words = NotChecked::ALL.map(NotChecked::as_str);
        assert_eq!(
            words,
            [
                "nothing-to-compare",
                "open",
                "not-apart",
                "needed-not-known",
                "uncertainty-not-known",
                "piece-mass-not-known",
                "stubs-not-known",
                "amount-not-known",
                "other-cycle",
                "too-large"
            ]
        );
        assert_eq!(
            Side::ALL.map(Side::as_str),
            ["issued", "handed-over", "returned", "stubs", "scrapped", "needed"]
        );
    }

    #[test]
    fn roots_and_quotients_are_rounded_up() {
        assert_eq!([0, 1, 2, 4, 5, 9, 10].map(root_rounded_up), [0, 1, 2, 2, 3, 3, 4]);
        assert_eq!(root_rounded_up(u128::MAX), 1 << 64);
        assert_eq!([0, 1, 999, 1000, 1001].map(|n| rounded_up(n, 1000)), [0, 1, 1, 1, 2]);
        // A scale in steps of 1 g: 288.7 mg (GUM F.2.2.1).
        assert_eq!([0, 1, 1000].map(weighing_u_mg), [0, 1, 289]);
    }
}
