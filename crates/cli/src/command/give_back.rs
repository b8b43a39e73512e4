//! `return`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt};
use clap::{Args, ValueEnum};
use ledger::tell::give_back::ReturnRequest;
use record::event::Condition;
use serde_json::json;

/// What returned metal is like.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum ConditionWord {
    /// Every piece can be read
    Marked,
    /// Some piece cannot be read
    Unmarked,
    /// Bent, cracked, contaminated
    Damaged,
    /// Got wet
    Wet,
}

/// Arguments of `return`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  rodbook return S-00042 6 rods --stubs 18 --condition marked")]
pub struct ReturnArgs {
    /// Number of the slip
    pub slip: String,
    /// How much comes back, say 6 rods; 0 rods if nothing is left
    #[arg(num_args = 1..=2, required = true, allow_negative_numbers = true)]
    pub quantity: Vec<String>,
    /// Stubs counted
    #[arg(long, value_name = "N")]
    pub stubs: Option<u32>,
    /// What it is like
    #[arg(long, value_enum)]
    pub condition: ConditionWord,
    /// More is still to come: the slip stays open
    #[arg(long)]
    pub more: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Takes back.
pub fn run(context: &Context, args: &ReturnArgs) -> Result<Answer, Failure> {
    let quantity = command::quantity(&args.quantity)?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let condition = match args.condition {
        ConditionWord::Marked => Condition::Marked,
        ConditionWord::Unmarked => Condition::Unmarked,
        ConditionWord::Damaged => Condition::Damaged,
        ConditionWord::Wet => Condition::Wet,
    };
    let request = ReturnRequest {
        slip: args.slip.clone(),
        quantity,
        stubs: args.stubs.map(i64::from),
        condition,
        more: args.more,
        at: context.at(zone)?,
    };
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.give_back(&acting, &request)?;
    let shop = ledger.ask(|reading| reading.shop_and_station())?.0;
    let mut page = Page::narrow();
    command::slip::print(&mut page, &done.value.slip, &shop, zone);
    match condition {
        Condition::Marked => {}
        Condition::Unmarked => {
            page.line(0, "Unmarked: not stock any more. Keep it apart; what it is only proof can say.");
        }
        Condition::Damaged | Condition::Wet => {
            page.line(0, "Not stock any more. Keep it apart until it is scrapped.");
        }
    }
    let slip = json!({ "slip": command::slip::json(&done.value.slip) });
    let mut answer = receipt::answer("return", &done, page.finish(), slip);
    answer.warnings.extend(receipt::set_aside(done.value.overridden, &done));
    Ok(answer)
}
