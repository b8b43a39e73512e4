//! Small pieces that many answers share.

use ledger::ask::lot::Lot;
use ledger::ask::slip::SlipAndLot;
use record::{Stated, When, Zone};
use serde_json::{Value, json};

/// A claimed time in the shop's zone; what is uncertain about it is said.
pub fn when(zone: Zone, when: &When) -> String {
    if when.from == when.to {
        return zone.local(when.from);
    }
    if when.text.len() == 10 {
        return format!("{} (no time given)", when.text);
    }
    if when.to.0 - when.from.0 <= 1 {
        return zone.local(when.from);
    }
    format!("{} or {} (the hour is repeated)", zone.local_with_zone(when.from), zone.local_with_zone(when.to))
}

/// A closed interval in the shop's zone, the date once if it is one.
pub fn interval(zone: Zone, from: record::Instant, to: record::Instant) -> String {
    let (from, to) = (zone.local(from), zone.local(to));
    match (from.get(..10), to.get(..10), to.get(11..)) {
        (Some(a), Some(b), Some(time)) if a == b => {
            if from == to {
                from
            } else {
                format!("{from} to {time}")
            }
        }
        _ => format!("{from} to {to}"),
    }
}

/// Classification, size, maker and lot number in one line, without the code.
pub fn lot_line(lot: &Lot) -> String {
    let r = &lot.received;
    let mut parts: Vec<String> = Vec::new();
    let class: Vec<String> =
        [&r.spec, &r.classification].into_iter().filter_map(|s| s.value().cloned()).collect();
    parts.push(if class.is_empty() { "class not known".into() } else { class.join(" ") });
    if let Some(size) = r.size.value() {
        parts.push(size.text.clone());
    }
    parts.push(format!(
        "{} lot {}",
        said(&r.maker, "maker not known"),
        said(&r.maker_lot, "number not known")
    ));
    parts.join(", ")
}

/// Heats and certificate in one line.
pub fn papers_line(lot: &Lot) -> String {
    let r = &lot.received;
    let heats = if r.heats.is_empty() {
        match said(&r.heats_stated, "") {
            s if s.is_empty() => "no heat recorded".to_owned(),
            s => format!("heat {s}"),
        }
    } else {
        format!("heat {}", r.heats.join(", "))
    };
    let mut certificate = match (r.certificate.value(), r.certificate_type.value()) {
        (Some(number), Some(kind)) => format!("certificate {number} ({kind})"),
        (Some(number), None) => format!("certificate {number}"),
        (None, _) if lot.filed.is_empty() => "no certificate recorded".into(),
        (None, _) => "no certificate on the receipt".into(),
    };
    let (of_receipt, further): (Vec<&String>, Vec<&String>) =
        lot.filed.iter().partition(|filed| r.certificate.value() == Some(*filed));
    if !of_receipt.is_empty() {
        certificate.push_str(", filed");
    }
    for number in further {
        certificate.push_str(&format!("; certificate {number}, filed"));
    }
    format!("{heats}; {certificate}")
}

/// The value as text, or its silence, or `otherwise` where nobody asked.
pub fn said(stated: &Stated<String>, otherwise: &str) -> String {
    match stated {
        Stated::Value(v) => v.clone(),
        Stated::NotAsked => otherwise.to_owned(),
        Stated::NotApplicable => "n/a".into(),
        Stated::Unknown => "unknown".into(),
        Stated::Illegible => "illegible".into(),
    }
}

/// A stated text in JSON: the text, null where nobody asked, else the word of the silence.
pub fn stated_json<T: std::fmt::Display>(stated: &Stated<T>) -> Value {
    match stated {
        Stated::NotAsked => Value::Null,
        Stated::Value(_) | Stated::NotApplicable | Stated::Unknown | Stated::Illegible => {
            json!(stated.cell())
        }
    }
}

/// The cycle of a weld; nobody asked means the original weld.
pub fn cycle(stated: &Stated<String>) -> String {
    said(stated, "original")
}

/// A source of a weld in JSON.
pub fn source_json(source: &SlipAndLot) -> Value {
    let r = &source.lot.received;
    json!({
        "slip": source.slip.number,
        "lot": r.code,
        "maker": stated_json(&r.maker),
        "maker_lot": stated_json(&r.maker_lot),
        "heats": r.heats,
        "spec": stated_json(&r.spec),
        "classification": stated_json(&r.classification),
        "size": stated_json(&r.size),
        "certificate": stated_json(&r.certificate),
        "certificate_type": stated_json(&r.certificate_type),
        "issued_at": source.custody.from.to_string(),
        "closed_at": source.custody.to.map(|t| t.to_string()),
        "entry": source.slip.entry.to_string(),
        "struck": crate::struck::json(&[source.slip.struck.as_slice(), &source.lot.struck].concat()),
    })
}

/// How many of something, in words.
pub fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// A list in words: `a`, `a and b`, `a, b and c`.
pub fn listed(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

/// What is out on a slip, for a line of a list.
pub fn left(view: &SlipAndLot) -> String {
    view.slip.left_shown(&view.lot)
}

/// Note that some entries are of a kind that this program does not know.
pub fn not_understood_note(kinds: &[(String, u64)]) -> Option<String> {
    if kinds.is_empty() {
        return None;
    }
    let list: Vec<String> = kinds.iter().map(|(kind, n)| format!("{n} of kind {kind}")).collect();
    Some(format!(
        "the book has entries that this program does not know ({}); this answer leaves them out. Use the newer program",
        list.join(", ")
    ))
}
