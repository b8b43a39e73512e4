//! `spot-check`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, trace_page};
use clap::{Args, ValueEnum};
use ledger::ask::joint_trace::WeldTrace;
use ledger::tell::spot_check::SpotCheckRequest;
use serde_json::json;

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum YesNo {
    /// Yes
    Yes,
    /// No
    No,
}

/// Arguments of `spot-check`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  rodbook spot-check M-101 W-12 --legible yes --reads 70S-2")]
pub struct SpotCheckArgs {
    /// Joint number
    pub joint: String,
    /// Badge of the welder
    pub welder: String,
    /// Whether the mark could be read
    #[arg(long, value_enum)]
    pub legible: YesNo,
    /// What it says
    #[arg(long, value_name = "TEXT")]
    pub reads: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Records a spot check.
pub fn run(context: &Context, args: &SpotCheckArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let request = SpotCheckRequest {
        joint: args.joint.clone(),
        welder: args.welder.clone(),
        legible: args.legible == YesNo::Yes,
        reads: args.reads.clone(),
        at: context.at(ledger.zone()?)?,
    };
    let done = ledger.spot_check(&context.acting(args.dry_run.dry_run, None), &request)?;
    let mut page = Page::narrow();
    let seen = match (request.legible, &args.reads) {
        (true, Some(reads)) => format!("read {reads}"),
        (true, None) => "legible, and nobody wrote down what it says".into(),
        (false, _) => "not legible".into(),
    };
    page.line(0, format!("Spot check at {}, {}: {seen}.", args.joint, args.welder));
    if !request.legible {
        page.hanging(
            2,
            2,
            "Unmarked wire in use: what it is, custody alone can say. The weld is the inspector's decision.",
        );
    }
    let written = done.entries.last().map(|e| e.id);
    let of_check = |weld: &&WeldTrace| weld.checks.iter().any(|(entry, _, _)| Some(*entry) == written);
    let mut covering = done.value.welds.iter().filter(of_check).peekable();
    if covering.peek().is_none() {
        page.hanging(
            2,
            2,
            "No weld record of that joint and welder covers the time; it counts once one does.",
        );
    }
    for weld in covering {
        page.hanging(0, 2, format!("{}: {}.", trace_page::title(weld), trace_page::answer_line(weld)));
    }
    let welds: Vec<_> = done.value.welds.iter().map(trace_page::weld_json).collect();
    Ok(receipt::answer("spot-check", &done, page.finish(), json!({ "joint": args.joint, "welds": welds })))
}
