//! Quantities as entered: `24 rods`, `2.5 kg`, `1 spool`.
//!
//! A quantity is kept as typed (scaled integer and unit) and converted once, exactly, to whole milligrams or whole
//! pieces. Pieces never become a mass here: that takes a piece mass.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::MAX_INTEGER;
use crate::decimal::{NumberFault, div_half_even, parse_decimal};
use crate::shown::shown;

/// Most decimal places kept: 0.000001 kg is one milligram.
const MAX_SCALE: u8 = 6;

/// What a quantity counts or weighs in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Unit {
    /// Cut lengths and covered electrodes, counted.
    #[serde(rename = "rods")]
    Rods,
    /// Other pieces, such as consumable inserts, counted.
    #[serde(rename = "pieces")]
    Pieces,
    /// Spools, counted.
    #[serde(rename = "spools")]
    Spools,
    /// Kilograms.
    #[serde(rename = "kg")]
    Kilograms,
    /// Grams.
    #[serde(rename = "g")]
    Grams,
    /// Avoirdupois pounds: 0.453 592 37 kg exactly (international yard and pound agreement, 1959; NIST SP 811
    /// appendix B.8).
    #[serde(rename = "lb")]
    Pounds,
}

impl Unit {
    /// The canonical word: `rods`, `pieces`, `spools`, `kg`, `g` or `lb`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Unit::Rods => "rods",
            Unit::Pieces => "pieces",
            Unit::Spools => "spools",
            Unit::Kilograms => "kg",
            Unit::Grams => "g",
            Unit::Pounds => "lb",
        }
    }

    /// The canonical word for exactly one.
    fn word_for_one(self) -> &'static str {
        match self {
            Unit::Rods => "rod",
            Unit::Pieces => "piece",
            Unit::Spools => "spool",
            Unit::Kilograms | Unit::Grams | Unit::Pounds => self.word(),
        }
    }

    /// True for kilograms, grams and pounds.
    #[must_use]
    pub fn is_mass(self) -> bool {
        self.hundredth_mg().is_some()
    }

    /// Hundredths of a milligram in one unit of mass; None for counts.
    fn hundredth_mg(self) -> Option<u128> {
        match self {
            Unit::Kilograms => Some(100_000_000),
            Unit::Grams => Some(100_000),
            Unit::Pounds => Some(45_359_237),
            Unit::Rods | Unit::Pieces | Unit::Spools => None,
        }
    }

    /// The unit that a word as typed names.
    fn from_word(word: &str) -> Option<Self> {
        match word.to_ascii_lowercase().as_str() {
            "rod" | "rods" => Some(Unit::Rods),
            "piece" | "pieces" | "pc" | "pcs" => Some(Unit::Pieces),
            "spool" | "spools" => Some(Unit::Spools),
            "kg" | "kilogram" | "kilograms" => Some(Unit::Kilograms),
            "g" | "gram" | "grams" => Some(Unit::Grams),
            "lb" | "lbs" | "pound" | "pounds" => Some(Unit::Pounds),
            _ => None,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// An amount as entered: `value` / 10^`scale` of `unit`.
///
/// `2.50 kg` keeps its scale of 2 and so differs from `2.5 kg`; compare [`Quantity::milligrams`] or
/// [`Quantity::pieces`] to compare amounts. Always: value from 0 to 2^53 − 1, scale at most 6, a whole number of
/// pieces, at most 2^53 − 1 mg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "Fields", into = "Fields")]
pub struct Quantity {
    value: i64,
    scale: u8,
    unit: Unit,
}

/// The recorded form of a quantity; keys in byte order.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    scale: u8,
    unit: Unit,
    value: i64,
}

impl From<Quantity> for Fields {
    fn from(quantity: Quantity) -> Self {
        Fields { scale: quantity.scale, unit: quantity.unit, value: quantity.value }
    }
}

impl TryFrom<Fields> for Quantity {
    type Error = QuantityError;

    fn try_from(fields: Fields) -> Result<Self, Self::Error> {
        Quantity::new(fields.value, fields.scale, fields.unit).map_err(|fault| QuantityError {
            text: format!("value {} scale {} unit {}", fields.value, fields.scale, fields.unit),
            fault,
        })
    }
}

/// A text that is not a quantity: the text, why, and what to write.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a quantity: {fault}")]
pub struct QuantityError {
    text: String,
    fault: QuantityFault,
}

impl QuantityError {
    /// Why the text was refused.
    #[must_use]
    pub fn fault(&self) -> &QuantityFault {
        &self.fault
    }
}

/// Why something is not a quantity, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityFault {
    /// The number in front of the unit.
    #[error(transparent)]
    Number(#[from] NumberFault),
    /// A number alone.
    #[error("it has no unit; write one of rods, pieces, spools, kg, g or lb behind the number")]
    NoUnit,
    /// A unit that is not known.
    #[error("the unit \"{0}\" is not known; write rods, pieces, spools, kg, g or lb")]
    UnknownUnit(String),
    /// Part of a rod, piece or spool.
    #[error("{0} are counted whole; write a whole number, or a mass such as 250 g")]
    PartOfAPiece(Unit),
    /// More than six decimal places.
    #[error("it has {0} decimal places, and at most 6 are kept; write fewer")]
    TooManyPlaces(u32),
    /// More digits, or a larger mass, than can be kept exactly.
    #[error("it is above the largest amount kept, {max} counted in {0}; write a smaller amount", max = MAX_INTEGER)]
    TooLarge(&'static str),
}

impl Quantity {
    /// A quantity of `value` / 10^`scale` `unit`.
    ///
    /// # Errors
    /// When a rule of [`Quantity`] does not hold.
    pub fn new(value: i64, scale: u8, unit: Unit) -> Result<Self, QuantityFault> {
        if value < 0 {
            return Err(NumberFault::Negative.into());
        }
        if scale > MAX_SCALE {
            return Err(QuantityFault::TooManyPlaces(scale.into()));
        }
        if value > MAX_INTEGER {
            return Err(QuantityFault::TooLarge("units of its last digit"));
        }
        let quantity = Quantity { value, scale, unit };
        if unit.is_mass() {
            quantity.milligrams().ok_or(QuantityFault::TooLarge("milligrams"))?;
        } else {
            quantity.pieces().ok_or(QuantityFault::PartOfAPiece(unit))?;
        }
        Ok(quantity)
    }

    /// Reads a number and a unit, with or without a blank between, in any case: `24 rods`, `2.5kg`, `5 LB`.
    ///
    /// # Errors
    /// When the text is not such a quantity; the message shows the text, why, and what to write.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        Self::parse_inner(text).map_err(|fault| QuantityError { text: shown(text), fault })
    }

    fn parse_inner(text: &str) -> Result<Self, QuantityFault> {
        let trimmed = text.trim();
        let end = trimmed.find(|c: char| c.is_alphabetic() || c.is_whitespace()).unwrap_or(trimmed.len());
        let (number, unit) = trimmed.split_at_checked(end).unwrap_or((trimmed, ""));
        let unit = unit.trim();
        let decimal = parse_decimal(number)?;
        if unit.is_empty() {
            return Err(QuantityFault::NoUnit);
        }
        let mut behind = unit.chars();
        if behind.next().is_some_and(|c| c.eq_ignore_ascii_case(&'e'))
            && behind.next().is_some_and(|c| c.is_ascii_digit() || c == '+' || c == '-')
        {
            return Err(NumberFault::Exponent.into());
        }
        let unit = Unit::from_word(unit).ok_or_else(|| QuantityFault::UnknownUnit(shown(unit)))?;
        let scale = u8::try_from(decimal.scale).map_err(|_| QuantityFault::TooManyPlaces(decimal.scale))?;
        let value =
            i64::try_from(decimal.digits).map_err(|_| QuantityFault::TooLarge("units of its last digit"))?;
        Quantity::new(value, scale, unit)
    }

    /// The number without its decimal point.
    #[must_use]
    pub fn value(&self) -> i64 {
        self.value
    }

    /// Decimal places of the number as entered.
    #[must_use]
    pub fn scale(&self) -> u8 {
        self.scale
    }

    /// The unit as entered.
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// True when the unit is one of mass.
    #[must_use]
    pub fn is_mass(&self) -> bool {
        self.unit.is_mass()
    }

    /// True when there is nothing of it.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        self.value == 0
    }

    /// The mass in milligrams, rounded once, half to even. None for counts.
    ///
    /// 1 lb = 453 592.37 mg exactly (see [`Unit::Pounds`]).
    #[must_use]
    pub fn milligrams(&self) -> Option<i64> {
        let hundredths = u128::try_from(self.value).ok()?.checked_mul(self.unit.hundredth_mg()?)?;
        let mg = div_half_even(hundredths, self.power()?.checked_mul(100)?)?;
        i64::try_from(mg).ok().filter(|mg| *mg <= MAX_INTEGER)
    }

    /// The count of rods, pieces or spools. None for masses.
    #[must_use]
    pub fn pieces(&self) -> Option<i64> {
        if self.is_mass() {
            return None;
        }
        let power = i64::try_from(self.power()?).ok()?;
        let pieces = self.value.checked_div(power)?;
        (self.value.checked_rem(power)? == 0).then_some(pieces)
    }

    /// 10^scale.
    fn power(&self) -> Option<u128> {
        10_u128.checked_pow(self.scale.into())
    }
}

impl FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Quantity::parse(text)
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit =
            if self.value == 1 && self.scale == 0 { self.unit.word_for_one() } else { self.unit.word() };
        let places = usize::from(self.scale);
        let digits = format!("{:0>width$}", self.value, width = places.saturating_add(1));
        match digits.split_at_checked(digits.len().saturating_sub(places)) {
            Some((whole, decimals)) if places > 0 => f.pad(&format!("{whole}.{decimals} {unit}")),
            Some(_) | None => f.pad(&format!("{digits} {unit}")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quantity(text: &str) -> Quantity {
        Quantity::parse(text).unwrap()
    }

    fn message(text: &str) -> String {
        Quantity::parse(text).unwrap_err().to_string()
    }

    #[test]
    fn reads_the_forms_people_type() {
        for (text, shown) in [
            ("24 rods", "24 rods"),
            ("1 rod", "1 rod"),
            ("0 rods", "0 rods"),
            ("3 pieces", "3 pieces"),
            ("1 piece", "1 piece"),
            ("3pcs", "3 pieces"),
            ("1 spool", "1 spool"),
            ("2 SPOOLS", "2 spools"),
            ("2.5 kg", "2.5 kg"),
            ("2.50 kg", "2.50 kg"),
            (" 250g ", "250 g"),
            (".5 lb", "0.5 lb"),
            ("0.005 Kg", "0.005 kg"),
            ("5 lb", "5 lb"),
            ("5 lbs", "5 lb"),
            ("24.0 rods", "24.0 rods"),
        ] {
            assert_eq!(quantity(text).to_string(), shown, "{text}");
        }
    }

    #[test]
    fn counts_and_masses_stay_apart() {
        assert_eq!(quantity("24 rods").pieces(), Some(24));
        assert_eq!(quantity("24.0 rods").pieces(), Some(24));
        assert_eq!(quantity("24 rods").milligrams(), None);
        assert_eq!(quantity("2.5 kg").milligrams(), Some(2_500_000));
        assert_eq!(quantity("2.5 kg").pieces(), None);
        assert_eq!(quantity("250 g").milligrams(), Some(250_000));
        assert!(quantity("1 lb").is_mass());
        assert!(!quantity("1 spool").is_mass());
        assert!(quantity("0.00 kg").is_zero());
    }

    // 1 lb = 0.453 592 37 kg exactly: NIST SP 811 (2008), appendix B.8; international agreement of 1959.
    #[test]
    fn pounds_convert_exactly_and_round_once_half_to_even() {
        assert_eq!(quantity("100 lb").milligrams(), Some(45_359_237));
        assert_eq!(quantity("1 lb").milligrams(), Some(453_592)); // .37 down
        assert_eq!(quantity("2 lb").milligrams(), Some(907_185)); // .74 up
        assert_eq!(quantity("50 lb").milligrams(), Some(22_679_618)); // .5, the even neighbour below
        assert_eq!(quantity("150 lb").milligrams(), Some(68_038_856)); // 68 038 855.5, the even neighbour above
        assert_eq!(quantity("0.0005 g").milligrams(), Some(0)); // half a milligram: to 0
        assert_eq!(quantity("0.0015 g").milligrams(), Some(2)); // one and a half: to 2
    }

    #[test]
    fn refusals_show_the_text_the_reason_and_what_to_write() {
        for (text, part) in [
            ("2,5 kg", "write 2.5 with a point"),
            ("1,000 g", "write 2.5 with a point"),
            ("-1 rod", "below zero"),
            ("\u{2212}1 rod", "below zero"),
            ("1e3 g", "write all the digits"),
            ("1E+3 g", "write all the digits"),
            ("2.5 rods", "rods are counted whole"),
            ("0.5 spool", "spools are counted whole"),
            ("24", "it has no unit"),
            ("24 stones", "the unit \"stones\" is not known"),
            ("rods", "there is no number"),
            ("", "there is no number"),
            ("1/2 lb", "such as 0.5"),
            ("5. lb", "digits are missing after the point"),
            ("1.0000000 kg", "7 decimal places"),
            ("9007199254740992 g", "9007199254740991 counted in units of its last digit"),
            ("9007199255 kg", "counted in milligrams"),
            ("340282366920938463463374607431768211456 g", "more digits"),
        ] {
            let message = message(text);
            assert!(message.contains(part), "{text}: {message}");
            assert!(message.starts_with(&format!("\"{text}\" is not a quantity: ")), "{message}");
        }
    }

    #[test]
    fn the_largest_mass_is_kept_to_the_milligram() {
        assert_eq!(quantity("9007199254.740991 kg").milligrams(), Some(MAX_INTEGER));
        assert!(Quantity::parse("9007199254.740992 kg").is_err());
    }

    #[test]
    fn recorded_form_is_an_object_of_integers_and_a_word() {
        let json = serde_json::to_string(&quantity("2.5 kg")).unwrap();
        assert_eq!(json, r#"{"scale":1,"unit":"kg","value":25}"#);
        assert_eq!(serde_json::from_str::<Quantity>(&json).unwrap(), quantity("2.5 kg"));
        for bad in [
            r#"{"scale":1,"unit":"rods","value":25}"#,
            r#"{"scale":7,"unit":"kg","value":25}"#,
            r#"{"scale":0,"unit":"kg","value":-1}"#,
            r#"{"scale":0,"unit":"lbs","value":1}"#,
            r#"{"scale":0,"unit":"kg","value":9007199254740991}"#,
            r#"{"scale":0,"unit":"kg","value":1,"note":1}"#,
            r#"{"scale":0,"unit":"kg","value":1.5}"#,
            r#"{"scale":0,"unit":"kg"}"#,
        ] {
            assert!(serde_json::from_str::<Quantity>(bad).is_err(), "{bad}");
        }
    }
}
