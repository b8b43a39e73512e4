//! `void`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::command::correct::told;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::receipt;
use clap::Args;
use ledger::ask::entry;

/// Arguments of `void`.
#[derive(Debug, Args)]
pub struct VoidArgs {
    /// The entry that never was: its id or short id, the first 8 characters of either, or its number
    pub entry: String,
    /// Why it is void
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Says that an entry never was.
pub fn run(context: &Context, args: &VoidArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.void(&acting, &args.entry, &args.why)?;
    let amended = &done.value;
    let mut page = Page::narrow();
    let what = match amended.before.kind.as_str() {
        "entry.corrected" => format!("correction of {}", entry::line(&amended.before.event)),
        _ => entry::line(&amended.before.event),
    };
    page.hanging(0, 2, format!("VOID {what}")).rule();
    page.hanging(0, 2, format!("why: {}", amended.why));
    if let Some(after) = &amended.after {
        page.hanging(0, 2, format!("stands again: {}", entry::line(&after.event)));
        page.line(2, receipt::short(&after.id));
        if amended.before.kind == "entry.corrected" {
            page.hanging(2, 2, "if that never was either, void it too");
        }
    }
    Ok(told("void", page, &done, zone))
}
