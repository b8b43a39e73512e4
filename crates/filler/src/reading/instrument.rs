//! What read the metal, in which state its surface was, and which elements that lets one see.

use crate::element::Element;
use crate::word::words;
use serde::{Deserialize, Serialize};

/// How a composition was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReadingMethod {
    /// X-ray fluorescence, hand-held.
    Xrf,
    /// Optical emission spectrometry with a spark, portable.
    Oes,
    /// Laser-induced breakdown spectrometry, hand-held.
    Libs,
    /// A laboratory's analysis.
    Lab,
    /// Not known.
    Unknown,
}

words!(ReadingMethod, "method",
    Xrf => "xrf",
    Oes => "oes",
    Libs => "libs",
    Lab => "lab",
    Unknown => "unknown",
);

/// The surface that was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SurfaceState {
    /// As the rod came, with whatever coating it has.
    AsReceived,
    /// Abraded to the metal beneath.
    Abraded,
    /// A button melted from the rod: what was on the surface is in the metal.
    Button,
    /// Not known.
    Unknown,
}

words!(SurfaceState, "surface",
    AsReceived => "as-received",
    Abraded => "abraded",
    Button => "button",
    Unknown => "unknown",
);

/// How well a method sees an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sight {
    /// As well as others.
    Fair,
    /// Only under conditions, such as a ground surface, argon and a long count.
    Poor,
    /// Not at all at the contents of filler metal.
    Blind,
}

impl ReadingMethod {
    /// Elements the method does not see. Hand-held X-ray: nothing lighter than magnesium. Optical emission: gases, and of
    /// them nitrogen by some units. Laser: the gases, phosphorus and sulphur at useful contents.
    ///
    /// Source: makers' application notes and API RP 578 as to carbon by X-ray; the rest from memory.
    #[must_use]
    pub fn blind_to(self) -> &'static [&'static str] {
        match self {
            ReadingMethod::Xrf => &["H", "Li", "Be", "B", "C", "N", "O", "F"],
            ReadingMethod::Oes => &["H", "O"],
            ReadingMethod::Libs => &["H", "N", "O", "P", "S"],
            ReadingMethod::Lab | ReadingMethod::Unknown => &[],
        }
    }

    /// Elements the method sees only under good conditions; see [`ReadingMethod::blind_to`] for the source.
    #[must_use]
    pub fn poor_on(self) -> &'static [&'static str] {
        match self {
            ReadingMethod::Xrf => &["Mg", "Al", "Si", "P", "S"],
            ReadingMethod::Oes => &["B", "N"],
            ReadingMethod::Libs => &["B", "C"],
            ReadingMethod::Lab | ReadingMethod::Unknown => &[],
        }
    }

    /// How well it sees one element.
    #[must_use]
    pub fn sight(self, element: Element) -> Sight {
        if self.blind_to().contains(&element.symbol()) {
            Sight::Blind
        } else if self.poor_on().contains(&element.symbol()) {
            Sight::Poor
        } else {
            Sight::Fair
        }
    }
}

impl SurfaceState {
    /// Whether a coating can be what was read.
    #[must_use]
    pub fn may_be_coated(self) -> bool {
        match self {
            SurfaceState::AsReceived | SurfaceState::Unknown => true,
            SurfaceState::Abraded | SurfaceState::Button => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back_and_are_recorded_as_shown() {
        for method in ReadingMethod::ALL {
            assert_eq!(ReadingMethod::parse(method.word()), Ok(*method));
            assert_eq!(serde_json::to_string(method).unwrap(), format!("\"{method}\""));
        }
        for surface in SurfaceState::ALL {
            assert_eq!(SurfaceState::parse(surface.word()), Ok(*surface));
            assert_eq!(serde_json::to_string(surface).unwrap(), format!("\"{surface}\""));
        }
    }

    #[test]
    fn every_element_named_is_one() {
        for method in ReadingMethod::ALL {
            for symbol in method.blind_to().iter().chain(method.poor_on()) {
                assert!(Element::parse(symbol).is_ok_and(|e| e.symbol() == *symbol), "{symbol}");
            }
        }
        let carbon = Element::parse("C").unwrap();
        assert_eq!(ReadingMethod::Xrf.sight(carbon), Sight::Blind);
        assert_eq!(ReadingMethod::Libs.sight(carbon), Sight::Poor);
        assert_eq!(ReadingMethod::Oes.sight(carbon), Sight::Fair);
    }
}
