//! Exact fractions: what is worked out from typed decimal numbers without a floating-point number.

use crate::decimal::{NumberFault, div_half_even, parse_decimal};
use num_rational::Ratio;
use num_traits::{
    CheckedAdd as _, CheckedDiv as _, CheckedMul as _, CheckedSub as _, Signed as _, Zero as _,
};
use std::fmt;

/// Most digits of a typed number: more than any instrument shows.
const MOST_DIGITS: u128 = 1_000_000_000_000;

/// Most decimal places of a typed number.
const MOST_PLACES: u32 = 9;

/// An exact fraction of 128-bit integers. Every operation says None rather than a wrong number when it does not fit.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Exact(Ratio<i128>);

impl Exact {
    /// Nothing.
    #[must_use]
    pub fn zero() -> Self {
        Exact(Ratio::zero())
    }

    /// One.
    #[must_use]
    pub fn one() -> Self {
        Exact(Ratio::from_integer(1))
    }

    /// A whole number.
    #[must_use]
    pub fn whole(number: i64) -> Self {
        Exact(Ratio::from_integer(i128::from(number)))
    }

    /// `num` / `den`; None when `den` is 0.
    #[must_use]
    pub fn fraction(num: i64, den: i64) -> Option<Self> {
        Self::whole(num).over(Self::whole(den))
    }

    /// `num` / `den` of numbers as large as can be typed; None beyond, and when `den` is 0.
    pub(crate) fn typed(num: u128, den: u128) -> Option<Self> {
        let largest_den = 10_u128.checked_pow(MOST_PLACES)?;
        if num > MOST_DIGITS || den == 0 || den > largest_den {
            return None;
        }
        Some(Exact(Ratio::new(i128::try_from(num).ok()?, i128::try_from(den).ok()?)))
    }

    /// Reads a plain decimal number of zero or more.
    ///
    /// # Errors
    /// When it is not one, or has more than 12 digits or 9 decimal places.
    pub fn parse(text: &str) -> Result<Self, NumberFault> {
        let decimal = parse_decimal(text)?;
        let den = 10_u128.checked_pow(decimal.scale).ok_or(NumberFault::TooLong)?;
        Self::typed(decimal.digits, den).ok_or(NumberFault::TooLong)
    }

    /// `digits` / 10^`scale`, of an exact decimal that was read elsewhere.
    pub(crate) fn decimal_of(digits: u128, scale: u32) -> Option<Self> {
        let den = 10_i128.checked_pow(scale)?;
        Some(Exact(Ratio::new(i128::try_from(digits).ok()?, den)))
    }

    /// The sum.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        self.0.checked_add(&other.0).map(Exact)
    }

    /// The difference.
    #[must_use]
    pub fn minus(self, other: Self) -> Option<Self> {
        self.0.checked_sub(&other.0).map(Exact)
    }

    /// The product.
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        self.0.checked_mul(&other.0).map(Exact)
    }

    /// The quotient; None for a division by zero.
    #[must_use]
    pub fn over(self, other: Self) -> Option<Self> {
        if other.is_zero() { None } else { self.0.checked_div(&other.0).map(Exact) }
    }

    /// Itself times itself.
    #[must_use]
    pub fn squared(self) -> Option<Self> {
        self.times(self)
    }

    /// Whether it is zero.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// Whether it is below zero.
    #[must_use]
    pub fn is_negative(self) -> bool {
        self.0.is_negative()
    }

    /// The next whole number upward, or itself when it is whole.
    #[must_use]
    pub fn rounded_up(self) -> Option<i64> {
        let (num, den) = (*self.0.numer(), *self.0.denom());
        let down = num.checked_div_euclid(den)?;
        let up = if num.checked_rem_euclid(den)? == 0 { down } else { down.checked_add(1)? };
        i64::try_from(up).ok()
    }

    /// Decimal text of so many places, a tie to the even digit (ISO 80000-1 Annex B Rule A). None when the number has
    /// too many digits to be written so.
    #[must_use]
    pub fn decimal(self, places: u32) -> Option<String> {
        let power = 10_u128.checked_pow(places)?;
        let num = self.0.numer().unsigned_abs();
        let den = self.0.denom().unsigned_abs();
        let digits = if places == 0 {
            div_half_even(num, den)?
        } else {
            // Whole and broken part apart, so that the power of ten times either fits 128 bits. The whole part is then
            // even, and the broken part alone says which neighbour is.
            let whole = num.checked_div(den)?.checked_mul(power)?;
            whole.checked_add(div_half_even(num.checked_rem(den)?.checked_mul(power)?, den)?)?
        };
        let sign = if self.is_negative() && digits != 0 { "-" } else { "" };
        let width = usize::try_from(places).ok()?.checked_add(1)?;
        let text = format!("{digits:0>width$}");
        let (whole, broken) = text.split_at_checked(text.len().checked_add(1)?.checked_sub(width)?)?;
        Some(if broken.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{broken}") })
    }

    /// Decimal text of at most so many places, without zeros at its end.
    #[must_use]
    pub fn short_decimal(self, places: u32) -> Option<String> {
        let text = self.decimal(places)?;
        Some(if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        })
    }

    /// Its square root as a floating-point number, to be shown; NaN of what is below zero.
    #[must_use]
    pub fn root_f64(self) -> f64 {
        libm::sqrt(self.to_f64())
    }

    /// As a floating-point number: to show an estimate, never to compare with a limit.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        // The decimal text is read as any other would be; 15 places behind the point are more than 53 bits show here.
        (0..=15)
            .rev()
            .find_map(|places| self.decimal(places))
            .and_then(|text| text.parse().ok())
            .unwrap_or(f64::NAN)
    }
}

impl fmt::Debug for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.0.numer(), self.0.denom())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exact(text: &str) -> Exact {
        Exact::parse(text).unwrap()
    }

    #[test]
    fn texts_come_back_and_ties_go_to_even() {
        for (text, places, want) in [
            ("0.045", 2, "0.04"),
            ("0.055", 2, "0.06"),
            ("1.5", 0, "2"),
            ("2.5", 0, "2"),
            ("7", 3, "7.000"),
            ("0", 0, "0"),
            ("999999999999", 9, "999999999999.000000000"),
        ] {
            assert_eq!(exact(text).decimal(places).as_deref(), Some(want), "{text}");
        }
        let third = Exact::fraction(-2, 3).unwrap();
        assert_eq!(third.decimal(4).as_deref(), Some("-0.6667"));
        assert_eq!(Exact::fraction(-1, 1000).unwrap().decimal(2).as_deref(), Some("0.00"));
        assert_eq!(exact("40.860").short_decimal(6).as_deref(), Some("40.86"));
        assert_eq!(exact("100").short_decimal(0).as_deref(), Some("100"));
        assert_eq!(exact("100").to_f64(), 100.0);
    }

    #[test]
    fn what_does_not_fit_is_none() {
        assert_eq!(Exact::one().over(Exact::zero()), None);
        assert_eq!(Exact::fraction(1, 0), None);
        let mut large = exact("999999999999");
        while let Some(larger) = large.squared() {
            assert!(larger > large);
            large = larger;
        }
        assert_eq!(Exact::parse("1000000000001"), Err(NumberFault::TooLong));
        assert_eq!(Exact::parse("0.0000000001"), Err(NumberFault::TooLong));
        assert_eq!(Exact::parse("1,5"), Err(NumberFault::Comma));
    }

    #[test]
    fn rounding_up_counts_whole_things() {
        for (num, den, want) in [(56, 1, 56), (561, 10, 57), (0, 1, 0), (1, 1000, 1), (-5, 10, 0)] {
            assert_eq!(Exact::fraction(num, den).unwrap().rounded_up(), Some(want));
        }
    }
}
