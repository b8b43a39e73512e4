//! How far each input may be off: given by the shop, or a starting value.

use super::{NeededError, Source};
use crate::exact::Exact;
use crate::groove::{Feature, Kind};
use crate::process::Process;
use crate::shown::shown;
use crate::uncertainty::Sharing;
use serde::{Deserialize, Serialize};
use std::fmt;

/// An input of the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Estimated {
    /// A measure of the groove.
    Feature(Feature),
    /// Outside diameter of the pipe.
    PipeOd,
    /// Length of a weld on plate.
    Length,
    /// Density of the filler metal.
    Density,
    /// Deposition efficiency, stubs excluded.
    Efficiency,
    /// Metal in the joint over metal by geometry.
    Fill,
}

impl Estimated {
    /// The word for it; stable.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Estimated::Feature(feature) => feature.word(),
            Estimated::PipeOd => "pipe-od",
            Estimated::Length => "length",
            Estimated::Density => "density",
            Estimated::Efficiency => "efficiency",
            Estimated::Fill => "fill",
        }
    }

    /// The input of a word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        [Estimated::PipeOd, Estimated::Length, Estimated::Density, Estimated::Efficiency, Estimated::Fill]
            .into_iter()
            .chain(Feature::ALL.map(Estimated::Feature))
            .find(|input| input.word() == word)
    }

    /// Whether its error is the same one in every joint. Root openings and lengths differ from joint to joint; walls,
    /// bevels, cap habits, density and efficiency are taken as common to all, which errs toward the wider result.
    #[must_use]
    pub fn sharing(self) -> Sharing {
        match self {
            Estimated::Feature(Feature::Gap) | Estimated::Length => Sharing::PerJoint,
            Estimated::Feature(_)
            | Estimated::PipeOd
            | Estimated::Density
            | Estimated::Efficiency
            | Estimated::Fill => Sharing::Shared,
        }
    }

    /// The starting value of its half-width, from memory, to be set by the shop: what is common in fabrication, no source.
    /// Measured walls are meant; one that was only ordered can be off by 12.5 %.
    #[must_use]
    pub fn default_half_width(self, kind: Kind, process: Option<&Process>) -> &'static str {
        match self {
            Estimated::Feature(feature) => match feature {
                Feature::Thickness => "0.3 mm",
                Feature::Gap => "0.8 mm",
                Feature::RootFace | Feature::OuterDepth => "0.4 mm",
                Feature::Included | Feature::InnerIncluded => "5",
                // The bevel angles of two sides are cut with one setting.
                Feature::Bevel if matches!(kind, Kind::SingleBevel | Kind::SingleJ) => "5",
                Feature::Bevel => "2.5",
                Feature::Radius | Feature::Convexity | Feature::RootHeight => "0.5 mm",
                Feature::Leg | Feature::OtherLeg | Feature::Throat => "10 %",
                Feature::CapWidth | Feature::CapOverlap | Feature::RootWidth | Feature::RootOverlap => "1 mm",
                Feature::CapHeight => "0.75 mm",
            },
            Estimated::PipeOd | Estimated::Length => "0 mm",
            Estimated::Density => "0.05 g/cm3",
            Estimated::Efficiency => match process {
                Some(Process::Gtaw | Process::Paw) => "0.02",
                Some(Process::Fcaw) => "0.03",
                Some(Process::Smaw | Process::Gmaw | Process::Saw | Process::Other(_)) | None => "0.05",
            },
            Estimated::Fill => "0",
        }
    }

    /// Its value as typed, in millimetres, degrees, g/cm³ or a share.
    pub(super) fn read(self, text: &str) -> Result<f64, NeededError> {
        use crate::measure::{Dimension, Measure};
        let measure = |dimension| Ok(Measure::parse(text, dimension)?.base().to_f64());
        match self {
            Estimated::Feature(feature) => Ok(feature.read(text)?),
            Estimated::PipeOd | Estimated::Length => measure(Dimension::Length),
            Estimated::Density => measure(Dimension::Density),
            Estimated::Efficiency | Estimated::Fill => Exact::parse(text)
                .map(Exact::to_f64)
                .map_err(|fault| NeededError::Number { input: self, text: shown(text), fault }),
        }
    }

    /// A half-width as typed, of an input with this value: in its own unit, or in percent of it.
    pub(super) fn read_half_width(self, text: &str, value: f64) -> Result<f64, NeededError> {
        match text.trim().strip_suffix('%') {
            None => self.read(text),
            Some(percent) => Exact::parse(percent.trim())
                .map(|percent| percent.to_f64() / 100.0 * value)
                .map_err(|fault| NeededError::Number { input: self, text: shown(text), fault }),
        }
    }
}

impl fmt::Display for Estimated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// The half-width that was used for an input: the value lies within it, anywhere equally likely.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HalfWidth {
    /// As typed or as the starting value, with its unit.
    pub half_width: String,
    /// The input's word.
    pub input: String,
    /// Where it comes from.
    pub source: Source,
}
