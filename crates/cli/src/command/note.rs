//! `note`, and notes as pages and answers show them.

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, show};
use clap::{Args, ValueEnum};
use ledger::ask::notes::Note;
use ledger::tell::note::{About, NoteRequest};
use record::Zone;
use record::event::Subject;
use serde_json::{Value, json};

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AboutWord {
    /// A joint, by its number
    Joint,
    /// A lot, by its control code or maker's lot number
    Lot,
    /// A slip, by its number
    Slip,
    /// A welder or anybody else, by their badge
    Welder,
    /// An entry, by an id that is printed
    Entry,
}

/// Arguments of `note`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook note joint M-101 \"second pass stopped twice for rain\"\n\nThe record keeps every note for ever; names of people do not belong in it: write badges."
)]
pub struct NoteArgs {
    /// What kind of thing it is about
    #[arg(value_enum)]
    pub about: AboutWord,
    /// Its number, label, badge or id
    pub name: String,
    /// What is to be written down
    #[arg(required = true)]
    pub text: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Writes a note.
pub fn run(context: &Context, args: &NoteArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let about = match args.about {
        AboutWord::Joint => About::Joint,
        AboutWord::Lot => About::Lot,
        AboutWord::Slip => About::Slip,
        AboutWord::Welder => About::Welder,
        AboutWord::Entry => About::Entry,
    };
    let request =
        NoteRequest { about, name: args.name.clone(), text: args.text.join(" "), at: context.at(zone)? };
    let done = ledger.note(&context.acting(args.dry_run.dry_run, None), &request)?;
    let note = &done.value;
    let mut page = Page::narrow();
    page.hanging(
        0,
        2,
        format!("Note on {} {}, {}", word(&note.about), note.label, show::when(zone, &note.at)),
    );
    page.line(2, &note.text);
    let more = json!({
        "about": about_json(&note.about, &note.label),
        "at": note.at.from.to_string(),
        "text": note.text,
    });
    let mut answer = receipt::answer("note", &done, page.finish(), more);
    let keeps = if done.dry_run { "would keep" } else { "keeps" };
    answer.warnings.push(format!(
        "the record {keeps} this text for ever, also when the note is voided; names of people do not belong in it: \
         write badges"
    ));
    Ok(answer)
}

fn word(about: &Subject) -> &'static str {
    match about {
        Subject::Entry(_) => "entry",
        Subject::Joint(_) => "joint",
        Subject::Lot(_) => "lot",
        Subject::Person(_) => "welder",
        Subject::Slip(_) => "slip",
    }
}

fn about_json(about: &Subject, label: &str) -> Value {
    match about {
        Subject::Entry(id) => json!({ "entry": id.to_string() }),
        Subject::Joint(_) | Subject::Lot(_) | Subject::Person(_) | Subject::Slip(_) => {
            json!({ word(about): label })
        }
    }
}

/// Notes on a page, under a heading of their own; nothing where there are none.
pub(crate) fn print(page: &mut Page, notes: &[Note], zone: Zone) {
    if notes.is_empty() {
        return;
    }
    page.gap().line(0, "Notes");
    for note in notes {
        let about = match &note.about {
            Subject::Entry(_) => format!(" on entry {}", note.label),
            Subject::Joint(_) | Subject::Lot(_) | Subject::Person(_) | Subject::Slip(_) => String::new(),
        };
        let struck = if note.struck.is_some() { "STRUCK  " } else { "" };
        page.hanging(
            2,
            4,
            format!("{struck}{} by {}{about}: {}", show::when(zone, &note.at), note.by, note.text),
        );
        page.line(4, receipt::short(&note.entry));
        if let Some(struck) = &note.struck {
            let how = if struck.void { "voided" } else { "corrected" };
            page.hanging(4, 6, format!("{how} {} by {}: {}", zone.local(struck.when), struck.by, struck.why));
            page.line(6, receipt::short(&struck.by_entry));
        }
    }
}

/// Notes for programs.
pub(crate) fn json(notes: &[Note]) -> Value {
    notes
        .iter()
        .map(|note| {
            json!({
                "entry": note.entry.to_string(),
                "short": receipt::short(&note.entry),
                "about": about_json(&note.about, &note.label),
                "at": note.at.from.to_string(),
                "by": note.by,
                "recorded_at": note.recorded.to_string(),
                "text": note.text,
                "struck": note.struck.as_ref().map(|struck| json!({
                    "how": if struck.void { "voided" } else { "corrected" },
                    "at": struck.when.to_string(),
                    "by": struck.by,
                    "why": struck.why,
                    "entry": struck.by_entry.to_string(),
                })),
            })
        })
        .collect()
}
