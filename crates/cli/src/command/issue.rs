//! `issue`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::context::{Context, read_time};
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt};
use clap::Args;
use ledger::tell::issue::IssueRequest;
use serde_json::json;

/// Arguments of `issue`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  rodbook issue R-1028 W-12 24 rods --joint M-101")]
pub struct IssueArgs {
    /// Control code or maker's lot number
    pub lot: String,
    /// Badge of the welder
    pub holder: String,
    /// How much, say 24 rods or 5 lb
    #[arg(num_args = 1..=2, required = true, allow_negative_numbers = true)]
    pub quantity: Vec<String>,
    /// A joint it is asked for; can be repeated
    #[arg(long)]
    pub joint: Vec<String>,
    /// Which quiver
    #[arg(long)]
    pub quiver: Option<String>,
    /// Number of a slip that is written already [default: the next free number]
    #[arg(long, value_name = "NUMBER")]
    pub slip: Option<String>,
    /// When it is due back
    #[arg(long, value_name = "TIME")]
    pub due: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Hands out.
pub fn run(context: &Context, args: &IssueArgs) -> Result<Answer, Failure> {
    let quantity = command::quantity(&args.quantity)?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = IssueRequest {
        lot: args.lot.clone(),
        holder: args.holder.clone(),
        quantity,
        joints: args.joint.clone(),
        quiver: args.quiver.clone(),
        number: args.slip.clone(),
        due: args.due.as_deref().map(|t| read_time("--due", t, zone, &[])).transpose()?,
        at: context.at(zone)?,
    };
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.issue(&acting, &request)?;
    let shop = ledger.ask(|reading| reading.shop_and_station())?.0;
    let issued = &done.value;
    let mut page = Page::narrow();
    command::slip::print(&mut page, &issued.slip, &shop, zone);
    page.line(0, format!("In the crib now: {}.", issued.in_crib.shown()));
    let more = json!({
        "slip": command::slip::json(&issued.slip),
        "in_crib": issued.in_crib.shown(),
        "lot_status": issued.status.word(),
    });
    let mut answer = receipt::answer("issue", &done, page.finish(), more);
    answer.warnings.extend(receipt::set_aside(issued.overridden, &done));
    Ok(answer)
}
