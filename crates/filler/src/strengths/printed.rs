//! Strengths as printed on a certificate.

use crate::decimal::{Decimal, NumberFault, div_half_even, parse_decimal};
use crate::percent::{Percent, PercentError};
use crate::shown::shown;

/// One ksi in MPa, times a million: 6.894757 (NIST SP 811 appendix B, rounded).
const MPA_PER_KSI_E6: u128 = 6_894_757;

/// Unit of a stress. `psi` is read as thousandths of a ksi, `N/mm2` as MPa: the same by definition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrengthUnit {
    /// Thousand pounds per square inch.
    Ksi,
    /// Newton per square millimetre.
    Mpa,
}

impl StrengthUnit {
    /// `ksi`, `MPa`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            StrengthUnit::Ksi => "ksi",
            StrengthUnit::Mpa => "MPa",
        }
    }

    /// The step that a stress in this unit is rounded to.
    fn step(self) -> u128 {
        match self {
            StrengthUnit::Ksi => 1,
            StrengthUnit::Mpa => 10,
        }
    }
}

/// A tensile or yield strength, as printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strength {
    /// As typed.
    pub(super) text: String,
    /// The unit it is compared in.
    pub unit: StrengthUnit,
    value: Decimal,
}

/// Unit of an impact energy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Energy {
    FootPounds,
    Joules,
}

impl Energy {
    pub(super) fn word(self) -> &'static str {
        match self {
            Energy::FootPounds => "ft-lb",
            Energy::Joules => "J",
        }
    }
}

/// Scale of a temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Temperature {
    Celsius,
    Fahrenheit,
}

/// An average impact energy and the temperature of the test, as printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Impact {
    pub(super) text: String,
    value: Decimal,
    pub(super) unit: Energy,
    pub(super) at: Option<(i32, Temperature)>,
}

/// The strengths of a certificate.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Strengths {
    pub(super) tensile: Option<Strength>,
    pub(super) yielding: Option<Strength>,
    pub(super) elongation: Option<(String, Percent)>,
    pub(super) impact: Option<Impact>,
}

/// Why a strength was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StrengthError {
    /// Not a number.
    #[error("\"{text}\" is not a strength: {fault}")]
    Number {
        /// As typed.
        text: String,
        /// Why.
        fault: NumberFault,
    },
    /// Without unit, or with another.
    #[error("\"{0}\" is a strength without a unit that is known; write it as 74 ksi or 510 MPa")]
    StressUnit(String),
    /// Without unit, or with another.
    #[error("\"{0}\" is no impact energy that is understood; write it as 40 J at -30 C or 30 ft-lb at -20 F")]
    Impact(String),
    /// Zero, or more than any metal has.
    #[error("\"{0}\" is not a strength that metal has; is the unit right?")]
    OutOfRange(String),
    /// Not a percentage.
    #[error("elongation: {0}")]
    Elongation(#[from] PercentError),
    /// There twice.
    #[error("{0} is there twice; write the value that the certificate prints, once")]
    Twice(String),
    /// Another name.
    #[error("\"{0}\" is no strength; write tensile, yield, elongation or impact")]
    Name(String),
}

impl Strengths {
    /// Reads strengths by name: `tensile`, `yield`, `elongation`, `impact`.
    ///
    /// # Errors
    /// See [`StrengthError`].
    pub fn from_pairs<'a>(
        pairs: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<Self, StrengthError> {
        let mut all = Strengths::default();
        for (name, text) in pairs {
            let twice = match name {
                "tensile" => all.tensile.replace(Strength::parse(text)?).is_some(),
                "yield" => all.yielding.replace(Strength::parse(text)?).is_some(),
                "elongation" => all.elongation.replace((text.trim().to_owned(), elongation(text)?)).is_some(),
                "impact" => all.impact.replace(Impact::parse(text)?).is_some(),
                _ => return Err(StrengthError::Name(shown(name))),
            };
            if twice {
                return Err(StrengthError::Twice(name.to_owned()));
            }
        }
        Ok(all)
    }

    /// Whether none is given.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self == &Strengths::default()
    }

    /// Whether the yield strength is above the tensile strength, which cannot be.
    #[must_use]
    pub fn swapped(&self) -> bool {
        let (Some(tensile), Some(yielding)) = (&self.tensile, &self.yielding) else { return false };
        let (Some(of_tensile), Some(of_yield)) = (tensile.per_mpa_scaled(), yielding.per_mpa_scaled()) else {
            return false;
        };
        // digits / 10^scale of both, brought to one denominator.
        let raise = |(digits, scale): (u128, u32), other: u32| {
            digits.checked_mul(10_u128.checked_pow(other.saturating_sub(scale.min(other)))?)
        };
        let most = of_tensile.1.max(of_yield.1);
        matches!((raise(of_tensile, most), raise(of_yield, most)), (Some(t), Some(y)) if y > t)
    }
}

impl Strength {
    /// Reads `74 ksi`, `74000 psi`, `510 MPa`, `510 N/mm2`.
    ///
    /// # Errors
    /// When it is not one of these.
    pub fn parse(text: &str) -> Result<Self, StrengthError> {
        let (number, unit) = split(text);
        let (unit, thousandths) = match unit.to_lowercase().as_str() {
            "ksi" => (StrengthUnit::Ksi, false),
            "psi" => (StrengthUnit::Ksi, true),
            "mpa" | "n/mm2" | "n/mm\u{b2}" => (StrengthUnit::Mpa, false),
            _ => return Err(StrengthError::StressUnit(shown(text.trim()))),
        };
        let mut value = decimal(number, text)?;
        if thousandths {
            value.scale = value.scale.saturating_add(3);
        }
        let strength = Strength { text: text.trim().to_owned(), unit, value };
        let most = match unit {
            StrengthUnit::Ksi => 700,
            StrengthUnit::Mpa => 5000,
        };
        if strength.value.digits == 0 || !strength.at_most(most) {
            return Err(StrengthError::OutOfRange(shown(text.trim())));
        }
        Ok(strength)
    }

    pub(super) fn rounded(&self) -> Option<u128> {
        rounded(self.value, self.unit.step())
    }

    pub(super) fn at_least(&self, limit: u32) -> bool {
        scaled(limit, self.value.scale).is_some_and(|limit| self.value.digits >= limit)
    }

    pub(super) fn at_most(&self, limit: u32) -> bool {
        // A limit too large to be written with so many places is above any number that is.
        scaled(limit, self.value.scale).is_none_or(|limit| self.value.digits <= limit)
    }

    /// Digits and scale of the value in MPa.
    fn per_mpa_scaled(&self) -> Option<(u128, u32)> {
        match self.unit {
            StrengthUnit::Mpa => Some((self.value.digits, self.value.scale)),
            StrengthUnit::Ksi => {
                Some((self.value.digits.checked_mul(MPA_PER_KSI_E6)?, self.value.scale.checked_add(6)?))
            }
        }
    }
}

impl Impact {
    /// Reads `40 J at -30 C`, `30 ft-lb at -20 F`; the temperature can be left out.
    ///
    /// # Errors
    /// When it is not one of these.
    pub fn parse(text: &str) -> Result<Self, StrengthError> {
        let wrong = || StrengthError::Impact(shown(text.trim()));
        let lower = text.trim().to_lowercase();
        let (energy, at) = match lower.split_once(" at ") {
            Some((energy, at)) => (energy, Some(at)),
            None => (lower.as_str(), None),
        };
        let (number, unit) = split(energy);
        let unit = match unit {
            "j" => Energy::Joules,
            "ft-lb" | "ft-lbf" | "ft lb" | "ft\u{b7}lbf" | "ftlb" => Energy::FootPounds,
            _ => return Err(wrong()),
        };
        let value = decimal(number, text)?;
        let at = at.map(|at| temperature(at).ok_or_else(wrong)).transpose()?;
        Ok(Impact { text: text.trim().to_owned(), value, unit, at })
    }

    pub(super) fn rounded(&self) -> Option<u128> {
        rounded(self.value, 1)
    }

    pub(super) fn at_least(&self, limit: u32) -> bool {
        scaled(limit, self.value.scale).is_some_and(|limit| self.value.digits >= limit)
    }
}

/// `-30 C`, `-20 F`, `0 °C`.
fn temperature(text: &str) -> Option<(i32, Temperature)> {
    let text = text.trim().replace('\u{2212}', "-");
    let scale = match text.chars().last()? {
        'c' => Temperature::Celsius,
        'f' => Temperature::Fahrenheit,
        _ => return None,
    };
    let number = text.get(..text.len().checked_sub(1)?)?.trim_end().trim_end_matches('\u{b0}').trim_end();
    number.parse().ok().filter(|degrees| (-500..=1000).contains(degrees)).map(|degrees| (degrees, scale))
}

fn elongation(text: &str) -> Result<Percent, PercentError> {
    let text = text.trim();
    Percent::parse(text.strip_suffix('%').unwrap_or(text))
}

/// A number and what follows it.
fn split(text: &str) -> (&str, &str) {
    let text = text.trim();
    let end = text.find(|c: char| c.is_alphabetic()).unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(end).unwrap_or((text, ""));
    (number.trim(), unit.trim())
}

fn decimal(number: &str, text: &str) -> Result<Decimal, StrengthError> {
    parse_decimal(number).map_err(|fault| StrengthError::Number { text: shown(text.trim()), fault })
}

/// Rounded to whole steps, a tie to the even one.
fn rounded(value: Decimal, step: u128) -> Option<u128> {
    let one_step = 10_u128.checked_pow(value.scale)?.checked_mul(step)?;
    div_half_even(value.digits, one_step)?.checked_mul(step)
}

/// A whole number with so many places.
fn scaled(limit: u32, scale: u32) -> Option<u128> {
    u128::from(limit).checked_mul(10_u128.checked_pow(scale)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strengths_as_printed() {
        assert_eq!(Strength::parse("74 ksi").unwrap().rounded(), Some(74));
        assert!(Strength::parse("74,000 psi").unwrap_err().to_string().contains("comma"));
        assert_eq!(Strength::parse("74500psi").unwrap().rounded(), Some(74));
        assert_eq!(Strength::parse("515 MPa").unwrap().rounded(), Some(520));
        assert_eq!(Impact::parse("40 J at -30 \u{b0}C").unwrap().at, Some((-30, Temperature::Celsius)));
        assert_eq!(Impact::parse("30 ft-lb").unwrap().at, None);
        for text in
            ["", "74", "74 kpa", "ksi", "-74 ksi", "0 MPa", "74000 ksi", "9999 MPa", "7e1 ksi", "74 ksi ksi"]
        {
            assert!(Strength::parse(text).is_err(), "{text}");
        }
        for text in ["40", "40 J at", "40 J at cold", "40 J at -30", "-4 J", "40 J at 99999 C"] {
            assert!(Impact::parse(text).is_err(), "{text}");
        }
        for pairs in [
            vec![("tensile", "70 ksi"), ("tensile", "71 ksi")],
            vec![("hardness", "200")],
            vec![("elongation", "101")],
        ] {
            assert!(Strengths::from_pairs(pairs).is_err());
        }
    }

    #[test]
    fn a_yield_above_the_tensile_strength_is_seen_in_any_units() {
        for (tensile, yielding, swapped) in [
            ("70 ksi", "58 ksi", false),
            ("58 ksi", "70 ksi", true),
            ("70.0 ksi", "70 ksi", false),
            ("480 MPa", "70 ksi", true),
            ("483 MPa", "70 ksi", false),
            ("70 ksi", "482.5 MPa", false),
            ("70 ksi", "483 MPa", true),
        ] {
            let strengths = Strengths::from_pairs([("tensile", tensile), ("yield", yielding)]).unwrap();
            assert_eq!(strengths.swapped(), swapped, "{tensile} {yielding}");
        }
    }
}
