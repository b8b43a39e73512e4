//! `scrap`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt, show};
use clap::{Args, Subcommand};
use ledger::ask::lot::balance_mg;
use ledger::tell::scrap::{ScrapFrom, ScrapRequest, ScrappedInCrib};
use record::rules::Balance;
use serde_json::{Value, json};

/// Arguments of `scrap`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook scrap slip S-00042 2 rods --why \"bent\"\n  rodbook scrap slip S-00042 --why \"quiver fell into the pit\"\n  rodbook scrap lot R-1028 12 rods --why \"rusted\"\n  rodbook scrap quiver Q-3 --why \"lid open overnight\""
)]
pub struct ScrapArgs {
    /// From where.
    #[command(subcommand)]
    pub from: From,
}

/// From where metal is scrapped.
#[derive(Debug, Subcommand)]
pub enum From {
    /// What is out on a slip; without a quantity all that is left, which closes it
    Slip {
        /// Number of the slip
        number: String,
        /// How much, say 2 rods
        #[arg(num_args = 0..=2, allow_negative_numbers = true)]
        quantity: Vec<String>,
        #[command(flatten)]
        #[allow(missing_docs)]
        common: Common,
    },
    /// What is in the crib; without a quantity all that is there as stock
    Lot {
        /// Control code or maker's lot number
        label: String,
        /// How much, say 12 rods
        #[arg(num_args = 0..=2, allow_negative_numbers = true)]
        quantity: Vec<String>,
        #[command(flatten)]
        #[allow(missing_docs)]
        common: Common,
    },
    /// Everything that is left on the open slips in a quiver
    Quiver {
        /// The quiver
        quiver: String,
        #[command(flatten)]
        #[allow(missing_docs)]
        common: Common,
    },
}

/// What every scrap is asked.
#[derive(Debug, Args)]
pub struct Common {
    /// Why it is out for good
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Scraps.
pub fn run(context: &Context, args: &ScrapArgs) -> Result<Answer, Failure> {
    let quantity =
        |words: &[String]| if words.is_empty() { Ok(None) } else { command::quantity(words).map(Some) };
    let (from, common) = match &args.from {
        From::Slip { number, quantity: words, common } => {
            (ScrapFrom::Slip(number.clone(), quantity(words)?), common)
        }
        From::Lot { label, quantity: words, common } => {
            (ScrapFrom::Crib(label.clone(), quantity(words)?), common)
        }
        From::Quiver { quiver, common } => (ScrapFrom::Quiver(quiver.clone()), common),
    };
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = ScrapRequest { from, why: common.why.clone(), at: context.at(zone)? };
    let acting = context.acting(common.dry_run.dry_run, common.overriding.overriding.as_deref());
    let done = ledger.scrap(&acting, &request)?;
    let shop = ledger.ask(|reading| reading.shop_and_station())?.0;
    let scrapped = &done.value;
    let mut page = Page::narrow();
    for view in &scrapped.slips {
        command::slip::print(&mut page, view, &shop, zone);
    }
    match scrapped.slips.len() {
        0 => {}
        1 => {
            page.line(0, "What was scrapped is out for good: neither stock nor out.");
        }
        n => {
            page.line(0, format!("{n} slips. What was scrapped is out for good: neither stock nor out."));
        }
    }
    let mut crib = Value::Null;
    if let Some(from_crib) = &scrapped.crib {
        print_crib(&mut page, from_crib, &common.why);
        crib = json!({
            "lot": from_crib.lot.received.code,
            "lot_id": from_crib.lot.id.to_string(),
            "quantity": from_crib.quantity.to_string(),
            "in_crib": from_crib.in_crib.shown(),
            "in_crib_mg": balance_mg(from_crib.in_crib, &from_crib.lot),
            "put_aside": from_crib.put_aside.shown(),
        });
    }
    let more = json!({
        "slips": scrapped.slips.iter().map(command::slip::json).collect::<Vec<_>>(),
        "crib": crib,
    });
    let mut answer = receipt::answer("scrap", &done, page.finish(), more);
    answer.warnings.extend(receipt::set_aside(scrapped.overridden, &done));
    Ok(answer)
}

fn print_crib(page: &mut Page, scrapped: &ScrappedInCrib, why: &str) {
    page.hanging(0, 2, format!("{}: {}", scrapped.lot.received.code, show::lot_line(&scrapped.lot)));
    page.hanging(0, 2, format!("Scrapped from the crib: {}: {why}", scrapped.quantity));
    page.hanging(0, 2, format!("In the crib as stock: {}", scrapped.in_crib.shown()));
    let aside = match scrapped.put_aside {
        Balance::Pieces(n) | Balance::Milligrams(n) => n > 0,
        Balance::NotKnown => true,
    };
    if aside {
        page.hanging(
            0,
            2,
            format!(
                "Not part of it: what came back unmarked, damaged or wet ({}). That left the stock when it came \
                 back; scrap no stock in its place.",
                scrapped.put_aside.shown()
            ),
        );
    }
    page.line(0, "What was scrapped is out for good: neither stock nor out.");
}
