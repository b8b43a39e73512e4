//! Values that may be known only as a bound, and how they stand to the end of a limit.

use crate::analysis::Reported;
use crate::percent::Percent;

/// From the least to the most that a value can be: the same when it is a number, zero to the bound for `<0.005`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) low: Percent,
    pub(super) high: Percent,
}

impl Span {
    pub(super) const NOTHING: Span = Span { low: Percent::ZERO, high: Percent::ZERO };

    /// None where no number was printed.
    pub(super) fn of(reported: &Reported) -> Option<Self> {
        match reported {
            Reported::Value(value) => Some(Span { low: *value, high: *value }),
            Reported::Below(bound) => Some(Span { low: Percent::ZERO, high: *bound }),
            Reported::NoNumber => None,
        }
    }

    pub(super) fn plus(self, other: Span) -> Span {
        Span { low: self.low.plus(other.low), high: self.high.plus(other.high) }
    }

    /// The value, where it is one number.
    pub(super) fn number(self) -> Option<Percent> {
        (self.low == self.high).then_some(self.high)
    }
}

/// How a value stands to one end of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Standing {
    /// Within it as printed.
    Meets,
    /// Within it once rounded.
    ByRounding,
    /// It cannot be told.
    Open,
    /// Beyond it.
    Fails,
}

/// One end of a limit. `strict` is the tightest that the end can be, `loose` the loosest: the two differ where the end
/// follows another element of which only a bound is known; strict is None where nothing is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct End {
    pub(super) strict: Option<Percent>,
    pub(super) loose: Percent,
    /// Decimal places that a value is rounded to.
    pub(super) places: u32,
}

impl End {
    /// An end as written.
    pub(super) fn written(limit: Percent) -> Self {
        End { strict: Some(limit), loose: limit, places: limit.places() }
    }

    /// The end as a number, where it is one.
    pub(super) fn number(self) -> Option<Percent> {
        self.strict.filter(|strict| *strict == self.loose)
    }

    /// Against this as the most.
    pub(super) fn as_max(self, value: Span) -> Standing {
        match self.strict {
            Some(max) if value.high <= max => Standing::Meets,
            Some(max) if value.high.rounded(self.places) <= max => Standing::ByRounding,
            Some(_) | None if value.low.rounded(self.places) > self.loose => Standing::Fails,
            Some(_) | None => Standing::Open,
        }
    }

    /// Against this as the least.
    pub(super) fn as_min(self, value: Span) -> Standing {
        match self.strict {
            Some(min) if value.low >= min => Standing::Meets,
            Some(min) if value.low.rounded(self.places) >= min => Standing::ByRounding,
            Some(_) | None if value.high.rounded(self.places) < self.loose => Standing::Fails,
            Some(_) | None => Standing::Open,
        }
    }
}
