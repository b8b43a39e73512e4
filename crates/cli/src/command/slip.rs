//! `slip`, and the slip as it is printed at the window.

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, metal_page, receipt, show, struck};
use clap::Args;
use ledger::ask::slip::{SlipAndLot, Way};
use ledger::tell::reprint::Reprint;
use record::Zone;
use serde_json::{Value, json};

/// Arguments of `slip`.
#[derive(Debug, Args)]
pub struct SlipArgs {
    /// Number of the slip
    pub slip: String,
    /// For paper that takes the place of the slip: recorded, numbered, and said on the page (needs --by)
    #[arg(long)]
    pub reprint: bool,
    /// Why it is printed again
    #[arg(long, value_name = "REASON", requires = "reprint")]
    pub why: Option<String>,
    /// With --reprint: decide and show, but write nothing
    #[arg(long, requires = "reprint")]
    pub dry_run: bool,
}

/// Prints a slip again.
pub fn run(context: &Context, args: &SlipArgs) -> Result<Answer, Failure> {
    if args.reprint {
        return reprint(context, args);
    }
    let ledger = context.open()?;
    let (view, shop, zone, reprints, notes, readings) = ledger.ask(|reading| {
        let view = reading.find_slip(&args.slip)?;
        let (reprints, notes) = (reading.reprints(view.slip.id)?, reading.notes_of_slip(view.slip.id)?);
        let readings = reading.readings_of_slip(view.slip.id)?;
        Ok((view, reading.shop_and_station()?.0, reading.zone(), reprints, notes, readings))
    })?;
    let mut page = Page::narrow();
    print(&mut page, &view, &shop, zone);
    print_reprints(&mut page, &reprints, zone);
    if !readings.is_empty() {
        page.gap().line(0, "Readings of its metal");
        readings.iter().for_each(|reading| metal_page::one(&mut page, reading, zone, 2));
    }
    command::note::print(&mut page, &notes, zone);
    let mut json = json(&view);
    if let Value::Object(fields) = &mut json {
        fields.insert("schema".into(), json!("rodbook-slip/1"));
        fields.insert("notes".into(), command::note::json(&notes));
        fields.insert("reprints".into(), reprints_json(&reprints));
        let readings: Vec<Value> = readings.iter().map(|r| metal_page::json(r, &[])).collect();
        fields.insert("readings".into(), readings.into());
    }
    Ok(Answer { text: page.finish(), json, ..Answer::default() })
}

/// Records that the slip is printed again, and prints it with the number of the reprint.
fn reprint(context: &Context, args: &SlipArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let acting = context.acting(args.dry_run, None);
    let done = ledger.reprint(&acting, &args.slip, args.why.as_deref())?;
    let (shop, _) = ledger.ask(|reading| reading.shop_and_station())?;
    let (view, reprints) = &done.value;
    let mut page = Page::narrow();
    page.split(&format!("REPRINT {}", reprints.len()), &zone.local(context.now));
    print(&mut page, view, &shop, zone);
    print_reprints(&mut page, reprints, zone);
    let more = json!({ "slip": json(view), "reprint": reprints.len(), "reprints": reprints_json(reprints) });
    Ok(receipt::answer("slip", &done, page.finish(), more))
}

/// How often the slip was printed again, when, and by whom: another copy may be about.
fn print_reprints(page: &mut Page, reprints: &[Reprint], zone: Zone) {
    if reprints.is_empty() {
        return;
    }
    let times = if reprints.len() == 1 { "once".to_owned() } else { format!("{} times", reprints.len()) };
    page.hanging(0, 2, format!("Printed again {times}: another copy of this slip may be about."));
    for (i, reprint) in reprints.iter().enumerate() {
        let why = if reprint.why.is_empty() { String::new() } else { format!(": {}", reprint.why) };
        let at = show::when(zone, &reprint.at);
        page.hanging(2, 4, format!("reprint {}  {at} by {}{why}", i + 1, reprint.by));
    }
}

fn reprints_json(reprints: &[Reprint]) -> Value {
    reprints
        .iter()
        .map(|reprint| {
            json!({
                "at": reprint.at.from.to_string(),
                "by": reprint.by,
                "why": reprint.why,
                "entry": reprint.entry.to_string(),
            })
        })
        .collect()
}

/// The slip as the welder takes it along.
pub(crate) fn print(page: &mut Page, view: &SlipAndLot, shop: &str, zone: Zone) {
    let slip = &view.slip;
    page.split(&format!("SLIP {}", slip.number), shop).rule();
    let quantity =
        slip.quantity.value().map_or_else(|| "quantity not stated".to_owned(), ToString::to_string);
    page.split(&format!("{quantity}  to {}", slip.holder.badge), &view.lot.received.code);
    page.hanging(0, 2, show::lot_line(&view.lot));
    page.hanging(0, 2, show::papers_line(&view.lot));
    if let Some((_, parent)) = &slip.parent {
        page.line(0, format!("handed over from slip {parent}"));
    }
    page.line(0, format!("out       {}", show::when(zone, &slip.issued)));
    if let Some(due) = slip.due.value() {
        page.line(0, format!("due back  {}", show::when(zone, due)));
    }
    if let Some(quiver) = slip.quiver.value() {
        page.line(0, format!("quiver    {quiver}"));
    }
    if !slip.joints.is_empty() {
        let joints: Vec<String> = slip.joints.iter().map(|j| j.number.clone()).collect();
        page.hanging(0, 10, format!("asked for {}", joints.join(", ")));
    }
    movements(page, view, zone, 0);
    struck::print(page, &slip.struck, zone, 0);
    match (&view.custody.to, &view.custody.closed_by) {
        _ if slip.void => {
            page.line(0, "VOID: by the record it never was");
        }
        (Some(to), Some(by)) => {
            page.line(0, format!("CLOSED {} by {by}", zone.local(*to)));
        }
        _ => {
            page.line(0, format!("OPEN, out: {}", show::left(view)));
        }
    }
    page.rule();
    page.split(&receipt::short(&slip.entry), &format!("local time, {}", zone.name()));
}

/// What came back or went on, one line each.
pub(crate) fn movements(page: &mut Page, view: &SlipAndLot, zone: Zone, indent: usize) {
    for out in &view.slip.outs {
        let quantity =
            out.quantity().value().map_or_else(|| "quantity not stated".to_owned(), ToString::to_string);
        let at = show::when(zone, out.at());
        let line = match &out.way {
            Way::Returned(e) => {
                let condition = e.condition.value().map_or("condition not stated", |c| c.word());
                let stubs = e.stubs.value().map_or(String::new(), |n| format!(", {n} stubs"));
                let more = if e.closes { "" } else { ", more to come" };
                format!("back      {at}  {quantity}, {condition}{stubs}{more}")
            }
            Way::HandedOver(e) => {
                let closes = if e.closes { "; closes the slip" } else { "" };
                format!("on to     {at}  {quantity} to {} on {}{closes}", e.to.badge, e.new_slip.number)
            }
            Way::Scrapped(e) => {
                let closes = if e.slip.as_ref().is_some_and(|s| s.closes) { "; closes the slip" } else { "" };
                format!("scrapped  {at}  {quantity}: {}{closes}", e.why)
            }
        };
        page.hanging(indent, indent + 10, line);
        page.line(indent + 10, receipt::short(&out.entry));
    }
}

/// The slip for programs.
pub(crate) fn json(view: &SlipAndLot) -> Value {
    let slip = &view.slip;
    let outs: Vec<Value> = slip
        .outs
        .iter()
        .map(|out| {
            let (way, more) = match &out.way {
                Way::Returned(e) => (
                    "returned",
                    json!({
                        "condition": e.condition.value().map(|c| c.word()),
                        "stubs": e.stubs.value(),
                        "closes": e.closes,
                    }),
                ),
                Way::HandedOver(e) => (
                    "handed-over",
                    json!({ "to": e.to.badge, "new_slip": e.new_slip.number, "closes": e.closes }),
                ),
                Way::Scrapped(e) => {
                    ("scrapped", json!({ "closes": e.slip.as_ref().is_some_and(|s| s.closes), "why": e.why }))
                }
            };
            let mut fields = json!({
                "way": way,
                "quantity": show::stated_json(out.quantity()),
                "from": out.at().from.to_string(),
                "to": out.at().to.to_string(),
                "entry": out.entry.to_string(),
            });
            if let (Value::Object(fields), Value::Object(more)) = (&mut fields, more) {
                fields.extend(more);
            }
            fields
        })
        .collect();
    json!({
        "slip": slip.number,
        "lot": view.lot.received.code,
        "welder": slip.holder.badge,
        "quantity": show::stated_json(&slip.quantity),
        "issued_at": slip.issued.from.to_string(),
        "due_at": slip.due.value().map(|d| d.to.to_string()),
        "quiver": show::stated_json(&slip.quiver),
        "joints": slip.joints.iter().map(|j| j.number.clone()).collect::<Vec<_>>(),
        "handed_over_from": slip.parent.as_ref().map(|(_, number)| number),
        "left": show::left(view),
        "closed_at": view.custody.to.map(|t| t.to_string()),
        "closed_by": view.custody.closed_by,
        "imported": slip.imported.is_some(),
        "movements": outs,
        "void": slip.void,
        "struck": struck::json(&slip.struck),
        "entry": slip.entry.to_string(),
        "short": receipt::short(&slip.entry),
    })
}
