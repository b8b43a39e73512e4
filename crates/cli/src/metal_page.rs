//! Readings of metal as people and programs read them.

use crate::page::Page;
use crate::{receipt, show};
use filler::reading::{ReadingMethod, SurfaceState};
use ledger::ask::joint_trace::WeldTrace;
use ledger::ask::metal::{self, MetalReading};
use record::Zone;
use record::event::ReadOn;
use record::id::SlipId;
use serde_json::{Value, json};

/// What was read.
pub fn read_on(on: &ReadOn) -> String {
    match on {
        ReadOn::Find(_) => "on found wire".into(),
        ReadOn::Joint { welder, .. } => format!("on a rod of {}", welder.badge),
        ReadOn::Lot(lot) => format!("on lot {}", lot.label),
        ReadOn::Slip(slip) => format!("on a rod of slip {}", slip.number),
        ReadOn::WeldMetal(joint) => format!("on the weld metal of {}", joint.number),
    }
}

/// The readings that speak of a weld record.
pub fn of_weld(page: &mut Page, weld: &WeldTrace, zone: Zone) {
    if weld.readings.is_empty() {
        return;
    }
    page.gap().line(3, "Readings of its metal");
    for (reading, refuted) in &weld.readings {
        one(page, reading, zone, 5);
        let numbers: Vec<&str> = weld
            .sources
            .iter()
            .filter(|s| refuted.contains(&s.slip.id))
            .map(|s| s.slip.number.as_str())
            .collect();
        let says = match numbers.as_slice() {
            [] => "rejects no source; a reading gives the class at best, never the lot".to_owned(),
            [one] => format!("REJECTS the class of the source on slip {one}"),
            several => format!("REJECTS the class of the sources on slips {}", several.join(", ")),
        };
        page.hanging(7, 9, says);
    }
}

/// The readings of the weld metal of a joint.
pub fn of_weld_metal(page: &mut Page, readings: &[MetalReading], zone: Zone) {
    if readings.is_empty() {
        return;
    }
    page.gap().rule();
    page.line(0, "Readings of the weld metal");
    for reading in readings {
        one(page, reading, zone, 2);
    }
    page.hanging(
        2,
        2,
        "Weld metal is diluted by what it was welded onto: it is shown, and held against no class.",
    );
}

/// `, xrf`; nothing where it is not known.
fn known<T: PartialEq + std::fmt::Display>(what: T, unknown: T) -> String {
    if what == unknown { String::new() } else { format!(", {what}") }
}

/// One reading, with who, when and the short id of its entry.
pub fn one(page: &mut Page, reading: &MetalReading, zone: Zone, indent: usize) {
    let read = &reading.read;
    let by = read.by.value().map_or(String::new(), |p| format!(" by {}", p.badge));
    let method = known(read.reading.method(), ReadingMethod::Unknown);
    let surface = known(read.reading.surface(), SurfaceState::Unknown);
    page.hanging(
        indent,
        indent + 2,
        format!("{}{by}, {}{method}{surface}", show::when(zone, &read.at), read_on(&read.on)),
    );
    page.hanging(indent + 2, indent + 4, metal::said(&read.reading));
    page.line(indent + 2, receipt::short(&reading.entry));
}

/// One reading in JSON; `refuted` are the slips among the sources that it rejects.
pub fn json(reading: &MetalReading, refuted: &[String]) -> Value {
    let read = &reading.read;
    json!({
        "entry": reading.entry.to_string(),
        "short": receipt::short(&reading.entry),
        "at": read.at.from.to_string(),
        "by": read.by.value().map(|p| &p.badge),
        "on": on_json(&read.on),
        "reading": read.reading,
        "rejected": read.rejected,
        "tables": read.tables,
        "contradicts": refuted,
    })
}

fn on_json(on: &ReadOn) -> Value {
    match on {
        ReadOn::Find(entry) => json!({ "find": entry.to_string() }),
        ReadOn::Joint { joint, welder } => json!({ "joint": joint.number, "welder": welder.badge }),
        ReadOn::Lot(lot) => json!({ "lot": lot.label }),
        ReadOn::Slip(slip) => json!({ "slip": slip.number }),
        ReadOn::WeldMetal(joint) => json!({ "weld_metal": joint.number }),
    }
}

/// The readings that speak of a weld record, in JSON.
pub fn weld_json(weld: &WeldTrace) -> Vec<Value> {
    let number = |id: &SlipId| weld.sources.iter().find(|s| s.slip.id == *id).map(|s| s.slip.number.clone());
    weld.readings
        .iter()
        .map(|(reading, refuted)| json(reading, &refuted.iter().filter_map(number).collect::<Vec<_>>()))
        .collect()
}
