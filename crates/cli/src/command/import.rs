//! `import`

use crate::answer::{Answer, Table};
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::{receipt, show};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;

/// Arguments of `import`.
#[derive(Debug, Args)]
#[command(
    after_help = "Files, all optional: people.csv qualifications.csv wps.csv joints.csv lots.csv issues.csv returns.csv\nhand_overs.csv scraps.csv welds.csv spot_checks.csv found_wire.csv. One row that cannot be taken, and nothing is written."
)]
pub struct ImportArgs {
    /// Folder with the CSV files, or one of them
    pub dir: PathBuf,
    /// Take a file again that was imported before
    #[arg(long)]
    pub again: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Imports.
pub fn run(context: &Context, args: &ImportArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let bar = context.progress("importing");
    let done = ledger.import(&context.acting(args.dry_run.dry_run, None), &args.dir, args.again, &mut |p| {
        bar.set_length(p.of);
        bar.set_position(p.done);
    });
    bar.finish_and_clear();
    let done = done?;
    let mut table = Table::new(&["file", "rows", "entries", "already_there"]);
    for file in &done.value.files {
        table.rows.push(vec![
            file.name.clone(),
            file.rows.to_string(),
            file.entries.to_string(),
            file.already_there.to_string(),
        ]);
    }
    let entries: u64 = done.value.files.iter().map(|f| f.entries).sum();
    let mut text = table.text(&["file", "rows", "entries", "already there"], context.width());
    text.push_str(&format!(
        "{} {} from {}.\n",
        if done.dry_run { "Would write" } else { "Wrote" },
        show::count(usize::try_from(entries).unwrap_or(usize::MAX), "entry", "entries"),
        show::count(done.value.files.len(), "file", "files")
    ));
    let files: Vec<_> = done
        .value
        .files
        .iter()
        .map(|f| json!({ "file": f.name, "rows": f.rows, "entries": f.entries, "already_there": f.already_there }))
        .collect();
    let head =
        done.head.map(|(seq, id)| json!({ "seq": seq, "id": id.to_string(), "short": receipt::short(&id) }));
    let mut answer = receipt::answer("import", &done, text, json!({ "files": files, "head": head }));
    answer.table = Some(table);
    answer.warnings.extend(done.value.warnings.iter().cloned());
    Ok(answer)
}
