//! Findings as people and programs read them.

use crate::answer::Table;
use crate::page::Page;
use crate::{metal_page, receipt, show, trace_page};
use ledger::ask::at_risk::AtRisk;
use ledger::ask::finding::{Disposed, Finding};
use record::Zone;
use record::finding::Severity;
use serde_json::{Value, json};

/// First digits of a finding's id: what people copy.
pub fn short(finding: &Finding) -> String {
    let id = finding.id.to_string();
    id.get(..12).unwrap_or(&id).to_owned()
}

/// What a severity asks of the reader.
fn asks(severity: Severity) -> &'static str {
    match severity {
        Severity::Stop => "nobody goes on until a person has decided",
        Severity::Act => "somebody must do something",
        Severity::Note => "gaps to know about",
    }
}

/// `2 stop, 5 act, 1 note`
pub fn counts(findings: &[&Finding]) -> String {
    let parts: Vec<String> = Severity::ALL
        .iter()
        .filter_map(|severity| {
            let n = findings.iter().filter(|f| f.severity == *severity).count();
            (n > 0).then(|| format!("{n} {}", severity.word()))
        })
        .collect();
    parts.join(", ")
}

/// How many of one kind are listed before the rest are counted.
fn most(severity: Severity) -> usize {
    match severity {
        Severity::Stop | Severity::Act => 8,
        Severity::Note => 3,
    }
}

/// Findings grouped by severity and kind; unless `in_full`, the many of one kind are counted, with how to see the rest.
pub fn list(page: &mut Page, findings: &[&Finding], zone: Zone, in_full: bool) {
    for severity in Severity::ALL {
        let of_severity = in_reading_order(findings.iter().copied().filter(|f| f.severity == severity));
        if of_severity.is_empty() {
            continue;
        }
        page.gap().line(0, format!("{}: {}", severity.word().to_uppercase(), asks(severity)));
        let most = if in_full { usize::MAX } else { most(severity) };
        let mut rest = of_severity.as_slice();
        while let Some(first) = rest.first() {
            let (group, after) =
                rest.split_at(rest.iter().position(|f| f.code != first.code).unwrap_or(rest.len()));
            rest = after;
            page.hanging(2, 4, format!("{} ({})", first.code.word(), group.len()));
            for finding in group.iter().take(most) {
                one(page, finding, zone, 4);
            }
            if group.len() > most {
                page.hanging(
                    4,
                    6,
                    format!("and {} more: rodbook findings --code {}", group.len() - most, first.code.word()),
                );
            }
            for step in &first.next {
                page.hanging(4, 6, format!("> {step}"));
            }
        }
    }
}

/// One finding: what, its id, and how it was closed.
pub fn one(page: &mut Page, finding: &Finding, zone: Zone, indent: usize) {
    page.hanging(indent, indent + 2, format!("- {}", finding.why));
    page.line(indent + 2, short(finding));
    if let Some(disposed) = &finding.disposed {
        page.hanging(indent + 2, indent + 4, closed(disposed, zone));
        page.line(indent + 4, receipt::short(&disposed.entry));
        if disposed.said != finding.why {
            page.hanging(indent + 2, indent + 4, format!("When it was closed it said: {}", disposed.said));
        }
    }
}

fn closed(disposed: &Disposed, zone: Zone) -> String {
    let marked = match (&disposed.lot, &disposed.classification) {
        (Some(lot), _) => format!(" as lot {lot}"),
        (None, Some(class)) => format!(" as {class}, lot unknown"),
        (None, None) => String::new(),
    };
    format!(
        "CLOSED {}: {}{marked} by {}: {}",
        show::when(zone, &disposed.at),
        disposed.disposition.word(),
        disposed.by,
        disposed.why
    )
}

/// The open findings that touch an answer, as its page ends with them; notes are gathered by kind, those closed follow.
pub fn touching(page: &mut Page, findings: &[Finding], zone: Zone) {
    let open = in_reading_order(findings.iter().filter(|f| f.is_open()));
    let closed = in_reading_order(findings.iter().filter(|f| !f.is_open()));
    if open.is_empty() && closed.is_empty() {
        return;
    }
    page.gap().rule();
    if !open.is_empty() {
        page.line(0, format!("FINDINGS that touch this answer: {}", counts(&open)));
    }
    let (pressing, notes): (Vec<&Finding>, Vec<&Finding>) =
        open.iter().partition(|f| f.severity != Severity::Note);
    for finding in pressing {
        page.hanging(2, 4, format!("{} {}: {}", finding.severity.word(), finding.code.word(), finding.why));
        page.line(4, short(finding));
    }
    let mut rest = notes.as_slice();
    while let Some(first) = rest.first() {
        let (group, after) =
            rest.split_at(rest.iter().position(|f| f.code != first.code).unwrap_or(rest.len()));
        rest = after;
        let more = match group.len() {
            1 => String::new(),
            n => format!(" And {} more like it.", n - 1),
        };
        page.hanging(2, 4, format!("note {}: {}{more}", first.code.word(), first.why));
        page.line(4, short(first));
    }
    for finding in &closed {
        page.hanging(2, 4, format!("closed {}: {}", finding.code.word(), finding.why));
        if let Some(disposed) = &finding.disposed {
            page.hanging(4, 6, self::closed(disposed, zone));
        }
    }
}

/// By severity and kind, then by what people look for: joint, slip, lot.
fn in_reading_order<'f>(findings: impl Iterator<Item = &'f Finding>) -> Vec<&'f Finding> {
    let mut sorted: Vec<&Finding> = findings.collect();
    sorted.sort_by(|a, b| {
        let key = |f: &'f Finding| (f.severity, f.code, &f.joint, &f.slip, &f.lot, &f.why, f.id);
        key(a).cmp(&key(b))
    });
    sorted
}

/// Ids of open findings, as the trace answers list them.
pub fn ids(findings: &[Finding]) -> Value {
    findings.iter().filter(|f| f.is_open()).map(|f| json!(f.id.to_string())).collect()
}

/// The findings of a trace answer in full, open and closed.
pub fn all_json(findings: &[Finding]) -> Value {
    findings.iter().map(json_of).collect()
}

/// One finding for programs.
pub fn json_of(finding: &Finding) -> Value {
    let disposed = finding.disposed.as_ref().map(|d| {
        json!({
            "as": d.disposition.word(),
            "by": d.by,
            "at": d.at.from.to_string(),
            "why": d.why,
            "said": d.said,
            "lot": d.lot,
            "classification": d.classification,
            "entry": d.entry.to_string(),
        })
    });
    json!({
        "id": finding.id.to_string(),
        "code": finding.code.word(),
        "severity": finding.severity.word(),
        "joint": finding.joint,
        "lot": finding.lot,
        "slip": finding.slip,
        "welder": finding.welder,
        "entries": finding.entries.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "why": finding.why,
        "next": finding.next,
        "disposed": disposed,
    })
}

/// Findings as a table.
pub fn table(findings: &[&Finding]) -> Table {
    let mut table = Table::new(&[
        "id",
        "code",
        "severity",
        "joint",
        "lot",
        "slip",
        "welder",
        "why",
        "disposed",
        "disposed_by",
        "disposed_at",
        "disposed_why",
        "entries",
    ]);
    for finding in findings {
        let disposed = finding.disposed.as_ref();
        let text = |value: &Option<String>| value.clone().unwrap_or_default();
        table.rows.push(vec![
            finding.id.to_string(),
            finding.code.word().to_owned(),
            finding.severity.word().to_owned(),
            text(&finding.joint),
            text(&finding.lot),
            text(&finding.slip),
            text(&finding.welder),
            finding.why.clone(),
            disposed.map_or(String::new(), |d| d.disposition.word().to_owned()),
            disposed.map_or(String::new(), |d| d.by.clone()),
            disposed.map_or(String::new(), |d| d.at.from.to_string()),
            disposed.map_or(String::new(), |d| d.why.clone()),
            finding.entries.iter().map(ToString::to_string).collect::<Vec<_>>().join(";"),
        ]);
    }
    table
}

/// The welds that unmarked wire puts at risk.
pub fn at_risk(page: &mut Page, risk: &AtRisk, zone: Zone) {
    if !risk.readings.is_empty() {
        page.line(0, "Readings of the wire; they give its class at best, never its lot");
        for reading in &risk.readings {
            metal_page::one(page, reading, zone, 2);
            page.hanging(
                4,
                6,
                format!(
                    "rejects {}; what it leaves: rodbook identify",
                    show::count(reading.read.rejected.len(), "class", "classes")
                ),
            );
        }
    }
    let Some(welder) = &risk.welder else {
        page.hanging(
            0,
            2,
            "Whose wire it was is not known, so no weld can be told: say whose with rodbook correct, field welder.",
        );
        return;
    };
    let since = risk.since.map_or_else(
        || format!("{welder} has no clean spot check before it: everything since the first day is at risk."),
        |t| format!("Last clean spot check of {welder} before it: {}.", zone.local(t)),
    );
    page.hanging(0, 2, since);
    let lots: Vec<String> = risk.lots.iter().map(|(_, code)| code.clone()).collect();
    page.hanging(
        0,
        2,
        match lots.as_slice() {
            [] => format!("By the record {welder} held nothing since then."),
            [one] => format!("Since then {welder} held one lot, {one}: custody alone can prove it."),
            several => format!("Since then {welder} held {} lots: {}.", several.len(), several.join(", ")),
        },
    );
    if risk.welds.is_empty() {
        page.line(0, "No weld record lies in that time.");
        return;
    }
    page.gap().line(0, format!("AT RISK: {}", show::count(risk.welds.len(), "weld", "welds")));
    for at in &risk.welds {
        page.hanging(
            2,
            4,
            format!(
                "{}  {}: {}",
                at.joint.declared.number,
                trace_page::title(&at.weld),
                trace_page::answer_line(&at.weld)
            ),
        );
        page.hanging(
            4,
            6,
            format!(
                "{}  {}",
                at.weld.record.welder.badge,
                show::interval(zone, at.weld.covers.0, at.weld.covers.1)
            ),
        );
        if !at.through.is_empty() {
            page.hanging(4, 6, format!("metal of {welder} through slips {}", at.through.join(", ")));
        }
        page.line(4, receipt::short(&at.weld.entry));
    }
    page.gap().line(0, "What could settle each");
    for step in [
        "Custody: where one lot alone was held, it is that lot.",
        "A spot check or a stub with a legible mark of the very rod: its class, not its lot.",
        "A reading of the deposit: the class at best, never the lot; carbon, strength and hydrogen not at all.",
        "Cutting out.",
    ] {
        page.hanging(2, 4, format!("- {step}"));
    }
    page.hanging(0, 2, "What becomes of each weld is the inspector's decision, under the governing code.");
}

/// The same for programs.
pub fn at_risk_json(risk: &AtRisk) -> Value {
    json!({
        "welder": risk.welder,
        "since": risk.since.map(|t| t.to_string()),
        "lots": risk.lots.iter().map(|(_, code)| code).collect::<Vec<_>>(),
        "readings": risk.readings.iter().map(|r| metal_page::json(r, &[])).collect::<Vec<_>>(),
        "welds": risk.welds.iter().map(|at| json!({
            "joint": at.joint.declared.number,
            "cycle": show::cycle(&at.weld.record.cycle),
            "pass": show::stated_json(&at.weld.record.pass),
            "welder": at.weld.record.welder.badge,
            "from": at.weld.covers.0.to_string(),
            "to": at.weld.covers.1.to_string(),
            "certainty": at.weld.certainty.as_str(),
            "candidates": at.weld.sources.iter().chain(&at.weld.others).map(show::source_json).collect::<Vec<_>>(),
            "since": at.since.map(|t| t.to_string()),
            "through": at.through,
            "entry": at.weld.entry.to_string(),
        })).collect::<Vec<_>>(),
    })
}
