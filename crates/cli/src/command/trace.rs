//! `trace`

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{certificate_page, command, finding_page, metal_page, receipt, show, struck, trace_page};
use clap::{Args, Subcommand};
use ledger::ask::corrections::Struck;
use ledger::ask::finding::Finding;
use ledger::ask::joint_trace::WeldTrace;
use ledger::ask::notes::Note;
use ledger::ask::reading::Reading;
use ledger::ask::where_used::{Link, Use, WhereUsed};
use record::{Instant, Zone};
use serde_json::{Value, json};

/// Arguments of `trace`.
#[derive(Debug, Args)]
pub struct TraceArgs {
    /// From where.
    #[command(subcommand)]
    pub from: From,
}

/// From where to trace.
#[derive(Debug, Subcommand)]
pub enum From {
    /// Which rod went into this joint
    Joint {
        /// Joint number
        number: String,
    },
    /// Where this lot went
    Lot {
        /// Control code or maker's lot number
        label: String,
    },
    /// Where the lots of this heat went
    Heat {
        /// Heat number
        heat: String,
    },
    /// Where the lots of this certificate went
    Cert {
        /// Certificate number
        certificate: String,
    },
    /// Where the metal of this slip can have gone
    Slip {
        /// Slip number
        number: String,
    },
    /// What this welder held and welded
    Welder {
        /// Badge
        badge: String,
    },
}

/// Traces.
pub fn run(context: &Context, args: &TraceArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let note = ledger.ask(|reading| reading.not_understood())?;
    let mut answer = match &args.from {
        From::Joint { number } => {
            let (trace, aliases, notes, findings, struck) = ledger.ask(|reading| {
                let trace = reading.trace_joint(number)?;
                let findings = reading.findings_of_joint(&trace, context.now)?;
                let id = trace.joint.id;
                let (aliases, notes) = (reading.joint_aliases(id)?, reading.notes_of_joint(id)?);
                let struck = reading.struck_at_joint(id)?;
                Ok((trace, aliases, notes, findings, struck))
            })?;
            let table = joint_table(&trace.joint.declared.number, &trace.welds);
            Answer {
                text: trace_page::joint(&trace, &aliases, &notes, &findings, &struck, zone),
                json: trace_page::joint_json(&trace, &aliases, &notes, &findings, &struck),
                table: Some(table),
                ..Answer::default()
            }
        }
        From::Lot { label } => {
            let (used, findings, notes, struck) = ledger.ask(|reading| {
                let used = reading.trace_lot(label)?;
                let findings = reading.findings_of_lots(&used, context.now)?;
                let (notes, struck) = (notes_of_lots(reading, &used)?, struck_of_lots(reading, &used)?);
                Ok((used, findings, notes, struck))
            })?;
            let beside = Beside { findings: &findings, notes: &notes, struck: &struck };
            where_used(&used, &beside, "lot", label, zone)
        }
        From::Heat { heat } => {
            let (used, findings, notes, struck) = ledger.ask(|reading| {
                let used = reading.trace_heat(heat)?;
                let findings = reading.findings_of_lots(&used, context.now)?;
                let (notes, struck) = (notes_of_lots(reading, &used)?, struck_of_lots(reading, &used)?);
                Ok((used, findings, notes, struck))
            })?;
            let beside = Beside { findings: &findings, notes: &notes, struck: &struck };
            where_used(&used, &beside, "heat", heat, zone)
        }
        From::Cert { certificate } => {
            let (used, findings, notes, struck) = ledger.ask(|reading| {
                let used = reading.trace_certificate(certificate)?;
                let findings = reading.findings_of_lots(&used, context.now)?;
                let (notes, struck) = (notes_of_lots(reading, &used)?, struck_of_lots(reading, &used)?);
                Ok((used, findings, notes, struck))
            })?;
            let beside = Beside { findings: &findings, notes: &notes, struck: &struck };
            where_used(&used, &beside, "cert", certificate, zone)
        }
        From::Slip { number } => slip(&ledger, number, zone, context.now)?,
        From::Welder { badge } => welder(&ledger, badge, zone, context.now)?,
    };
    answer.warnings.extend(show::not_understood_note(&note));
    Ok(answer)
}

fn joint_table(joint: &str, welds: &[WeldTrace]) -> Table {
    let mut table = Table::new(&[
        "joint",
        "cycle",
        "pass",
        "process",
        "welder",
        "welded_from",
        "welded_to",
        "certainty",
        "lots",
        "slips",
        "entry",
        "cut_out",
    ]);
    for weld in welds {
        let lots: Vec<&str> = weld.lots().iter().map(|l| l.lot.received.code.as_str()).collect();
        let slips: Vec<&str> = weld.sources.iter().map(|s| s.slip.number.as_str()).collect();
        table.rows.push(vec![
            joint.to_owned(),
            show::cycle(&weld.record.cycle),
            weld.record.pass.cell(),
            weld.record.process.cell(),
            weld.record.welder.badge.clone(),
            weld.covers.0.to_string(),
            weld.covers.1.to_string(),
            weld.certainty.to_string(),
            lots.join(";"),
            slips.join(";"),
            weld.entry.to_string(),
            if weld.cut_out.by().is_some() { "yes" } else { "no" }.to_owned(),
        ]);
    }
    table
}

fn use_json(used: &Use) -> Value {
    json!({
        "joint": used.joint.declared.number,
        "cycle": show::cycle(&used.weld.record.cycle),
        "pass": show::stated_json(&used.weld.record.pass),
        "welder": used.weld.record.welder.badge,
        "from": used.weld.covers.0.to_string(),
        "to": used.weld.covers.1.to_string(),
        "entry": used.weld.entry.to_string(),
        "link": used.link.word(),
        "certainty": used.weld.certainty.as_str(),
        "of": used.of,
        "cut_out": used.weld.cut_out.by().is_some(),
        "least_mg": null,
        "most_mg": null,
    })
}

pub(crate) fn notes_of_lots(reading: &Reading<'_>, used: &WhereUsed) -> ledger::Result<Vec<Note>> {
    let mut notes = Vec::new();
    for lot in &used.lots {
        notes.extend(reading.notes_of_lot(lot.lot.id)?);
    }
    Ok(notes)
}

/// What was struck of the lots.
pub(crate) fn struck_of_lots(reading: &Reading<'_>, used: &WhereUsed) -> ledger::Result<Vec<Struck>> {
    let mut struck = Vec::new();
    for lot in &used.lots {
        struck.extend(reading.struck_of_lot(lot.lot.id)?);
    }
    Ok(struck)
}

/// What stands beside an answer.
pub(crate) struct Beside<'a> {
    pub(crate) findings: &'a [Finding],
    pub(crate) notes: &'a [Note],
    pub(crate) struck: &'a [Struck],
}

/// Where lots went, for programs.
pub(crate) fn where_used_json(used: &WhereUsed, beside: &Beside<'_>, asked: &Value) -> Value {
    let Beside { findings, notes, struck } = *beside;
    let (flux, welds): (Vec<&Use>, Vec<&Use>) = used.welds.iter().partition(|u| u.link == Link::Flux);
    json!({
        "schema": "rodbook-where-used/1",
        "asked": asked,
        "lots": used.lots.iter().map(|l| l.lot.received.code.clone()).collect::<Vec<_>>(),
        "welds": welds.iter().map(|u| use_json(u)).collect::<Vec<_>>(),
        "flux_welds": flux.iter().map(|u| use_json(u)).collect::<Vec<_>>(),
        "out": used.out.iter().map(|v| json!({
            "slip": v.slip.number,
            "welder": v.slip.holder.badge,
            "left": show::left(v),
        })).collect::<Vec<_>>(),
        "in_crib_mg": used.in_crib_mg,
        "certificates_read": used.certificates.iter().map(|(entry, read)| {
            certificate_page::read_json(entry, read)
        }).collect::<Vec<_>>(),
        "readings": used.readings.iter().map(|(_, r)| metal_page::json(r, &[])).collect::<Vec<_>>(),
        "struck": struck::json(struck),
        "notes": command::note::json(notes),
        "findings": finding_page::ids(findings),
        "findings_in_full": finding_page::all_json(findings),
    })
}

fn where_used(used: &WhereUsed, beside: &Beside<'_>, kind: &str, asked: &str, zone: Zone) -> Answer {
    let Beside { findings, notes, struck } = *beside;
    let json = where_used_json(used, beside, &json!({ kind: asked }));
    let mut table = Table::new(&[
        "joint",
        "cycle",
        "pass",
        "welder",
        "welded_from",
        "welded_to",
        "link",
        "certainty",
        "of",
        "entry",
    ]);
    for u in &used.welds {
        table.rows.push(vec![
            u.joint.declared.number.clone(),
            show::cycle(&u.weld.record.cycle),
            u.weld.record.pass.cell(),
            u.weld.record.welder.badge.clone(),
            u.weld.covers.0.to_string(),
            u.weld.covers.1.to_string(),
            u.link.word().to_owned(),
            u.weld.certainty.to_string(),
            u.of.to_string(),
            u.weld.entry.to_string(),
        ]);
    }
    let mut page = Page::narrow();
    let word = match kind {
        "cert" => "CERTIFICATE".to_owned(),
        other => other.to_uppercase(),
    };
    page.line(0, format!("{word} {asked}"));
    for lot in &used.lots {
        page.hanging(0, 2, format!("{}: {}", lot.lot.received.code, show::lot_line(&lot.lot)));
        page.hanging(2, 2, show::papers_line(&lot.lot));
        page.hanging(2, 2, format!("{}; in the crib: {}", lot.status.word(), lot.in_crib.shown()));
        if lot.lot.void {
            page.line(2, "VOID: by the record it was never received");
        }
        for (_, read) in used.certificates.iter().filter(|(_, read)| read.lot.lot == lot.lot.id) {
            certificate_page::line(&mut page, read);
        }
        for (_, reading) in used.readings.iter().filter(|(id, _)| *id == lot.lot.id) {
            page.line(2, "reading of its metal");
            metal_page::one(&mut page, reading, zone, 4);
        }
    }
    page.gap();
    let joints = {
        let mut numbers: Vec<&str> = used.welds.iter().map(|u| u.joint.declared.number.as_str()).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers.len()
    };
    page.line(
        0,
        format!(
            "{} at {} can have it; {} still out.",
            show::count(used.welds.len(), "weld record", "weld records"),
            show::count(joints, "joint", "joints"),
            show::count(used.out.len(), "slip is", "slips are"),
        ),
    );
    uses(&mut page, &used.welds, zone);
    if !used.out.is_empty() {
        page.gap().line(0, "Still out");
        for view in &used.out {
            page.hanging(
                2,
                4,
                format!(
                    "{}  {} with {}, since {}",
                    view.slip.number,
                    show::left(view),
                    view.slip.holder.badge,
                    zone.local(view.custody.from)
                ),
            );
        }
    }
    struck::section(&mut page, "Struck", struck, zone, 0);
    command::note::print(&mut page, notes, zone);
    finding_page::touching(&mut page, findings, zone);
    page.gap().rule();
    page.line(0, format!("Times are local, {}.", zone.name()));
    page.line(0, "rodbook informs; the inspector decides, under the governing code.");
    Answer { text: page.finish(), json, table: Some(table), ..Answer::default() }
}

/// Weld records by how the lot hangs on them.
pub(crate) fn uses(page: &mut Page, welds: &[Use], zone: Zone) {
    for (link, heading) in [
        (Link::Source, "Among the sources"),
        (Link::Named, "Named on the record, not borne out by custody"),
        (Link::Other, "In hand beside the source that is named"),
        (Link::Flux, "Flux in hand at a submerged-arc weld"),
    ] {
        let of_link: Vec<&Use> = welds.iter().filter(|u| u.link == link).collect();
        if of_link.is_empty() {
            continue;
        }
        page.gap().line(0, format!("{heading} ({})", of_link.len()));
        for u in of_link {
            let certainty = if u.of > 1 {
                format!("{}, 1 of {}", u.weld.certainty, u.of)
            } else {
                u.weld.certainty.to_string()
            };
            page.hanging(
                2,
                4,
                format!(
                    "{}  {}, {}: {certainty}",
                    u.joint.declared.number,
                    trace_page::title(&u.weld),
                    u.weld.record.welder.badge
                ),
            );
            page.line(
                4,
                format!(
                    "{}  {}",
                    show::interval(zone, u.weld.covers.0, u.weld.covers.1),
                    receipt::short(&u.weld.entry)
                ),
            );
        }
    }
}

fn slip(ledger: &ledger::Ledger, number: &str, zone: Zone, now: Instant) -> Result<Answer, Failure> {
    let (view, uses, notes, findings, struck) = ledger.ask(|reading| {
        let (view, uses) = reading.trace_slip(number)?;
        let findings = reading.findings_of_slip(&view, &uses, now)?;
        let notes = reading.notes_of_slip(view.slip.id)?;
        let struck = reading.struck_of_slip(view.slip.id)?;
        Ok((view, uses, notes, findings, struck))
    })?;
    let shop = ledger.ask(|reading| reading.shop_and_station())?.0;
    let mut page = Page::narrow();
    command::slip::print(&mut page, &view, &shop, zone);
    page.gap();
    if uses.is_empty() {
        page.line(0, "No weld record of the holder lies within its custody, and none names it.");
    } else {
        page.line(
            0,
            format!("{} can have metal of it", show::count(uses.len(), "weld record", "weld records")),
        );
    }
    let mut table = Table::new(&[
        "slip",
        "joint",
        "cycle",
        "pass",
        "welder",
        "welded_from",
        "welded_to",
        "link",
        "certainty",
        "entry",
    ]);
    let mut welds = Vec::new();
    for u in &uses {
        page.hanging(
            2,
            4,
            format!(
                "{}  {}: {}, {}",
                u.joint.declared.number,
                trace_page::title(&u.weld),
                u.link.word(),
                u.weld.certainty
            ),
        );
        page.line(
            4,
            format!(
                "{}  {}",
                show::interval(zone, u.weld.covers.0, u.weld.covers.1),
                receipt::short(&u.weld.entry)
            ),
        );
        table.rows.push(vec![
            view.slip.number.clone(),
            u.joint.declared.number.clone(),
            show::cycle(&u.weld.record.cycle),
            u.weld.record.pass.cell(),
            u.weld.record.welder.badge.clone(),
            u.weld.covers.0.to_string(),
            u.weld.covers.1.to_string(),
            u.link.word().to_owned(),
            u.weld.certainty.to_string(),
            u.weld.entry.to_string(),
        ]);
        welds.push(json!({
            "joint": u.joint.declared.number,
            "link": u.link.word(),
            "certainty": u.weld.certainty.as_str(),
            "cut_out": u.weld.cut_out.by().is_some(),
            "entry": u.weld.entry.to_string(),
        }));
    }
    // What was struck of the slip itself stands on its page above.
    let welds_struck: Vec<Struck> = struck
        .iter()
        .filter(|s| !view.slip.struck.iter().any(|of_it| of_it.entry == s.entry))
        .cloned()
        .collect();
    struck::section(&mut page, "Struck weld records that named it", &welds_struck, zone, 0);
    command::note::print(&mut page, &notes, zone);
    finding_page::touching(&mut page, &findings, zone);
    let json = json!({
        "schema": "rodbook-trace-slip/1",
        "slip": command::slip::json(&view),
        "welds": welds,
        "struck": struck::json(&struck),
        "notes": command::note::json(&notes),
        "findings": finding_page::ids(&findings),
        "findings_in_full": finding_page::all_json(&findings),
    });
    Ok(Answer { text: page.finish(), json, table: Some(table), ..Answer::default() })
}

fn welder(ledger: &ledger::Ledger, badge: &str, zone: Zone, now: Instant) -> Result<Answer, Failure> {
    let (trace, notes, findings, struck) = ledger.ask(|reading| {
        let trace = reading.trace_welder(badge)?;
        let notes = reading.notes_of_person(trace.welder.id)?;
        let findings = reading.findings_of_welder(&trace, now)?;
        let struck = reading.struck_of_welder(trace.welder.id)?;
        Ok((trace, notes, findings, struck))
    })?;
    let mut page = Page::narrow();
    let name = trace.welder.name.as_deref().map_or(String::new(), |n| format!(", {n}"));
    page.line(0, format!("WELDER {}{name}", trace.welder.badge));
    let open = trace.slips.iter().filter(|s| s.custody.to.is_none()).count();
    page.line(
        0,
        format!(
            "{}, {} open; {}",
            show::count(trace.slips.len(), "slip", "slips"),
            open,
            show::count(trace.welds.len(), "weld record", "weld records")
        ),
    );
    page.gap().line(0, "Held");
    for view in &trace.slips {
        let until = view
            .custody
            .to
            .map_or_else(|| format!("OPEN, {} out", show::left(view)), |t| format!("to {}", zone.local(t)));
        page.hanging(
            2,
            4,
            format!(
                "{}  {}  {} {until}",
                view.slip.number,
                view.lot.received.code,
                zone.local(view.custody.from)
            ),
        );
    }
    page.gap().line(0, "Welded");
    for (joint, weld) in &trace.welds {
        page.hanging(
            2,
            4,
            format!(
                "{}  {}: {}",
                joint.declared.number,
                trace_page::title(weld),
                trace_page::answer_line(weld)
            ),
        );
        page.line(4, show::interval(zone, weld.covers.0, weld.covers.1));
    }
    struck::section(&mut page, "Struck", &struck, zone, 0);
    let mut table = Table::new(&[
        "welder",
        "joint",
        "cycle",
        "pass",
        "welded_from",
        "welded_to",
        "certainty",
        "lots",
        "entry",
    ]);
    for (joint, weld) in &trace.welds {
        let lots: Vec<&str> = weld.lots().iter().map(|l| l.lot.received.code.as_str()).collect();
        table.rows.push(vec![
            trace.welder.badge.clone(),
            joint.declared.number.clone(),
            show::cycle(&weld.record.cycle),
            weld.record.pass.cell(),
            weld.covers.0.to_string(),
            weld.covers.1.to_string(),
            weld.certainty.to_string(),
            lots.join(";"),
            weld.entry.to_string(),
        ]);
    }
    command::note::print(&mut page, &notes, zone);
    finding_page::touching(&mut page, &findings, zone);
    let json = json!({
        "schema": "rodbook-trace-welder/1",
        "welder": trace.welder.badge,
        "roles": trace.welder.roles.iter().map(|r| r.word()).collect::<Vec<_>>(),
        "slips": trace.slips.iter().map(command::slip::json).collect::<Vec<_>>(),
        "welds": trace.welds.iter().map(|(joint, weld)| {
            let mut json = trace_page::weld_json(weld);
            if let Value::Object(fields) = &mut json {
                fields.insert("joint".into(), json!(joint.declared.number));
            }
            json
        }).collect::<Vec<_>>(),
        "struck": struck::json(&struck),
        "notes": command::note::json(&notes),
        "findings": finding_page::ids(&findings),
        "findings_in_full": finding_page::all_json(&findings),
    });
    Ok(Answer { text: page.finish(), json, table: Some(table), ..Answer::default() })
}
