//! `hand-over`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt};
use clap::Args;
use ledger::tell::hand_over::HandOverRequest;
use serde_json::json;

/// Arguments of `hand-over`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  rodbook hand-over S-00042 W-14 10 rods --closes")]
pub struct HandOverArgs {
    /// Number of the slip it comes from
    pub slip: String,
    /// Badge of the welder who takes
    pub welder: String,
    /// How much, say 10 rods
    #[arg(num_args = 1..=2, required = true, allow_negative_numbers = true)]
    pub quantity: Vec<String>,
    /// Nothing stays with the giver: closes their slip
    #[arg(long)]
    pub closes: bool,
    /// Number of the new slip, if it is written already [default: the next free number]
    #[arg(long = "new-slip", value_name = "NUMBER")]
    pub new_slip: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Records a hand-over.
pub fn run(context: &Context, args: &HandOverArgs) -> Result<Answer, Failure> {
    let quantity = command::quantity(&args.quantity)?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = HandOverRequest {
        slip: args.slip.clone(),
        to: args.welder.clone(),
        quantity,
        closes: args.closes,
        number: args.new_slip.clone(),
        at: context.at(zone)?,
    };
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.hand_over(&acting, &request)?;
    let shop = ledger.ask(|reading| reading.shop_and_station())?.0;
    let mut page = Page::narrow();
    command::slip::print(&mut page, &done.value.to, &shop, zone);
    let from = &done.value.from;
    match &from.custody.to {
        Some(_) => page.line(0, format!("Slip {} is closed.", from.slip.number)),
        None => page.line(
            0,
            format!(
                "Slip {} stays open with {}: {} out.",
                from.slip.number,
                from.slip.holder.badge,
                crate::show::left(from)
            ),
        ),
    };
    let more = json!({
        "from": command::slip::json(&done.value.from),
        "to": command::slip::json(&done.value.to),
    });
    let mut answer = receipt::answer("hand-over", &done, page.finish(), more);
    answer.warnings.extend(receipt::set_aside(done.value.overridden, &done));
    Ok(answer)
}
