//! `dispose`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{finding_page, receipt};
use clap::{Args, ValueEnum};
use ledger::tell::dispose::DisposeRequest;
use record::event::Disposition;
use serde_json::json;

/// How a finding ends.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum DispositionWord {
    /// What it was is proved; --why says by what
    Proved,
    /// It stays as it is, by the decision of whoever may decide that
    Accepted,
    /// The weld was cut out
    CutOut,
    /// The metal was marked anew: --lot if custody proves it, else --class
    ReMarked,
    /// The metal is out for good
    Scrapped,
    /// There was nothing to find
    Mistaken,
}

/// Arguments of `dispose`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook dispose 3f2a9c11d0e4 --as cut-out --why \"root cut out, NCR 26-014\" --by I-21"
)]
pub struct DisposeArgs {
    /// Id of the finding, or its first eight digits or more
    pub finding: String,
    /// How it ends
    #[arg(long = "as", value_enum, value_name = "HOW")]
    pub how: DispositionWord,
    /// Why, and by whose decision
    #[arg(long, value_name = "REASON")]
    pub why: String,
    /// With re-marked: the lot, where custody proves it
    #[arg(long, conflicts_with = "class")]
    pub lot: Option<String>,
    /// With re-marked: the classification, where only that is proved
    #[arg(long)]
    pub class: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Closes a finding.
pub fn run(context: &Context, args: &DisposeArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = DisposeRequest {
        finding: args.finding.clone(),
        disposition: match args.how {
            DispositionWord::Proved => Disposition::Proved,
            DispositionWord::Accepted => Disposition::Accepted,
            DispositionWord::CutOut => Disposition::CutOut,
            DispositionWord::ReMarked => Disposition::ReMarked,
            DispositionWord::Scrapped => Disposition::Scrapped,
            DispositionWord::Mistaken => Disposition::Mistaken,
        },
        why: args.why.clone(),
        lot: args.lot.clone(),
        classification: args.class.clone(),
        at: context.at(zone)?,
    };
    let done = ledger.dispose(&context.acting(args.dry_run.dry_run, None), &request)?;
    let mut page = Page::narrow();
    page.line(0, format!("FINDING {}", done.value.code.word()));
    finding_page::one(&mut page, &done.value, zone, 0);
    match args.how {
        DispositionWord::ReMarked if args.class.is_some() => {
            page.hanging(
                0,
                2,
                "Of this metal only the class is known. Book it in as a lot of its own, maker's lot unknown: joints \
                 that must be traced to the lot will refuse it.",
            );
        }
        DispositionWord::ReMarked => {
            page.line(0, "It is stock of that lot again.");
        }
        DispositionWord::CutOut => {
            page.hanging(0, 2, "Record the cut as a weld record of cycle cut-out, so that trace shows it.");
        }
        DispositionWord::Proved
        | DispositionWord::Accepted
        | DispositionWord::Scrapped
        | DispositionWord::Mistaken => {}
    }
    Ok(receipt::answer(
        "dispose",
        &done,
        page.finish(),
        json!({ "finding": finding_page::json_of(&done.value) }),
    ))
}
