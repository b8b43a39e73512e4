//! `correct`

use crate::answer::Answer;
use crate::args::{DryRun, Overriding};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, struck};
use clap::Args;
use ledger::Done;
use ledger::ask::entry;
use ledger::tell::correct::{Amended, AtOdds, CorrectRequest};
use record::Zone;
use serde_json::{Value, json};

/// Arguments of `correct`.
#[derive(Debug, Args)]
pub struct CorrectArgs {
    /// The entry that says something wrong: its id or short id, the first 8 characters of either, or its number
    pub entry: String,
    /// What is right: a field by the name that it has in the import files, and its cell. May be given several times
    #[arg(long, value_name = "FIELD=VALUE", required = true)]
    pub set: Vec<String>,
    /// Why it is corrected
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Says an entry anew.
pub fn run(context: &Context, args: &CorrectArgs) -> Result<Answer, Failure> {
    let set = args.set.iter().map(|typed| field(typed)).collect::<Result<Vec<_>, _>>()?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = CorrectRequest { entry: args.entry.clone(), set, why: args.why.clone() };
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.correct(&acting, &request)?;
    let amended = &done.value;
    let mut page = Page::narrow();
    page.hanging(0, 2, format!("CORRECTED {}", entry::line(&amended.before.event))).rule();
    for change in &amended.changes {
        page.hanging(0, 2, struck::one(change));
    }
    page.hanging(0, 2, format!("why: {}", amended.why));
    Ok(told("correct", page, &done, zone))
}

/// `FIELD=VALUE`
fn field(typed: &str) -> Result<(String, String), Failure> {
    match typed.split_once('=') {
        Some((field, value)) if !field.trim().is_empty() => Ok((field.to_owned(), value.to_owned())),
        Some(_) | None => Err(Failure::not_understood(format!("--set {typed:?} was not understood"))
            .next("write the field, an equals sign and the value: --set \"quantity=20 rods\"")),
    }
}

/// The rest of the page, and the answer for programs.
pub(crate) fn told(verb: &str, mut page: Page, done: &Done<Amended>, zone: Zone) -> Answer {
    let amended = &done.value;
    if !amended.followed.is_empty() {
        page.gap().line(0, "Follows from it");
        for followed in &amended.followed {
            page.hanging(2, 4, &followed.line);
            for change in &followed.changes {
                page.hanging(4, 6, struck::one(change));
            }
            if !done.dry_run {
                page.line(4, receipt::short(&followed.entry));
            }
        }
    }
    page.rule();
    page.line(0, format!("struck, and kept: {}", receipt::short(&amended.before.id)));
    page.hanging(2, 2, format!("of {}, {}", amended.before.by, zone.local(amended.before.recorded)));
    let followed: Vec<Value> = amended
        .followed
        .iter()
        .map(|f| {
            json!({
                "corrects": f.corrects.to_string(),
                "entry": if done.dry_run { Value::Null } else { json!(f.entry.to_string()) },
                "says": f.line,
                "changes": struck::changes(&f.changes),
            })
        })
        .collect();
    let more = json!({
        "struck": amended.before.id.to_string(),
        "kind": amended.before.kind,
        "said": entry::line(&amended.before.event),
        "changes": struck::changes(&amended.changes),
        "why": amended.why,
        "stands": amended.after.as_ref().map(|after| json!({
            "entry": if done.dry_run && after.id != amended.before.id && verb == "correct" { Value::Null } else { json!(after.id.to_string()) },
            "says": entry::line(&after.event),
        })),
        "followed": followed,
    });
    let mut answer = receipt::answer(verb, done, page.finish(), more);
    answer.warnings.extend(receipt::set_aside(amended.overridden, done));
    answer.warnings.extend(amended.at_odds.iter().map(at_odds));
    answer
}

fn at_odds(weld: &AtOdds) -> String {
    let short = receipt::short(&weld.entry);
    match &weld.lot {
        Some(lot) => format!(
            "{short} ({}) names slip {}, which is of lot {lot}, and another lot; correct it if that is wrong too",
            weld.line, weld.slip
        ),
        None => format!("{short} ({}) names slip {}, which is void", weld.line, weld.slip),
    }
}
