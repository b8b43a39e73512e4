//! What was struck, on pages and for programs: the old value beside the new one, by whom, when and why.

use crate::page::Page;
use crate::receipt;
use ledger::ask::corrections::Struck;
use ledger::ask::entry;
use ledger::ask::struck::cell;
use record::Zone;
use record::event::Change;
use serde_json::{Value, json};

/// One paragraph for each entry that was struck.
pub fn print(page: &mut Page, struck: &[Struck], zone: Zone, indent: usize) {
    for s in struck {
        let said = if s.changes.is_empty() { entry::line(&s.event) } else { entry::thing(&s.event) };
        page.hanging(indent, indent + 10, format!("STRUCK    {said}"));
        for change in &s.changes {
            page.hanging(indent + 10, indent + 12, one(change));
        }
        let how = if s.void { "void, said" } else { "corrected" };
        page.hanging(
            indent + 10,
            indent + 12,
            format!("{how} by {}, {}: {}", s.by, zone.local(s.when), s.why),
        );
        page.line(indent + 10, receipt::short(&s.by_entry));
    }
}

/// The same under a heading of its own, where there is anything.
pub fn section(page: &mut Page, heading: &str, struck: &[Struck], zone: Zone, indent: usize) {
    if !struck.is_empty() {
        page.gap().line(indent, heading);
        print(page, struck, zone, indent + 2);
    }
}

/// One changed value: `quantity: 24 rods -> 20 rods`.
pub fn one(change: &Change) -> String {
    format!("{}: {} -> {}", change.field, cell(&change.from), cell(&change.to))
}

/// What was struck, for programs.
pub fn json(struck: &[Struck]) -> Value {
    let list: Vec<Value> = struck
        .iter()
        .map(|s| {
            json!({
                "entry": s.entry.to_string(),
                "kind": s.event.kind(),
                "said": entry::line(&s.event),
                "void": s.void,
                "changes": changes(&s.changes),
                "by": s.by,
                "at": s.when.to_string(),
                "why": s.why,
                "by_entry": s.by_entry.to_string(),
                "short": receipt::short(&s.by_entry),
            })
        })
        .collect();
    Value::Array(list)
}

/// Changed values, for programs.
pub fn changes(changes: &[Change]) -> Value {
    changes.iter().map(|c| json!({ "field": c.field, "from": c.from, "to": c.to })).collect()
}
