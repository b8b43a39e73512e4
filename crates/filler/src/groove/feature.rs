//! The measures of a groove or fillet, by name.

use super::GrooveError;
use crate::exact::Exact;
use crate::measure::{Dimension, Measure};
use crate::shown::shown;
use std::collections::BTreeMap;
use std::fmt;

/// Longest measure taken, in millimetres, as for a size.
const LONGEST_MM: f64 = 10_000.0;

/// What is measured on a groove or a fillet. Lengths in millimetres, angles in degrees.
///
/// Terms as in AWS A3.0 (groove angle = included angle, bevel angle = the angle of one side, root opening = gap), from
/// memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Feature {
    /// Thickness of the plate, or wall of the pipe.
    Thickness,
    /// Root opening.
    Gap,
    /// Root face: the part of the thickness that is not bevelled.
    RootFace,
    /// Groove angle: the whole angle between the groove faces. With one square side (single-bevel, single-j) it is the
    /// bevel angle.
    Included,
    /// Bevel angle: the angle of one side from the square edge. In place of [`Feature::Included`].
    Bevel,
    /// Depth of the outer groove of a double-v; half of what the root face leaves unless given.
    OuterDepth,
    /// Groove angle of the inner groove of a double-v; as the outer one unless given.
    InnerIncluded,
    /// Root radius of a single-u or single-j.
    Radius,
    /// Leg of a fillet; of an unequal one, the leg along the pipe or plate that it lies on.
    Leg,
    /// The other leg of an unequal fillet: on pipe, the one that stands away from the surface.
    OtherLeg,
    /// Throat of a flat fillet with equal legs, in place of [`Feature::Leg`].
    Throat,
    /// By how much the middle of a fillet's face stands above a flat face.
    Convexity,
    /// Width of the cap.
    CapWidth,
    /// By how much the cap is wider than the groove, both sides together. In place of [`Feature::CapWidth`].
    CapOverlap,
    /// Height of the cap at its middle.
    CapHeight,
    /// Width of the root reinforcement.
    RootWidth,
    /// By how much the root reinforcement is wider than the gap (of a double-v, than the inner groove), both sides
    /// together. In place of [`Feature::RootWidth`].
    RootOverlap,
    /// Height of the root reinforcement at its middle.
    RootHeight,
}

impl Feature {
    /// All of them, in the order of their declaration.
    pub const ALL: [Feature; 18] = [
        Feature::Thickness,
        Feature::Gap,
        Feature::RootFace,
        Feature::Included,
        Feature::Bevel,
        Feature::OuterDepth,
        Feature::InnerIncluded,
        Feature::Radius,
        Feature::Leg,
        Feature::OtherLeg,
        Feature::Throat,
        Feature::Convexity,
        Feature::CapWidth,
        Feature::CapOverlap,
        Feature::CapHeight,
        Feature::RootWidth,
        Feature::RootOverlap,
        Feature::RootHeight,
    ];

    /// The word for it, as in an option or a record; stable.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Feature::Thickness => "thickness",
            Feature::Gap => "gap",
            Feature::RootFace => "root-face",
            Feature::Included => "included",
            Feature::Bevel => "bevel",
            Feature::OuterDepth => "outer-depth",
            Feature::InnerIncluded => "inner-included",
            Feature::Radius => "radius",
            Feature::Leg => "leg",
            Feature::OtherLeg => "other-leg",
            Feature::Throat => "throat",
            Feature::Convexity => "convexity",
            Feature::CapWidth => "cap-width",
            Feature::CapOverlap => "cap-overlap",
            Feature::CapHeight => "cap-height",
            Feature::RootWidth => "root-width",
            Feature::RootOverlap => "root-overlap",
            Feature::RootHeight => "root-height",
        }
    }

    /// The measure of a word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|feature| feature.word() == word)
    }

    /// Whether it is an angle, in degrees; else it is a length.
    #[must_use]
    pub fn is_angle(self) -> bool {
        matches!(self, Feature::Included | Feature::Bevel | Feature::InnerIncluded)
    }

    /// Reads it: a length with its unit (`2.5 mm`, `3/32 in`), zero included, as millimetres; an angle as plain degrees.
    ///
    /// # Errors
    /// When the text is not one.
    pub fn read(self, text: &str) -> Result<f64, GrooveError> {
        let unread = |why: String| GrooveError::Unread { feature: self, why };
        if !self.is_angle() {
            return Measure::parse(text, Dimension::Length)
                .map(|length| length.base().to_f64())
                .map_err(|error| unread(error.to_string()));
        }
        let degrees = text.trim();
        let degrees = degrees.strip_suffix("deg").or(degrees.strip_suffix('°')).unwrap_or(degrees);
        Exact::parse(degrees)
            .map(Exact::to_f64)
            .map_err(|fault| unread(format!("\"{}\" is not an angle in degrees: {fault}", shown(text))))
    }
}

impl fmt::Display for Feature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// What was measured: each measure at most once, in millimetres or degrees.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Features(BTreeMap<Feature, f64>);

impl Features {
    /// Nothing measured yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With this value of the feature, in place of any other.
    #[must_use]
    pub fn with(mut self, feature: Feature, value: f64) -> Self {
        self.0.insert(feature, value);
        self
    }

    /// The value of a measure; None if it was not measured.
    #[must_use]
    pub fn get(&self, feature: Feature) -> Option<f64> {
        self.0.get(&feature).copied()
    }

    /// All that was measured.
    pub fn iter(&self) -> impl Iterator<Item = (Feature, f64)> + '_ {
        self.0.iter().map(|(feature, value)| (*feature, *value))
    }

    /// The value, which must be there; lengths from zero to 10 m.
    pub(super) fn length_or(&self, feature: Feature, otherwise: f64) -> Result<f64, GrooveError> {
        let value = self.get(feature).unwrap_or(otherwise);
        if (0.0..=LONGEST_MM).contains(&value) {
            Ok(value)
        } else {
            Err(GrooveError::OutOfRange { feature, value, wanted: "from 0 to 10000 mm" })
        }
    }

    /// The length, which must be given and above zero.
    pub(super) fn above_zero(&self, feature: Feature) -> Result<f64, GrooveError> {
        match self.length_or(feature, 0.0)? {
            value if value > 0.0 => Ok(value),
            value => Err(GrooveError::OutOfRange { feature, value, wanted: "above 0 mm" }),
        }
    }
}
