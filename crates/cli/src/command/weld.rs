//! `weld`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::{Context, read_time};
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt, show, trace_page};
use clap::{Args, ValueEnum};
use filler::Process;
use ledger::tell::weld::{WeldRequest, unusual_words};
use record::Stated;
use record::event::{Arc, Mark};
use serde_json::json;

/// What was seen of the mark.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum MarkWord {
    /// Read
    Read,
    /// Looked at and not readable
    Unreadable,
    /// Not looked at
    NotLooked,
}

/// Arguments of `weld`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook weld M-101 W-12 --pass root --process GTAW --slip S-00042 --used \"14 rods\" \\\n    --from \"2026-03-02 08:10\" --to \"2026-03-02 09:20\" --mark read\n\nTimes: --from and --to; without --from the time of --at, or now."
)]
pub struct WeldArgs {
    /// Joint number
    pub joint: String,
    /// Badge of the welder
    pub welder: String,
    /// A further joint welded with the same filler; can be repeated
    #[arg(long, value_name = "JOINT")]
    pub also: Vec<String>,
    /// root, hot, fill, cap, back, tack; another word is kept, with a warning
    #[arg(long)]
    pub pass: Option<String>,
    /// original, R1, R2, cut-out, tack, temporary; original if it is not said
    #[arg(long)]
    pub cycle: Option<String>,
    /// Process, say GTAW or SMAW
    #[arg(long)]
    pub process: Option<String>,
    /// The lot, if it is known
    #[arg(long, conflicts_with = "no_filler")]
    pub lot: Option<String>,
    /// The slip, if it is known
    #[arg(long, conflicts_with = "no_filler")]
    pub slip: Option<String>,
    /// Welded without filler metal
    #[arg(long)]
    pub no_filler: bool,
    /// How much filler was used, say "14 rods"
    #[arg(long, value_name = "QUANTITY", conflicts_with = "no_filler")]
    pub used: Option<String>,
    /// Start
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// End
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// What was seen of the mark on the filler
    #[arg(long, value_enum)]
    pub mark: Option<MarkWord>,
    /// The joint is finished with it
    #[arg(long)]
    pub finished: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub arc: ArcArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// What was measured of the arc.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "What was measured of the arc, for the heat input")]
pub struct ArcArgs {
    /// Arc voltage in volts, say 12
    #[arg(long, value_name = "VOLTS")]
    pub volts: Option<String>,
    /// Current in amperes, say 227
    #[arg(long, value_name = "AMPS")]
    pub amps: Option<String>,
    /// Travel speed, say "3.5 in/min" or "90 mm/min"
    #[arg(long, value_name = "SPEED")]
    pub travel: Option<String>,
    /// Energy over the bead, say "55200 J"; with --length
    #[arg(long, value_name = "ENERGY")]
    pub energy: Option<String>,
    /// Length of the bead, say "4 in"
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Mean instantaneous power, say "2300 W"; with --travel
    #[arg(long, value_name = "POWER")]
    pub power: Option<String>,
    /// The arc was pulsed, or its waveform controlled: volts times amperes is not its power then
    #[arg(long)]
    pub waveform_controlled: bool,
}

impl ArcArgs {
    fn typed(&self) -> Arc {
        let said = |text: &Option<String>| Stated::from_option(text.as_deref().map(|t| t.trim().to_owned()));
        Arc {
            amps: said(&self.amps),
            energy: said(&self.energy),
            length: said(&self.length),
            power: said(&self.power),
            travel: said(&self.travel),
            volts: said(&self.volts),
            waveform_controlled: self.waveform_controlled,
        }
    }
}

/// Records a weld.
pub fn run(context: &Context, args: &WeldArgs) -> Result<Answer, Failure> {
    let used = args.used.as_ref().map(|u| command::quantity(std::slice::from_ref(u))).transpose()?;
    let process = args
        .process
        .as_deref()
        .map(|p| {
            Process::parse(p).map_err(|e| Failure::not_understood(e.to_string()).next("write GTAW, SMAW, …"))
        })
        .transpose()?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let shifts = ledger.ask(|reading| reading.shifts())?;
    let time = |option: &str, text: &Option<String>| {
        text.as_deref().map(|t| read_time(option, t, zone, &shifts)).transpose()
    };
    let from = match time("--from", &args.from)? {
        Some(from) => Some(from),
        None => context.global.at.as_deref().map(|t| read_time("--at", t, zone, &shifts)).transpose()?,
    };
    let request = WeldRequest {
        joint: args.joint.clone(),
        also: args.also.clone(),
        welder: args.welder.clone(),
        pass: args.pass.clone(),
        cycle: args.cycle.clone(),
        process,
        lot: args.lot.clone(),
        slip: args.slip.clone(),
        filler: !args.no_filler,
        used,
        from,
        to: time("--to", &args.to)?,
        mark: args.mark.map(|m| match m {
            MarkWord::Read => Mark::Read,
            MarkWord::Unreadable => Mark::Unreadable,
            MarkWord::NotLooked => Mark::NotLooked,
        }),
        finished: args.finished,
        arc: args.arc.typed(),
    };
    let done = ledger.weld(&context.acting(args.dry_run.dry_run, None), &request)?;
    let mut page = Page::narrow();
    let numbers: Vec<&String> = std::iter::once(&args.joint).chain(&args.also).collect();
    for (weld, number) in done.value.iter().zip(numbers) {
        page.hanging(0, 2, format!("{number}: {}.", trace_page::answer_line(weld)));
        for reason in trace_page::reasons(weld) {
            page.hanging(2, 4, reason);
        }
        for line in trace_page::heat_input(weld) {
            page.hanging(2, 4, line);
        }
    }
    let welds: Vec<_> = done.value.iter().map(trace_page::weld_json).collect();
    let mut answer = receipt::answer("weld", &done, page.finish(), json!({ "welds": welds }));
    for unusual in unusual_words(args.cycle.as_deref(), args.pass.as_deref()) {
        let near = if unusual.near.is_empty() {
            String::new()
        } else {
            format!("; did you mean {}?", show::listed(&unusual.near, "or"))
        };
        answer.warnings.push(format!(
            "the {} {:?} is not among the usual ones ({}); it is kept as typed{near}",
            unusual.what, unusual.word, unusual.usual
        ));
    }
    let cut_out = args.cycle.as_deref().is_some_and(record::rules::weld::says_cut_out);
    if cut_out && !args.no_filler && args.lot.is_none() && args.slip.is_none() {
        answer.warnings.push(
            "a cut-out puts no metal in; without --no-filler the record says that filler was used, and asks for its source"
                .into(),
        );
    }
    Ok(answer)
}
