//! How filler metal is supplied: product form, surface, marking.

use serde::{Deserialize, Serialize};

use crate::word::words;

/// The form a product is supplied and handed out in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProductForm {
    /// Straight bare rods cut to length.
    CutLength,
    /// Covered (stick) electrodes.
    Covered,
    /// Wire on a spool, coil or drum.
    Spool,
    /// Granular flux.
    Flux,
    /// Consumable inserts.
    Insert,
    /// Strip electrode.
    Strip,
}

/// The surface of bare wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Surface {
    /// Copper coated; the coating disturbs a surface analysis.
    CopperCoated,
    /// No coating.
    Bare,
}

/// How a single piece tells what it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Marking {
    /// Stamped or embossed into the metal.
    Stamped,
    /// A flag tag at an end.
    FlagTag,
    /// Printed in ink, on the wire or on the covering.
    Ink,
    /// Nothing on the piece: only the package tells.
    PackageOnly,
}

words!(ProductForm, "product form",
    CutLength => "cut-length",
    Covered => "covered",
    Spool => "spool",
    Flux => "flux",
    Insert => "insert",
    Strip => "strip",
);
words!(Surface, "surface",
    CopperCoated => "copper-coated",
    Bare => "bare",
);
words!(Marking, "marking",
    Stamped => "stamped",
    FlagTag => "flag-tag",
    Ink => "ink",
    PackageOnly => "package-only",
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back_and_are_recorded_as_shown() {
        for form in ProductForm::ALL {
            assert_eq!(ProductForm::parse(form.word()), Ok(*form));
            assert_eq!(serde_json::to_string(form).unwrap(), format!("\"{form}\""));
        }
        for surface in Surface::ALL {
            assert_eq!(surface.to_string().parse(), Ok(*surface));
            assert_eq!(serde_json::to_string(surface).unwrap(), format!("\"{surface}\""));
        }
        for marking in Marking::ALL {
            assert_eq!(marking.to_string().parse(), Ok(*marking));
            assert_eq!(serde_json::to_string(marking).unwrap(), format!("\"{marking}\""));
        }
        assert_eq!(ProductForm::parse(" Cut-Length "), Ok(ProductForm::CutLength));
    }

    #[test]
    fn an_unknown_word_lists_the_known_ones() {
        assert_eq!(
            ProductForm::parse("stick").unwrap_err().to_string(),
            "\"stick\" is not a product form; write one of: cut-length, covered, spool, flux, insert, strip"
        );
        assert!(Surface::parse("n/a").is_err());
        assert!(Marking::parse("").is_err());
    }
}
