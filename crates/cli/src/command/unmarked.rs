//! `unmarked`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, finding_page, receipt, show};
use clap::Args;
use ledger::ask::at_risk::AtRisk;
use ledger::tell::unmarked::UnmarkedRequest;
use serde_json::json;

/// Arguments of `unmarked`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook unmarked --at-place \"bay 3, bench 2\" --welder W-12 --quantity \"2 rods\" --joint M-107"
)]
pub struct UnmarkedArgs {
    /// Where it was found
    #[arg(long, value_name = "PLACE")]
    pub at_place: String,
    /// Badge of the welder who had it, if known
    #[arg(long, value_name = "BADGE")]
    pub welder: Option<String>,
    /// How much, say "2 rods"
    #[arg(long)]
    pub quantity: Option<String>,
    /// A joint that it was found at; can be repeated
    #[arg(long, value_name = "JOINT")]
    pub joint: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Records a find.
pub fn run(context: &Context, args: &UnmarkedArgs) -> Result<Answer, Failure> {
    let quantity = args.quantity.as_ref().map(|q| command::quantity(std::slice::from_ref(q))).transpose()?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = UnmarkedRequest {
        place: args.at_place.clone(),
        welder: args.welder.clone(),
        quantity,
        joints: args.joint.clone(),
        at: context.at(zone)?,
    };
    let done = ledger.found_unmarked(&context.acting(args.dry_run.dry_run, None), &request)?;
    let found = &done.value;
    let mut page = Page::narrow();
    page.line(0, "UNMARKED WIRE");
    let quantity =
        found.find.quantity.value().map_or_else(|| "quantity not stated".into(), ToString::to_string);
    let with = found
        .find
        .welder
        .value()
        .map_or_else(|| "whose is not known".into(), |w| format!("with {}", w.badge));
    page.hanging(
        0,
        2,
        format!("{quantity} at {}, {with}, {}", found.find.place, show::when(zone, &found.find.at)),
    );
    if !found.find.joints.is_empty() {
        let joints: Vec<&str> = found.find.joints.iter().map(|j| j.number.as_str()).collect();
        page.hanging(0, 2, format!("found at {}", joints.join(", ")));
    }
    page.hanging(0, 2, "Keep it apart. It is never issued again; it is scrapped, or marked anew with proof.");
    let unknown = AtRisk::of_nobody();
    finding_page::at_risk(&mut page, found.at_risk.as_ref().unwrap_or(&unknown), zone);
    if let Some(finding) = &found.finding
        && !done.dry_run
    {
        page.gap().line(0, format!("Finding {}", finding_page::short(finding)));
    }
    let more = json!({
        "finding": found.finding.as_ref().filter(|_| !done.dry_run).map(finding_page::json_of),
        "at_risk": finding_page::at_risk_json(found.at_risk.as_ref().unwrap_or(&unknown)),
    });
    Ok(receipt::answer("unmarked", &done, page.finish(), more))
}
