//! `reading`: what an instrument read on a rod, a lot, a slip, found wire or the weld metal of a joint

use crate::answer::Answer;
use crate::args::DryRun;
use crate::command::identify::TypedReading;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{metal_page, receipt, show, trace_page};
use clap::{ArgGroup, Args};
use ledger::ask::metal;
use ledger::tell::metal_read::{On, ReadingRequest};
use serde_json::json;

/// Arguments of `reading`.
#[derive(Debug, Args)]
#[command(
    group = ArgGroup::new("on").required(true).args(["joint", "weld_metal", "lot", "slip", "found"]),
    after_help = "Examples:\n  rodbook reading --joint M-107 --welder W-12 --reading Mn=1.55/0.12,Si=0.95/0.2 --k 2 --method xrf\n  rodbook reading --lot R-1028 --reading Cr=18.9/0.15,Ni=9.6/0.15 --k 2 --surface abraded\n\nA reading gives the class at best, never the lot. It can contradict a source in trace; it never narrows."
)]
pub struct ReadingArgs {
    /// A rod in a welder's hand at this joint; with --welder
    #[arg(long, value_name = "JOINT", requires = "welder")]
    pub joint: Option<String>,
    /// Badge of the welder whose rod it is
    #[arg(long, value_name = "BADGE", requires = "joint")]
    pub welder: Option<String>,
    /// The weld metal of this joint: it is diluted, so it is shown and held against no class
    #[arg(long, value_name = "JOINT")]
    pub weld_metal: Option<String>,
    /// A rod of this lot
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
    /// A rod of this slip
    #[arg(long, value_name = "SLIP")]
    pub slip: Option<String>,
    /// Wire that was found: the short id of the find
    #[arg(long, value_name = "ENTRY")]
    pub found: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub typed: TypedReading,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

impl ReadingArgs {
    fn on(&self) -> Option<On> {
        let of = |text: &Option<String>, on: fn(String) -> On| text.clone().map(on);
        if let (Some(joint), Some(welder)) = (&self.joint, &self.welder) {
            return Some(On::Joint { joint: joint.clone(), welder: welder.clone() });
        }
        of(&self.weld_metal, On::WeldMetal)
            .or_else(|| of(&self.lot, On::Lot))
            .or_else(|| of(&self.slip, On::Slip))
            .or_else(|| of(&self.found, On::Find))
    }
}

/// Records a reading.
pub fn run(context: &Context, args: &ReadingArgs) -> Result<Answer, Failure> {
    let reading = args.typed.read()?;
    let on = args.on().ok_or_else(|| {
        Failure::not_understood("it is not said what was read.")
            .next("name it with --joint and --welder, --weld-metal, --lot, --slip or --found")
    })?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = ReadingRequest { on, reading, at: context.at(zone)? };
    let done = ledger.read_metal(&context.acting(args.dry_run.dry_run, None), &request)?;
    let read = &done.value.read;
    let mut page = Page::narrow();
    page.hanging(0, 2, format!("Reading {}, {}.", metal_page::read_on(&read.on), show::when(zone, &read.at)));
    page.hanging(2, 4, metal::said(&read.reading));
    if read.tables.is_empty() {
        page.hanging(2, 4, "Held against no class: weld metal is diluted by what it was welded onto.");
    } else {
        page.hanging(
            2,
            4,
            format!(
                "It rejects {}. What it leaves: rodbook identify with the same reading.",
                show::count(read.rejected.len(), "class", "classes")
            ),
        );
    }
    if done.value.coating_suspected {
        page.hanging(
            2,
            4,
            "Coating suspected: abrade and repeat. Until then the copper speaks against no class.",
        );
    }
    if let Some((lot, rejects)) = &done.value.lot {
        let class = lot.received.classification.cell();
        let code = &lot.received.code;
        page.hanging(
            2,
            4,
            match rejects {
                Some(true) => format!(
                    "It REJECTS {class}, which lot {code} is booked in as. Next: rodbook hold {code} --why \"a reading \
                     rejects {class}\""
                ),
                Some(false) => format!("It does not reject {class}, which lot {code} is booked in as."),
                None => format!(
                    "Not checked against lot {code}: no table of bare wire has {class} (limits of covered and tubular \
                     classes are of deposited metal)."
                ),
            },
        );
    }
    let mut welds = Vec::new();
    if let Some(trace) = &done.value.joint {
        for weld in &trace.welds {
            let of_it = weld.readings.iter().any(|(found, _)| found.entry == done.value.entry);
            if of_it {
                page.hanging(
                    0,
                    2,
                    format!("{}: {}.", trace_page::title(weld), trace_page::answer_line(weld)),
                );
                welds.push(trace_page::weld_json(weld));
            }
        }
        if welds.is_empty() && args.joint.is_some() {
            page.hanging(
                2,
                2,
                "No weld record of that joint and welder covers the time; it counts once one does.",
            );
        }
    }
    page.hanging(0, 0, "rodbook informs; the inspector decides, under the governing code.");
    let more = json!({
        "reading": read.reading,
        "rejected": read.rejected,
        "notes": if done.value.coating_suspected { vec!["coating suspected: abrade and repeat"] } else { vec![] },
        "tables": read.tables,
        "welds": welds,
        "lot": done.value.lot.as_ref().map(|(lot, rejects)| json!({
            "lot": lot.received.code,
            "classification": show::stated_json(&lot.received.classification),
            "rejected": rejects,
        })),
    });
    Ok(receipt::answer("reading", &done, page.finish(), more))
}
