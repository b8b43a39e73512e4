//! `release`, `hold` and `reject`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::receipt;
use clap::Args;
use filler::certificate_check::Verdict;
use ledger::Done;
use ledger::tell::lot_status::StatusChange;
use serde_json::json;

/// Arguments of `release`.
#[derive(Debug, Args)]
pub struct ReleaseArgs {
    /// Control code or maker's lot number
    pub lot: String,
    /// What the release rests on
    #[arg(long, value_name = "REASON")]
    pub why: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Arguments of `hold`.
#[derive(Debug, Args)]
pub struct HoldArgs {
    /// Control code or maker's lot number
    pub lot: String,
    /// Why it is held
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Arguments of `reject`.
#[derive(Debug, Args)]
pub struct RejectArgs {
    /// Control code or maker's lot number
    pub lot: String,
    /// Why it is rejected
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Releases a lot.
pub fn release(context: &Context, args: &ReleaseArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let at = context.at(ledger.zone()?)?;
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = ledger.release(&acting, &args.lot, args.why.as_deref(), at.as_ref())?;
    let mut answer = told("release", &done);
    // The inspector releases; that a check said otherwise must not go by unseen.
    for (_, read) in ledger.ask(|reading| reading.certificates_read(done.value.lot))? {
        let verdict = &read.judged.verdict;
        if verdict != Verdict::Pass.word() && verdict != Verdict::PassByRounding.word() {
            let number = read.certificate.value().map_or("without number", String::as_str);
            answer.warnings.push(format!(
                "the check of certificate {number} for this lot says: {}. See: rodbook trace lot",
                verdict.replace('-', " ")
            ));
        }
    }
    Ok(answer)
}

/// Puts a lot on hold.
pub fn hold(context: &Context, args: &HoldArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let at = context.at(ledger.zone()?)?;
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = ledger.hold(&acting, &args.lot, &args.why, at.as_ref())?;
    Ok(told("hold", &done))
}

/// Rejects a lot.
pub fn reject(context: &Context, args: &RejectArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let at = context.at(ledger.zone()?)?;
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = ledger.reject(&acting, &args.lot, &args.why, at.as_ref())?;
    Ok(told("reject", &done))
}

fn told(verb: &str, done: &Done<StatusChange>) -> Answer {
    let change = &done.value;
    let text = format!("{}: {} (was {}).\n", change.line, change.after.word(), change.before.word());
    let more = json!({
        "lot_id": change.lot.to_string(),
        "before": change.before.word(),
        "after": change.after.word(),
    });
    receipt::answer(verb, done, text, more)
}
