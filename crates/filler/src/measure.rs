//! A number with its unit, as typed: `3.5 in/min`, `90 mm/min`, `55200 J`, `1/4 in`.
//!
//! The number is exact; units are converted by their definitions: 1 in = 25.4 mm and 1 lb = 0.453 592 37 kg exactly
//! (international yard and pound agreement, 1959; NIST SP 811 appendix B.8).

use crate::decimal::NumberFault;
use crate::exact::Exact;
use crate::shown::shown;
use crate::size::{SizeFault, parse_fraction};
use std::fmt;

/// What a measure is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Volts; the unit may be left out.
    Voltage,
    /// Amperes; the unit may be left out.
    Current,
    /// Millimetres.
    Length,
    /// Millimetres per minute.
    Speed,
    /// Seconds.
    Time,
    /// Joules.
    Energy,
    /// Watts, joules per second.
    Power,
    /// Joules per millimetre.
    EnergyPerLength,
    /// Grams.
    Mass,
    /// Square millimetres.
    Area,
    /// Cubic millimetres.
    Volume,
    /// Grams per cubic centimetre; the unit may be left out.
    Density,
}

/// A unit: its word, how many base units it is, other spellings.
struct Unit {
    word: &'static str,
    base: (i64, i64),
    also: &'static [&'static str],
}

const fn unit(word: &'static str, num: i64, den: i64, also: &'static [&'static str]) -> Unit {
    Unit { word, base: (num, den), also }
}

static VOLTAGE: [Unit; 1] = [unit("V", 1, 1, &["volt", "volts"])];
static CURRENT: [Unit; 1] = [unit("A", 1, 1, &["amp", "amps", "ampere", "amperes"])];
static LENGTH: [Unit; 5] = [
    unit("mm", 1, 1, &["millimetre", "millimetres", "millimeter", "millimeters"]),
    unit("cm", 10, 1, &["centimetre", "centimetres", "centimeter", "centimeters"]),
    unit("m", 1000, 1, &["metre", "metres", "meter", "meters"]),
    unit("in", 127, 5, &["in.", "inch", "inches", "\"", "\u{2033}", "\u{201d}"]),
    unit("ft", 1524, 5, &["foot", "feet"]),
];
static SPEED: [Unit; 8] = [
    unit("mm/min", 1, 1, &[]),
    unit("cm/min", 10, 1, &[]),
    unit("m/min", 1000, 1, &[]),
    unit("m/h", 50, 3, &[]),
    unit("mm/s", 60, 1, &["mm/sec"]),
    unit("cm/s", 600, 1, &["cm/sec"]),
    unit("in/min", 127, 5, &["ipm", "in./min", "in/min.", "inch/min", "inches/min"]),
    unit("in/s", 1524, 1, &["in/sec", "ips"]),
];
static TIME: [Unit; 3] = [
    unit("s", 1, 1, &["sec", "second", "seconds"]),
    unit("min", 60, 1, &["minute", "minutes"]),
    unit("h", 3600, 1, &["hour", "hours"]),
];
static ENERGY: [Unit; 2] =
    [unit("J", 1, 1, &["joule", "joules"]), unit("kJ", 1000, 1, &["kilojoule", "kilojoules"])];
static POWER: [Unit; 2] = [unit("W", 1, 1, &["J/s", "watt", "watts"]), unit("kW", 1000, 1, &["kJ/s"])];
static ENERGY_PER_LENGTH: [Unit; 5] = [
    unit("J/mm", 1, 1, &[]),
    unit("kJ/mm", 1000, 1, &[]),
    unit("kJ/cm", 100, 1, &[]),
    unit("J/in", 5, 127, &[]),
    unit("kJ/in", 5000, 127, &[]),
];
static MASS: [Unit; 4] = [
    unit("g", 1, 1, &["gram", "grams"]),
    unit("kg", 1000, 1, &["kilogram", "kilograms"]),
    unit("lb", 45_359_237, 100_000, &["lbs", "pound", "pounds"]),
    unit("mg", 1, 1000, &[]),
];
static AREA: [Unit; 3] =
    [unit("mm2", 1, 1, &["mm²"]), unit("cm2", 100, 1, &["cm²"]), unit("in2", 16_129, 25, &["in²"])];
static VOLUME: [Unit; 3] =
    [unit("mm3", 1, 1, &["mm³"]), unit("cm3", 1000, 1, &["cm³"]), unit("in3", 2_048_383, 125, &["in³"])];
static DENSITY: [Unit; 3] = [
    unit("g/cm3", 1, 1, &["g/cm³", "kg/dm3"]),
    unit("kg/m3", 1, 1000, &["kg/m³"]),
    // 453.59237 g / 16.387064 cm3
    unit("lb/in3", 56_699_046_250, 2_048_383_000, &["lb/in³"]),
];

impl Dimension {
    fn units(self) -> &'static [Unit] {
        match self {
            Dimension::Voltage => &VOLTAGE,
            Dimension::Current => &CURRENT,
            Dimension::Length => &LENGTH,
            Dimension::Speed => &SPEED,
            Dimension::Time => &TIME,
            Dimension::Energy => &ENERGY,
            Dimension::Power => &POWER,
            Dimension::EnergyPerLength => &ENERGY_PER_LENGTH,
            Dimension::Mass => &MASS,
            Dimension::Area => &AREA,
            Dimension::Volume => &VOLUME,
            Dimension::Density => &DENSITY,
        }
    }

    /// What it is called in messages.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Dimension::Voltage => "a voltage",
            Dimension::Current => "a current",
            Dimension::Length => "a length",
            Dimension::Speed => "a travel speed",
            Dimension::Time => "a time",
            Dimension::Energy => "an energy",
            Dimension::Power => "a power",
            Dimension::EnergyPerLength => "an energy per length",
            Dimension::Mass => "a mass",
            Dimension::Area => "an area",
            Dimension::Volume => "a volume",
            Dimension::Density => "a density",
        }
    }

    fn example(self) -> &'static str {
        match self {
            Dimension::Voltage => "12 V",
            Dimension::Current => "227 A",
            Dimension::Length => "10 mm or 3/8 in",
            Dimension::Speed => "90 mm/min or 3.5 in/min",
            Dimension::Time => "60 s or 1.5 min",
            Dimension::Energy => "55200 J",
            Dimension::Power => "2300 W",
            Dimension::EnergyPerLength => "1.5 kJ/mm or 38 kJ/in",
            Dimension::Mass => "120 g or 0.25 lb",
            Dimension::Area => "77.7 mm2",
            Dimension::Volume => "17.25 cm3",
            Dimension::Density => "7.85 g/cm3 or 0.283 lb/in3",
        }
    }

    /// The unit that a bare number has: only where no other is in use on the floor.
    fn unit_left_out(self) -> Option<&'static Unit> {
        match self {
            Dimension::Voltage | Dimension::Current | Dimension::Density => self.units().first(),
            Dimension::Length
            | Dimension::Speed
            | Dimension::Time
            | Dimension::Energy
            | Dimension::Power
            | Dimension::EnergyPerLength
            | Dimension::Mass
            | Dimension::Area
            | Dimension::Volume => None,
        }
    }
}

/// A number of zero or more with a unit, exact; its text is the number as typed with the unit's usual word.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Measure {
    number: String,
    unit: &'static str,
    dimension: Dimension,
    base: Exact,
}

/// A text that is not such a measure: the text, why, and what to write.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not {what}: {fault}")]
pub struct MeasureError {
    text: String,
    what: &'static str,
    fault: MeasureFault,
}

/// Why something is not a measure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum MeasureFault {
    #[error(transparent)]
    Number(#[from] NumberFault),
    #[error("{0}")]
    Fraction(SizeFault),
    #[error("it has no unit; write {0}")]
    NoUnit(&'static str),
    #[error("the unit \"{unit}\" is not one of {known}; write {example}")]
    UnknownUnit { unit: String, known: String, example: &'static str },
    #[error("it is zero; write one above zero, such as {0}")]
    Zero(&'static str),
}

impl Measure {
    /// Reads a number with its unit: whole, decimal, fraction (`3/8 in`) or mixed (`1-1/2 in`).
    ///
    /// # Errors
    /// When it is not one of this dimension; zero is.
    pub fn parse(text: &str, dimension: Dimension) -> Result<Self, MeasureError> {
        let error = |fault| MeasureError { text: shown(text.trim()), what: dimension.name(), fault };
        Self::parse_inner(text.trim(), dimension).map_err(error)
    }

    /// As [`Measure::parse`], and not zero.
    ///
    /// # Errors
    /// When it is not one of this dimension, or is zero.
    pub fn above_zero(text: &str, dimension: Dimension) -> Result<Self, MeasureError> {
        let measure = Self::parse(text, dimension)?;
        if measure.base.is_zero() {
            let fault = MeasureFault::Zero(dimension.example());
            return Err(MeasureError { text: shown(text.trim()), what: dimension.name(), fault });
        }
        Ok(measure)
    }

    fn parse_inner(text: &str, dimension: Dimension) -> Result<Self, MeasureFault> {
        let end = text
            .find(|c: char| c.is_alphabetic() || matches!(c, '"' | '\u{2033}' | '\u{201d}'))
            .unwrap_or(text.len());
        let (number, word) = text.split_at_checked(end).unwrap_or((text, ""));
        let number = number.trim();
        if number.is_empty() {
            return Err(NumberFault::Missing.into());
        }
        let (num, den) = parse_fraction(number).map_err(|fault| {
            if let SizeFault::Number(number) = fault {
                MeasureFault::Number(number)
            } else {
                MeasureFault::Fraction(fault)
            }
        })?;
        let value = Exact::typed(num, den).ok_or(if den == 0 {
            MeasureFault::Fraction(SizeFault::ZeroDenominator)
        } else {
            MeasureFault::Number(NumberFault::TooLong)
        })?;
        let unit = find_unit(word, dimension)?;
        let (num, den) = unit.base;
        let base =
            Exact::fraction(num, den).and_then(|unit| value.times(unit)).ok_or(NumberFault::TooLong)?;
        Ok(Measure { number: canonical(number), unit: unit.word, dimension, base })
    }

    /// The exact value in the dimension's base unit, which [`Dimension`] names.
    #[must_use]
    pub fn base(&self) -> Exact {
        self.base
    }

    /// What it is a measure of.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }
}

fn find_unit(word: &str, dimension: Dimension) -> Result<&'static Unit, MeasureFault> {
    let word: String = word.chars().filter(|c| !c.is_whitespace()).collect();
    if word.is_empty() {
        return dimension.unit_left_out().ok_or(MeasureFault::NoUnit(dimension.example()));
    }
    let mut behind = word.chars();
    if behind.next().is_some_and(|c| c.eq_ignore_ascii_case(&'e'))
        && behind.next().is_some_and(|c| c.is_ascii_digit() || c == '+' || c == '-')
    {
        return Err(NumberFault::Exponent.into());
    }
    let units = dimension.units();
    units
        .iter()
        .find(|unit| std::iter::once(&unit.word).chain(unit.also).any(|w| w.eq_ignore_ascii_case(&word)))
        .ok_or_else(|| MeasureFault::UnknownUnit {
            unit: shown(&word),
            known: units.iter().map(|unit| unit.word).collect::<Vec<_>>().join(", "),
            example: dimension.example(),
        })
}

/// The number as typed, without zeros before it and with one before a point: one spelling for `07.50` and `7.50`.
fn canonical(number: &str) -> String {
    let number = number.split_whitespace().collect::<Vec<_>>().join(" ");
    let number = number.trim_start_matches('0');
    if number.starts_with(|c: char| c.is_ascii_digit()) { number.to_owned() } else { format!("0{number}") }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.number, self.unit)
    }
}

impl fmt::Debug for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_converted_exactly() {
        for (text, dimension, base) in [
            ("3.5 in/min", Dimension::Speed, "88.9"),
            ("3.5ipm", Dimension::Speed, "88.9"),
            ("30 cm/min", Dimension::Speed, "300"),
            ("2 mm/s", Dimension::Speed, "120"),
            ("6 m/h", Dimension::Speed, "100"),
            ("1/4 in", Dimension::Length, "6.35"),
            ("1-1/2\"", Dimension::Length, "38.1"),
            ("2 ft", Dimension::Length, "609.6"),
            ("1.55 min", Dimension::Time, "93"),
            ("55.2 kJ", Dimension::Energy, "55200"),
            ("25.4 kJ/in", Dimension::EnergyPerLength, "1000"),
            ("2 lb", Dimension::Mass, "907.18474"),
            ("1 in2", Dimension::Area, "645.16"),
            ("1 in3", Dimension::Volume, "16387.064"),
            ("12", Dimension::Voltage, "12"),
            ("227 A", Dimension::Current, "227"),
            ("7850 kg/m3", Dimension::Density, "7.85"),
        ] {
            let measure = Measure::parse(text, dimension).unwrap();
            assert_eq!(measure.base(), Exact::parse(base).unwrap(), "{text}");
            // What it says of itself reads back as itself.
            assert_eq!(Measure::parse(&measure.to_string(), dimension), Ok(measure));
        }
        let density = Measure::parse("0.283 lb/in3", Dimension::Density).unwrap();
        // NIST SP 811: 1 lb/in3 = 27.679 90 g/cm3.
        assert_eq!(density.base().decimal(5).as_deref(), Some("7.83341"));
    }

    #[test]
    fn one_spelling_of_one_number() {
        for (text, want) in
            [(" .5  mm ", "0.5 mm"), ("007 mm", "7 mm"), ("0.50mm", "0.50 mm"), ("3/32 in", "3/32 in")]
        {
            assert_eq!(Measure::parse(text, Dimension::Length).unwrap().to_string(), want);
        }
        assert_eq!(Measure::parse("0 mm", Dimension::Length).unwrap().to_string(), "0 mm");
    }

    #[test]
    fn what_is_no_measure_says_why() {
        for (text, dimension, says) in [
            ("3.5", Dimension::Speed, "has no unit"),
            ("3,5 in/min", Dimension::Speed, "comma"),
            ("-1 mm", Dimension::Length, "below zero"),
            ("1e3 mm", Dimension::Length, "powers of ten"),
            ("10 in/min", Dimension::Length, "\"in/min\" is not one of mm, cm, m, in, ft"),
            ("", Dimension::Length, "no number"),
            ("mm", Dimension::Length, "no number"),
            ("1/0 in", Dimension::Length, "0 below the line"),
            ("99999999999999999999 mm", Dimension::Length, "more digits"),
        ] {
            let error = Measure::parse(text, dimension).unwrap_err().to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
        let zero = Measure::above_zero("0 in/min", Dimension::Speed).unwrap_err().to_string();
        assert_eq!(
            zero,
            "\"0 in/min\" is not a travel speed: it is zero; write one above zero, such as 90 mm/min or 3.5 in/min"
        );
    }
}
