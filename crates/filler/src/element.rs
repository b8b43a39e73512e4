//! Chemical elements by their symbols.

use serde::{Deserialize, Serialize};
use std::fmt;

/// The symbols of the elements, by atomic number (IUPAC periodic table, 2022).
const SYMBOLS: [&str; 118] = [
    "H", "He", "Li", "Be", "B", "C", "N", "O", "F", "Ne", "Na", "Mg", "Al", "Si", "P", "S", "Cl", "Ar", "K",
    "Ca", "Sc", "Ti", "V", "Cr", "Mn", "Fe", "Co", "Ni", "Cu", "Zn", "Ga", "Ge", "As", "Se", "Br", "Kr",
    "Rb", "Sr", "Y", "Zr", "Nb", "Mo", "Tc", "Ru", "Rh", "Pd", "Ag", "Cd", "In", "Sn", "Sb", "Te", "I", "Xe",
    "Cs", "Ba", "La", "Ce", "Pr", "Nd", "Pm", "Sm", "Eu", "Gd", "Tb", "Dy", "Ho", "Er", "Tm", "Yb", "Lu",
    "Hf", "Ta", "W", "Re", "Os", "Ir", "Pt", "Au", "Hg", "Tl", "Pb", "Bi", "Po", "At", "Rn", "Fr", "Ra",
    "Ac", "Th", "Pa", "U", "Np", "Pu", "Am", "Cm", "Bk", "Cf", "Es", "Fm", "Md", "No", "Lr", "Rf", "Db",
    "Sg", "Bh", "Hs", "Mt", "Ds", "Rg", "Cn", "Nh", "Fl", "Mc", "Lv", "Ts", "Og",
];

/// Columbium, as older certificates call niobium.
const COLUMBIUM: &str = "Cb";

/// A chemical element.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Element {
    /// Atomic number less one.
    index: u8,
}

/// A text that is no symbol of an element.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not the symbol of an element; write one such as C, Mn or Cr")]
pub struct ElementError(String);

impl Element {
    /// The element of a symbol, whatever its case; `Cb` is niobium.
    ///
    /// # Errors
    /// When no element has that symbol.
    pub fn parse(text: &str) -> Result<Self, ElementError> {
        let text = text.trim();
        let symbol = if text.eq_ignore_ascii_case(COLUMBIUM) { "Nb" } else { text };
        SYMBOLS
            .iter()
            .position(|known| known.eq_ignore_ascii_case(symbol))
            .and_then(|index| u8::try_from(index).ok())
            .map(|index| Element { index })
            .ok_or_else(|| ElementError(crate::shown::shown(text)))
    }

    /// Its symbol.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        SYMBOLS.get(usize::from(self.index)).copied().unwrap_or("")
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl fmt::Debug for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl Serialize for Element {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.symbol())
    }
}

impl<'de> Deserialize<'de> for Element {
    /// Only the symbol as printed above: another spelling would not come back as it was.
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Element::parse(&text)
            .ok()
            .filter(|element| element.symbol() == text)
            .ok_or_else(|| serde::de::Error::custom("not the symbol of an element"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symbols_come_back() {
        for symbol in SYMBOLS {
            assert_eq!(Element::parse(symbol).unwrap().symbol(), symbol);
        }
        assert_eq!(Element::parse(" cr ").unwrap().symbol(), "Cr");
        assert_eq!(Element::parse("Cb").unwrap().symbol(), "Nb");
        for text in ["", "Xx", "C0", "Mn+Ni", "carbon"] {
            assert!(Element::parse(text).is_err(), "{text}");
        }
    }
}
