//! What a writing verb prints: what was done, and the id of the entry that says so.

use crate::answer::Answer;
use ledger::Done;
use record::short_id;
use serde_json::{Map, Value, json};

/// Id of an entry as people copy it.
pub fn short(id: &record::EntryId) -> String {
    short_id::short(&id.0)
}

/// The answer of a writing verb: `text` says what was done, `more` are further JSON fields.
pub fn answer<T>(verb: &str, done: &Done<T>, text: String, more: Value) -> Answer {
    let mut fields = Map::new();
    fields.insert("schema".into(), json!("rodbook-receipt/1"));
    fields.insert("verb".into(), json!(verb));
    fields.insert("dry_run".into(), json!(done.dry_run));
    let entries: Vec<Value> = if done.dry_run {
        Vec::new()
    } else {
        done.entries
            .iter()
            .map(|e| json!({ "seq": e.place.seq(), "id": e.id.to_string(), "short": short(&e.id) }))
            .collect()
    };
    fields.insert("entries".into(), Value::Array(entries));
    if let Value::Object(more) = more {
        fields.extend(more);
    }
    Answer {
        text: text + &closing_line(done),
        json: Value::Object(fields),
        written: !done.dry_run,
        ..Answer::default()
    }
}

/// The warning of an act for which a rule was set aside.
pub fn set_aside<T>(overridden: bool, done: &Done<T>) -> Option<String> {
    match (overridden, done.dry_run) {
        (false, _) => None,
        (true, false) => Some("a rule was set aside; the reason is in the record".into()),
        (true, true) => Some("a rule would be set aside, and the reason recorded".into()),
    }
}

/// `Entry 42 · 0ABC-…`, or that nothing was written.
pub fn closing_line<T>(done: &Done<T>) -> String {
    if done.dry_run {
        return "Dry run: nothing was written.\n".into();
    }
    match (done.entries.as_slice(), done.head) {
        ([one], _) => format!("Entry {}  {}\n", one.place.seq(), short(&one.id)),
        (_, Some((seq, id))) => format!("Entries up to {seq}  {}\n", short(&id)),
        (_, None) => String::new(),
    }
}
