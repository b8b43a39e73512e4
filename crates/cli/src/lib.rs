//! Words to requests, answers to text, JSON and CSV; exit codes.

pub mod answer;
pub mod args;
pub mod certificate_page;
pub mod command;
pub mod complete;
pub mod context;
pub mod exit;
pub mod failure;
pub mod finding_page;
pub mod mass_page;
pub mod metal_page;
pub mod page;
pub mod receipt;
pub mod show;
pub mod struck;
pub mod trace_page;

use answer::Answer;
use args::{Cli, Format, Verb};
use clap::{CommandFactory as _, Parser as _};
use context::Context;
use failure::Failure;
use std::ffi::OsString;
use std::io::Write as _;

/// The command tree, for generators.
pub fn command_tree() -> clap::Command {
    Cli::command()
}

/// Runs one command line, prints, and returns the exit code.
pub fn run(args: impl IntoIterator<Item = OsString>) -> u8 {
    let args: Vec<OsString> = args.into_iter().collect();
    if let Some(code) = complete::answer(&args) {
        return code;
    }
    let json = wants_json(&args);
    let cli = match Cli::try_parse_from(&args) {
        Ok(cli) => cli,
        Err(error) => return not_parsed(&error, json),
    };
    let format = cli.global.format;
    match answer(cli) {
        Ok(answer) => print(answer, format),
        Err(failure) => fail(&failure, format == Format::Json),
    }
}

fn answer(cli: Cli) -> Result<Answer, Failure> {
    let context = Context::new(cli.global)?;
    let timeless = context.global.at.is_some() && !cli.verb.happens_at_a_time();
    let mut answer = dispatch(&context, cli.verb)?;
    if timeless {
        answer.warnings.push("--at has no effect here".into());
    }
    Ok(answer)
}

/// One arm per verb.
pub(crate) fn dispatch(context: &Context, verb: Verb) -> Result<Answer, Failure> {
    match verb {
        Verb::Init(args) => command::init::run(context, &args),
        Verb::Demo(args) => command::demo::run(context, &args),
        Verb::Enroll(args) => command::enroll::run(context, &args),
        Verb::Joint(args) => command::joint::run(context, &args),
        Verb::Shifts(args) => command::shifts::run(context, &args),
        Verb::Receive(args) => command::receive::run(context, &args),
        Verb::Release(args) => command::lot_status::release(context, &args),
        Verb::Hold(args) => command::lot_status::hold(context, &args),
        Verb::Issue(args) => command::issue::run(context, &args),
        Verb::Return(args) => command::give_back::run(context, &args),
        Verb::HandOver(args) => command::hand_over::run(context, &args),
        Verb::Clear(args) => command::clear::run(context, &args),
        Verb::Weld(args) => command::weld::run(context, &args),
        Verb::SpotCheck(args) => command::spot_check::run(context, &args),
        Verb::Trace(args) => command::trace::run(context, &args),
        Verb::Stock(args) => command::stock::run(context, &args),
        Verb::Out(args) => command::out::run(context, &args),
        Verb::Slip(args) => command::slip::run(context, &args),
        Verb::Reject(args) => command::lot_status::reject(context, &args),
        Verb::Scrap(args) => command::scrap::run(context, &args),
        Verb::Recall(args) => command::recall::run(context, &args),
        Verb::Unmarked(args) => command::unmarked::run(context, &args),
        Verb::Correct(args) => command::correct::run(context, &args),
        Verb::Void(args) => command::void::run(context, &args),
        Verb::Dispose(args) => command::dispose::run(context, &args),
        Verb::Findings(args) => command::findings::run(context, &args),
        Verb::Gaps(args) => command::gaps::run(context, &args),
        Verb::Reconcile(args) => command::reconcile::run(context, &args),
        Verb::Note(args) => command::note::run(context, &args),
        Verb::Cert(args) => command::cert::run(context, &args),
        Verb::Identify(args) => command::identify::run(context, &args),
        Verb::Reading(args) => command::reading::run(context, &args),
        Verb::Table(args) => command::table::run(context, &args),
        Verb::Calc(args) => command::calc::run(context, &args),
        Verb::ShiftEnd(args) => command::shift_end::run(context, &args),
        Verb::Import(args) => command::import::run(context, &args),
        Verb::Export(args) => command::export::run(context, &args),
        Verb::Verify(args) => command::verify::run(context, &args),
        Verb::Rebuild(args) => command::rebuild::run(context, &args),
        Verb::Backup(args) => command::backup::run(context, &args),
        Verb::Restore(args) => command::restore::run(context, &args),
        Verb::Completions(args) => command::completions::run(&args),
    }
}

/// Prints an answer. What was committed stays committed when the reader of the pipe has gone: that is no failure.
fn print(answer: Answer, format: Format) -> u8 {
    for warning in &answer.warnings {
        to_stderr(&format!("Warning: {warning}\n"));
    }
    let bytes = match (answer.raw, format) {
        (Some(raw), _) => raw,
        (None, Format::Text) => answer.text.into_bytes(),
        (None, Format::Json) => {
            let mut text = answer.json.to_string();
            text.push('\n');
            text.into_bytes()
        }
        (None, Format::Csv) => match answer.table.map(|t| t.csv()) {
            Some(Ok(csv)) => csv,
            Some(Err(error)) => {
                return fail(&Failure::failed(format!("the table could not be written: {error}")), false);
            }
            None => {
                // The work is done; only its answer has no such form.
                to_stderr("Warning: this answer is not a table; here it is as text\n");
                answer.text.into_bytes()
            }
        },
    };
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(&bytes).and_then(|()| stdout.flush()) {
        Ok(()) => answer.exit,
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => answer.exit,
        Err(error) => {
            let failure = Failure::failed(format!("the answer could not be printed: {error}."));
            fail(&if answer.written { failure.but_written() } else { failure }, format == Format::Json)
        }
    }
}

fn fail(failure: &Failure, json: bool) -> u8 {
    if json {
        to_stderr(&format!("{}\n", failure.json()));
    } else {
        to_stderr(&failure.text());
    }
    failure.exit
}

/// Standard error may be closed; there is nobody left to tell.
fn to_stderr(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

/// Whether the command line asks for JSON, before it is understood.
fn wants_json(args: &[OsString]) -> bool {
    let pairs = args.iter().zip(args.iter().skip(1));
    args.iter().any(|a| a == "--format=json")
        || pairs.into_iter().any(|(a, b)| a == "--format" && b == "json")
}

fn not_parsed(error: &clap::Error, json: bool) -> u8 {
    use clap::error::ErrorKind;
    let help = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    if json && !help {
        let text = error.render().to_string();
        let mut lines = text.lines().map(str::trim).filter(|l| !l.is_empty());
        let message = lines.next().unwrap_or("the command line was not understood");
        let message = message.trim_start_matches("error: ").to_owned();
        let next = lines.filter(|l| !l.starts_with("Usage:")).map(str::to_owned).collect();
        let mut failure = Failure::not_understood(message);
        failure.code = "command-line".into();
        failure.next = next;
        return fail(&failure, true);
    }
    let _ = error.print();
    if help {
        return exit::DONE;
    }
    to_stderr("Nothing was written.\n");
    exit::NOT_UNDERSTOOD
}
