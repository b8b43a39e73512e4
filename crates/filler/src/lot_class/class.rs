//! Lot classes of AWS A5.01 and ISO 14344.

use super::{Outcome, letters};
use std::fmt;

/// The products of a lot class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Kind {
    /// Covered electrodes.
    C,
    /// Bare solid wire, rod, strip, inserts.
    S,
    /// Tubular cored.
    T,
    /// Flux.
    F,
}

/// A lot class: C1 to C5, S1 to S5, T1 to T4, F1, F2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct LotClass {
    kind: Kind,
    number: u8,
}

impl fmt::Display for LotClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = match self.kind {
            Kind::C => 'C',
            Kind::S => 'S',
            Kind::T => 'T',
            Kind::F => 'F',
        };
        write!(f, "{letter}{}", self.number)
    }
}

impl LotClass {
    /// Reads a class as printed: `C3`, `class C3`, `Lot Class S1`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let letters = letters(text);
        let mut rest = letters.as_str();
        for word in ["LOT", "CLASS"] {
            rest = rest.strip_prefix(word).unwrap_or(rest);
        }
        let mut letters = rest.chars();
        let (kind, last) = match letters.next()? {
            'C' => (Kind::C, '5'),
            'S' => (Kind::S, '5'),
            'T' => (Kind::T, '4'),
            'F' => (Kind::F, '2'),
            _ => return None,
        };
        let number = letters.next().filter(|n| ('1'..=last).contains(n))?;
        let number = number.to_digit(10).and_then(|n| u8::try_from(n).ok())?;
        letters.next().is_none().then_some(LotClass { kind, number })
    }

    /// Whether a lot of this class is one that was asked for.
    pub(super) fn answers(self, asked: Self) -> (Outcome, String) {
        if self == asked {
            return (Outcome::Met, "as asked".to_owned());
        }
        let said = |outcome, why: &str| (outcome, why.to_owned());
        let is = |class: LotClass, kind, number| class == LotClass { kind, number };
        if self.kind != asked.kind {
            return said(Outcome::NotMet, "the two are classes of different products");
        }
        if is(asked, Kind::S, 5) || is(self, Kind::S, 5) {
            return said(Outcome::NotKnown, "what S5 asks is not known here");
        }
        if asked.number == 1 {
            return said(Outcome::NotKnown, "class 1 is whatever the maker's quality system has as its lot");
        }
        if self.number == 1 {
            return said(
                Outcome::NotMet,
                "class 1 is the maker's own standard lot: mass, time and heats are as the maker has them",
            );
        }
        if is(asked, Kind::C, 2) && is(self, Kind::C, 3) {
            return said(Outcome::Met, "C3 limits mass and time as C2, and core wire and covering besides");
        }
        if is(asked, Kind::C, 3) && is(self, Kind::C, 2) {
            return said(
                Outcome::NotMet,
                "C2 does not limit the heats of the core wire nor the mixes of the covering",
            );
        }
        said(Outcome::NotKnown, "the classes limit different things, and their wording was not read")
    }
}

#[cfg(test)]
mod tests {
    use super::LotClass;

    #[test]
    fn classes_as_printed() {
        let mut known = 0;
        for letter in ["C", "S", "T", "F"] {
            for number in 0..=9 {
                if let Some(class) = LotClass::parse(&format!("class {letter}{number}")) {
                    assert_eq!(class.to_string(), format!("{letter}{number}"));
                    known += 1;
                }
            }
        }
        assert_eq!(known, 5 + 5 + 4 + 2);
        for text in ["", "C", "C33", "X1", "3", "C3 or C4", "CLASS"] {
            assert_eq!(LotClass::parse(text), None, "{text}");
        }
    }
}
