//! `joint`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::{Context, read_time};
use crate::failure::Failure;
use crate::receipt;
use clap::{Args, ValueEnum};
use ledger::tell::declare::JointRequest;
use record::event::Level;
use serde_json::json;

/// How far filler must be traced.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum LevelWord {
    /// To the classification
    Class,
    /// To the lot
    Lot,
}

/// Arguments of `joint`.
#[derive(Debug, Args)]
pub struct JointArgs {
    /// Joint number
    pub number: String,
    /// Job or contract
    #[arg(long)]
    pub job: Option<String>,
    /// Drawing number
    #[arg(long)]
    pub drawing: Option<String>,
    /// Drawing revision
    #[arg(long)]
    pub drawing_revision: Option<String>,
    /// A procedure it may be welded to; can be repeated
    #[arg(long)]
    pub wps: Vec<String>,
    /// How far its filler must be traced
    #[arg(long, value_enum)]
    pub level: Option<LevelWord>,
    /// When it was finished
    #[arg(long, value_name = "TIME")]
    pub finished_at: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Declares a joint.
pub fn run(context: &Context, args: &JointArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let finished_at =
        args.finished_at.as_deref().map(|t| read_time("--finished-at", t, zone, &[])).transpose()?;
    let request = JointRequest {
        number: args.number.clone(),
        job: args.job.clone(),
        drawing: args.drawing.clone(),
        drawing_revision: args.drawing_revision.clone(),
        wps: args.wps.clone(),
        level: args.level.map(|l| match l {
            LevelWord::Class => Level::Class,
            LevelWord::Lot => Level::Lot,
        }),
        finished_at,
    };
    let done = ledger.declare_joint(&context.acting(args.dry_run.dry_run, None), &request)?;
    let text = format!("Joint {} is in the book.\n", args.number);
    Ok(receipt::answer("joint", &done, text, json!({ "joint": args.number })))
}
