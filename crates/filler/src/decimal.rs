//! Plain decimal numbers as people type them, without floats.

/// Why a text is not a plain decimal number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NumberFault {
    /// No number where one belongs.
    #[error("there is no number; write digits, such as 2.5")]
    Missing,
    /// A comma: a decimal point to some, a thousands mark to others.
    #[error("a comma can mean two things; write 2.5 with a point, and thousands without a mark")]
    Comma,
    /// Below zero.
    #[error("it is below zero; write a number of zero or more")]
    Negative,
    /// Scientific notation.
    #[error("powers of ten are not read; write all the digits, such as 1000")]
    Exponent,
    /// A fraction where only a decimal number is read.
    #[error("a fraction is not read here; write it as a decimal number, such as 0.5")]
    Fraction,
    /// Nothing after the decimal point.
    #[error("digits are missing after the point; write 2 or 2.0")]
    NoDigitsAfterPoint,
    /// Other characters.
    #[error("it is not a plain decimal number; write digits with at most one point, such as 2.5")]
    NotANumber,
    /// More digits than can be kept.
    #[error("it has more digits than can be kept exactly; write a shorter number")]
    TooLong,
}

/// A decimal number of zero or more, as typed: `digits` / 10^`scale`. `2.50` keeps scale 2.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Decimal {
    pub(crate) digits: u128,
    pub(crate) scale: u32,
}

/// Reads digits with at most one point; `.5` is 0.5. Blanks around the number are ignored.
pub(crate) fn parse_decimal(text: &str) -> Result<Decimal, NumberFault> {
    let text = text.trim();
    if text.is_empty() {
        return Err(NumberFault::Missing);
    }
    if text.starts_with(['-', '\u{2212}']) {
        return Err(NumberFault::Negative);
    }
    if text.contains(',') {
        return Err(NumberFault::Comma);
    }
    let (whole, places) = match text.split_once('.') {
        None => (text, None),
        Some((whole, places)) => (whole, Some(places)),
    };
    if places == Some("") {
        return Err(NumberFault::NoDigitsAfterPoint);
    }
    let places = places.unwrap_or("");
    if let Some(other) = whole.chars().chain(places.chars()).find(|c| !c.is_ascii_digit()) {
        let after_digit = whole.starts_with(|c: char| c.is_ascii_digit()) || !places.is_empty();
        return Err(match other {
            'e' | 'E' if after_digit => NumberFault::Exponent,
            '/' => NumberFault::Fraction,
            _ => NumberFault::NotANumber,
        });
    }
    let mut digits: u128 = 0;
    for digit in whole.chars().chain(places.chars()).filter_map(|c| c.to_digit(10)) {
        digits = digits
            .checked_mul(10)
            .and_then(|d| d.checked_add(u128::from(digit)))
            .ok_or(NumberFault::TooLong)?;
    }
    let scale = u32::try_from(places.len()).map_err(|_| NumberFault::TooLong)?;
    Ok(Decimal { digits, scale })
}

/// `num` / `den` rounded to the nearest integer, ties to the even one. None when `den` is 0.
pub(crate) fn div_half_even(num: u128, den: u128) -> Option<u128> {
    let quotient = num.checked_div(den)?;
    let rest = num.checked_rem(den)?;
    // Comparing rest with den − rest avoids doubling, which could overflow.
    match rest.cmp(&den.checked_sub(rest)?) {
        std::cmp::Ordering::Less => Some(quotient),
        std::cmp::Ordering::Equal if quotient % 2 == 0 => Some(quotient),
        std::cmp::Ordering::Equal | std::cmp::Ordering::Greater => quotient.checked_add(1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_plain_numbers() {
        assert_eq!(parse_decimal("24"), Ok(Decimal { digits: 24, scale: 0 }));
        assert_eq!(parse_decimal(" 2.50 "), Ok(Decimal { digits: 250, scale: 2 }));
        assert_eq!(parse_decimal(".045"), Ok(Decimal { digits: 45, scale: 3 }));
        assert_eq!(parse_decimal("0"), Ok(Decimal { digits: 0, scale: 0 }));
    }

    #[test]
    fn refuses_everything_else() {
        for (text, fault) in [
            ("", NumberFault::Missing),
            ("-1", NumberFault::Negative),
            ("\u{2212}1", NumberFault::Negative),
            ("2,5", NumberFault::Comma),
            ("1e3", NumberFault::Exponent),
            ("1.5E3", NumberFault::Exponent),
            ("1/2", NumberFault::Fraction),
            ("5.", NumberFault::NoDigitsAfterPoint),
            (".", NumberFault::NoDigitsAfterPoint),
            ("1.2.3", NumberFault::NotANumber),
            ("+1", NumberFault::NotANumber),
            ("٣", NumberFault::NotANumber),
            ("inf", NumberFault::NotANumber),
            ("340282366920938463463374607431768211456", NumberFault::TooLong),
        ] {
            assert_eq!(parse_decimal(text), Err(fault), "{text}");
        }
    }

    #[test]
    fn rounds_ties_to_even() {
        for (num, den, want) in [(1, 2, 0), (3, 2, 2), (5, 2, 2), (7, 3, 2), (8, 3, 3), (0, 5, 0)] {
            assert_eq!(div_half_even(num, den), Some(want), "{num}/{den}");
        }
        assert_eq!(div_half_even(1, 0), None);
        assert_eq!(div_half_even(u128::MAX, u128::MAX), Some(1));
        // 2^128 − 2 is one below its divisor's double: still rounded without overflow.
        assert_eq!(div_half_even(u128::MAX - 1, u128::MAX), Some(1));
    }
}
