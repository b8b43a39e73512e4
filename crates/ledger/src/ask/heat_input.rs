//! The heat input of a pass, against what its procedures allow.

use super::reading::Reading;
use crate::error::Result;
use filler::Process;
use filler::heat_input::{
    Against, Convention, HeatInput, HeatInputError, HeatInputLimit, Measured, RelativeUncertainty, Travel,
};
use filler::measure::{Dimension, Measure};
use record::event::{Arc, JointWelded};
use record::id::JointId;

/// Relative standard uncertainties taken where the shop has said none, as decimal text: of a voltage and a current read off
/// the machine, of a travel speed timed by hand, of a power or an energy that the machine has summed, of a bead length.
/// From memory; they only decide what counts as near the limit.
const VOLTS: &str = "0.02";
const AMPS: &str = "0.03";
const TRAVEL: &str = "0.05";
const METERED: &str = "0.03";
const LENGTH: &str = "0.02";

/// What was measured of the arc of a pass, worked out.
#[derive(Clone, Debug)]
pub enum PassHeat {
    /// Something was written down, and no heat input follows from it: why.
    NotWorkedOut(String),
    /// Its heat input, in the convention that the measurement suits first where no procedure asks for another.
    Known {
        /// The value.
        value: Box<HeatInput>,
        /// Against each procedure of the joint that limits it.
        limits: Vec<AgainstLimit>,
    },
}

/// A pass against the limit of one procedure.
#[derive(Clone, Debug)]
pub struct AgainstLimit {
    /// Number of the procedure.
    pub wps: String,
    /// The most that it allows, as written.
    pub most: String,
    /// Its convention.
    pub convention: Convention,
    /// The value in that convention and where it lies; or why the two are not compared.
    pub compared: std::result::Result<(HeatInput, Against), String>,
}

/// What was measured, if it is enough for a heat input; else what is missing.
fn measured(arc: &Arc) -> std::result::Result<Measured, String> {
    let read = |text: &str, dimension| Measure::above_zero(text, dimension).map_err(|e| e.to_string());
    let travel = || match arc.travel.value() {
        Some(travel) => Ok(Travel::Speed(read(travel, Dimension::Speed)?)),
        None => Err("the travel speed is not recorded".to_owned()),
    };
    if let Some(energy) = arc.energy.value() {
        let Some(length) = arc.length.value() else {
            return Err("the energy is recorded, and not the length of the bead".into());
        };
        return Ok(Measured::Energy {
            energy: read(energy, Dimension::Energy)?,
            length: read(length, Dimension::Length)?,
        });
    }
    if let Some(power) = arc.power.value() {
        return Ok(Measured::Power { power: read(power, Dimension::Power)?, travel: travel()? });
    }
    match (arc.volts.value(), arc.amps.value()) {
        (Some(volts), Some(amps)) => Ok(Measured::VoltsAmps {
            volts: read(volts, Dimension::Voltage)?,
            amps: read(amps, Dimension::Current)?,
            travel: travel()?,
        }),
        (None, _) => Err("the arc voltage is not recorded".into()),
        (_, None) => Err("the current is not recorded".into()),
    }
}

fn uncertainty(measured: &Measured) -> std::result::Result<RelativeUncertainty, HeatInputError> {
    match measured {
        Measured::VoltsAmps { .. } => RelativeUncertainty::of(&[VOLTS, AMPS, TRAVEL]),
        Measured::Energy { .. } => RelativeUncertainty::of(&[METERED, LENGTH]),
        Measured::Power { .. } => RelativeUncertainty::of(&[METERED, TRAVEL]),
        Measured::Given(_) => RelativeUncertainty::of(&[]),
    }
}

/// What is wrong with an arc as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    Amps,
    Energy,
    Length,
    Power,
    Travel,
    Volts,
    /// Each part is sound, and together they are not.
    Together,
}

/// Checks what was typed of an arc: each part by itself, and all of it together.
///
/// # Errors
/// Which part is wrong, and why.
pub(crate) fn check(arc: &Arc, process: Option<&Process>) -> std::result::Result<(), (Part, String)> {
    for (part, text, dimension) in [
        (Part::Volts, &arc.volts, Dimension::Voltage),
        (Part::Amps, &arc.amps, Dimension::Current),
        (Part::Travel, &arc.travel, Dimension::Speed),
        (Part::Energy, &arc.energy, Dimension::Energy),
        (Part::Length, &arc.length, Dimension::Length),
        (Part::Power, &arc.power, Dimension::Power),
    ] {
        if let Some(text) = text.value() {
            Measure::above_zero(text, dimension).map_err(|e| (part, e.to_string()))?;
        }
    }
    match measured(arc) {
        Ok(measured) => HeatInput::new(measured, None, process.cloned(), arc.waveform_controlled)
            .map(|_| ())
            .map_err(|e| (Part::Together, e.to_string())),
        // Incomplete is no error: what was read is kept, and the pass has no heat input.
        Err(_) => Ok(()),
    }
}

/// The heat input of a weld record at one of its joints; none where nothing was written down of its arc.
pub(crate) fn of_weld(
    reading: &Reading<'_>,
    record: &JointWelded,
    joint: JointId,
) -> Result<Option<PassHeat>> {
    let Some(arc) = record.arc.value() else {
        return Ok(None);
    };
    let process = record.process.value();
    let value = measured(arc).and_then(|measured| {
        let value = HeatInput::new(measured.clone(), None, process.cloned(), arc.waveform_controlled);
        Ok((measured, value.map_err(|e| e.to_string())?))
    });
    let (measured, value) = match value {
        Ok(both) => both,
        Err(why) => return Ok(Some(PassHeat::NotWorkedOut(why))),
    };
    let mut limits = Vec::new();
    for wps in &reading.joint(joint)?.declared.wps {
        let declared = reading.wps(wps.wps)?;
        let Some(limit) = declared.heat_input.value() else {
            continue;
        };
        let Ok(convention) = Convention::parse(&limit.convention) else {
            continue;
        };
        let compared = HeatInputLimit::parse(convention, &limit.most).and_then(|most| {
            let value = HeatInput::new(
                measured.clone(),
                Some(convention),
                process.cloned(),
                arc.waveform_controlled,
            )?;
            let against = value.against(&most, Some(&uncertainty(&measured)?))?;
            Ok((value, against))
        });
        limits.push(AgainstLimit {
            wps: declared.number.clone(),
            most: limit.most.clone(),
            convention,
            compared: compared.map_err(|e| e.to_string()),
        });
    }
    Ok(Some(PassHeat::Known { value: Box::new(value), limits }))
}
