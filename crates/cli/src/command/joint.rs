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
    /// The joint had this number until now: both find it, the new one is printed
    #[arg(long, value_name = "OLD")]
    pub renumbers: Option<String>,
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
        renumbers: args.renumbers.clone(),
    };
    let done = ledger.declare_joint(&context.acting(args.dry_run.dry_run, None), &request)?;
    let declared = &done.value;
    let (text, before) = match (&declared.before, &args.renumbers) {
        (Some(before), Some(_)) => (
            format!(
                "Joint {} is in the book; it was {before}, and that number still finds it.\n",
                declared.number
            ),
            Some(before),
        ),
        (Some(_), None) | (None, _) => (format!("Joint {} is in the book.\n", declared.number), None),
    };
    let more = json!({ "joint": declared.number, "renumbers": before });
    let mut answer = receipt::answer("joint", &done, text, more);
    if declared.number != args.number.trim() {
        answer.warnings.push(format!(
            "{} is an earlier number of joint {}",
            args.number.trim(),
            declared.number
        ));
    }
    Ok(answer)
}
