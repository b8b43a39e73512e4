//! Heat input and arc energy in the conventions that codes and standards use, each value with its convention.
//!
//! | convention | formula | source |
//! |---|---|---|
//! | [`Convention::Conventional`] | 60·V·I / v | ASME IX QW-409.1(a) |
//! | [`Convention::EnergyPerLength`] | E / L | ASME IX QW-409.1(c)(1), form from memory |
//! | [`Convention::PowerPerSpeed`] | 60·P / v | ASME IX QW-409.1(c)(2), form from memory |
//! | [`Convention::Bridge`] | 0.06·V·I / v | AWS D1.5 |
//! | [`Convention::ArcEnergyA`], B, C | V·I / v, E / L, P / v | ISO/TR 18491; which letter is which from memory |
//! | [`Convention::HeatInputWithK`] | k · arc energy | EN 1011-1, ISO/TR 17671-1 |
//!
//! Values of two conventions are not compared, even where the formulas agree: the code behind a limit says how the value
//! is measured. Nothing here is a floating-point number.

use crate::exact::Exact;
use crate::measure::{Dimension, Measure, MeasureError};
use crate::process::Process;
use crate::shown::shown;
use crate::word::{WordError, parse_word};
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/thermal_efficiencies.csv");

/// How a heat input is defined and measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Convention {
    /// 60·V·I / v, without a thermal efficiency: ASME IX QW-409.1(a).
    #[serde(rename = "qw-409.1-a")]
    Conventional,
    /// Measured energy over bead length: ASME IX QW-409.1(c)(1).
    #[serde(rename = "qw-409.1-c1")]
    EnergyPerLength,
    /// Measured mean instantaneous power over travel speed: ASME IX QW-409.1(c)(2).
    #[serde(rename = "qw-409.1-c2")]
    PowerPerSpeed,
    /// 0.06·V·I / v in kilojoules per inch: AWS D1.5.
    #[serde(rename = "d1.5")]
    Bridge,
    /// Arc energy from mean volts and amperes: ISO/TR 18491 method A.
    #[serde(rename = "arc-energy-a")]
    ArcEnergyA,
    /// Arc energy from measured energy: ISO/TR 18491 method B.
    #[serde(rename = "arc-energy-b")]
    ArcEnergyB,
    /// Arc energy from measured power: ISO/TR 18491 method C.
    #[serde(rename = "arc-energy-c")]
    ArcEnergyC,
    /// Arc energy times the thermal efficiency k of the process: EN 1011-1.
    #[serde(rename = "en-1011-1")]
    HeatInputWithK,
}

impl Convention {
    /// All conventions, in the order they are listed in messages.
    pub const ALL: &'static [Self] = &[
        Self::Conventional,
        Self::EnergyPerLength,
        Self::PowerPerSpeed,
        Self::Bridge,
        Self::ArcEnergyA,
        Self::ArcEnergyB,
        Self::ArcEnergyC,
        Self::HeatInputWithK,
    ];

    /// The word, as recorded and shown.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Conventional => "qw-409.1-a",
            Self::EnergyPerLength => "qw-409.1-c1",
            Self::PowerPerSpeed => "qw-409.1-c2",
            Self::Bridge => "d1.5",
            Self::ArcEnergyA => "arc-energy-a",
            Self::ArcEnergyB => "arc-energy-b",
            Self::ArcEnergyC => "arc-energy-c",
            Self::HeatInputWithK => "en-1011-1",
        }
    }

    /// Reads the word, in any case.
    ///
    /// # Errors
    /// When the word is not in the list; the message lists the words.
    pub fn parse(text: &str) -> Result<Self, WordError> {
        parse_word(text, "heat-input convention", Self::ALL, Self::word)
    }

    /// What it is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Conventional => "heat input from volts and amperes",
            Self::EnergyPerLength => "heat input from energy",
            Self::PowerPerSpeed => "heat input from power",
            Self::Bridge => "heat input of the bridge code",
            Self::ArcEnergyA => "arc energy, method A",
            Self::ArcEnergyB => "arc energy, method B",
            Self::ArcEnergyC => "arc energy, method C",
            Self::HeatInputWithK => "heat input with thermal efficiency",
        }
    }

    /// Document and clause, and what of it is from memory.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            Self::Conventional => "ASME IX QW-409.1(a)",
            Self::EnergyPerLength => "ASME IX QW-409.1(c)(1), since 2010; form from memory",
            Self::PowerPerSpeed => "ASME IX QW-409.1(c)(2), since 2010; form from memory",
            Self::Bridge => "AWS D1.5",
            Self::ArcEnergyA => "ISO/TR 18491, method A; the letter from memory",
            Self::ArcEnergyB => "ISO/TR 18491, method B; the letter from memory",
            Self::ArcEnergyC => "ISO/TR 18491, method C; the letter from memory",
            Self::HeatInputWithK => "EN 1011-1, ISO/TR 17671-1",
        }
    }

    /// The formula, with the units of its terms.
    #[must_use]
    pub fn formula(self) -> &'static str {
        match self {
            Self::Conventional => "60 x V x I / v, v per minute",
            Self::EnergyPerLength | Self::ArcEnergyB => "E / L",
            Self::PowerPerSpeed => "60 x P / v, v per minute",
            Self::Bridge => "0.06 x V x I / v, v in in/min",
            Self::ArcEnergyA => "V x I / v, v per second",
            Self::ArcEnergyC => "P / v, v per second",
            Self::HeatInputWithK => "k x arc energy",
        }
    }
}

impl fmt::Display for Convention {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// How fast the weld advances.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Travel {
    /// Measured as a speed.
    Speed(Measure),
    /// From a record: bead length and arc time.
    Run {
        /// Bead length.
        length: Measure,
        /// Arc time.
        time: Measure,
    },
}

impl Travel {
    /// Millimetres per minute.
    fn mm_per_min(&self) -> Option<Exact> {
        match self {
            Travel::Speed(speed) => Some(speed.base()),
            Travel::Run { length, time } => length.base().times(Exact::whole(60))?.over(time.base()),
        }
    }
}

/// What was measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Measured {
    /// Mean volts and amperes: not of a pulsed or waveform-controlled arc.
    VoltsAmps {
        /// Mean voltage.
        volts: Measure,
        /// Mean current.
        amps: Measure,
        /// Travel speed.
        travel: Travel,
    },
    /// The energy a meter summed over a bead.
    Energy {
        /// Energy.
        energy: Measure,
        /// Bead length.
        length: Measure,
    },
    /// The mean instantaneous power a meter shows.
    Power {
        /// Power.
        power: Measure,
        /// Travel speed.
        travel: Travel,
    },
    /// An energy per length that somebody else worked out.
    Given(Measure),
}

/// The thermal efficiency of a process: a convention of bookkeeping, not a measurement.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct ThermalEfficiency {
    /// The process, by its letters.
    pub process: String,
    /// Process numbers of ISO 4063, from memory.
    pub iso_4063: String,
    /// The factor, decimal text: `0.6`.
    pub k: String,
    /// What the row covers.
    pub covers: String,
    /// Where the figure comes from.
    pub source: String,
    /// How sure it is.
    pub confidence: String,
}

/// The table of thermal efficiencies.
#[must_use]
pub fn thermal_efficiencies() -> &'static [ThermalEfficiency] {
    static ROWS: OnceLock<Vec<ThermalEfficiency>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes()).deserialize().filter_map(Result::ok).collect()
    })
}

/// The thermal efficiency of a process; None when the table has none.
#[must_use]
pub fn thermal_efficiency(process: &Process) -> Option<&'static ThermalEfficiency> {
    thermal_efficiencies().iter().find(|row| row.process == process.as_str())
}

/// A heat input: what was measured, as typed, and the convention. The recorded form has decimal texts only.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Fields", into = "Fields")]
pub struct HeatInput {
    convention: Convention,
    measured: Measured,
    process: Option<Process>,
    waveform_controlled: bool,
    /// Joules per millimetre, k included where the convention has it.
    j_per_mm: Exact,
}

/// Why there is no heat input, or no comparison.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HeatInputError {
    /// A number or unit that was not understood.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// Mean volts and amperes of a pulsed or waveform-controlled arc.
    #[error(
        "mean volts times mean amperes is not the mean power of a pulsed or waveform-controlled arc: 24 V and 300 A in \
         turn with 18 V and 80 A, half the time each, are 4320 W, and the means give 3990 W; give the energy with the \
         bead length, or the power with the travel speed, as the meter shows them (QW-409.1(c))"
    )]
    Waveform,
    /// A convention whose input is another one.
    #[error("{convention} is not worked out from {from}; {next}")]
    WrongInput {
        /// The convention asked for.
        convention: Convention,
        /// What was given.
        from: &'static str,
        /// The conventions that suit it.
        next: String,
    },
    /// A given energy per length without its convention.
    #[error("an energy per length says nothing without its convention; name one of: {0}")]
    ConventionMissing(String),
    /// A thermal efficiency is asked for and no process given.
    #[error("the thermal efficiency k depends on the process, and none is given; give it, such as GTAW")]
    ProcessMissing,
    /// A process without a thermal efficiency.
    #[error("EN 1011-1 as tabled here has no thermal efficiency k for {process}; it has one for {known}")]
    NoThermalEfficiency {
        /// The process as typed.
        process: String,
        /// The processes of the table.
        known: String,
    },
    /// Two values of different conventions.
    #[error(
        "not compared: the value follows {value} and the limit {limit}; work the value out by the convention of the limit"
    )]
    DifferentConventions {
        /// Of the value.
        value: Convention,
        /// Of the limit, or of the other value.
        limit: Convention,
    },
    /// A relative uncertainty that is not one.
    #[error("\"{0}\" is not a relative standard uncertainty from 0 to 1; write 0.05 for 5 %")]
    NotAnUncertainty(String),
    /// Numbers with too many digits to be multiplied exactly.
    #[error("the numbers have too many digits to be worked out exactly; write shorter ones")]
    TooLarge,
    /// A recorded form of which something is missing or too much.
    #[error("the recorded heat input is not whole: {0}")]
    NotWhole(&'static str),
}

/// The conventions a measurement suits; the first is the one taken when none is named.
fn suitable(measured: &Measured) -> &'static [Convention] {
    use Convention as C;
    match measured {
        Measured::VoltsAmps { .. } => &[C::Conventional, C::Bridge, C::ArcEnergyA, C::HeatInputWithK],
        Measured::Energy { .. } => &[C::EnergyPerLength, C::ArcEnergyB, C::HeatInputWithK],
        Measured::Power { .. } => &[C::PowerPerSpeed, C::ArcEnergyC, C::HeatInputWithK],
        Measured::Given(_) => Convention::ALL,
    }
}

fn words(conventions: &[Convention]) -> String {
    conventions.iter().map(|c| c.word()).collect::<Vec<_>>().join(", ")
}

/// Whether the letters of a process say that its current is pulsed: the suffix -P of AWS A3.0 (from memory), or the word
/// in whatever place.
#[must_use]
pub fn is_pulsed(process: &Process) -> bool {
    match process {
        Process::Smaw | Process::Gtaw | Process::Paw | Process::Gmaw | Process::Fcaw | Process::Saw => false,
        Process::Other(text) => {
            let text = text.to_ascii_uppercase();
            let mut parts = text.split(|c: char| !c.is_alphanumeric());
            text.contains("PULS") || text.contains("WAVEFORM") || parts.any(|part| part == "P")
        }
    }
}

impl HeatInput {
    /// The heat input of what was measured. Without a convention: QW-409.1(a), (c)(1) or (c)(2), whichever the measurement
    /// suits.
    ///
    /// # Errors
    /// When the arc is pulsed or waveform-controlled and only volts and amperes are given, when the convention is
    /// worked out from something else, or when k is asked for a process that has none.
    pub fn new(
        measured: Measured,
        convention: Option<Convention>,
        process: Option<Process>,
        waveform_controlled: bool,
    ) -> Result<Self, HeatInputError> {
        let waveform_controlled = waveform_controlled || process.as_ref().is_some_and(is_pulsed);
        let given = matches!(measured, Measured::Given(_));
        if waveform_controlled && matches!(measured, Measured::VoltsAmps { .. }) {
            return Err(HeatInputError::Waveform);
        }
        let suitable = suitable(&measured);
        let convention = match (convention, given) {
            (Some(convention), _) if suitable.contains(&convention) => convention,
            (Some(convention), _) => {
                let from = match measured {
                    Measured::VoltsAmps { .. } => "volts and amperes",
                    Measured::Energy { .. } => "an energy and a bead length",
                    Measured::Power { .. } => "a power and a travel speed",
                    Measured::Given(_) => "an energy per length",
                };
                let next = format!("it suits {}", words(suitable));
                return Err(HeatInputError::WrongInput { convention, from, next });
            }
            (None, true) => return Err(HeatInputError::ConventionMissing(words(Convention::ALL))),
            (None, false) => suitable.first().copied().unwrap_or(Convention::Conventional),
        };
        let arc_energy = energy_per_mm(&measured)?.ok_or(HeatInputError::TooLarge)?;
        let j_per_mm = if convention == Convention::HeatInputWithK {
            let k = k_of(process.as_ref())?;
            Exact::parse(&k.k).ok().and_then(|k| arc_energy.times(k)).ok_or(HeatInputError::TooLarge)?
        } else {
            arc_energy
        };
        Ok(HeatInput { convention, measured, process, waveform_controlled, j_per_mm })
    }

    /// The conventional heat input of texts as typed: `12`, `227`, `3.5 in/min`.
    ///
    /// # Errors
    /// When one of them is no such measure, or is zero.
    pub fn from_volts_amps(volts: &str, amps: &str, travel: &str) -> Result<Self, HeatInputError> {
        let measured = Measured::VoltsAmps {
            volts: Measure::above_zero(volts, Dimension::Voltage)?,
            amps: Measure::above_zero(amps, Dimension::Current)?,
            travel: Travel::Speed(Measure::above_zero(travel, Dimension::Speed)?),
        };
        Self::new(measured, None, None, false)
    }

    /// The convention.
    #[must_use]
    pub fn convention(&self) -> Convention {
        self.convention
    }

    /// What was measured.
    #[must_use]
    pub fn measured(&self) -> &Measured {
        &self.measured
    }

    /// The process, if one was given.
    #[must_use]
    pub fn process(&self) -> Option<&Process> {
        self.process.as_ref()
    }

    /// Whether the arc is pulsed or waveform-controlled.
    #[must_use]
    pub fn waveform_controlled(&self) -> bool {
        self.waveform_controlled
    }

    /// The thermal efficiency in the value; None where the convention has none.
    #[must_use]
    pub fn k(&self) -> Option<&'static ThermalEfficiency> {
        (self.convention == Convention::HeatInputWithK)
            .then(|| self.process.as_ref().and_then(thermal_efficiency))
            .flatten()
    }

    /// Joules per millimetre, exactly.
    #[must_use]
    pub fn j_per_mm(&self) -> Exact {
        self.j_per_mm
    }

    /// Kilojoules per millimetre as decimal text of so many places, a tie to the even digit.
    #[must_use]
    pub fn kj_per_mm(&self, places: u32) -> Option<String> {
        self.j_per_mm.over(Exact::whole(1000))?.decimal(places)
    }

    /// Kilojoules per inch as decimal text of so many places, a tie to the even digit.
    #[must_use]
    pub fn kj_per_in(&self, places: u32) -> Option<String> {
        // 1 kJ/mm = 25.4 kJ/in exactly.
        self.j_per_mm.times(Exact::fraction(127, 5000)?)?.decimal(places)
    }

    /// Which of two values of one convention is larger.
    ///
    /// # Errors
    /// When their conventions differ.
    pub fn compare(&self, other: &HeatInput) -> Result<Ordering, HeatInputError> {
        if self.convention != other.convention {
            return Err(HeatInputError::DifferentConventions {
                value: self.convention,
                limit: other.convention,
            });
        }
        Ok(self.j_per_mm.cmp(&other.j_per_mm))
    }

    /// Where the value lies to a limit, exactly: the squares of the difference and of twice the uncertainty are compared.
    ///
    /// # Errors
    /// When the conventions differ, or the numbers have too many digits to be squared.
    pub fn against(
        &self,
        limit: &HeatInputLimit,
        uncertainty: Option<&RelativeUncertainty>,
    ) -> Result<Against, HeatInputError> {
        if self.convention != limit.convention {
            return Err(HeatInputError::DifferentConventions {
                value: self.convention,
                limit: limit.convention,
            });
        }
        let limit = limit.at_most.base();
        let within_2u = match uncertainty {
            None => self.j_per_mm == limit,
            Some(u) => {
                let far = self.j_per_mm.minus(limit).and_then(Exact::squared);
                let two_u = self
                    .j_per_mm
                    .squared()
                    .and_then(|h| h.times(u.squared))
                    .and_then(|u| u.times(Exact::whole(4)));
                far.zip(two_u).map(|(far, two_u)| far <= two_u).ok_or(HeatInputError::TooLarge)?
            }
        };
        Ok(match (self.j_per_mm > limit, within_2u) {
            (true, within_2u) => Against::Above { within_2u },
            (false, true) => Against::NearLimit,
            (false, false) => Against::Below,
        })
    }
}

/// Joules per millimetre before any thermal efficiency; None when the numbers are too long.
fn energy_per_mm(measured: &Measured) -> Result<Option<Exact>, HeatInputError> {
    let zero = |measure: &Measure| Measure::above_zero(&measure.to_string(), measure.dimension()).map(|_| ());
    let per_speed = |power: Exact, travel: &Travel| {
        let mm_per_s = travel.mm_per_min()?.over(Exact::whole(60))?;
        power.over(mm_per_s)
    };
    let check = |travel: &Travel| match travel {
        Travel::Speed(speed) => zero(speed),
        Travel::Run { length, time } => zero(length).and_then(|()| zero(time)),
    };
    match measured {
        Measured::VoltsAmps { volts, amps, travel } => {
            zero(volts)?;
            zero(amps)?;
            check(travel)?;
            Ok(volts.base().times(amps.base()).and_then(|power| per_speed(power, travel)))
        }
        Measured::Energy { energy, length } => {
            zero(energy)?;
            zero(length)?;
            Ok(energy.base().over(length.base()))
        }
        Measured::Power { power, travel } => {
            zero(power)?;
            check(travel)?;
            Ok(per_speed(power.base(), travel))
        }
        Measured::Given(given) => {
            zero(given)?;
            Ok(Some(given.base()))
        }
    }
}

fn k_of(process: Option<&Process>) -> Result<&'static ThermalEfficiency, HeatInputError> {
    let process = process.ok_or(HeatInputError::ProcessMissing)?;
    thermal_efficiency(process).ok_or_else(|| HeatInputError::NoThermalEfficiency {
        process: shown(process.as_str()),
        known: thermal_efficiencies().iter().map(|row| row.process.as_str()).collect::<Vec<_>>().join(", "),
    })
}

/// The largest heat input a procedure allows, with the convention it is stated in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "LimitFields", into = "LimitFields")]
pub struct HeatInputLimit {
    convention: Convention,
    at_most: Measure,
}

impl HeatInputLimit {
    /// A limit as typed: `1.5 kJ/mm`, `38 kJ/in`.
    ///
    /// # Errors
    /// When it is no energy per length above zero.
    pub fn parse(convention: Convention, at_most: &str) -> Result<Self, HeatInputError> {
        Ok(HeatInputLimit { convention, at_most: Measure::above_zero(at_most, Dimension::EnergyPerLength)? })
    }

    /// The convention.
    #[must_use]
    pub fn convention(&self) -> Convention {
        self.convention
    }

    /// The limit.
    #[must_use]
    pub fn at_most(&self) -> &Measure {
        &self.at_most
    }
}

/// The relative standard uncertainty of a heat input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RelativeUncertainty {
    squared: Exact,
}

impl RelativeUncertainty {
    /// From the relative standard uncertainties of the independent factors, such as volts, amperes and travel speed, as
    /// decimal texts (`0.02`): the square root of the sum of their squares (ISO/IEC Guide 98-3 (GUM) 5.1.6).
    ///
    /// # Errors
    /// When one is not a number from 0 to 1.
    pub fn of(factors: &[&str]) -> Result<Self, HeatInputError> {
        let mut squared = Exact::zero();
        for text in factors {
            let factor = Exact::parse(text)
                .ok()
                .filter(|factor| *factor <= Exact::one())
                .ok_or_else(|| HeatInputError::NotAnUncertainty(shown(text)))?;
            squared = factor.squared().and_then(|f| squared.plus(f)).ok_or(HeatInputError::TooLarge)?;
        }
        Ok(RelativeUncertainty { squared })
    }

    /// Its square, exactly.
    #[must_use]
    pub fn squared(&self) -> Exact {
        self.squared
    }

    /// As a floating-point number, to be shown.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        self.squared.root_f64()
    }
}

/// Where a heat input lies to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Against {
    /// Not above the limit, and farther from it than twice the standard uncertainty (or no uncertainty is known).
    Below,
    /// Not above the limit, and within twice the standard uncertainty of it, or at it.
    NearLimit,
    /// Above the limit.
    Above {
        /// By no more than twice the standard uncertainty.
        within_2u: bool,
    },
}

impl Against {
    /// The word, as recorded and shown.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Against::Below => "below",
            Against::NearLimit => "near-limit",
            Against::Above { .. } => "above",
        }
    }
}

impl fmt::Display for Against {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// The mean instantaneous power of an arc that alternates between two levels, in watts: peak and base volts and amperes, and
/// the share of time at the peak. ISO/TR 18491's definition, evaluated for a rectangular pulse.
#[must_use]
pub fn two_level_power(peak: (&Measure, &Measure), base: (&Measure, &Measure), duty: Exact) -> Option<Exact> {
    if duty.is_negative() || duty > Exact::one() {
        return None;
    }
    let peak = peak.0.base().times(peak.1.base())?.times(duty)?;
    let base = base.0.base().times(base.1.base())?.times(Exact::one().minus(duty)?)?;
    peak.plus(base)
}

/// The recorded form of a heat input; keys in byte order, the numbers as typed with their units, null where nothing was
/// measured.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    amps: Option<String>,
    convention: Convention,
    energy: Option<String>,
    energy_per_length: Option<String>,
    length: Option<String>,
    power: Option<String>,
    process: Option<Process>,
    time: Option<String>,
    travel: Option<String>,
    volts: Option<String>,
    waveform_controlled: bool,
}

impl From<HeatInput> for Fields {
    fn from(heat: HeatInput) -> Self {
        let mut fields = Fields {
            amps: None,
            convention: heat.convention,
            energy: None,
            energy_per_length: None,
            length: None,
            power: None,
            process: heat.process,
            time: None,
            travel: None,
            volts: None,
            waveform_controlled: heat.waveform_controlled,
        };
        let mut travelled = |travel: Travel| match travel {
            Travel::Speed(speed) => fields.travel = Some(speed.to_string()),
            Travel::Run { length, time } => {
                fields.length = Some(length.to_string());
                fields.time = Some(time.to_string());
            }
        };
        match heat.measured {
            Measured::VoltsAmps { volts, amps, travel } => {
                travelled(travel);
                fields.volts = Some(volts.to_string());
                fields.amps = Some(amps.to_string());
            }
            Measured::Energy { energy, length } => {
                fields.energy = Some(energy.to_string());
                fields.length = Some(length.to_string());
            }
            Measured::Power { power, travel } => {
                travelled(travel);
                fields.power = Some(power.to_string());
            }
            Measured::Given(given) => fields.energy_per_length = Some(given.to_string()),
        }
        fields
    }
}

/// Reads a recorded measure: only as it would be written again.
fn recorded(text: &str, dimension: Dimension) -> Result<Measure, HeatInputError> {
    let measure = Measure::above_zero(text, dimension)?;
    if measure.to_string() == text {
        Ok(measure)
    } else {
        Err(HeatInputError::NotWhole("a number is not written as it is recorded"))
    }
}

impl TryFrom<Fields> for HeatInput {
    type Error = HeatInputError;

    fn try_from(fields: Fields) -> Result<Self, Self::Error> {
        let read =
            |text: &Option<String>, dimension| text.as_deref().map(|t| recorded(t, dimension)).transpose();
        let volts = read(&fields.volts, Dimension::Voltage)?;
        let amps = read(&fields.amps, Dimension::Current)?;
        let energy = read(&fields.energy, Dimension::Energy)?;
        let given = read(&fields.energy_per_length, Dimension::EnergyPerLength)?;
        let length = read(&fields.length, Dimension::Length)?;
        let power = read(&fields.power, Dimension::Power)?;
        let time = read(&fields.time, Dimension::Time)?;
        let speed = read(&fields.travel, Dimension::Speed)?;
        // Bead length goes with an energy, or with an arc time as a travel speed.
        let (travel, length) = match (speed, length, time) {
            (Some(speed), None, None) => (Some(Travel::Speed(speed)), None),
            (None, Some(length), Some(time)) => (Some(Travel::Run { length, time }), None),
            (None, length, None) => (None, length),
            (_, _, Some(_)) | (Some(_), Some(_), None) => {
                return Err(HeatInputError::NotWhole("a travel speed, or a bead length and an arc time"));
            }
        };
        let measured = match (volts, amps, energy, power, given, travel, length) {
            (Some(volts), Some(amps), None, None, None, Some(travel), None) => {
                Measured::VoltsAmps { volts, amps, travel }
            }
            (None, None, Some(energy), None, None, None, Some(length)) => Measured::Energy { energy, length },
            (None, None, None, Some(power), None, Some(travel), None) => Measured::Power { power, travel },
            (None, None, None, None, Some(given), None, None) => Measured::Given(given),
            (_, _, _, _, _, _, _) => {
                return Err(HeatInputError::NotWhole("one measurement, whole, and nothing beside it"));
            }
        };
        HeatInput::new(measured, Some(fields.convention), fields.process, fields.waveform_controlled)
    }
}

/// The recorded form of a limit.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitFields {
    at_most: String,
    convention: Convention,
}

impl From<HeatInputLimit> for LimitFields {
    fn from(limit: HeatInputLimit) -> Self {
        LimitFields { at_most: limit.at_most.to_string(), convention: limit.convention }
    }
}

impl TryFrom<LimitFields> for HeatInputLimit {
    type Error = HeatInputError;

    fn try_from(fields: LimitFields) -> Result<Self, Self::Error> {
        let at_most = recorded(&fields.at_most, Dimension::EnergyPerLength)?;
        Ok(HeatInputLimit { convention: fields.convention, at_most })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts_amps(volts: &str, amps: &str, travel: &str) -> Measured {
        Measured::VoltsAmps {
            volts: Measure::parse(volts, Dimension::Voltage).unwrap(),
            amps: Measure::parse(amps, Dimension::Current).unwrap(),
            travel: Travel::Speed(Measure::parse(travel, Dimension::Speed).unwrap()),
        }
    }

    fn measured_energy() -> Measured {
        Measured::Energy {
            energy: Measure::parse("55200 J", Dimension::Energy).unwrap(),
            length: Measure::parse("4 in", Dimension::Length).unwrap(),
        }
    }

    fn gtaw() -> Option<Process> {
        Some(Process::Gtaw)
    }

    #[test]
    fn a_worked_example_of_a_study_guide() {
        // A public study guide of trades mathematics: 24 V, 120 A, 10 in/min give 17.28 kJ/in.
        let heat = HeatInput::from_volts_amps("24", "120", "10 in/min").unwrap();
        assert_eq!(heat.kj_per_in(2).as_deref(), Some("17.28"));
        assert_eq!(heat.convention(), Convention::Conventional);
        // The same speed in other units.
        for travel in ["254 mm/min", "25.4 cm/min", "15.24 m/h"] {
            assert_eq!(HeatInput::from_volts_amps("24", "120", travel).unwrap().j_per_mm(), heat.j_per_mm());
        }
    }

    // Common practice, no source: 227 A on a 3/32 in rod at 3 to 4 in/min, and 10 to 14 V.
    #[test]
    fn a_gtaw_pass_lands_where_practice_has_it() {
        let low = HeatInput::from_volts_amps("10", "227", "4 in/min").unwrap();
        let high = HeatInput::from_volts_amps("14", "227", "3 in/min").unwrap();
        assert_eq!(low.kj_per_in(2).as_deref(), Some("34.05"));
        assert_eq!(high.kj_per_in(2).as_deref(), Some("63.56"));
        for volts in ["10", "11", "12", "13", "14"] {
            for travel in ["3 in/min", "3.5 in/min", "4 in/min"] {
                let heat = HeatInput::from_volts_amps(volts, "227", travel).unwrap();
                assert_ne!(heat.compare(&low).unwrap(), Ordering::Less);
                assert_ne!(heat.compare(&high).unwrap(), Ordering::Greater);
            }
        }
    }

    #[test]
    fn energy_and_power_agree_and_k_is_only_where_the_convention_has_it() {
        let energy = HeatInput::new(measured_energy(), None, None, true).unwrap();
        let power = Measured::Power {
            power: Measure::parse("2300 W", Dimension::Power).unwrap(),
            travel: Travel::Speed(Measure::parse("10 in/min", Dimension::Speed).unwrap()),
        };
        let power = HeatInput::new(power, None, None, true).unwrap();
        assert_eq!(energy.convention(), Convention::EnergyPerLength);
        assert_eq!(power.convention(), Convention::PowerPerSpeed);
        assert_eq!(energy.kj_per_in(3).as_deref(), Some("13.800"));
        assert_eq!(energy.j_per_mm(), power.j_per_mm());
        assert!(energy.compare(&power).is_err(), "not across conventions");

        let input = volts_amps("12", "227", "4 in/min");
        let with_k = HeatInput::new(input.clone(), Some(Convention::HeatInputWithK), gtaw(), false).unwrap();
        assert_eq!(with_k.kj_per_mm(3).as_deref(), Some("0.965"));
        assert_eq!(with_k.k().map(|k| k.k.as_str()), Some("0.6"));
        let without = HeatInput::new(input, None, gtaw(), false).unwrap();
        assert_eq!(without.kj_per_mm(3).as_deref(), Some("1.609"));
        assert_eq!(without.k(), None);
    }

    #[test]
    fn pulsed_volts_and_amperes_are_refused() {
        let input = volts_amps("24", "200", "10 in/min");
        let pulsed = Process::parse("GMAW-P").unwrap();
        assert_eq!(HeatInput::new(input.clone(), None, Some(pulsed), false), Err(HeatInputError::Waveform));
        assert_eq!(HeatInput::new(input.clone(), None, None, true), Err(HeatInputError::Waveform));
        assert!(HeatInput::new(input, None, Some(Process::Gmaw), false).is_ok());
        let level = |text: &str, dimension| Measure::parse(text, dimension).unwrap();
        let power = two_level_power(
            (&level("24", Dimension::Voltage), &level("300", Dimension::Current)),
            (&level("18", Dimension::Voltage), &level("80", Dimension::Current)),
            Exact::parse("0.5").unwrap(),
        );
        assert_eq!(power, Some(Exact::whole(4320)));
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let input = volts_amps("24", "200", "10 in/min");
        for convention in [Convention::EnergyPerLength, Convention::PowerPerSpeed, Convention::ArcEnergyC] {
            let error = HeatInput::new(input.clone(), Some(convention), None, false).unwrap_err();
            assert!(matches!(error, HeatInputError::WrongInput { .. }), "{error}");
        }
        let k = Some(Convention::HeatInputWithK);
        assert_eq!(HeatInput::new(input.clone(), k, None, false), Err(HeatInputError::ProcessMissing));
        let oxyfuel = Process::parse("OFW").unwrap();
        let error = HeatInput::new(input, k, Some(oxyfuel), false).unwrap_err().to_string();
        assert!(error.contains("for OFW") && error.contains("GTAW"), "{error}");
        let given = Measured::Given(Measure::parse("1.5 kJ/mm", Dimension::EnergyPerLength).unwrap());
        assert!(matches!(
            HeatInput::new(given, None, None, false),
            Err(HeatInputError::ConventionMissing(_))
        ));
        for (volts, amps, travel) in [("0", "1", "1 mm/s"), ("1", "0", "1 mm/s"), ("1", "1", "0 mm/s")] {
            assert!(HeatInput::from_volts_amps(volts, amps, travel).is_err());
            assert!(HeatInput::new(volts_amps(volts, amps, travel), None, None, false).is_err());
        }
        assert!(
            HeatInput::from_volts_amps("12,5", "227", "3 in/min").unwrap_err().to_string().contains("comma")
        );
    }

    #[test]
    fn a_limit_is_near_within_twice_the_uncertainty() {
        // 0.02, 0.03, 0.05: u is 6.1644 % of the value; of 50 kJ/in, 2u is 6.164 41 kJ/in.
        let u = RelativeUncertainty::of(&["0.02", "0.03", "0.05"]).unwrap();
        assert_eq!(u.squared(), Exact::parse("0.0038").unwrap());
        assert!((u.to_f64() - 0.061_644).abs() < 1e-6);
        let heat = HeatInput::from_volts_amps("25", "200", "6 in/min").unwrap();
        assert_eq!(heat.kj_per_in(3).as_deref(), Some("50.000"));
        let limit = |text: &str| HeatInputLimit::parse(Convention::Conventional, text).unwrap();
        for (at_most, want) in [
            ("56.1644 kJ/in", Against::NearLimit),
            ("56.1645 kJ/in", Against::Below),
            ("50 kJ/in", Against::NearLimit),
            ("49.9 kJ/in", Against::Above { within_2u: true }),
            ("43.8356 kJ/in", Against::Above { within_2u: true }),
            ("43.8355 kJ/in", Against::Above { within_2u: false }),
        ] {
            assert_eq!(heat.against(&limit(at_most), Some(&u)), Ok(want), "{at_most}");
        }
        assert_eq!(heat.against(&limit("56 kJ/in"), None), Ok(Against::Below));
        assert_eq!(heat.against(&limit("50 kJ/in"), None), Ok(Against::NearLimit));
        let other = HeatInputLimit::parse(Convention::ArcEnergyA, "3 kJ/mm").unwrap();
        assert!(heat.against(&other, Some(&u)).unwrap_err().to_string().starts_with("not compared"));
        for bad in ["-0.1", "1.1", "5 %", ""] {
            assert!(RelativeUncertainty::of(&[bad]).is_err(), "{bad}");
        }
    }

    #[test]
    fn the_recorded_form_comes_back() {
        let run = Measured::VoltsAmps {
            volts: Measure::parse("30", Dimension::Voltage).unwrap(),
            amps: Measure::parse("330 A", Dimension::Current).unwrap(),
            travel: Travel::Run {
                length: Measure::parse("24 in", Dimension::Length).unwrap(),
                time: Measure::parse("1.55 min", Dimension::Time).unwrap(),
            },
        };
        let given = Measured::Given(Measure::parse("1.609 kJ/mm", Dimension::EnergyPerLength).unwrap());
        for heat in [
            HeatInput::from_volts_amps("12.0", "227", "3.5 ipm").unwrap(),
            HeatInput::new(run, Some(Convention::Bridge), None, false).unwrap(),
            HeatInput::new(measured_energy(), None, Some(Process::Gmaw), true).unwrap(),
            HeatInput::new(given, Some(Convention::HeatInputWithK), gtaw(), false).unwrap(),
        ] {
            let json = serde_json::to_string(&heat).unwrap();
            assert_eq!(serde_json::from_str::<HeatInput>(&json).unwrap(), heat, "{json}");
        }
        let json =
            serde_json::to_string(&HeatInput::from_volts_amps("12.0", "227", "3.5 ipm").unwrap()).unwrap();
        assert_eq!(
            json,
            r#"{"amps":"227 A","convention":"qw-409.1-a","energy":null,"energy_per_length":null,"length":null,"power":null,"process":null,"time":null,"travel":"3.5 in/min","volts":"12.0 V","waveform_controlled":false}"#
        );
        for (from, to) in [
            ("\"227 A\"", "\"227 amps\""),
            ("\"227 A\"", "\"0 A\""),
            ("\"227 A\"", "null"),
            ("\"power\":null", "\"power\":\"1 W\""),
            ("qw-409.1-a", "qw-409.1-c1"),
            ("\"time\":null", "\"time\":\"1 s\""),
            ("false", "true"),
        ] {
            let wrong = json.replacen(from, to, 1);
            assert!(serde_json::from_str::<HeatInput>(&wrong).is_err(), "{wrong}");
        }
        let limit = HeatInputLimit::parse(Convention::Conventional, "38.5 kJ/in").unwrap();
        let json = serde_json::to_string(&limit).unwrap();
        assert_eq!(json, r#"{"at_most":"38.5 kJ/in","convention":"qw-409.1-a"}"#);
        assert_eq!(serde_json::from_str::<HeatInputLimit>(&json).unwrap(), limit);
    }

    #[test]
    fn the_words_and_the_table_read_back() {
        for convention in Convention::ALL {
            assert_eq!(Convention::parse(convention.word()), Ok(*convention));
            assert_eq!(serde_json::to_string(convention).unwrap(), format!("\"{convention}\""));
        }
        assert_eq!(thermal_efficiencies().len(), TABLE.lines().count() - 1);
        for row in thermal_efficiencies() {
            assert!(Exact::parse(&row.k).is_ok_and(|k| k <= Exact::one()), "{}", row.process);
            assert!(
                !matches!(Process::parse(&row.process), Ok(Process::Other(_)) | Err(_)),
                "{}",
                row.process
            );
        }
    }
}
