//! What an instrument read on a piece of metal, with its uncertainty.
//!
//! Values and stated uncertainties stay decimal text. The standard uncertainty of a value is
//! u = √((U/k)² + u_cal²): the stated uncertainty U over its coverage factor k (ISO/IEC Guide 98-3, clause 4.3.3), and
//! a calibration floor that is a share of the value, if one is given. Without k nobody can say what U means, so a
//! reading without it is none.

#![allow(clippy::float_arithmetic, reason = "u is an estimate; it is never recorded")]

mod instrument;

pub use instrument::{ReadingMethod, Sight, SurfaceState};

use crate::decimal::{NumberFault, parse_decimal};
use crate::element::{Element, ElementError};
use crate::percent::{Percent, PercentError};
use crate::shown::shown;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What one element read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measured {
    /// The element.
    pub element: Element,
    /// Percent by mass, as printed.
    pub value: Percent,
    /// The uncertainty printed beside it, percent by mass; k standard uncertainties.
    pub uncertainty: Percent,
}

/// An element of which an instrument said only that it is below a limit. That is no measurement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Below {
    /// The element.
    pub element: Element,
    /// The limit, percent by mass.
    pub limit: Percent,
}

/// How many standard uncertainties a stated uncertainty is: above 0, at most 100.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CoverageFactor(Percent);

/// A calibration uncertainty as a share of the value: above 0 %, at most 100 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CalibrationFloor(Percent);

/// A reading of one piece.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Fields", into = "Fields")]
pub struct Reading {
    method: ReadingMethod,
    surface: SurfaceState,
    k: CoverageFactor,
    floor: Option<CalibrationFloor>,
    /// By element, each once.
    measured: Vec<Measured>,
    /// By element, each once, none of them measured.
    below: Vec<Below>,
}

/// A reading as it is recorded.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    method: ReadingMethod,
    surface: SurfaceState,
    k: CoverageFactor,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    floor: Option<CalibrationFloor>,
    measured: Vec<Measured>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    below: Vec<Below>,
}

/// Why something is not a reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadingError {
    /// No coverage factor.
    #[error(
        "a reading without its coverage factor k is refused: k says how many standard uncertainties the number after / is; \
         give it, such as k 2 where the instrument prints two sigma"
    )]
    NoCoverage,
    /// A coverage factor that is no number.
    #[error("\"{text}\" is not a coverage factor: {fault}")]
    Coverage {
        /// As typed.
        text: String,
        /// Why.
        fault: FactorFault,
    },
    /// A calibration floor that is no percentage of the value.
    #[error("\"{text}\" is not a calibration floor: {fault}")]
    Floor {
        /// As typed.
        text: String,
        /// Why.
        fault: FactorFault,
    },
    /// Nothing measured.
    #[error("the reading has no measured element; write it as Cr=18.9/0.15,Ni=9.6/0.15")]
    Empty,
    /// A part that is not ELEMENT=VALUE/UNCERTAINTY.
    #[error(
        "\"{0}\" is not ELEMENT=VALUE/UNCERTAINTY such as Cr=18.9/0.15; parts are separated by commas, so decimals need a point"
    )]
    Part(String),
    /// An unknown symbol.
    #[error(transparent)]
    Element(#[from] ElementError),
    /// An element that is there twice.
    #[error("{0} is in the reading twice; give each element once")]
    Twice(Element),
    /// A value that is no percentage.
    #[error("{element}: {fault}")]
    Value {
        /// The element.
        element: Element,
        /// Why.
        fault: PercentError,
    },
    /// A word where a number belongs.
    #[error("{element}: \"{text}\" is no measured value; leave out what was not measured")]
    Word {
        /// The element.
        element: Element,
        /// As typed.
        text: String,
    },
    /// Parts per million.
    #[error("{element}: \"{text}\" is in parts per million; write percent by mass: 120 ppm is 0.0120")]
    PartsPerMillion {
        /// The element.
        element: Element,
        /// As typed.
        text: String,
    },
    /// No uncertainty.
    #[error("{element} has no uncertainty; write it after the value, as in {element}={value}/0.05")]
    NoUncertainty {
        /// The element.
        element: Element,
        /// Its value.
        value: Percent,
    },
    /// An uncertainty of zero.
    #[error("{0}: an uncertainty of zero is no measurement; write the one the instrument prints")]
    ZeroUncertainty(Element),
    /// A bound with an uncertainty.
    #[error(
        "{0}: a bound such as <0.05 has no uncertainty; write it without one, and it counts as not measured"
    )]
    BoundWithUncertainty(Element),
    /// More than everything.
    #[error(
        "the elements add up to {sum}, more than 100 even with all their uncertainties; look for a slipped point"
    )]
    AboveAll {
        /// Their sum, percent.
        sum: Percent,
    },
    /// As recorded, but not as it would be recorded again.
    #[error("the elements are not in their order, or one is there twice")]
    Order,
}

/// Why something is not a factor.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FactorFault {
    /// No plain number.
    #[error(transparent)]
    Number(#[from] NumberFault),
    /// Zero.
    #[error("it must be above zero")]
    Zero,
    /// Too much.
    #[error("it is above 100")]
    TooLarge,
    /// No percent sign.
    #[error("write it as a percentage of the value, such as \"1 %\"")]
    NoSign,
}

/// A number above 0, at most 100, with its places.
fn factor(text: &str) -> Result<Percent, FactorFault> {
    let decimal = parse_decimal(text)?;
    if decimal.digits == 0 {
        return Err(FactorFault::Zero);
    }
    Percent::parse(text).map_err(|_| FactorFault::TooLarge)
}

impl CoverageFactor {
    /// Reads a number above 0 and at most 100.
    ///
    /// # Errors
    /// When it is not one.
    pub fn parse(text: &str) -> Result<Self, ReadingError> {
        factor(text).map(Self).map_err(|fault| ReadingError::Coverage { text: shown(text), fault })
    }
}

impl CalibrationFloor {
    /// Reads a percentage of the value, such as `1 %`.
    ///
    /// # Errors
    /// When it is not one above 0 and at most 100.
    pub fn parse(text: &str) -> Result<Self, ReadingError> {
        let wrong = |fault| ReadingError::Floor { text: shown(text), fault };
        let number = text.trim().strip_suffix('%').ok_or_else(|| wrong(FactorFault::NoSign))?;
        factor(number).map(Self).map_err(wrong)
    }
}

impl fmt::Display for CoverageFactor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for CalibrationFloor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0)
    }
}

/// Recorded as shown, read back only as it would be shown again.
macro_rules! recorded_as_shown {
    ($name:ident, $what:literal) => {
        impl Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = String::deserialize(deserializer)?;
                Self::parse(&text)
                    .ok()
                    .filter(|read| read.to_string() == text)
                    .ok_or_else(|| serde::de::Error::custom($what))
            }
        }
    };
}

recorded_as_shown!(CoverageFactor, "not a coverage factor");
recorded_as_shown!(CalibrationFloor, "not a calibration floor");

/// What one part of a typed reading says.
enum Part {
    Measured(Measured),
    Below(Below),
}

/// Words that certificates and instruments print where there is no number.
const WORDS: [&str; 12] =
    ["", "-", "--", "tr", "tr.", "trace", "nd", "n.d.", "bal", "bal.", "balance", "rem"];

fn part(text: &str) -> Result<Part, ReadingError> {
    let (symbol, rest) = text.split_once('=').ok_or_else(|| ReadingError::Part(shown(text)))?;
    let element = Element::parse(symbol)?;
    let (value, uncertainty) = match rest.split_once('/') {
        Some((value, uncertainty)) => (value.trim(), Some(uncertainty.trim())),
        None => (rest.trim(), None),
    };
    let percent = |text: &str| {
        let lower = text.to_ascii_lowercase();
        if WORDS.contains(&lower.as_str()) {
            return Err(ReadingError::Word { element, text: shown(text) });
        }
        if lower.ends_with("ppm") {
            return Err(ReadingError::PartsPerMillion { element, text: shown(text) });
        }
        Percent::parse(text).map_err(|fault| ReadingError::Value { element, fault })
    };
    if let Some(limit) = value.strip_prefix('<') {
        return match uncertainty {
            None => Ok(Part::Below(Below { element, limit: percent(limit.trim())? })),
            Some(_) => Err(ReadingError::BoundWithUncertainty(element)),
        };
    }
    let value = percent(value)?;
    let uncertainty = match uncertainty {
        None | Some("") => return Err(ReadingError::NoUncertainty { element, value }),
        Some(uncertainty) => percent(uncertainty)?,
    };
    Ok(Part::Measured(Measured { element, value, uncertainty }))
}

impl Reading {
    /// Reads `Cr=18.9/0.15,Ni=9.6/0.15`: percent by mass, and after the / its uncertainty, which is `k` standard
    /// uncertainties. `Cu=<0.05` says that copper was below that; it counts as not measured.
    ///
    /// # Errors
    /// When a part is not understood, an element is there twice, an uncertainty is missing or zero, or `k` is.
    pub fn parse(
        text: &str,
        k: Option<&str>,
        floor: Option<&str>,
        method: ReadingMethod,
        surface: SurfaceState,
    ) -> Result<Self, ReadingError> {
        let k = CoverageFactor::parse(k.ok_or(ReadingError::NoCoverage)?)?;
        let floor = floor.map(CalibrationFloor::parse).transpose()?;
        if text.trim().is_empty() {
            return Err(ReadingError::Empty);
        }
        // A decimal comma would read as a value without uncertainty, and a part that is none.
        if let Some(no_part) = text.split(',').map(str::trim).find(|part| !part.contains('=')) {
            return Err(ReadingError::Part(shown(no_part)));
        }
        let (mut measured, mut below) = (Vec::new(), Vec::new());
        for typed in text.split(',') {
            match part(typed.trim())? {
                Part::Measured(one) => measured.push(one),
                Part::Below(one) => below.push(one),
            }
        }
        measured.sort_by_key(|m: &Measured| m.element);
        below.sort_by_key(|b: &Below| b.element);
        Self::checked(method, surface, k, floor, measured, below)
    }

    /// A reading of values already read.
    ///
    /// # Errors
    /// As [`Reading::parse`].
    pub fn new(
        method: ReadingMethod,
        surface: SurfaceState,
        k: CoverageFactor,
        floor: Option<CalibrationFloor>,
        mut measured: Vec<Measured>,
    ) -> Result<Self, ReadingError> {
        measured.sort_by_key(|m| m.element);
        Self::checked(method, surface, k, floor, measured, Vec::new())
    }

    /// Of elements in their order.
    fn checked(
        method: ReadingMethod,
        surface: SurfaceState,
        k: CoverageFactor,
        floor: Option<CalibrationFloor>,
        measured: Vec<Measured>,
        below: Vec<Below>,
    ) -> Result<Self, ReadingError> {
        let mut all: Vec<Element> =
            measured.iter().map(|m| m.element).chain(below.iter().map(|b| b.element)).collect();
        all.sort_unstable();
        if let Some(twice) = all.iter().zip(all.iter().skip(1)).find(|(one, next)| one == next) {
            return Err(ReadingError::Twice(*twice.0));
        }
        if measured.is_empty() {
            return Err(ReadingError::Empty);
        }
        let (mut sum, mut room) = (Percent::ZERO, Percent::HUNDRED);
        for one in &measured {
            if one.uncertainty == Percent::ZERO {
                return Err(ReadingError::ZeroUncertainty(one.element));
            }
            sum = sum.plus(one.value);
            room = room.plus(one.uncertainty);
        }
        if sum > room {
            return Err(ReadingError::AboveAll { sum });
        }
        Ok(Reading { method, surface, k, floor, measured, below })
    }

    /// How it was read.
    #[must_use]
    pub fn method(&self) -> ReadingMethod {
        self.method
    }

    /// In which state the surface was.
    #[must_use]
    pub fn surface(&self) -> SurfaceState {
        self.surface
    }

    /// How many standard uncertainties the stated ones are.
    #[must_use]
    pub fn k(&self) -> CoverageFactor {
        self.k
    }

    /// The calibration floor, if one was given.
    #[must_use]
    pub fn floor(&self) -> Option<CalibrationFloor> {
        self.floor
    }

    /// What was measured, by element, each once; never empty.
    #[must_use]
    pub fn measured(&self) -> &[Measured] {
        &self.measured
    }

    /// Of which only a bound was read, by element.
    #[must_use]
    pub fn below(&self) -> &[Below] {
        &self.below
    }

    /// The standard uncertainty of one of its values, percent by mass.
    #[must_use]
    pub fn standard_uncertainty(&self, of: &Measured) -> f64 {
        let stated = of.uncertainty.to_f64() / self.k.0.to_f64();
        let calibration = self.floor.map_or(0.0, |floor| floor.0.to_f64() / 100.0 * of.value.to_f64());
        libm::hypot(stated, calibration)
    }
}

impl From<Reading> for Fields {
    fn from(reading: Reading) -> Self {
        let Reading { method, surface, k, floor, measured, below } = reading;
        Fields { method, surface, k, floor, measured, below }
    }
}

impl TryFrom<Fields> for Reading {
    type Error = ReadingError;

    fn try_from(fields: Fields) -> Result<Self, ReadingError> {
        let Fields { method, surface, k, floor, measured, below } = fields;
        let in_order = measured.is_sorted_by(|one, next| one.element < next.element)
            && below.is_sorted_by(|one, next| one.element < next.element);
        if !in_order {
            return Err(ReadingError::Order);
        }
        Self::checked(method, surface, k, floor, measured, below)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Reading, ReadingError> {
        Reading::parse(text, Some("2"), None, ReadingMethod::Xrf, SurfaceState::AsReceived)
    }

    fn refused(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    #[test]
    fn what_was_typed_is_kept() {
        let reading = read("Ni=9.60/0.30, cr=18.9/0.15,Cu=<0.05").unwrap();
        let shown: Vec<String> = reading
            .measured()
            .iter()
            .map(|m| format!("{}={}/{}", m.element, m.value, m.uncertainty))
            .collect();
        assert_eq!(shown, ["Cr=18.9/0.15", "Ni=9.60/0.30"]);
        assert_eq!(reading.below()[0].limit.to_string(), "0.05");
        assert_eq!(read("Cr=18.9/0.15,Cu=<0.05,Ni=9.60/0.30").unwrap(), reading, "order means nothing");
        let json = serde_json::to_string(&reading).unwrap();
        assert_eq!(
            json,
            r#"{"method":"xrf","surface":"as-received","k":"2","measured":[{"element":"Cr","value":"18.9","uncertainty":"0.15"},{"element":"Ni","value":"9.60","uncertainty":"0.30"}],"below":[{"element":"Cu","limit":"0.05"}]}"#
        );
        assert_eq!(serde_json::from_str::<Reading>(&json).unwrap(), reading);
        for wrong in [
            json.replace("\"k\":\"2\"", "\"k\":\"0\""),
            json.replace("\"k\":\"2\"", "\"k\":\" 2\""),
            json.replace("\"k\":\"2\",", ""),
            json.replace("\"Ni\"", "\"Cr\""),
            json.replace("\"Ni\"", "\"C\""),
            json.replace("0.15", "0"),
            json.replace("18.9", "118.9"),
        ] {
            assert!(serde_json::from_str::<Reading>(&wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn uncertainty_over_k_and_the_floor() {
        let with = |k: &str, floor: Option<&str>| {
            let reading =
                Reading::parse("Cr=14.5/0.4", Some(k), floor, ReadingMethod::Xrf, SurfaceState::Abraded)
                    .unwrap();
            reading.standard_uncertainty(&reading.measured()[0])
        };
        // A stated 14.5 +- 0.4 that is two sigma is u = 0.2 (arithmetic case LM-08); u with a floor by hand.
        assert_eq!(with("2", None), 0.2);
        assert_eq!(with("1", None), 0.4);
        assert!((with("2", Some("1 %")) - (0.04_f64 + 0.145 * 0.145).sqrt()).abs() < 1e-15);
        assert_eq!(with("2", Some("0.5%")), with("2", Some("0.5 %")));
    }

    #[test]
    fn bad_input_is_refused_with_its_reason() {
        for (text, part_of_message) in [
            ("", "no measured element"),
            ("Cu=<0.05", "no measured element"),
            ("Cr=101/0.1", "above 100"),
            ("Cr=-1/0.1", "below zero"),
            ("Cr=0,05/0.01", "decimals need a point"),
            ("Cr=18.9/0.15,Ni", "\"Ni\" is not ELEMENT=VALUE/UNCERTAINTY"),
            ("Cr=1/0,05", "decimals need a point"),
            ("Cr=1/0.1,", "not ELEMENT=VALUE/UNCERTAINTY"),
            ("Cr=tr/0.1", "no measured value"),
            ("Cr=-/0.1", "no measured value"),
            ("Cr=bal./0.1", "no measured value"),
            ("Cr=/0.1", "no measured value"),
            ("N=120ppm/10ppm", "parts per million"),
            ("N=120 PPM", "parts per million"),
            ("Xx=1/0.1", "not the symbol of an element"),
            ("=1/0.1", "not the symbol of an element"),
            ("Cr=1/0.1,Cr=2/0.1", "Cr is in the reading twice"),
            ("Cb=1/0.1,Nb=2/0.1", "Nb is in the reading twice"),
            ("Cr=1/0.1,Cr=<0.1", "Cr is in the reading twice"),
            ("Cr=18.9", "Cr=18.9/0.05"),
            ("Cr=18.9/", "no uncertainty"),
            ("Cr=18.9/0.00", "uncertainty of zero"),
            ("Cr=18.9/-0.1", "below zero"),
            ("Cr=1e1/0.1", "powers of ten"),
            ("Cr=<0.05/0.01", "counts as not measured"),
            ("Cr=60/0.1,Ni=60/0.1", "add up to 120"),
            ("Cr 18.9 0.15", "not ELEMENT=VALUE/UNCERTAINTY"),
        ] {
            let message = refused(text);
            assert!(message.contains(part_of_message), "{text}: {message}");
        }
        // Normalised readings may pass 100 by what their uncertainties explain.
        assert!(read("Fe=70.2/0.3,Cr=20/0.2").is_ok());
        assert!(read("Fe=80.2/0.3,Cr=20/0.2").is_ok());
        assert!(read("Fe=80.6/0.3,Cr=20/0.2").is_err());
    }

    #[test]
    fn without_k_there_is_no_reading() {
        let with = |k: Option<&str>| {
            Reading::parse("Cr=18.9/0.15", k, None, ReadingMethod::Xrf, SurfaceState::AsReceived)
        };
        assert_eq!(with(None), Err(ReadingError::NoCoverage));
        for k in ["0", "0.0", "-2", "", "two", "101", "2,0", "inf", "NaN"] {
            assert!(matches!(with(Some(k)), Err(ReadingError::Coverage { .. })), "{k}");
        }
        for floor in ["1", "0 %", "-1 %", "101 %", "%", "x %"] {
            assert!(
                matches!(
                    Reading::parse(
                        "Cr=18.9/0.15",
                        Some("2"),
                        Some(floor),
                        ReadingMethod::Xrf,
                        SurfaceState::AsReceived
                    ),
                    Err(ReadingError::Floor { .. })
                ),
                "{floor}"
            );
        }
    }
}
