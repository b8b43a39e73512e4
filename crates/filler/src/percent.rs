//! Mass percentages as decimal text: exact, with as many places as were printed.

use crate::decimal::{Decimal, NumberFault, div_half_even, parse_decimal};
use crate::shown::shown;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;

/// More places than any laboratory prints.
const MOST_PLACES: u32 = 12;

/// A mass percentage from 0 to 100 (a sum of several can be more), with the places as printed: `0.50` is not `0.5` when a
/// value is rounded to it, though they are equal.
#[derive(Clone, Copy, Debug)]
pub struct Percent {
    digits: u128,
    scale: u32,
}

/// A text that is no percentage.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a mass percentage: {fault}")]
pub struct PercentError {
    text: String,
    fault: PercentFault,
}

/// Why something is not a percentage.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum PercentFault {
    #[error(transparent)]
    Number(#[from] NumberFault),
    #[error("it is above 100")]
    AboveAll,
    #[error("it has more than {MOST_PLACES} decimal places")]
    TooManyPlaces,
}

impl PercentError {
    /// Whether it is this fault of the number.
    pub(crate) fn is(&self, number: NumberFault) -> bool {
        self.fault == PercentFault::Number(number)
    }
}

impl Percent {
    /// Nothing.
    pub const ZERO: Percent = Percent { digits: 0, scale: 0 };

    /// One in a hundred.
    pub const ONE: Percent = Percent { digits: 1, scale: 0 };

    /// All of it.
    pub const HUNDRED: Percent = Percent { digits: 100, scale: 0 };

    /// Reads a plain decimal number from 0 to 100, without a percent sign.
    ///
    /// # Errors
    /// When it is not one.
    pub fn parse(text: &str) -> Result<Self, PercentError> {
        let wrong = |fault| PercentError { text: shown(text), fault };
        let Decimal { digits, scale } = parse_decimal(text).map_err(|fault| wrong(fault.into()))?;
        if scale > MOST_PLACES {
            return Err(wrong(PercentFault::TooManyPlaces));
        }
        let percent = Percent { digits, scale };
        if percent > Percent::HUNDRED {
            return Err(wrong(PercentFault::AboveAll));
        }
        Ok(percent)
    }

    /// Whether it is nothing at all.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.digits == 0
    }

    /// Decimal places as printed.
    #[must_use]
    pub fn places(self) -> u32 {
        self.scale
    }

    /// Whole units of 10^-12 percent: exact, to compare and add with.
    pub(crate) fn fine(self) -> u128 {
        // A percentage has at most 12 places and, a sum of 118 of them included, far fewer than 26 digits before them.
        self.digits.saturating_mul(10_u128.saturating_pow(MOST_PLACES.saturating_sub(self.scale)))
    }

    /// The exact sum, with the places of the finer of the two.
    #[must_use]
    pub fn plus(self, other: Percent) -> Percent {
        let scale = self.scale.max(other.scale);
        let at = |p: Percent| p.digits.saturating_mul(10_u128.saturating_pow(scale.saturating_sub(p.scale)));
        Percent { digits: at(self).saturating_add(at(other)), scale }
    }

    /// The exact difference, with the places of the finer of the two; None when it would be below zero.
    #[must_use]
    pub fn minus(self, other: Percent) -> Option<Percent> {
        let scale = self.scale.max(other.scale);
        let at = |p: Percent| p.digits.checked_mul(10_u128.checked_pow(scale.checked_sub(p.scale)?)?);
        Some(Percent { digits: at(self)?.checked_sub(at(other)?)?, scale })
    }

    /// So many times as much, exactly.
    #[must_use]
    pub fn times(self, factor: u32) -> Percent {
        Percent { digits: self.digits.saturating_mul(u128::from(factor)), scale: self.scale }
    }

    /// How many steps of this size it takes to cover it, a part of a step counted as one; None for steps of zero.
    pub(crate) fn steps_of(self, step: Percent) -> Option<u32> {
        let (all, step) = (self.fine(), step.fine());
        let whole = all.checked_div(step)?;
        let part = u128::from(all.checked_rem(step)? > 0);
        u32::try_from(whole.checked_add(part)?).ok()
    }

    /// Rounded to so many places, a tie to the even digit: the rounding method of ASTM E29 section 6.4, which is Rule A of
    /// ISO 80000-1 Annex B. With fewer places than asked, nothing changes but the zeros written.
    #[must_use]
    pub fn rounded(self, places: u32) -> Percent {
        let places = places.min(MOST_PLACES);
        if self.scale <= places {
            let digits =
                self.digits.saturating_mul(10_u128.saturating_pow(places.saturating_sub(self.scale)));
            return Percent { digits, scale: places };
        }
        let divisor = 10_u128.saturating_pow(self.scale.saturating_sub(places));
        Percent { digits: div_half_even(self.digits, divisor).unwrap_or(u128::MAX), scale: places }
    }

    /// As a floating-point number: for likelihoods, never to compare with a limit.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        // Exact to 53 bits: the decimal text is read as any other would be.
        self.to_string().parse().unwrap_or(f64::NAN)
    }
}

impl PartialEq for Percent {
    fn eq(&self, other: &Self) -> bool {
        self.fine() == other.fine()
    }
}

impl Eq for Percent {}

impl PartialOrd for Percent {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Percent {
    fn cmp(&self, other: &Self) -> Ordering {
        self.fine().cmp(&other.fine())
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scale = usize::try_from(self.scale).unwrap_or(0);
        let digits = format!("{:0>width$}", self.digits, width = scale.saturating_add(1));
        let (whole, places) = digits.split_at(digits.len().saturating_sub(scale));
        if places.is_empty() { f.write_str(whole) } else { write!(f, "{whole}.{places}") }
    }
}

impl Serialize for Percent {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Percent {
    /// Only as it would be written again.
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Percent::parse(&text)
            .ok()
            .filter(|percent| percent.to_string() == text)
            .ok_or_else(|| serde::de::Error::custom("not a percentage as decimal text"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(text: &str) -> Percent {
        Percent::parse(text).unwrap()
    }

    #[test]
    fn the_text_comes_back() {
        for text in ["0", "0.05", "100", "100.00", "22.04", "0.000"] {
            assert_eq!(percent(text).to_string(), text);
        }
        assert_eq!(percent(".05").to_string(), "0.05");
        assert_eq!(percent("0.5"), percent("0.50"));
        for text in ["-1", "101", "100.01", "0,05", "1e-3", "", "tr", "<0.005", "0.0000000000001"] {
            assert!(Percent::parse(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_tie_goes_to_the_even_digit() {
        // ASTM E29 section 6.4, evaluated here; tests/oracles compares with Python's decimal.
        for (value, places, want) in [
            ("0.034", 2, "0.03"),
            ("0.036", 2, "0.04"),
            ("0.035", 2, "0.04"),
            ("0.045", 2, "0.04"),
            ("0.0450001", 2, "0.05"),
            ("0.025", 2, "0.02"),
            ("19.45", 1, "19.4"),
            ("19.46", 1, "19.5"),
            ("22.05", 1, "22.0"),
            ("22.06", 1, "22.1"),
            ("0.5", 2, "0.50"),
            ("99.95", 1, "100.0"),
        ] {
            assert_eq!(percent(value).rounded(places).to_string(), want, "{value} to {places}");
        }
    }

    #[test]
    fn sums_are_exact() {
        assert_eq!(percent("0.1").plus(percent("0.20")).to_string(), "0.30");
        assert_eq!((0..10).fold(percent("0"), |sum, _| sum.plus(percent("0.1"))), percent("1"));
    }
}
