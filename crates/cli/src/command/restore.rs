//! `restore`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::{command, receipt};
use clap::Args;
use ledger::Ledger;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `restore`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook --book shop-2.rodbook --by A-01 restore /media/copy/shop.rodbook --station \"crib 1, second\""
)]
pub struct RestoreArgs {
    /// The copy
    pub file: PathBuf,
    /// What people call the new station [default: the old one's name and "restored"]
    #[arg(long, value_name = "NAME")]
    pub station: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Makes a new book from a copy.
pub fn run(context: &Context, args: &RestoreArgs) -> Result<Answer, Failure> {
    if args.file == std::path::Path::new("-") {
        return Err(
            Failure::not_understood("a copy is a file; it cannot go through a pipe.").next("name a file")
        );
    }
    let copy = Ledger::open(&args.file, &context.home)?;
    let name = match &args.station {
        Some(name) => name.clone(),
        None => format!("{}, restored", copy.ask(|reading| reading.shop_and_station())?.1),
    };
    drop(copy);
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = Ledger::restore(context.book(), &context.home, &acting, &args.file, &name)?;
    let (papers, papers_json, warnings) = command::cert::went_along(done.value.papers.as_ref());
    let text = format!(
        "New book {} from the copy {}, continued by station {name}.\nThe old station's chain is in it, closed; the new \
         one names its last entry.\n{papers}",
        context.book().display(),
        args.file.display()
    );
    let more = json!({
        "book": context.book().display().to_string(),
        "station": done.value.station.to_string(),
        "lost": done.value.lost,
        "papers": papers_json,
    });
    let mut answer = receipt::answer("restore", &done, text, more);
    answer.warnings.extend(warnings);
    if let Some(lost) = done.value.lost {
        answer.warnings.push(format!(
            "this machine wrote {lost} more entries with the old station than the copy has: they are not in the new book. \
             Keep the old file, and enter again what the slips say"
        ));
    }
    Ok(answer)
}
