//! `shifts`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::command::init::shifts;
use crate::context::Context;
use crate::failure::Failure;
use crate::receipt;
use clap::Args;
use serde_json::json;

/// Arguments of `shifts`.
#[derive(Debug, Args)]
pub struct ShiftsArgs {
    /// Every shift in local time, say 06:00-14:30 14:30-23:00; none shows those in force
    #[arg(value_name = "HH:MM-HH:MM")]
    pub shifts: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Declares or shows the shifts.
pub fn run(context: &Context, args: &ShiftsArgs) -> Result<Answer, Failure> {
    if args.shifts.is_empty() {
        let shifts = context.open()?.ask(|reading| reading.shifts())?;
        let words: Vec<String> = shifts.iter().map(|s| format!("{}-{}", s.from, s.to)).collect();
        let text =
            if words.is_empty() { "No shifts are declared.\n".into() } else { words.join("\n") + "\n" };
        return Ok(Answer {
            text,
            json: json!({ "schema": "rodbook-shifts/1", "shifts": words }),
            ..Answer::default()
        });
    }
    let shifts = shifts(&args.shifts)?;
    let done =
        context.open_for_writing()?.declare_shifts(&context.acting(args.dry_run.dry_run, None), &shifts)?;
    let text = format!("Shifts from now on: {}.\n", args.shifts.join(", "));
    Ok(receipt::answer("shifts", &done, text, json!({ "shifts": args.shifts })))
}
