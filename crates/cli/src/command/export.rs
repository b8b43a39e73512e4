//! `export`

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::show;
use clap::{Args, Subcommand, ValueEnum};
use ledger::export::{self, LotJoint};
use serde_json::json;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// What.
    #[command(subcommand)]
    pub what: What,
}

/// What to write out.
#[derive(Debug, Subcommand)]
pub enum What {
    /// The auditor's list: one line per joint, weld record and source
    LotJoint(LotJointArgs),
    /// The whole record as JSON lines, byte for byte as it was hashed
    Record(RecordArgs),
}

/// Who reads the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum For {
    /// Programs: every cell exact
    Exchange,
    /// A spreadsheet: cells it would take for formulas, numbers or dates are marked as text
    Spreadsheet,
}

/// Arguments of `export lot-joint`.
#[derive(Debug, Args)]
pub struct LotJointArgs {
    /// File to write; - is standard output
    #[arg(long, short, default_value = "-", value_name = "FILE")]
    pub out: PathBuf,
    /// Who reads it
    #[arg(long = "for", value_enum, default_value_t = For::Exchange)]
    pub reader: For,
    /// With the names of people
    #[arg(long)]
    pub names: bool,
    /// Also write a manifest: rows, SHA-256, heads, what is covered
    #[arg(long, value_name = "FILE")]
    pub manifest: Option<PathBuf>,
}

/// Arguments of `export record`.
#[derive(Debug, Args)]
pub struct RecordArgs {
    /// File to write; - is standard output
    #[arg(long, short, default_value = "-", value_name = "FILE")]
    pub out: PathBuf,
    /// Also write the signed tree heads
    #[arg(long, value_name = "FILE")]
    pub checkpoints: Option<PathBuf>,
}

/// Writes out.
pub fn run(context: &Context, args: &ExportArgs) -> Result<Answer, Failure> {
    match &args.what {
        What::LotJoint(args) => lot_joint(context, args),
        What::Record(args) => record(context, args),
    }
}

/// Writes through `write` into memory for standard output, else into a new file.
fn deliver<T>(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> Result<T, Failure>,
) -> Result<(T, Option<Vec<u8>>), Failure> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        let value = write(&mut bytes)?;
        return Ok((value, Some(bytes)));
    }
    let doing = |e: std::io::Error| Failure::failed(format!("{} was not written: {e}.", path.display()));
    let mut passing = path.as_os_str().to_owned();
    passing.push(".new");
    let passing = PathBuf::from(passing);
    let result = (|| {
        let mut file = BufWriter::new(File::create(&passing).map_err(doing)?);
        let value = write(&mut file)?;
        file.into_inner().map_err(|e| doing(e.into_error()))?.sync_all().map_err(doing)?;
        std::fs::rename(&passing, path).map_err(doing)?;
        Ok((value, None))
    })();
    if result.is_err() {
        let _ = std::fs::remove_file(&passing);
    }
    result
}

fn lot_joint(context: &Context, args: &LotJointArgs) -> Result<Answer, Failure> {
    one_on_stdout(&args.out, "--manifest", args.manifest.as_deref())?;
    let ledger = context.open()?;
    let options = LotJoint { for_spreadsheet: args.reader == For::Spreadsheet, names: args.names };
    let bar = context.progress("exporting");
    let (exported, raw, manifest) = {
        let mut failure = None;
        let all = ledger.ask(|reading| {
            let written = deliver(&args.out, |out| {
                reading
                    .export_lot_joint(&options, out, &mut |done, of| {
                        bar.set_length(of);
                        bar.set_position(done);
                    })
                    .map_err(Failure::from)
            });
            match written {
                Ok((exported, raw)) => {
                    let name = args.out.file_name().map_or("-".into(), |n| n.to_string_lossy().into_owned());
                    let manifest =
                        export::manifest(reading, &name, exported.rows, &exported.sha256, context.now)?;
                    Ok(Some((exported, raw, manifest)))
                }
                Err(error) => {
                    failure = Some(error);
                    Ok(None)
                }
            }
        })?;
        match (all, failure) {
            (Some(all), _) => all,
            (None, Some(failure)) => return Err(failure),
            (None, None) => return Err(Failure::failed("the list was not written.")),
        }
    };
    bar.finish_and_clear();
    let mut raw = raw;
    if let Some(path) = &args.manifest {
        let (_, to_stdout) = deliver(path, |out| {
            out.write_all(manifest.as_bytes())
                .map_err(|e| Failure::failed(format!("{} was not written: {e}.", path.display())))
        })?;
        raw = raw.or(to_stdout);
    }
    let text = format!(
        "Wrote {} into {}, SHA-256 {}.\n",
        show::count(usize::try_from(exported.rows).unwrap_or(usize::MAX), "line", "lines"),
        args.out.display(),
        exported.sha256
    );
    let json = json!({
        "schema": "rodbook-export/1",
        "file": args.out.display().to_string(),
        "rows": exported.rows,
        "sha256": exported.sha256,
    });
    Ok(Answer { text, json, raw, ..Answer::default() })
}

/// Two files cannot both go to standard output.
fn one_on_stdout(out: &Path, option: &str, other: Option<&Path>) -> Result<(), Failure> {
    if out == Path::new("-") && other == Some(out) {
        return Err(Failure::not_understood(format!("{option} cannot go to standard output as well."))
            .next(format!("name a file with --out or with {option}")));
    }
    Ok(())
}

fn record(context: &Context, args: &RecordArgs) -> Result<Answer, Failure> {
    one_on_stdout(&args.out, "--checkpoints", args.checkpoints.as_deref())?;
    let ledger = context.open()?;
    // Entries and tree heads of one moment: a head that covers an entry that is not in the file would look like damage.
    let mut failure = None;
    let raw = ledger.ask(|reading| {
        let written = (|| {
            let (_, mut raw) = deliver(&args.out, |out| Ok(export::export_record(reading, out)?))?;
            if let Some(path) = &args.checkpoints {
                let (_, to_stdout) = deliver(path, |out| Ok(export::export_checkpoints(reading, out)?))?;
                raw = raw.or(to_stdout);
            }
            Ok(raw)
        })();
        Ok(written.unwrap_or_else(|error| {
            failure = Some(error);
            None
        }))
    })?;
    if let Some(failure) = failure {
        return Err(failure);
    }
    let text = format!("Wrote the record into {}.\n", args.out.display());
    let json = json!({ "schema": "rodbook-export/1", "file": args.out.display().to_string() });
    Ok(Answer { text, json, raw, ..Answer::default() })
}
