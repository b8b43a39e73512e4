//! `calc heat-input`

use super::{
    exact_number, finish, measure, measure_if, not_worked_out, number, page, shown, too_large, wrong,
};
use crate::answer::Answer;
use crate::failure::Failure;
use clap::Args;
use filler::Process;
use filler::exact::Exact;
use filler::heat_input::{
    Against, Convention, HeatInput, HeatInputError, HeatInputLimit, Measured, RelativeUncertainty, Travel,
    two_level_power,
};
use filler::measure::{Dimension, Measure};
use serde_json::{Value, json};

const WHAT: &str = "the heat input";

/// Arguments of `calc heat-input`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc heat-input --volts 12 --amps 227 --travel \"3.5 in/min\"\n  rodbook calc heat-input --volts 12 --amps 227 --travel \"90 mm/min\" --process GTAW --with-k\n  rodbook calc heat-input --energy \"55200 J\" --length \"4 in\"\n  rodbook calc heat-input --power \"2300 W\" --travel \"10 in/min\" --limit \"15 kJ/in\"\n\nA value keeps its convention; values of two conventions are not compared. The limit is that of the procedure:\nno code's number is built in."
)]
pub struct HeatInputArgs {
    /// Mean volts; not of a pulsed or waveform-controlled arc
    #[arg(long, value_name = "VOLTS", allow_hyphen_values = true)]
    pub volts: Option<String>,
    /// Mean amperes; not of a pulsed or waveform-controlled arc
    #[arg(long, value_name = "AMPS", allow_hyphen_values = true)]
    pub amps: Option<String>,
    /// Travel speed: in/min, mm/min, cm/min, m/min, mm/s, cm/s, in/s or m/h
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    pub travel: Option<String>,
    /// Bead length: with --energy, or with --time in place of --travel
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub length: Option<String>,
    /// Arc time over the bead length, in place of --travel
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    pub time: Option<String>,
    /// Energy that a meter summed over the bead, in J or kJ
    #[arg(long, value_name = "ENERGY", allow_hyphen_values = true)]
    pub energy: Option<String>,
    /// Mean instantaneous power that a meter shows, in W or kW
    #[arg(long, value_name = "POWER", allow_hyphen_values = true)]
    pub power: Option<String>,
    /// An energy per length somebody else worked out, say "1.6 kJ/mm"; needs --convention, or --with-k for arc energy
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub energy_per_length: Option<String>,
    /// Volts at the peak of a two-level pulse, with the four others in place of --power
    #[arg(long, value_name = "VOLTS")]
    pub peak_volts: Option<String>,
    /// Amperes at the peak
    #[arg(long, value_name = "AMPS")]
    pub peak_amps: Option<String>,
    /// Volts between the peaks
    #[arg(long, value_name = "VOLTS")]
    pub base_volts: Option<String>,
    /// Amperes between the peaks
    #[arg(long, value_name = "AMPS")]
    pub base_amps: Option<String>,
    /// Share of time at the peak, 0 to 1
    #[arg(long, value_name = "SHARE")]
    pub duty: Option<String>,
    /// Welding process, for the thermal efficiency; -P behind it is pulsed
    #[arg(long, value_name = "PROCESS")]
    pub process: Option<String>,
    /// Multiply by the thermal efficiency k of the process (EN 1011-1)
    #[arg(long)]
    pub with_k: bool,
    /// The arc is pulsed or waveform-controlled: volts times amperes is refused
    #[arg(long)]
    pub waveform_controlled: bool,
    /// qw-409.1-a, qw-409.1-c1, qw-409.1-c2, d1.5, arc-energy-a, arc-energy-b, arc-energy-c or en-1011-1
    #[arg(long, value_name = "CONVENTION")]
    pub convention: Option<String>,
    /// Largest heat input of the procedure, say "38 kJ/in"
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub limit: Option<String>,
    /// Convention the limit is stated in [default: that of the value]
    #[arg(long, value_name = "CONVENTION", requires = "limit")]
    pub limit_convention: Option<String>,
    /// Relative standard uncertainty of the volts, say 0.02; each factor needs its own, 0 if it has none
    #[arg(long, value_name = "REL")]
    pub u_volts: Option<String>,
    /// Of the amperes
    #[arg(long, value_name = "REL")]
    pub u_amps: Option<String>,
    /// Of the travel speed
    #[arg(long, value_name = "REL")]
    pub u_travel: Option<String>,
    /// Of the energy
    #[arg(long, value_name = "REL")]
    pub u_energy: Option<String>,
    /// Of the power
    #[arg(long, value_name = "REL")]
    pub u_power: Option<String>,
    /// Of the bead length
    #[arg(long, value_name = "REL")]
    pub u_length: Option<String>,
    /// Of the arc time
    #[arg(long, value_name = "REL")]
    pub u_time: Option<String>,
    /// Of an energy per length
    #[arg(long, value_name = "REL")]
    pub u_energy_per_length: Option<String>,
}

/// Works it out.
pub(super) fn run(args: &HeatInputArgs) -> Result<Answer, Failure> {
    let pulse = pulse(args)?;
    let measured = measured(args, pulse.as_ref())?;
    let process = args
        .process
        .as_deref()
        .map(|text| Process::parse(text).map_err(|e| wrong("--process", e, "write letters, such as GTAW")))
        .transpose()?;
    let convention = convention(args)?;
    let heat = HeatInput::new(measured, convention, process, args.waveform_controlled).map_err(failure)?;
    let u = uncertainty(args, heat.measured())?;
    let limit = limit(args, &heat, u.as_ref())?;
    let (kj_per_in, kj_per_mm) = (heat.kj_per_in(6), heat.kj_per_mm(6));
    if kj_per_in.is_none() || kj_per_mm.is_none() {
        return Err(too_large(WHAT));
    }
    let u_rel = u.map(|u| format!("{:.6}", u.to_f64()));
    Ok(Answer {
        text: text(&heat, pulse.as_ref(), u_rel.as_deref(), limit.as_ref()),
        json: json!({
            "schema": "rodbook-calc-heat-input/1",
            "kj_per_in": number(kj_per_in),
            "kj_per_mm": number(kj_per_mm),
            "convention": heat.convention().word(),
            "convention_name": heat.convention().name(),
            "formula": heat.convention().formula(),
            "source": heat.convention().source(),
            "k": heat.k().map_or(Value::Null, |k| number(Some(k.k.clone()))),
            "k_source": heat.k().map(|k| &k.source),
            "power_w": exact_number(pulse.as_ref().map(|p| p.power), 6),
            "means_w": exact_number(pulse.as_ref().map(|p| p.of_means), 6),
            "u_rel": number(u_rel),
            "limit": limit.as_ref().map(|(limit, against)| json!({
                "at_most": limit.at_most().to_string(),
                "convention": limit.convention().word(),
                "verdict": against.word(),
                "within_2u": within_2u(*against),
            })),
            "measured": heat,
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}

/// A two-level pulse: its mean power, and what the means would give.
struct Pulse {
    power: Exact,
    of_means: Exact,
}

fn pulse(args: &HeatInputArgs) -> Result<Option<Pulse>, Failure> {
    let given = [&args.peak_volts, &args.peak_amps, &args.base_volts, &args.base_amps, &args.duty];
    if given.iter().all(|o| o.is_none()) {
        return Ok(None);
    }
    let [Some(peak_volts), Some(peak_amps), Some(base_volts), Some(base_amps), Some(duty)] = given else {
        return Err(not_worked_out(
            "the mean power of the pulse",
            "one of its five numbers is missing.",
            "give --peak-volts, --peak-amps, --base-volts, --base-amps and --duty",
        ));
    };
    let level = |option, text: &str, dimension| {
        Measure::parse(text, dimension).map_err(|e| wrong(option, e, "write a number of zero or more"))
    };
    let peak = (
        level("--peak-volts", peak_volts, Dimension::Voltage)?,
        level("--peak-amps", peak_amps, Dimension::Current)?,
    );
    let base = (
        level("--base-volts", base_volts, Dimension::Voltage)?,
        level("--base-amps", base_amps, Dimension::Current)?,
    );
    let duty_read = Exact::parse(duty).ok().filter(|duty| *duty <= Exact::one()).ok_or_else(|| {
        wrong("--duty", format!("{duty:?} is not a share of time from 0 to 1."), "write 0.5 for half")
    })?;
    let power = two_level_power((&peak.0, &peak.1), (&base.0, &base.1), duty_read);
    let mean = |high: &Measure, low: &Measure| {
        let rest = Exact::one().minus(duty_read)?;
        high.base().times(duty_read)?.plus(low.base().times(rest)?)
    };
    let of_means =
        mean(&peak.0, &base.0).zip(mean(&peak.1, &base.1)).and_then(|(volts, amps)| volts.times(amps));
    let (Some(power), Some(of_means)) = (power, of_means) else {
        return Err(too_large("the mean power of the pulse"));
    };
    Ok(Some(Pulse { power, of_means }))
}

/// The one measurement that was given, whole.
fn measured(args: &HeatInputArgs, pulse: Option<&Pulse>) -> Result<Measured, Failure> {
    let power = match (pulse, &args.power) {
        (Some(_), Some(_)) => {
            return Err(not_worked_out(WHAT, "both --power and a pulse are given.", "give only one of them"));
        }
        (Some(pulse), None) => {
            let watts = pulse.power.short_decimal(9).ok_or_else(|| too_large(WHAT))?;
            Some(measure("the power of the pulse", &format!("{watts} W"), Dimension::Power)?)
        }
        (None, text) => measure_if("--power", text.as_ref(), Dimension::Power)?,
    };
    let volts = measure_if("--volts", args.volts.as_ref(), Dimension::Voltage)?;
    let amps = measure_if("--amps", args.amps.as_ref(), Dimension::Current)?;
    let energy = measure_if("--energy", args.energy.as_ref(), Dimension::Energy)?;
    let given =
        measure_if("--energy-per-length", args.energy_per_length.as_ref(), Dimension::EnergyPerLength)?;
    let speed = measure_if("--travel", args.travel.as_ref(), Dimension::Speed)?;
    let length = measure_if("--length", args.length.as_ref(), Dimension::Length)?;
    let time = measure_if("--time", args.time.as_ref(), Dimension::Time)?;
    let kinds = [volts.is_some() || amps.is_some(), energy.is_some(), power.is_some(), given.is_some()];
    match kinds.iter().filter(|k| **k).count() {
        0 => {
            return Err(not_worked_out(
                WHAT,
                "nothing that was measured is given.",
                "give --volts, --amps and --travel; or --energy and --length; or --power and --travel",
            ));
        }
        1 => {}
        _ => {
            return Err(not_worked_out(
                WHAT,
                "more than one of volts and amperes, energy, power and energy per length is given.",
                "give one of them",
            ));
        }
    }
    if let Some(energy) = energy {
        if speed.is_some() || time.is_some() {
            return Err(not_worked_out(
                WHAT,
                "an energy is spread over the bead length, not over a speed.",
                "leave out --travel and --time, or give --power",
            ));
        }
        let length = length.ok_or_else(|| {
            not_worked_out(
                WHAT,
                "the bead length is missing.",
                "give --length, the length of bead of that energy",
            )
        })?;
        return Ok(Measured::Energy { energy, length });
    }
    if let Some(given) = given {
        if speed.is_some() || time.is_some() || length.is_some() {
            return Err(not_worked_out(
                WHAT,
                "an energy per length has its length in it.",
                "leave out --travel, --length and --time",
            ));
        }
        return Ok(Measured::Given(given));
    }
    let travel = match (speed, length, time) {
        (Some(speed), None, None) => Travel::Speed(speed),
        (None, Some(length), Some(time)) => Travel::Run { length, time },
        (Some(_), _, _) => {
            return Err(not_worked_out(
                WHAT,
                "the travel speed is given in two ways.",
                "give --travel, or --length and --time",
            ));
        }
        (None, _, _) => {
            return Err(not_worked_out(
                WHAT,
                "the travel speed is missing.",
                "give --travel, or --length and --time of the bead",
            ));
        }
    };
    if let Some(power) = power {
        return Ok(Measured::Power { power, travel });
    }
    match (volts, amps) {
        (Some(volts), Some(amps)) => Ok(Measured::VoltsAmps { volts, amps, travel }),
        (None, _) => Err(not_worked_out(WHAT, "the volts are missing.", "give --volts")),
        (Some(_), None) => Err(not_worked_out(WHAT, "the amperes are missing.", "give --amps")),
    }
}

fn convention(args: &HeatInputArgs) -> Result<Option<Convention>, Failure> {
    let named = args.convention.as_deref().map(|text| {
        Convention::parse(text).map_err(|e| wrong("--convention", e, "write one of these words"))
    });
    match (named.transpose()?, args.with_k) {
        (Some(named), true) if named != Convention::HeatInputWithK => Err(not_worked_out(
            WHAT,
            format!("the convention {named} has no thermal efficiency k, and --with-k is given."),
            "leave out one of them",
        )),
        (_, true) => Ok(Some(Convention::HeatInputWithK)),
        (named, false) => Ok(named),
    }
}

fn failure(error: HeatInputError) -> Failure {
    let next = match &error {
        HeatInputError::Waveform => "give --energy with --length, or --power with --travel",
        HeatInputError::WrongInput { .. } => {
            "choose another --convention, or give what it is worked out from"
        }
        HeatInputError::ConventionMissing(_) => "name it with --convention",
        HeatInputError::ProcessMissing | HeatInputError::NoThermalEfficiency { .. } => {
            "name the process with --process, or leave out --with-k"
        }
        HeatInputError::DifferentConventions { .. } => "work the value out by the convention of the limit",
        HeatInputError::NotAnUncertainty(_) => "write 0.05 for 5 %",
        HeatInputError::Measure(_) | HeatInputError::TooLarge | HeatInputError::NotWhole(_) => {
            "check the numbers and their units"
        }
    };
    not_worked_out(WHAT, error, next)
}

/// The relative uncertainty, when it is given for every factor of the value.
fn uncertainty(args: &HeatInputArgs, measured: &Measured) -> Result<Option<RelativeUncertainty>, Failure> {
    let all = [
        ("--u-volts", args.u_volts.as_deref()),
        ("--u-amps", args.u_amps.as_deref()),
        ("--u-travel", args.u_travel.as_deref()),
        ("--u-energy", args.u_energy.as_deref()),
        ("--u-power", args.u_power.as_deref()),
        ("--u-length", args.u_length.as_deref()),
        ("--u-time", args.u_time.as_deref()),
        ("--u-energy-per-length", args.u_energy_per_length.as_deref()),
    ];
    if all.iter().all(|(_, given)| given.is_none()) {
        return Ok(None);
    }
    let speed = |travel: &Travel| match travel {
        Travel::Speed(_) => vec!["--u-travel"],
        Travel::Run { .. } => vec!["--u-length", "--u-time"],
    };
    let needed = match measured {
        Measured::VoltsAmps { travel, .. } => [vec!["--u-volts", "--u-amps"], speed(travel)].concat(),
        Measured::Energy { .. } => vec!["--u-energy", "--u-length"],
        Measured::Power { travel, .. } => [vec!["--u-power"], speed(travel)].concat(),
        Measured::Given(_) => vec!["--u-energy-per-length"],
    };
    let what = "the uncertainty of the heat input";
    let mut factors = Vec::new();
    for (option, given) in all {
        match (needed.contains(&option), given) {
            (true, Some(text)) => factors.push(text),
            (false, None) => {}
            (true, None) => {
                return Err(not_worked_out(
                    what,
                    format!("it needs that of every factor, and {option} is missing."),
                    &format!("give {option}; 0 if it has none"),
                ));
            }
            (false, Some(_)) => {
                return Err(not_worked_out(
                    what,
                    format!("{option} is given, and that is no factor of this value."),
                    &format!("leave it out; the factors are {}", needed.join(", ")),
                ));
            }
        }
    }
    RelativeUncertainty::of(&factors).map(Some).map_err(failure)
}

fn limit(
    args: &HeatInputArgs,
    heat: &HeatInput,
    u: Option<&RelativeUncertainty>,
) -> Result<Option<(HeatInputLimit, Against)>, Failure> {
    let Some(text) = &args.limit else { return Ok(None) };
    let convention = match &args.limit_convention {
        None => heat.convention(),
        Some(text) => {
            Convention::parse(text).map_err(|e| wrong("--limit-convention", e, "write one of these words"))?
        }
    };
    let limit = HeatInputLimit::parse(convention, text)
        .map_err(|e| wrong("--limit", e, "write it such as \"38 kJ/in\" or \"1.5 kJ/mm\""))?;
    let against = heat.against(&limit, u).map_err(failure)?;
    Ok(Some((limit, against)))
}

fn within_2u(against: Against) -> bool {
    match against {
        Against::Below => false,
        Against::NearLimit => true,
        Against::Above { within_2u } => within_2u,
    }
}

fn text(
    heat: &HeatInput,
    pulse: Option<&Pulse>,
    u_rel: Option<&str>,
    limit: Option<&(HeatInputLimit, Against)>,
) -> String {
    let convention = heat.convention();
    let dash = || "-".to_owned();
    let mut page = page("HEAT INPUT", convention.word());
    page.line(
        0,
        format!(
            "{} kJ/in = {} kJ/mm",
            heat.kj_per_in(2).unwrap_or_else(dash),
            heat.kj_per_mm(3).unwrap_or_else(dash)
        ),
    );
    page.line(2, format!("{}: {}", convention.name(), convention.formula()));
    page.hanging(2, 4, from(heat.measured()));
    if let Some(k) = heat.k() {
        page.hanging(2, 4, format!("k {} for {}: {} ({})", k.k, k.covers, k.source, k.confidence));
        page.hanging(2, 4, "k is bookkeeping, not a measurement of this arc");
    }
    if let Some(pulse) = pulse {
        page.hanging(
            2,
            4,
            format!(
                "mean power of the pulse {} W; mean volts times mean amperes would be {} W",
                shown(Some(pulse.power), 1),
                shown(Some(pulse.of_means), 1)
            ),
        );
    }
    page.hanging(2, 4, format!("source: {}", convention.source()));
    if let Some(u) = u_rel {
        page.hanging(2, 4, format!("relative standard uncertainty {u} (GUM 5.1.6)"));
    }
    match limit {
        None => {}
        Some((limit, against)) => {
            let verdict = match against {
                Against::Below if u_rel.is_none() => {
                    "below the limit; no uncertainty given, nearness not checked"
                }
                Against::Below => "below the limit, by more than 2u",
                Against::NearLimit => "near limit: not above it, and within 2u of it",
                Against::Above { within_2u: true } => "above the limit, by no more than 2u",
                Against::Above { within_2u: false } => "above the limit",
            };
            page.hanging(0, 2, format!("Limit {} ({}): {verdict}", limit.at_most(), limit.convention()));
        }
    }
    if convention == Convention::HeatInputWithK {
        page.hanging(0, 2, "ASME IX heat input has no k: not to be compared with this value.");
    } else {
        page.hanging(0, 2, "No k is in it: not to be compared with a value that has one (EN 1011-1).");
    }
    finish(page)
}

fn from(measured: &Measured) -> String {
    let travel = |travel: &Travel| match travel {
        Travel::Speed(speed) => format!("v {speed}"),
        Travel::Run { length, time } => format!("v {length} in {time}"),
    };
    match measured {
        Measured::VoltsAmps { volts, amps, travel: t } => format!("V {volts}, I {amps}, {}", travel(t)),
        Measured::Energy { energy, length } => format!("E {energy}, L {length}"),
        Measured::Power { power, travel: t } => format!("P {power}, {}", travel(t)),
        Measured::Given(given) => format!("given: {given}"),
    }
}
