//! `verify`

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{exit, receipt, show};
use clap::Args;
use ledger::ask::certificate::PaperOnFile;
use ledger::verify::{Extent, Outcome, Pinned, Report};
use serde_json::json;

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// The book is a copy: do not compare it with what this machine wrote last
    #[arg(long)]
    pub copy: bool,
    /// A pin from a slip or receipt in other hands: the entry with this id must be in the record; can be repeated
    #[arg(long, value_name = "ID")]
    pub pin: Vec<String>,
}

/// Checks everything.
pub fn run(context: &Context, args: &VerifyArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let pins = args
        .pin
        .iter()
        .map(|pin| {
            record::short_id::parse(pin).map(|id| (pin.clone(), id)).ok_or_else(|| {
                Failure::not_understood(format!("{pin:?} is not an entry id."))
                    .next("copy it from the slip or receipt: four groups of four characters")
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    let bar = context.progress("verifying");
    let extent = if args.copy { Extent::CopyOnly } else { Extent::Everything };
    let mut report = ledger.verify(extent, &mut |done, of| {
        bar.set_length(of);
        bar.set_position(done);
    })?;
    bar.finish_and_clear();
    let papers = ledger.check_papers(&mut report)?;
    let pins = ledger.check_pins(&pins, &mut report)?;
    Ok(told(&report, &pins, &papers))
}

fn told(report: &Report, pins: &[Pinned], papers: &[PaperOnFile]) -> Answer {
    let mut page = Page::narrow();
    let sound = report.is_sound();
    // A lost paper leaves the record as it is.
    let only_papers = !papers.is_empty() && papers.len() == report.problems.len();
    page.line(0, if sound { "SOUND" } else { "DAMAGE FOUND" });
    page.gap();
    for problem in &report.problems {
        page.hanging(0, 2, format!("! {problem}"));
    }
    if !sound {
        page.gap();
    }
    for (name, outcome) in &report.checks {
        let (mark, how) = match outcome {
            Outcome::Sound(how) => ("ok", how),
            Outcome::Broken(how) => ("BROKEN", how),
            Outcome::NotChecked(how) => ("not checked", how),
        };
        page.hanging(0, 2, format!("{name}: {mark}. {how}"));
    }
    for Pinned { typed: pin, found } in pins {
        match found {
            Some((station, seq)) => {
                page.hanging(0, 2, format!("pin {pin}: ok. It is entry {seq} of station {station}"));
            }
            None => {
                page.hanging(0, 2, format!("pin {pin}: BROKEN. No entry has that id"));
            }
        }
    }
    page.gap();
    for station in &report.stations {
        page.split(
            &format!("{}  {}", station.name, station.station.to_string().get(..16).unwrap_or("")),
            &format!("{} entries", station.entries),
        );
        if let Some(head) = station.head {
            page.line(
                2,
                format!("last entry {}  {}", station.entries.saturating_sub(1), receipt::short(&head)),
            );
        }
    }
    for (kind, n) in &report.not_understood {
        page.line(
            0,
            format!(
                "{n} entries of kind {kind} are not understood by this program; they are kept as they are."
            ),
        );
    }
    if sound {
        page.gap().line(0, "What this shows");
        for line in report.shown() {
            page.hanging(0, 2, format!("- {line}"));
        }
        page.gap().line(0, "What it does not show");
        for line in report.not_shown() {
            page.hanging(0, 2, format!("- {line}"));
        }
    } else if only_papers {
        page.hanging(
            0,
            2,
            "The record itself is sound. Look for the papers in a copy, or file them again from the originals: rodbook cert file",
        );
    } else {
        page.line(0, "Keep this file as it is. Continue from the last good copy with: rodbook restore COPY");
    }
    let checks: Vec<_> = report
        .checks
        .iter()
        .map(|(name, outcome)| {
            let (word, how) = match outcome {
                Outcome::Sound(how) => ("sound", how),
                Outcome::Broken(how) => ("broken", how),
                Outcome::NotChecked(how) => ("not-checked", how),
            };
            json!({ "check": name, "outcome": word, "how": how })
        })
        .collect();
    let json = json!({
        "schema": "rodbook-verify/1",
        "sound": sound,
        "problems": report.problems.iter().map(|p| json!({
            "station": p.station.map(|s| s.to_string()),
            "seq": p.seq,
            "what": p.what,
        })).collect::<Vec<_>>(),
        "checks": checks,
        "papers": papers.iter().map(|p| json!({
            "certificate": p.certificate.filed.certificate,
            "state": p.state.word(),
            "sha256": p.certificate.filed.sha256,
            "lots": p.certificate.lots.iter().map(|l| l.received.code.clone()).collect::<Vec<_>>(),
            "joints": p.joints,
        })).collect::<Vec<_>>(),
        "pins": pins.iter().map(|p| json!({
            "pin": p.typed,
            "station": p.found.as_ref().map(|f| f.0.clone()),
            "seq": p.found.as_ref().map(|f| f.1),
        })).collect::<Vec<_>>(),
        "stations": report.stations.iter().map(|s| json!({
            "station": s.station.to_string(),
            "name": s.name,
            "entries": s.entries,
            "head": s.head.map(|h| h.to_string()),
            "short": s.head.map(|h| receipt::short(&h)),
            "signed": s.signed,
            "own": s.own,
            "last_time": s.last_time.map(|t| t.to_string()),
        })).collect::<Vec<_>>(),
        "not_understood": report.not_understood.iter().map(|(kind, n)| json!({ "kind": kind, "entries": n })).collect::<Vec<_>>(),
        "shown": if sound { report.shown() } else { Vec::new() },
        "not_shown": report.not_shown(),
    });
    let exit = if sound { exit::DONE } else { exit::DAMAGED };
    let warnings = if sound {
        Vec::new()
    } else {
        vec![show::count(report.problems.len(), "problem", "problems") + " found"]
    };
    Answer { text: page.finish(), json, exit, warnings, ..Answer::default() }
}
