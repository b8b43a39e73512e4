//! `demo`: the whole job once, on an invented shop.

use crate::answer::Answer;
use crate::args::{Cli, Format};
use crate::context::Context;
use crate::failure::Failure;
use clap::{Args, Parser as _};
use serde_json::json;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder to make [default: rodbook-demo in this folder, with a number if it is there]
    pub dir: Option<PathBuf>,
}

macro_rules! slips {
    ($($name:literal),*) => {
        &[$(($name, include_str!(concat!("../../../../fixtures/demo-shop/", $name)))),*]
    };
}

/// The demo shop's files, as a shop would hand them over.
const FILES: &[(&str, &str)] = slips![
    "people.csv",
    "qualifications.csv",
    "wps.csv",
    "joints.csv",
    "lots.csv",
    "issues.csv",
    "returns.csv",
    "hand_overs.csv",
    "welds.csv",
    "spot_checks.csv",
    "found_wire.csv",
    "scraps.csv"
];

/// One step of the walk: what is said before it, the command, and the exit code that it must have.
struct Step {
    say: &'static str,
    command: &'static [&'static str],
    exit: u8,
}

const WALK: &[Step] = &[
    Step {
        say: "AT THE WINDOW. What is there for a 70S-2 root, and six rods to welder W-12.",
        command: &["stock", "--class", "70S-2"],
        exit: 0,
    },
    Step {
        say: "",
        command: &["issue", "R-1028", "W-12", "6", "rods", "--joint", "M-148", "--by", "A-01"],
        exit: 0,
    },
    Step {
        say: "A lot is put on hold, and the book refuses to hand it out.",
        command: &["hold", "R-1031", "--why", "maker's letter: heat 51207 under question", "--by", "I-21"],
        exit: 0,
    },
    Step { say: "", command: &["issue", "R-1031", "W-12", "6", "rods", "--by", "A-01"], exit: 3 },
    Step {
        say: "THE INSPECTOR has one joint number. Which rod went into M-103?",
        command: &["trace", "joint", "M-103"],
        exit: 0,
    },
    Step {
        say: "WHAT A PERSON MUST LOOK AT. A quarter of slips, and what does not fit.",
        command: &["findings"],
        exit: 0,
    },
    Step {
        say: "THE BAD LOT. The maker recalls R-1031: freeze it, and see where it is and where it went.",
        command: &["recall", "R-1031", "--why", "maker's letter: heat 51207 recalled", "--by", "I-21"],
        exit: 0,
    },
    Step {
        say: "THE AUDITOR takes the lot-to-joint list away, and checks the record.",
        command: &["export", "lot-joint", "--out", "lot-joint.csv", "--manifest", "lot-joint.manifest.json"],
        exit: 0,
    },
    Step { say: "", command: &["verify"], exit: 0 },
];

/// Builds the shop and walks through it.
pub fn run(context: &Context, args: &DemoArgs) -> Result<Answer, Failure> {
    let dir = match &args.dir {
        Some(dir) => dir.clone(),
        None => free_name()?,
    };
    let doing =
        |e: std::io::Error| Failure::failed(format!("the demo shop was not made in {}: {e}.", dir.display()));
    let slips = dir.join("slips");
    if dir.join("shop.rodbook").exists() {
        return Err(
            Failure::failed(format!("{} has a book already.", dir.display())).next("name another folder")
        );
    }
    std::fs::create_dir_all(&slips).map_err(doing)?;
    for (name, content) in FILES {
        std::fs::write(slips.join(name), content).map_err(doing)?;
    }
    let book = dir.join("shop.rodbook");
    let mut text = String::new();
    let _ = writeln!(
        text,
        "The demo shop: invented people, invented makers, a quarter of well-head piping.\nIts paper slips are in {}.\n",
        slips.display()
    );
    let mut steps = Vec::new();
    let slips_word = slips.display().to_string();
    let setup: [Vec<&str>; 2] = [
        vec![
            "init",
            "--station",
            "crib 1",
            "--shop",
            "Vessilmoor Wellhead Piping",
            "--zone",
            "Pacific/Auckland",
            "--shift",
            "06:00-14:30",
            "--shift",
            "14:30-23:00",
            "--by",
            "A-01",
        ],
        vec!["import", &slips_word, "--by", "A-01"],
    ];
    for command in &setup {
        step(context, &book, &dir, command, 0, &mut text, &mut steps)?;
    }
    for walked in WALK {
        if !walked.say.is_empty() {
            let _ = writeln!(text, "{}\n{}\n", "=".repeat(60), walked.say);
        }
        step(context, &book, &dir, walked.command, walked.exit, &mut text, &mut steps)?;
    }
    // Built, not installed: the shell does not know the name yet.
    let alias = match (on_path(), std::env::current_exe()) {
        (false, Ok(program)) => format!("  alias rodbook={}\n", shell(&program.display().to_string())),
        (true, _) | (_, Err(_)) => String::new(),
    };
    let book_word = shell(&book.display().to_string());
    let _ = write!(
        text,
        "{}\nTRY NEXT\n\n{alias}  export RODBOOK_BOOK={book_word}\n  rodbook trace joint M-104        a lot number with two digits swapped\n  \
         rodbook trace joint B-206        welded with wire that nobody handed out\n  \
         rodbook trace cert QE-7741       from a certificate to the welds\n  \
         rodbook out                      what has not come back\n  \
         rodbook --help                   everything else\n\n\
         rodbook informs; the inspector decides, under the governing code.\n",
        "=".repeat(60)
    );
    let json = json!({
        "schema": "rodbook-demo/1",
        "folder": dir.display().to_string(),
        "book": book.display().to_string(),
        "steps": steps,
    });
    Ok(Answer { text, json, ..Answer::default() })
}

/// Runs one command line in the demo shop and writes it and its answer down.
fn step(
    context: &Context,
    book: &Path,
    dir: &Path,
    command: &[&str],
    exit: u8,
    text: &mut String,
    steps: &mut Vec<serde_json::Value>,
) -> Result<(), Failure> {
    let shown: Vec<String> = command.iter().map(|word| shell(word)).collect();
    let _ = writeln!(text, "$ rodbook {}", shown.join(" "));
    // Files that a step writes go into the demo's folder.
    let placed: Vec<String> = command
        .iter()
        .map(|word| {
            let is_file = word.starts_with("lot-joint.");
            if is_file { dir.join(word).display().to_string() } else { (*word).to_owned() }
        })
        .collect();
    let cli = Cli::try_parse_from(std::iter::once("rodbook".to_owned()).chain(placed))
        .map_err(|e| Failure::failed(format!("the demo's own command was not understood: {e}")))?;
    let mut global = cli.global;
    global.book = Some(book.to_owned());
    global.format = Format::Text;
    let inner = Context { global, home: context.home.clone(), now: context.now };
    let (found, json) = match crate::dispatch(&inner, cli.verb) {
        Ok(answer) => {
            text.push_str(&answer.text);
            for warning in &answer.warnings {
                let _ = writeln!(text, "Warning: {warning}");
            }
            (answer.exit, answer.json)
        }
        Err(failure) => {
            text.push_str(&failure.text());
            (failure.exit, failure.json())
        }
    };
    text.push('\n');
    steps.push(json!({ "command": command, "exit": found, "answer": json }));
    if found == exit {
        return Ok(());
    }
    Err(Failure::failed(format!(
        "the demo did not go as it should: {} ended with exit code {found}, not {exit}.\n{text}",
        shown.join(" ")
    )))
}

/// Whether a shell finds the program by its name.
fn on_path() -> bool {
    let name = format!("rodbook{}", std::env::consts::EXE_SUFFIX);
    std::env::var_os("PATH")
        .is_some_and(|path| std::env::split_paths(&path).any(|dir| dir.join(&name).is_file()))
}

/// A word as a shell takes it.
fn shell(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./:+,=".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else if word.contains('\'') {
        format!("\"{word}\"")
    } else {
        format!("'{word}'")
    }
}

/// The first of `rodbook-demo`, `rodbook-demo-2`, … that is not there.
fn free_name() -> Result<PathBuf, Failure> {
    std::iter::once(PathBuf::from("rodbook-demo"))
        .chain((2..1000).map(|n| PathBuf::from(format!("rodbook-demo-{n}"))))
        .find(|dir| std::fs::symlink_metadata(dir).is_err())
        .ok_or_else(|| Failure::failed("there are a thousand demo shops here already.").next("remove some"))
}
