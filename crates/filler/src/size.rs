//! Sizes as printed: `3/32 in x 36 in`, `2.4 mm x 1000 mm`, `0.045 in`.
//!
//! Each measure is an exact fraction in its own unit. Inch and metric sizes are different products and never equal,
//! not even `1 in` and `25.4 mm`: AWS A5.02 treats the two systems as not equivalent, to be used independently.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::decimal::{NumberFault, parse_decimal};
use crate::shown::shown;

/// Largest denominator kept, after reducing.
const MAX_DENOMINATOR: u64 = 1_000_000;

/// Longest measure kept, in millimetres: longer is a slip of the pen or the length of wire on a spool.
const MAX_MILLIMETRES: u128 = 10_000;

/// Largest denominator of a power of two that is shown as an inch fraction: the finest mark of a rule, 1/64 in.
const FINEST_INCH_MARK: u64 = 64;

/// The unit of a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum LengthUnit {
    /// Inches; 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST SP 811 appendix B.8).
    #[serde(rename = "in")]
    Inch,
    /// Millimetres.
    #[serde(rename = "mm")]
    Millimetre,
}

impl LengthUnit {
    /// The canonical word: `in` or `mm`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            LengthUnit::Inch => "in",
            LengthUnit::Millimetre => "mm",
        }
    }

    /// Millimetres in one unit, as an exact fraction.
    #[must_use]
    pub fn millimetres(self) -> (u64, u64) {
        match self {
            LengthUnit::Inch => (127, 5),
            LengthUnit::Millimetre => (1, 1),
        }
    }

    /// The unit that a word or mark as typed names.
    fn from_word(word: &str) -> Option<Self> {
        match word.to_lowercase().as_str() {
            "in" | "in." | "inch" | "inches" | "\"" | "\u{2033}" | "\u{201d}" => Some(LengthUnit::Inch),
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => {
                Some(LengthUnit::Millimetre)
            }
            _ => None,
        }
    }
}

impl fmt::Display for LengthUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// One measure: `num` / `den` of `unit`, reduced, above zero, at most 10 m.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Length {
    num: u64,
    den: u64,
    unit: LengthUnit,
}

impl Length {
    /// The measure `num` / `den` `unit`, reduced.
    ///
    /// # Errors
    /// When it is zero, has no value, is longer than 10 m, or needs a denominator above 1 000 000.
    pub fn new(num: u64, den: u64, unit: LengthUnit) -> Result<Self, SizeFault> {
        Self::reduced(num.into(), den.into(), unit)
    }

    fn reduced(num: u128, den: u128, unit: LengthUnit) -> Result<Self, SizeFault> {
        if den == 0 {
            return Err(SizeFault::ZeroDenominator);
        }
        if num == 0 {
            return Err(SizeFault::Zero);
        }
        let divisor = greatest_common_divisor(num, den);
        let num = num.checked_div(divisor).ok_or(SizeFault::ZeroDenominator)?;
        let den = den.checked_div(divisor).ok_or(SizeFault::ZeroDenominator)?;
        let den =
            u64::try_from(den).ok().filter(|den| *den <= MAX_DENOMINATOR).ok_or(SizeFault::TooFine(den))?;
        let (mm_num, mm_den) = unit.millimetres();
        let longest = MAX_MILLIMETRES.checked_mul(mm_den.into()).and_then(|mm| mm.checked_mul(den.into()));
        if num.checked_mul(mm_num.into()).is_none_or(|mm| longest.is_none_or(|longest| mm > longest)) {
            return Err(SizeFault::TooLong);
        }
        let num = u64::try_from(num).map_err(|_| SizeFault::TooLong)?;
        Ok(Length { num, den, unit })
    }

    /// Reads a number with its unit: whole, decimal, fraction (`3/32 in`) or mixed (`1-1/2 in`, `1 1/2 in`).
    fn parse(text: &str) -> Result<Self, SizeFault> {
        let text = text.trim();
        let end = text
            .find(|c: char| c.is_alphabetic() || matches!(c, '"' | '\u{2033}' | '\u{201d}'))
            .unwrap_or(text.len());
        let (number, word) = text.split_at_checked(end).unwrap_or((text, ""));
        let (number, word) = (number.trim(), word.trim());
        if number.is_empty() {
            return Err(NumberFault::Missing.into());
        }
        let (num, den) = parse_fraction(number)?;
        if word.is_empty() {
            return Err(SizeFault::NoUnit(shown(number)));
        }
        let mut behind = word.chars();
        if behind.next().is_some_and(|c| c.eq_ignore_ascii_case(&'e'))
            && behind.next().is_some_and(|c| c.is_ascii_digit() || c == '+' || c == '-')
        {
            return Err(NumberFault::Exponent.into());
        }
        let unit = LengthUnit::from_word(word).ok_or_else(|| SizeFault::UnknownUnit(shown(word)))?;
        Self::reduced(num, den, unit)
    }

    /// Numerator of the reduced fraction.
    #[must_use]
    pub fn num(&self) -> u64 {
        self.num
    }

    /// Denominator of the reduced fraction.
    #[must_use]
    pub fn den(&self) -> u64 {
        self.den
    }

    /// The unit.
    #[must_use]
    pub fn unit(&self) -> LengthUnit {
        self.unit
    }

    /// The measure in millimetres, as an exact fraction (numerator, denominator), not reduced.
    #[must_use]
    pub fn millimetres(&self) -> Option<(u64, u64)> {
        let (num, den) = self.unit.millimetres();
        Some((self.num.checked_mul(num)?, self.den.checked_mul(den)?))
    }

    /// The decimal text, when the fraction ends: its denominator has no prime factor but 2 and 5.
    fn decimal_text(&self) -> Option<String> {
        let den = u128::from(self.den);
        // 2^19 is the largest power of two within MAX_DENOMINATOR, so 19 places always do.
        let (places, power) = (0..=19_u32)
            .filter_map(|places| Some((places, 10_u128.checked_pow(places)?)))
            .find(|(_, power)| power.checked_rem(den) == Some(0))?;
        let digits = u128::from(self.num).checked_mul(power.checked_div(den)?)?;
        let places = usize::try_from(places).ok()?;
        if places == 0 {
            return Some(digits.to_string());
        }
        let text = format!("{digits:0>width$}", width = places.checked_add(1)?);
        let (whole, decimals) = text.split_at_checked(text.len().checked_sub(places)?)?;
        Some(format!("{whole}.{decimals}"))
    }

    /// The fraction, mixed when above one: `3/32`, `1-1/2`.
    fn fraction_text(&self) -> String {
        let whole = self.num.checked_div(self.den).unwrap_or(0);
        let rest = self.num.checked_rem(self.den).unwrap_or(self.num);
        match (whole, rest) {
            (whole, 0) => whole.to_string(),
            (0, rest) => format!("{rest}/{}", self.den),
            (whole, rest) => format!("{whole}-{rest}/{}", self.den),
        }
    }
}

/// Canonical text: inches as a fraction down to 1/64, everything else as a decimal number if it ends, else as a
/// fraction.
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let on_a_rule =
            self.unit == LengthUnit::Inch && self.den.is_power_of_two() && self.den <= FINEST_INCH_MARK;
        let number = if on_a_rule { None } else { self.decimal_text() };
        write!(f, "{} {}", number.unwrap_or_else(|| self.fraction_text()), self.unit)
    }
}

/// Whole, decimal, fraction or mixed number, as (numerator, denominator), not reduced.
pub(crate) fn parse_fraction(text: &str) -> Result<(u128, u128), SizeFault> {
    if text.starts_with(['-', '\u{2212}']) {
        return Err(NumberFault::Negative.into());
    }
    let Some((left, den)) = text.split_once('/') else {
        let decimal = parse_decimal(text)?;
        let den = 10_u128.checked_pow(decimal.scale).ok_or(NumberFault::TooLong)?;
        return Ok((decimal.digits, den));
    };
    let whole_number = |text: &str| -> Result<u128, SizeFault> {
        let decimal = parse_decimal(text)?;
        if decimal.scale == 0 { Ok(decimal.digits) } else { Err(SizeFault::MalformedFraction) }
    };
    let den = whole_number(den)?;
    let left = left.trim();
    let Some((whole, num)) = left.split_once(|c: char| c == '-' || c.is_whitespace()) else {
        return Ok((whole_number(left)?, den));
    };
    let whole = whole_number(whole)?;
    let num = whole_number(num)?;
    if num >= den {
        return Err(SizeFault::MalformedFraction);
    }
    let num = whole.checked_mul(den).and_then(|whole| whole.checked_add(num)).ok_or(NumberFault::TooLong)?;
    Ok((num, den))
}

/// Euclid's algorithm; of 0 and n it is n.
pub(crate) fn greatest_common_divisor(a: u128, b: u128) -> u128 {
    let (mut a, mut b) = (a, b);
    while let Some(rest) = a.checked_rem(b) {
        (a, b) = (b, rest);
    }
    a
}

/// Diameter (of strip: thickness) and, for cut lengths, the length.
///
/// Equal when the exact values and the units are; the text typed is not kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "Fields", into = "Fields")]
pub struct Size {
    diameter: Length,
    length: Option<Length>,
}

impl Size {
    /// A size of its measures.
    #[must_use]
    pub fn new(diameter: Length, length: Option<Length>) -> Self {
        Size { diameter, length }
    }

    /// Reads a diameter and, behind `x` or `×`, a length, each with its own unit.
    ///
    /// # Errors
    /// When the text is not such a size; the message shows the text, why, and what to write.
    pub fn parse(text: &str) -> Result<Self, SizeError> {
        Self::parse_inner(text).map_err(|fault| SizeError { text: shown(text), fault })
    }

    fn parse_inner(text: &str) -> Result<Self, SizeFault> {
        let mut measures = text.split(['x', 'X', '×']);
        let diameter = Length::parse(measures.next().unwrap_or(""))?;
        let length = measures.next().map(Length::parse).transpose()?;
        if measures.next().is_some() {
            return Err(SizeFault::MoreThanTwoMeasures);
        }
        Ok(Size { diameter, length })
    }

    /// The diameter; of strip, the thickness.
    #[must_use]
    pub fn diameter(&self) -> Length {
        self.diameter
    }

    /// The length of one piece; None for spooled wire, flux and the like.
    #[must_use]
    pub fn length(&self) -> Option<Length> {
        self.length
    }

    /// A text that two sizes share exactly when they are equal: `3/32 in`, `3/32 in x 36/1 in`.
    #[must_use]
    pub fn key(&self) -> String {
        let key = |length: &Length| format!("{}/{} {}", length.num, length.den, length.unit);
        match &self.length {
            None => key(&self.diameter),
            Some(length) => format!("{} x {}", key(&self.diameter), key(length)),
        }
    }
}

impl FromStr for Size {
    type Err = SizeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Size::parse(text)
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.length {
            None => f.pad(&self.diameter.to_string()),
            Some(length) => f.pad(&format!("{} x {length}", self.diameter)),
        }
    }
}

/// The recorded form of a size; keys in byte order; `length_*` all null without a length.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    diameter_den: u64,
    diameter_num: u64,
    diameter_unit: LengthUnit,
    length_den: Option<u64>,
    length_num: Option<u64>,
    length_unit: Option<LengthUnit>,
}

impl From<Size> for Fields {
    fn from(size: Size) -> Self {
        Fields {
            diameter_den: size.diameter.den,
            diameter_num: size.diameter.num,
            diameter_unit: size.diameter.unit,
            length_den: size.length.map(|length| length.den),
            length_num: size.length.map(|length| length.num),
            length_unit: size.length.map(|length| length.unit),
        }
    }
}

impl TryFrom<Fields> for Size {
    type Error = SizeError;

    fn try_from(fields: Fields) -> Result<Self, Self::Error> {
        let exact = |num: u64, den: u64, unit: LengthUnit| {
            let error = |fault| SizeError { text: format!("{num}/{den} {unit}"), fault };
            let length = Length::new(num, den, unit).map_err(error)?;
            // One size has one recorded form, so that equal sizes have equal bytes.
            if length.num == num { Ok(length) } else { Err(error(SizeFault::NotReduced)) }
        };
        let diameter = exact(fields.diameter_num, fields.diameter_den, fields.diameter_unit)?;
        let length = match (fields.length_num, fields.length_den, fields.length_unit) {
            (None, None, None) => None,
            (Some(num), Some(den), Some(unit)) => Some(exact(num, den, unit)?),
            (_, _, _) => {
                return Err(SizeError { text: format!("{diameter} x …"), fault: SizeFault::PartOfALength });
            }
        };
        Ok(Size { diameter, length })
    }
}

/// A text that is not a size: the text, why, and what to write.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a size: {fault}")]
pub struct SizeError {
    text: String,
    fault: SizeFault,
}

impl SizeError {
    /// Why the text was refused.
    #[must_use]
    pub fn fault(&self) -> &SizeFault {
        &self.fault
    }
}

/// Why something is not a size, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SizeFault {
    /// A number of the size.
    #[error(transparent)]
    Number(#[from] NumberFault),
    /// A number without a unit. Never guessed: 2.4 and 3/32 are only 0.8 % apart in diameter.
    #[error("{0} has no unit, and inch and metric sizes differ; write in or mm behind each number")]
    NoUnit(String),
    /// A unit that is not known.
    #[error("the unit \"{0}\" is not known; write in or mm")]
    UnknownUnit(String),
    /// A measure of zero.
    #[error("a measure is zero; write one above zero, or leave the length out")]
    Zero,
    /// A fraction over zero.
    #[error("a fraction has 0 below the line; write one such as 3/32 in")]
    ZeroDenominator,
    /// A fraction such as `1-5/4` or `1.5/2`.
    #[error("a fraction is not a whole number over a whole number; write 3/32 in or 1-1/2 in")]
    MalformedFraction,
    /// A denominator above 1 000 000.
    #[error("a measure is {0} parts to the unit, and at most 1000000 are kept; write fewer digits")]
    TooFine(u128),
    /// A measure above 10 m.
    #[error(
        "a measure is longer than 10 m, which no piece of filler metal is; check the number and the unit"
    )]
    TooLong,
    /// More than a diameter and a length.
    #[error("it has more than two measures; write the diameter and the length, such as 3/32 in x 36 in")]
    MoreThanTwoMeasures,
    /// A recorded fraction that is not in lowest terms.
    #[error("the recorded fraction is not in lowest terms; write 3/32, not 6/64")]
    NotReduced,
    /// A recorded length of which only a part is there.
    #[error("part of the recorded length is missing; write all of num, den and unit, or none")]
    PartOfALength,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(text: &str) -> Size {
        Size::parse(text).unwrap_or_else(|error| panic!("{error}"))
    }

    #[test]
    fn reads_and_shows_the_forms_people_type() {
        for (text, shown) in [
            ("3/32 in x 36 in", "3/32 in x 36 in"),
            ("3/32\" × 36\"", "3/32 in x 36 in"),
            ("3/32\"x36\"", "3/32 in x 36 in"),
            ("3/32 IN X 36 IN", "3/32 in x 36 in"),
            ("6/64 in x 36.0 inches", "3/32 in x 36 in"),
            ("0.09375 in", "3/32 in"),
            ("2.4 mm x 1000 mm", "2.4 mm x 1000 mm"),
            ("2.40mm x 1000mm", "2.4 mm x 1000 mm"),
            ("0.045 in", "0.045 in"),
            (".045\u{2033}", "0.045 in"),
            ("1-1/2 in", "1-1/2 in"),
            ("1 1/2 in", "1-1/2 in"),
            ("3/2 in", "1-1/2 in"),
            ("1.5 in", "1-1/2 in"),
            ("1/64 in", "1/64 in"),
            ("1/128 in", "0.0078125 in"),
            ("1/3 in", "1/3 in"),
            ("4/3 mm", "1-1/3 mm"),
            ("2 mm", "2 mm"),
            ("3.2 mm x 14 in", "3.2 mm x 14 in"),
        ] {
            assert_eq!(size(text).to_string(), shown, "{text}");
            assert_eq!(size(shown), size(text), "{text}");
        }
    }

    // AWS A5.02: the two systems of units are not equivalent (from memory).
    #[test]
    fn inch_and_metric_are_never_equal() {
        assert_ne!(size("1 in"), size("25.4 mm"));
        assert_ne!(size("1 in").key(), size("25.4 mm").key());
        assert_ne!(size("3/32 in"), size("3/32 in x 36 in"));
        assert_eq!(size("0.125 in").key(), "1/8 in");
        assert_eq!(size("1/8 in x 36 in").key(), "1/8 in x 36/1 in");
    }

    // 1 in = 25.4 mm exactly: NIST SP 811 (2008), appendix B.8.
    #[test]
    fn an_inch_is_exactly_254_tenths_of_a_millimetre() {
        for (text, num, den) in [("1 in", 254, 10), ("3/32 in", 381, 160), ("36 in", 9144, 10)] {
            let (mm_num, mm_den) = size(text).diameter().millimetres().unwrap();
            assert_eq!(mm_num * den, num * mm_den, "{text}");
        }
    }

    #[test]
    fn refusals_show_the_text_the_reason_and_what_to_write() {
        for (text, part) in [
            ("", "there is no number"),
            ("3/32", "3/32 has no unit"),
            ("3/32 x 36 in", "3/32 has no unit"),
            ("3/32 in x", "there is no number"),
            ("3/32 in x 36", "36 has no unit"),
            ("3/32 ft", "the unit \"ft\" is not known"),
            ("2,4 mm", "with a point"),
            ("0 in", "a measure is zero"),
            ("0/4 in", "a measure is zero"),
            ("3/0 in", "0 below the line"),
            ("-1 in", "below zero"),
            ("-1/8 in", "below zero"),
            ("1-5/4 in", "not a whole number over a whole number"),
            ("1.5/2 in", "not a whole number over a whole number"),
            ("1/2/3 in", "a fraction is not read here"),
            ("0.0000001 in", "10000000 parts to the unit"),
            ("1/1000001 mm", "1000001 parts to the unit"),
            ("10000.1 mm", "longer than 10 m"),
            ("394 in", "longer than 10 m"),
            ("1e3 mm", "write all the digits"),
            ("1 in x 2 in x 3 in", "more than two measures"),
            ("340282366920938463463374607431768211455/7 in", "longer than 10 m"),
            ("340282366920938463463374607431768211456 in", "more digits"),
        ] {
            let message = Size::parse(text).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
            assert!(message.starts_with(&format!("\"{text}\" is not a size: ")), "{message}");
        }
        assert_eq!(size("10000 mm").to_string(), "10000 mm");
    }

    #[test]
    fn recorded_form_is_an_object_of_integers_and_words() {
        let json = serde_json::to_string(&size("3/32 in x 36 in")).unwrap();
        assert_eq!(
            json,
            r#"{"diameter_den":32,"diameter_num":3,"diameter_unit":"in","length_den":1,"length_num":36,"length_unit":"in"}"#
        );
        assert_eq!(serde_json::from_str::<Size>(&json).unwrap(), size("3/32 in x 36 in"));
        let json = serde_json::to_string(&size("1.2 mm")).unwrap();
        assert_eq!(
            json,
            r#"{"diameter_den":5,"diameter_num":6,"diameter_unit":"mm","length_den":null,"length_num":null,"length_unit":null}"#
        );
        assert_eq!(serde_json::from_str::<Size>(&json).unwrap(), size("1.2 mm"));
        for bad in [
            r#"{"diameter_den":64,"diameter_num":6,"diameter_unit":"in","length_den":null,"length_num":null,"length_unit":null}"#,
            r#"{"diameter_den":0,"diameter_num":3,"diameter_unit":"in","length_den":null,"length_num":null,"length_unit":null}"#,
            r#"{"diameter_den":32,"diameter_num":3,"diameter_unit":"in","length_den":1,"length_num":null,"length_unit":"in"}"#,
            r#"{"diameter_den":32,"diameter_num":3,"diameter_unit":"ft","length_den":null,"length_num":null,"length_unit":null}"#,
        ] {
            assert!(serde_json::from_str::<Size>(bad).is_err(), "{bad}");
        }
    }
}
