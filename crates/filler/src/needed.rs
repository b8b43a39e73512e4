//! How much filler metal a joint needs, from its groove, with how uncertain that is.
//!
//! Volume by [`crate::groove`] · density / deposition efficiency, in whole milligrams. The efficiency excludes stubs:
//! those are weighed or counted by themselves. Uncertainty by [`crate::uncertainty`] over what was measured. Geometry is
//! only good to about a tenth: shrinkage takes 7 to 9 % from a flat V joint, fillets run 10 % over the leg (two filler
//! makers' data books). Where the shop knows its bias, `fill` puts it into the estimate.

#![allow(
    clippy::float_arithmetic,
    reason = "an estimate from angles; it is rounded once, to whole milligrams, before it is recorded"
)]

mod half_width;

pub use half_width::{Estimated, HalfWidth};

use crate::MAX_INTEGER;
use crate::decimal::NumberFault;
use crate::groove::{Feature, Features, Groove, GrooveError, Kind};
use crate::measure::MeasureError;
use crate::process::{Process, ProcessError};
use crate::shown::shown;
use crate::uncertainty::{Input, Sharing, propagate, rectangular, root_sum_square};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is said of a starting value wherever one is shown.
pub const DEFAULT_NOTE: &str = "from memory, to be set by the shop";

/// Least and most metal in a joint over metal by geometry that is taken for a bias rather than another joint.
const FILL: (f64, f64) = (0.5, 2.0);

/// A joint as typed. Every text is kept as it was.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointDrawing {
    /// Density of the filler metal, g/cm³ unless another unit is written.
    pub density: String,
    /// Deposition efficiency, stubs excluded: above 0 and up to 1.
    pub efficiency: String,
    /// Measures of the groove by their words: [`Feature::word`].
    pub features: BTreeMap<String, String>,
    /// Metal in the joint over metal by geometry, where the shop knows it; 1 unless given.
    pub fill: Option<String>,
    /// Kind of groove: [`Kind::word`].
    pub groove: String,
    /// Half-widths in place of the starting values, by the input's word ([`Estimated::word`]): in the input's unit, or in
    /// percent of its value.
    pub half_widths: BTreeMap<String, String>,
    /// Length of the weld, on plate. This or `pipe_od`.
    pub length: Option<String>,
    /// Outside diameter of the pipe that the weld goes once around.
    pub pipe_od: Option<String>,
    /// Welding process, which has a say in how uncertain the efficiency is.
    pub process: Option<String>,
}

/// Where a half-width comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// Given by the shop.
    Given,
    /// A starting value: [`DEFAULT_NOTE`].
    Default,
}

/// What one shared input adds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedMg {
    /// The input's word.
    pub input: String,
    /// By how much more is needed when the input is one standard uncertainty larger, in milligrams; signed.
    pub mg: i64,
}

/// What a joint needs. All masses in whole milligrams, rounded half to even.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Needed {
    /// Weld metal in the joint.
    pub deposit_mg: i64,
    /// The half-width of every input.
    pub half_widths: Vec<HalfWidth>,
    /// Standard uncertainty of `needed_mg` from the inputs that differ from joint to joint: over many joints it adds in
    /// quadrature.
    pub independent_mg: i64,
    /// Filler metal, stubs not counted: weld metal over efficiency.
    pub needed_mg: i64,
    /// What each shared input adds, in the order of their words: over many joints these add up by input.
    pub shared: Vec<SharedMg>,
    /// Standard uncertainty of `needed_mg` from all of them.
    pub u_mg: i64,
}

/// Why it cannot be said what a joint needs.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NeededError {
    /// The groove.
    #[error(transparent)]
    Groove(#[from] GrooveError),
    /// A length or the density.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// The process.
    #[error(transparent)]
    Process(#[from] ProcessError),
    /// A number that was not read.
    #[error("{input} \"{text}\" was not read: {fault}")]
    Number {
        /// Of which input.
        input: Estimated,
        /// As typed.
        text: String,
        /// Why not.
        fault: NumberFault,
    },
    /// A word that names no measure of a groove.
    #[error("\"{0}\" is no measure of a groove; known are thickness, gap, root-face, included and the like")]
    UnknownFeature(String),
    /// A half-width of something that is not an input here.
    #[error(
        "the half-width of \"{0}\" has nothing to belong to; give one only for what is given of the joint"
    )]
    UnknownHalfWidth(String),
    /// Neither or both of pipe and length.
    #[error("a joint has either the outside diameter of its pipe or a length of weld; give one of the two")]
    Extent,
    /// A density outside of what metals have.
    #[error("a density of {0} g/cm3 is not one of a metal; write one above 0 and below 30, such as 7.85")]
    Density(f64),
    /// An efficiency that is no share.
    #[error("an efficiency of {0} is not above 0 and up to 1; write 0.98 for 98 %")]
    Efficiency(f64),
    /// A fill that is another joint.
    #[error("a fill of {0} is not from 0.5 to 2; check the drawing rather than correct it so far")]
    Fill(f64),
    /// A half-width as large as the value.
    #[error("{input} is {value} with a half-width of {half_width}: it is not known at all; measure it")]
    HalfWidthTooWide {
        /// Which input.
        input: Estimated,
        /// Its value.
        value: f64,
        /// Its half-width.
        half_width: f64,
    },
    /// A mass that cannot be recorded.
    #[error("the joint would need more than {MAX_INTEGER} mg; check the measures")]
    TooLarge,
}

/// The joint with its texts read.
struct Read {
    kind: Kind,
    process: Option<Process>,
    /// Every input with its value; the extent, density, efficiency and fill are always there.
    inputs: Vec<(Estimated, f64)>,
}

impl JointDrawing {
    /// What the joint needs.
    ///
    /// # Errors
    /// When a text was not understood, the groove does not exist, or an input is not known well enough to say.
    pub fn needed(&self) -> Result<Needed, NeededError> {
        let read = self.read()?;
        let (half_widths, inputs) = self.uncertain(&read)?;
        let model = |values: &[f64]| deposit_and_needed(&read, values).map(|(_, needed)| needed);
        let result = propagate(&inputs, model)?;
        let best: Vec<f64> = inputs.iter().map(|input| input.value).collect();
        let (deposit, _) = deposit_and_needed(&read, &best)?;
        let mut shared = Vec::new();
        let mut per_joint = Vec::new();
        for contribution in result.contributions {
            match contribution.sharing {
                Sharing::Shared => {
                    shared.push(SharedMg { input: contribution.name, mg: whole_mg(contribution.amount)? });
                }
                Sharing::PerJoint => per_joint.push(contribution.amount),
            }
        }
        shared.sort_by(|a, b| a.input.cmp(&b.input));
        Ok(Needed {
            deposit_mg: whole_mg(deposit)?,
            half_widths,
            independent_mg: whole_mg(root_sum_square(per_joint))?,
            needed_mg: whole_mg(result.value)?,
            shared,
            u_mg: whole_mg(result.u)?,
        })
    }

    /// What went in, to be recorded: each option with its text as typed, and the half-width of every input. A starting
    /// value says that it is one.
    #[must_use]
    pub fn recorded(&self, needed: &Needed) -> Vec<(String, String)> {
        let own = [
            ("groove", Some(&self.groove)),
            ("process", self.process.as_ref()),
            ("pipe-od", self.pipe_od.as_ref()),
            ("length", self.length.as_ref()),
            ("density", Some(&self.density)),
            ("efficiency", Some(&self.efficiency)),
            ("fill", self.fill.as_ref()),
        ];
        let own = own.into_iter().filter_map(|(name, text)| Some((name.to_owned(), text?.clone())));
        let features = self.features.iter().map(|(word, text)| (word.clone(), text.clone()));
        let half_widths = needed.half_widths.iter().map(|used| {
            let note = match used.source {
                Source::Given => String::new(),
                Source::Default => format!(" ({DEFAULT_NOTE})"),
            };
            (format!("half-width {}", used.input), format!("{}{note}", used.half_width))
        });
        own.chain(features).chain(half_widths).collect()
    }

    /// The groove alone.
    ///
    /// # Errors
    /// When a text was not understood or the groove does not exist.
    pub fn groove(&self) -> Result<Groove, NeededError> {
        let kind: Kind = self.groove.parse()?;
        let mut features = Features::new();
        for (feature, value) in self.read_features()? {
            features = features.with(feature, value);
        }
        Ok(Groove::new(kind, &features)?)
    }

    fn read_features(&self) -> Result<Vec<(Feature, f64)>, NeededError> {
        self.features
            .iter()
            .map(|(word, text)| {
                let feature =
                    Feature::of_word(word).ok_or_else(|| NeededError::UnknownFeature(shown(word)))?;
                Ok((feature, feature.read(text)?))
            })
            .collect()
    }

    fn read(&self) -> Result<Read, NeededError> {
        let kind: Kind = self.groove.parse()?;
        let process = self.process.as_deref().map(Process::parse).transpose()?;
        let mut inputs: Vec<(Estimated, f64)> = self
            .read_features()?
            .into_iter()
            .map(|(feature, value)| (Estimated::Feature(feature), value))
            .collect();
        let (extent, text) = match (&self.pipe_od, &self.length) {
            (Some(od), None) => (Estimated::PipeOd, od),
            (None, Some(length)) => (Estimated::Length, length),
            (None, None) | (Some(_), Some(_)) => return Err(NeededError::Extent),
        };
        inputs.push((extent, extent.read(text)?));
        let density = Estimated::Density.read(&self.density)?;
        if !(density > 0.0 && density < 30.0) {
            return Err(NeededError::Density(density));
        }
        let efficiency = Estimated::Efficiency.read(&self.efficiency)?;
        if !(efficiency > 0.0 && efficiency <= 1.0) {
            return Err(NeededError::Efficiency(efficiency));
        }
        let fill = Estimated::Fill.read(self.fill.as_deref().unwrap_or("1"))?;
        if !(FILL.0..=FILL.1).contains(&fill) {
            return Err(NeededError::Fill(fill));
        }
        inputs.push((Estimated::Density, density));
        inputs.push((Estimated::Efficiency, efficiency));
        inputs.push((Estimated::Fill, fill));
        Ok(Read { kind, process, inputs })
    }

    /// The half-widths used, and the inputs with their standard uncertainties.
    fn uncertain(&self, read: &Read) -> Result<(Vec<HalfWidth>, Vec<Input>), NeededError> {
        let known = |word: &String| read.inputs.iter().any(|(input, _)| input.word() == word);
        if let Some(word) = self.half_widths.keys().find(|word| !known(word)) {
            return Err(NeededError::UnknownHalfWidth(shown(word)));
        }
        let mut half_widths = Vec::new();
        let mut inputs = Vec::new();
        for (input, value) in &read.inputs {
            let given = self.half_widths.get(input.word());
            let (text, source) = match given {
                Some(text) => (text.trim().to_owned(), Source::Given),
                None => {
                    (input.default_half_width(read.kind, read.process.as_ref()).to_owned(), Source::Default)
                }
            };
            let half_width = input.read_half_width(&text, *value)?;
            let always_above_zero =
                matches!(input, Estimated::Density | Estimated::Efficiency | Estimated::Fill);
            if always_above_zero && half_width >= *value {
                return Err(NeededError::HalfWidthTooWide { input: *input, value: *value, half_width });
            }
            half_widths.push(HalfWidth { half_width: text, input: input.word().to_owned(), source });
            inputs.push(Input {
                name: input.word().to_owned(),
                value: *value,
                u: rectangular(half_width),
                sharing: input.sharing(),
            });
        }
        Ok((half_widths, inputs))
    }
}

/// Weld metal and filler metal in milligrams, of these values of the inputs.
fn deposit_and_needed(read: &Read, values: &[f64]) -> Result<(f64, f64), GrooveError> {
    let mut features = Features::new();
    let (mut pipe_od, mut length) = (None, 0.0);
    let (mut density, mut efficiency, mut fill) = (0.0, 1.0, 1.0);
    for ((input, _), value) in read.inputs.iter().zip(values) {
        match input {
            Estimated::Feature(feature) => features = features.with(*feature, *value),
            Estimated::PipeOd => pipe_od = Some(*value),
            Estimated::Length => length = *value,
            Estimated::Density => density = *value,
            Estimated::Efficiency => efficiency = *value,
            Estimated::Fill => fill = *value,
        }
    }
    let groove = Groove::new(read.kind, &features)?;
    let volume = match pipe_od {
        Some(od) => groove.volume_mm3_on_pipe(od)?,
        None => groove.volume_mm3_of_length(length)?,
    };
    // 1 g/cm3 is 1 mg/mm3.
    let deposit = volume * fill * density;
    Ok((deposit, deposit / efficiency))
}

/// Rounded half to even.
fn whole_mg(mg: f64) -> Result<i64, NeededError> {
    // Integers up to 2^53 have an exact floating-point number.
    if mg.abs() <= MAX_INTEGER as f64 { Ok(libm::rint(mg) as i64) } else { Err(NeededError::TooLarge) }
}
