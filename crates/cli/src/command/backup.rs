//! `backup`

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::{command, receipt, show};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// File to write; it must not exist
    pub file: PathBuf,
}

/// Writes a checked copy.
pub fn run(context: &Context, args: &BackupArgs) -> Result<Answer, Failure> {
    if args.file == std::path::Path::new("-") {
        return Err(
            Failure::not_understood("a copy is a file; it cannot go through a pipe.").next("name a file")
        );
    }
    let copied = context.open()?.backup(&args.file, &context.home)?;
    let mut text = format!("Copied into {} and checked.\n", copied.path.display());
    for station in &copied.verified.stations {
        if let Some(head) = station.head {
            text.push_str(&format!(
                "{}: {}, last {}\n",
                station.name,
                show::count(usize::try_from(station.entries).unwrap_or(usize::MAX), "entry", "entries"),
                receipt::short(&head)
            ));
        }
    }
    let (papers, papers_json, warnings) = command::cert::went_along(copied.papers.as_ref());
    text.push_str(&papers);
    text.push_str(
        "The copy has no key: anybody can read and check it, and restore continues it as a new station.\n",
    );
    let json = json!({
        "schema": "rodbook-backup/1",
        "file": copied.path.display().to_string(),
        "papers": papers_json,
        "stations": copied.verified.stations.iter().map(|s| json!({
            "station": s.station.to_string(), "entries": s.entries, "head": s.head.map(|h| h.to_string()),
        })).collect::<Vec<_>>(),
    });
    Ok(Answer { text, json, warnings, ..Answer::default() })
}
