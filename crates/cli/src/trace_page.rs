//! The page that an inspector reads: the answer first, how certain and why, what would settle it, then the custody.

use crate::page::Page;
use crate::{command, finding_page, metal_page, receipt, show, struck};
use filler::heat_input::{Against, HeatInput};
use filler::lot_class::Outcome;
use ledger::ask::certificate_read;
use ledger::ask::finding::Finding;
use ledger::ask::heat_input::PassHeat;
use ledger::ask::joint_trace::{CutOut, JointTrace, WeldTrace, named};
use ledger::ask::notes::Note;
use ledger::ask::slip::SlipAndLot;
use ledger::ask::struck::StruckAtJoint;
use record::Zone;
use serde_json::{Value, json};
use trace::{Certainty, Reason};

/// `original, root, GTAW`
pub fn title(weld: &WeldTrace) -> String {
    let mut parts = Vec::new();
    let pass = show::said(&weld.record.pass, "");
    if !pass.is_empty() {
        parts.push(pass);
    }
    parts.push(show::cycle(&weld.record.cycle));
    let process = weld.record.process.cell();
    if !process.is_empty() {
        parts.push(process);
    }
    let cut_out = if weld.cut_out.by().is_some() { " (cut out)" } else { "" };
    parts.join(", ") + cut_out
}

/// What the records of the joint say about a weld that is, or may be, no longer in it.
fn cut_out(weld: &WeldTrace) -> Option<String> {
    match weld.cut_out {
        CutOut::No => None,
        CutOut::By(entry) => Some(format!(
            "Cut out, by the record's word: a later record says so ({}). What it put in is no longer in the joint.",
            receipt::short(&entry)
        )),
        CutOut::Perhaps(entry) => Some(format!(
            "A cut-out is recorded for some of the same time ({}). Which came first is not recorded, so this weld counts \
             as still in the joint.",
            receipt::short(&entry)
        )),
    }
}

/// Codes of the distinct source lots.
fn lots(weld: &WeldTrace) -> Vec<String> {
    weld.lots().iter().map(|l| l.lot.received.code.clone()).collect()
}

/// The answer in one line.
pub fn answer_line(weld: &WeldTrace) -> String {
    let lots = lots(weld);
    match weld.certainty {
        Certainty::Recorded => format!("lot {}, recorded", show::listed(&lots, "and")),
        Certainty::ByCustody => format!("lot {}, by custody", show::listed(&lots, "and")),
        Certainty::OneOf => format!("one of {} lots: {}", lots.len(), show::listed(&lots, "or")),
        Certainty::Contradicted if lots.is_empty() => "CONTRADICTED, no source in custody".into(),
        Certainty::Contradicted => format!("CONTRADICTED, in custody: {}", show::listed(&lots, "or")),
        Certainty::Unknown => "UNKNOWN, no source in custody".into(),
        Certainty::NoFiller => "no filler metal".into(),
    }
}

/// Why the certainty is what it is, sentence by sentence.
pub fn reasons(weld: &WeldTrace) -> Vec<String> {
    let welder = &weld.record.welder.badge;
    let (lot, slip) = named(&weld.record);
    let (lot, slip) = (lot.unwrap_or("?"), slip.unwrap_or("?"));
    weld.reasons
        .iter()
        .map(|reason| match reason {
            Reason::Autogenous => "The record says that no filler metal was used.".to_owned(),
            Reason::NamedSlipHeld => format!("The record names slip {slip}, and {welder} held it then."),
            Reason::NamedLotHeld => format!("The record names lot {lot}, and {welder} held it then."),
            Reason::NamedSlipNotHeld => {
                format!("The record names slip {slip}, and {welder} did not hold it then.")
            }
            Reason::NamedLotNotHeld => {
                format!("The record names lot {lot}, and {welder} did not hold it then.")
            }
            Reason::NamedSlipOfAnotherLot => {
                format!("Slip {slip} was held, but it is not of lot {lot}, which the record names.")
            }
            Reason::NamedFormUnsuited => {
                "What the record names was held, but its product form does not suit the process.".to_owned()
            }
            Reason::NamedIsFlux => "What the record names is flux; the wire is not named.".to_owned(),
            Reason::OnlyLotHeld => format!("Nothing is named; {welder} held this lot and no other then."),
            Reason::SeveralLotsHeld(n) => format!("Nothing is named, and {welder} held {n} lots then."),
            Reason::NothingHeld => {
                format!("By the record {welder} held nothing then that suits the process.")
            }
            Reason::FormFilter(n) => {
                format!(
                    "{} held then left out: the product form does not suit the process.",
                    show::count(*n, "slip", "slips")
                )
            }
            Reason::FormUnknown(n) => {
                format!(
                    "{} kept although the product form is not known.",
                    show::count(*n, "slip is", "slips are")
                )
            }
            Reason::ProcessUnknown => "The process is not known, so no product form is ruled out.".to_owned(),
            Reason::MarkReadNoSourceHas(i) => {
                let read = weld
                    .checks
                    .get(*i)
                    .map_or(String::new(), |(_, check, _)| show::said(&check.reads, "a mark"));
                format!("A spot check during the weld read {read}, which no source is.")
            }
            Reason::ReadingsRejectEverySource => {
                "Readings of the metal reject the class of every source; they are below.".to_owned()
            }
        })
        .collect()
}

/// What would settle it, and whose decision it is.
fn settling(weld: &WeldTrace) -> Vec<&'static str> {
    match weld.certainty {
        Certainty::Recorded if weld.others.is_empty() => vec![],
        Certainty::Recorded => {
            vec!["The other lots were in hand too; the record's word stands against them."]
        }
        Certainty::ByCustody => vec!["Rests on custody alone: nobody wrote down what was used."],
        Certainty::OneOf => vec![
            "The welder's word or a paper slip that names the quiver; counts of rods and stubs.",
            "A reading of the deposit can tell classes apart, never two lots of one class.",
            "If it must be one lot and stays open: the inspector decides, under the governing code.",
        ],
        Certainty::Contradicted => vec![
            "Compare the paper with the record: numbers that look alike, a slip written late, a borrowed rod.",
            "A reading of the deposit gives the class at best, never the lot.",
            "Until then the weld is suspect: the inspector decides, under the governing code, up to cutting it out.",
        ],
        Certainty::Unknown => vec![
            "Look for a slip that was never entered: night issue, borrowed rods, another badge.",
            "A reading of the deposit gives the class at best, never the lot.",
            "Until then the weld is suspect: the inspector decides, under the governing code, up to cutting it out.",
        ],
        Certainty::NoFiller => vec![],
    }
}

/// The whole page of a joint; `aliases` are the numbers that it had before.
pub fn joint(
    trace: &JointTrace,
    aliases: &[String],
    notes: &[Note],
    findings: &[Finding],
    struck: &StruckAtJoint,
    zone: Zone,
) -> String {
    let mut page = Page::narrow();
    let declared = &trace.joint.declared;
    page.line(0, format!("JOINT {}", declared.number));
    if !aliases.is_empty() {
        page.hanging(0, 2, format!("also known as {}", aliases.join(", ")));
    }
    let mut about = Vec::new();
    if let Some(job) = declared.job.value() {
        about.push(job.clone());
    }
    if let Some(drawing) = declared.drawing.value() {
        let revision = declared.drawing_revision.value().map_or(String::new(), |r| format!(" rev {r}"));
        about.push(format!("drawing {drawing}{revision}"));
    }
    if !declared.wps.is_empty() {
        let wps: Vec<String> = declared.wps.iter().map(|w| w.number.clone()).collect();
        about.push(wps.join(", "));
    }
    if let Some(level) = declared.level.value() {
        about.push(format!("to be traced to the {}", level.word()));
    }
    if !about.is_empty() {
        page.line(0, about.join("; "));
    }
    if trace.joint.void {
        page.line(0, "VOID: by the record it never was");
    }
    struck::print(&mut page, &struck.declared, zone, 0);
    page.gap();
    if trace.welds.is_empty() {
        page.line(0, "No weld record: the book does not say who welded it, or with what.");
    }
    for (i, weld) in trace.welds.iter().enumerate() {
        page.hanging(0, 3, format!("{}. {}: {}", i + 1, title(weld), answer_line(weld)));
    }
    for (i, weld) in trace.welds.iter().enumerate() {
        page.gap().rule();
        weld_section(&mut page, i + 1, weld, struck, zone);
    }
    papers(&mut page, trace);
    metal_page::of_weld_metal(&mut page, &trace.weld_metal, zone);
    if !struck.gone.is_empty() {
        page.gap().rule();
        page.line(0, "Weld records that were struck");
        struck::print(&mut page, &struck.gone, zone, 2);
    }
    command::note::print(&mut page, notes, zone);
    finding_page::touching(&mut page, findings, zone);
    page.gap().rule();
    page.hanging(
        0,
        0,
        format!("Times are local, {}. Ids are those printed on slips and receipts.", zone.name()),
    );
    page.line(0, "rodbook informs; the inspector decides, under the governing code.");
    page.finish()
}

/// The papers of the source lots against what the job asks of them.
fn papers(page: &mut Page, trace: &JointTrace) {
    if trace.papers.is_empty() {
        return;
    }
    page.gap().rule();
    page.line(0, "Papers that the job asks for");
    for (lot, compared) in &trace.papers {
        for one in compared {
            let verdict = match one.outcome {
                Outcome::Met => "as asked",
                Outcome::NotMet => "NOT AS ASKED",
                Outcome::NotKnown => "not checked",
            };
            page.hanging(2, 4, format!("{lot}: {verdict}, {}", certificate_read::said(one)));
        }
    }
}

fn papers_json(trace: &JointTrace) -> Vec<Value> {
    trace.papers.iter().map(|(lot, compared)| json!({ "lot": lot, "compared": compared })).collect()
}

fn weld_section(page: &mut Page, number: usize, weld: &WeldTrace, struck: &StruckAtJoint, zone: Zone) {
    page.hanging(0, 3, format!("{number}. {}", title(weld)));
    page.hanging(
        3,
        3,
        format!(
            "welded by {}, {}",
            weld.record.welder.badge,
            show::interval(zone, weld.covers.0, weld.covers.1)
        ),
    );
    let mut facts = Vec::new();
    if let Some(used) = weld.record.used.value() {
        facts.push(format!("used {used}"));
    }
    if let Some(mark) = weld.record.mark.value() {
        facts.push(format!("mark {}", mark.word()));
    }
    if weld.record.joints.len() > 1 {
        let joints: Vec<String> = weld.record.joints.iter().map(|j| j.number.clone()).collect();
        facts.push(format!("one record for {}", joints.join(", ")));
    }
    if !facts.is_empty() {
        page.hanging(3, 3, facts.join("; "));
    }
    for line in heat_input(weld) {
        page.hanging(3, 5, line);
    }
    if let Some(cut_out) = cut_out(weld) {
        page.hanging(3, 3, cut_out);
    }
    page.gap();
    page.hanging(3, 3, format!("{}.", answer_line(weld)));
    for reason in reasons(weld) {
        page.hanging(3, 5, format!("- {reason}"));
    }
    let settling = settling(weld);
    if !settling.is_empty() {
        page.gap()
            .line(3, if needs_settling(weld.certainty) { "What would settle it" } else { "To bear in mind" });
        for step in settling {
            page.hanging(3, 5, format!("- {step}"));
        }
    }
    if !weld.sources.is_empty() {
        let heading = match weld.certainty {
            Certainty::Contradicted => "In custody then",
            Certainty::OneOf => "Can have fed it",
            Certainty::Recorded | Certainty::ByCustody | Certainty::Unknown | Certainty::NoFiller => "Source",
        };
        custody(page, heading, &weld.sources, zone);
    }
    if !weld.others.is_empty() {
        custody(page, "Also in hand, not named", &weld.others, zone);
    }
    if !weld.flux.is_empty() {
        custody(page, "Flux in hand", &weld.flux, zone);
    }
    if !weld.checks.is_empty() {
        page.gap().line(3, "Spot checks during it");
        for (entry, check, contradicts) in &weld.checks {
            let seen = match (check.legible, check.reads.value()) {
                (true, Some(reads)) => format!("read {reads}"),
                (true, None) => "legible, text not written down".into(),
                (false, _) => "not legible".into(),
            };
            let by = check.by.value().map_or(String::new(), |p| format!(" by {}", p.badge));
            let mark = if *contradicts { ": no source is that" } else { "" };
            page.hanging(5, 7, format!("{}{by}: {seen}{mark}", show::when(zone, &check.at)));
            page.line(7, receipt::short(entry));
        }
    }
    metal_page::of_weld(page, weld, zone);
    page.gap();
    let who = weld.record.recorded_by.value().map_or(String::new(), |p| format!(" by {}", p.badge));
    let how = match &weld.record.imported {
        Some(from) => format!("imported {} from {} row {}", zone.local(weld.recorded), from.file, from.row),
        None => format!("recorded {}", zone.local(weld.recorded)),
    };
    page.hanging(3, 5, format!("weld record{who}, {how}"));
    page.line(5, receipt::short(&weld.entry));
    struck::print(page, struck.of_weld(weld.entry), zone, 3);
}

/// The heat input of the pass, and where it lies to the limits of its procedures.
pub fn heat_input(weld: &WeldTrace) -> Vec<String> {
    let value = |value: &HeatInput| match (value.kj_per_in(2), value.kj_per_mm(3)) {
        (Some(inch), Some(mm)) => format!("{inch} kJ/in ({mm} kJ/mm), {}", value.convention().source()),
        (None, _) | (_, None) => "too long a number to be shown".into(),
    };
    match &weld.heat_input {
        None => Vec::new(),
        Some(PassHeat::NotWorkedOut(why)) => vec![format!("heat input not worked out: {why}")],
        Some(PassHeat::Known { value: own, limits }) if limits.is_empty() => vec![
            format!("heat input {}", value(own)),
            "not checked: no procedure of the joint has a limit for it in this book".into(),
        ],
        Some(PassHeat::Known { limits, .. }) => limits
            .iter()
            .map(|limit| match &limit.compared {
                Ok((of_limit, against)) => {
                    let lies = match against {
                        Against::Below => "below the limit",
                        Against::NearLimit => "NEAR THE LIMIT, within twice its uncertainty,",
                        Against::Above { within_2u: true } => {
                            "ABOVE THE LIMIT, by less than twice its uncertainty,"
                        }
                        Against::Above { within_2u: false } => "ABOVE THE LIMIT",
                    };
                    format!("heat input {}: {lies} of {}, {}", value(of_limit), limit.wps, limit.most)
                }
                Err(why) => {
                    format!("heat input not compared with the limit of {}, {}: {why}", limit.wps, limit.most)
                }
            })
            .collect(),
    }
}

/// The same in JSON.
fn heat_input_json(weld: &WeldTrace) -> Value {
    let of = |value: &HeatInput| {
        json!({
            "kj_per_in": value.kj_per_in(4),
            "kj_per_mm": value.kj_per_mm(6),
            "convention": value.convention().word(),
        })
    };
    match &weld.heat_input {
        None => Value::Null,
        Some(PassHeat::NotWorkedOut(why)) => json!({ "why": why }),
        Some(PassHeat::Known { value, limits }) => {
            let mut json = of(value);
            let limits: Vec<Value> = limits
                .iter()
                .map(|limit| {
                    let (value, against, why) = match &limit.compared {
                        Ok((value, against)) => (of(value), against.word(), None),
                        Err(why) => (Value::Null, "not-compared", Some(why)),
                    };
                    json!({
                        "wps": limit.wps, "most": limit.most, "convention": limit.convention.word(),
                        "value": value, "verdict": against, "why": why,
                    })
                })
                .collect();
            if let Value::Object(fields) = &mut json {
                fields.insert("limits".into(), limits.into());
            }
            json
        }
    }
}

/// Whether the inspector has something to decide.
fn needs_settling(certainty: Certainty) -> bool {
    match certainty {
        Certainty::OneOf | Certainty::Contradicted | Certainty::Unknown => true,
        Certainty::Recorded | Certainty::ByCustody | Certainty::NoFiller => false,
    }
}

/// Slips with their lots: from the certificate to the welder's hands, with times and short ids.
fn custody(page: &mut Page, heading: &str, slips: &[SlipAndLot], zone: Zone) {
    page.gap().line(3, heading);
    for view in slips {
        let slip = &view.slip;
        page.hanging(5, 7, format!("{}  {}", view.lot.received.code, show::lot_line(&view.lot)));
        page.hanging(7, 7, show::papers_line(&view.lot));
        page.hanging(
            7,
            9,
            format!(
                "received {}{}",
                show::when(zone, &view.lot.received.at),
                view.lot.received.marking.value().map_or(String::new(), |m| format!(", {m}"))
            ),
        );
        page.line(9, receipt::short(&view.lot.entry));
        struck::print(page, &view.lot.struck, zone, 7);
        let quantity =
            slip.quantity.value().map_or_else(|| "quantity not stated".to_owned(), ToString::to_string);
        let parent =
            slip.parent.as_ref().map_or(String::new(), |(_, number)| format!(", handed over from {number}"));
        let quiver = slip.quiver.value().map_or(String::new(), |q| format!(", quiver {q}"));
        page.hanging(
            7,
            9,
            format!("slip {}: {quantity} to {}{parent}{quiver}", slip.number, slip.holder.badge),
        );
        page.hanging(7, 17, format!("out       {}", show::when(zone, &slip.issued)));
        page.line(17, receipt::short(&slip.entry));
        command::slip::movements(page, view, zone, 7);
        struck::print(page, &slip.struck, zone, 7);
        match (&view.custody.to, &view.custody.closed_by) {
            (Some(to), Some(by)) if !view.custody.closed_by_leaving => {
                page.hanging(7, 17, format!("closed    {} by {by}", zone.local(*to)));
            }
            (Some(_), _) => {}
            (None, _) => {
                page.hanging(
                    7,
                    17,
                    format!("OPEN      out: {}; it stays a candidate until it is closed", show::left(view)),
                );
            }
        }
    }
}

/// A weld record in JSON, as in `rodbook-trace-joint/1`.
pub fn weld_json(weld: &WeldTrace) -> Value {
    let (lot, slip) = named(&weld.record);
    let sources = |views: &[SlipAndLot]| -> Vec<Value> { views.iter().map(show::source_json).collect() };
    let checks: Vec<Value> = weld
        .checks
        .iter()
        .map(|(entry, check, contradicts)| {
            json!({
                "entry": entry.to_string(),
                "at": check.at.from.to_string(),
                "by": check.by.value().map(|p| &p.badge),
                "legible": check.legible,
                "reads": show::stated_json(&check.reads),
                "contradicts": contradicts,
            })
        })
        .collect();
    let lots: Vec<Value> = weld
        .lots()
        .iter()
        .map(|l| json!({ "lot": l.lot.received.code, "least_mg": null, "most_mg": null }))
        .collect();
    json!({
        "entry": weld.entry.to_string(),
        "short": receipt::short(&weld.entry),
        "cycle": show::cycle(&weld.record.cycle),
        "pass": show::stated_json(&weld.record.pass),
        "process": show::stated_json(&weld.record.process),
        "welder": weld.record.welder.badge,
        "from": weld.covers.0.to_string(),
        "to": weld.covers.1.to_string(),
        "mark": weld.record.mark.value().map(|m| m.word()),
        "used": show::stated_json(&weld.record.used),
        "certainty": weld.certainty.as_str(),
        "why": reasons(weld),
        "named": { "lot": lot, "slip": slip },
        "sources": sources(&weld.sources),
        "others": sources(&weld.others),
        "flux": sources(&weld.flux),
        "lots": lots,
        "unrecorded_mg": null,
        "cut_out": weld.cut_out.by().is_some(),
        "cut_out_by": weld.cut_out.by().map(|entry| entry.to_string()),
        "checks": checks,
        "readings": metal_page::weld_json(weld),
        "heat_input": heat_input_json(weld),
        "imported": weld.record.imported.is_some(),
        "recorded_at": weld.recorded.to_string(),
    })
}

/// The answer of `trace joint` in JSON.
pub fn joint_json(
    trace: &JointTrace,
    aliases: &[String],
    notes: &[Note],
    findings: &[Finding],
    struck: &StruckAtJoint,
) -> Value {
    let declared = &trace.joint.declared;
    let weld = |weld: &WeldTrace| {
        let mut json = weld_json(weld);
        if let Value::Object(fields) = &mut json {
            fields.insert("struck".into(), struck::json(struck.of_weld(weld.entry)));
        }
        json
    };
    let at_joint: Vec<_> = struck.declared.iter().chain(&struck.gone).cloned().collect();
    json!({
        "schema": "rodbook-trace-joint/1",
        "joint": declared.number,
        "aliases": aliases,
        "job": show::stated_json(&declared.job),
        "drawing": show::stated_json(&declared.drawing),
        "drawing_revision": show::stated_json(&declared.drawing_revision),
        "level": declared.level.value().map(|l| l.word()),
        "void": trace.joint.void,
        "welds": trace.welds.iter().map(weld).collect::<Vec<_>>(),
        "papers": papers_json(trace),
        "weld_metal": trace.weld_metal.iter().map(|r| metal_page::json(r, &[])).collect::<Vec<_>>(),
        "struck": struck::json(&at_joint),
        "notes": command::note::json(notes),
        "findings": finding_page::ids(findings),
        "findings_in_full": finding_page::all_json(findings),
    })
}
