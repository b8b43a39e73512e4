//! `clear`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::{command, receipt, show};
use clap::Args;
use serde_json::json;

/// Arguments of `clear`.
#[derive(Debug, Args)]
pub struct ClearArgs {
    /// Badge of the welder who says that nothing is left
    pub welder: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Closes a welder's open slips on their word.
pub fn run(context: &Context, args: &ClearArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let at = context.at(ledger.zone()?)?;
    let done = ledger.clear(&context.acting(args.dry_run.dry_run, None), &args.welder, at.as_ref())?;
    let closed = &done.value;
    let mut text = if closed.is_empty() {
        format!("{} had no open slip; the word that nothing is left is recorded.\n", args.welder)
    } else {
        format!(
            "{} has nothing left: {} closed.\n",
            args.welder,
            show::count(closed.len(), "slip is", "slips are")
        )
    };
    for view in closed {
        text.push_str(&format!(
            "  {}  lot {}, {} never came back\n",
            view.slip.number,
            view.lot.received.code,
            show::left(view)
        ));
    }
    let slips: Vec<_> = closed.iter().map(command::slip::json).collect();
    Ok(receipt::answer("clear", &done, text, json!({ "welder": args.welder, "closed": slips })))
}
