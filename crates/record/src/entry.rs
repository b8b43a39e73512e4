//! An event in its place: the header that chains it, and the one line of bytes that is stored and hashed.

use crate::canonical::{self, CanonicalError, direct};
use crate::event::Event;
use crate::id::{EntryId, PersonId, StationId};
use crate::time::Instant;
use crate::tree;
use serde::{Serialize, Serializer};
use serde_json::{Map, Value};

/// The only version switch. A change of any hashing rule is `rodbook/2`.
pub const FORMAT: &str = "rodbook/1";
/// Most heads of other stations that one entry can list.
pub const MAX_SEEN: usize = 64;

/// The head of another station that moved since this station's last entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The other station.
    pub station: StationId,
    /// Its last entry's sequence number.
    pub seq: u64,
    /// Its last entry's clock.
    pub clock: u64,
    /// Its last entry's id.
    pub id: EntryId,
}

/// Where an entry stands, when the station says it was written, and by whom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Header {
    /// The station whose chain this is.
    pub station: StationId,
    /// 0, 1, 2 … without gaps; also the index of the leaf in the station's Merkle tree.
    pub seq: u64,
    /// Id of the entry before; zeros at 0.
    pub prev: EntryId,
    /// 1 + the greatest clock of the entry before and of `seen`.
    pub clock: u64,
    /// Other stations' heads that moved; sorted by station, never this station's own.
    pub seen: Vec<Seen>,
    /// Recorded-at: the station's own clock, a claim only.
    pub time: Instant,
    /// Badge of the person acting, as typed; empty if nobody was named.
    pub by: String,
    /// The enrolled person behind the badge, if there was one.
    pub person: Option<PersonId>,
}

/// A header and what happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Where it stands.
    pub header: Header,
    /// What happened.
    pub event: Event,
}

/// Why a line is not an entry, or an event could not become one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EntryError {
    /// Not in the one allowed form.
    #[error(transparent)]
    Canonical(#[from] CanonicalError),
    /// A field is missing, of the wrong type, or one too many is there.
    #[error("field `{field}` is missing or not as the format says")]
    Field {
        /// The field.
        field: &'static str,
    },
    /// A field that the format does not have.
    #[error("field `{field}` is not one of the format's")]
    ExtraField {
        /// The field.
        field: String,
    },
    /// A format that this program does not know.
    #[error("format {found:?} is not {FORMAT:?}: a newer program wrote it")]
    Format {
        /// As found.
        found: String,
    },
    /// The body could not be written.
    #[error("the body could not be written: {0}")]
    Body(String),
}

/// The line of an entry: canonical JSON, no line end.
///
/// # Errors
/// When a text of the event holds a character that the format excludes, a number is beyond ±(2^53−1), or the line
/// would be longer than 64 KiB.
pub fn encode(header: &Header, event: &Event) -> Result<Vec<u8>, EntryError> {
    match encode_directly(header, event) {
        Some(line) => Ok(line),
        None => encode_by_value(header, event),
    }
}

/// A body on its way to a line.
struct Body<'e>(&'e Event);

impl Serialize for Body<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.write_body(serializer)
    }
}

/// The line of an entry whose fields are in canonical form as they come, which nearly all are; none for others.
fn encode_directly(header: &Header, event: &Event) -> Option<Vec<u8>> {
    if !header.seen.is_empty() {
        return None;
    }
    let mut line = Vec::with_capacity(1_024);
    let mut field = |name: &str, value: &dyn Fn(&mut Vec<u8>) -> bool| {
        line.extend_from_slice(name.as_bytes());
        value(&mut line).then_some(())
    };
    // The line itself is the outermost object.
    let text = |text: &str, line: &mut Vec<u8>| direct::write_into(text, 1, line);
    field("{\"body\":", &|line| direct::write_into(&Body(event), 1, line))?;
    field(",\"by\":", &|line| text(&header.by, line))?;
    field(",\"clock\":", &|line| direct::write_into(&header.clock, 1, line))?;
    field(",\"format\":", &|line| text(FORMAT, line))?;
    field(",\"kind\":", &|line| text(event.kind(), line))?;
    field(",\"person\":", &|line| match &header.person {
        Some(person) => direct::write_into(person, 1, line),
        None => text("", line),
    })?;
    field(",\"prev\":", &|line| direct::write_into(&header.prev, 1, line))?;
    field(",\"seen\":[],\"seq\":", &|line| direct::write_into(&header.seq, 1, line))?;
    field(",\"station\":", &|line| direct::write_into(&header.station, 1, line))?;
    field(",\"time\":", &|line| direct::write_into(&header.time, 1, line))?;
    line.push(b'}');
    (line.len() <= canonical::MAX_LINE).then_some(line)
}

/// The line of any entry.
fn encode_by_value(header: &Header, event: &Event) -> Result<Vec<u8>, EntryError> {
    let body = event.body().map_err(|e| EntryError::Body(e.to_string()))?;
    if body_depth(&body) > canonical::MAX_DEPTH - 1 {
        return Err(EntryError::Body("its parts are nested too deeply".into()));
    }
    // The eleven fields in sorted order, each value canonical; a map of them would be sorted anew for every entry.
    let mut line = Vec::with_capacity(1024);
    let string = |line: &mut Vec<u8>, key: &str, text: &str| {
        line.extend_from_slice(key.as_bytes());
        canonical::write_into(&Value::String(text.to_owned()), line)
    };
    line.extend_from_slice(b"{\"body\":");
    canonical::write_into(&body, &mut line)?;
    string(&mut line, ",\"by\":", &header.by)?;
    line.extend_from_slice(
        format!(",\"clock\":{},\"format\":\"{FORMAT}\"", checked(header.clock)?).as_bytes(),
    );
    string(&mut line, ",\"kind\":", event.kind())?;
    line.extend_from_slice(b",\"person\":\"");
    if let Some(person) = header.person {
        line.extend_from_slice(person.to_string().as_bytes());
    }
    line.extend_from_slice(format!("\",\"prev\":\"{}\",\"seen\":[", header.prev).as_bytes());
    for (i, seen) in header.seen.iter().enumerate() {
        let comma = if i == 0 { "" } else { "," };
        let (seq, clock) = (checked(seen.seq)?, checked(seen.clock)?);
        line.extend_from_slice(
            format!("{comma}[\"{}\",{seq},{clock},\"{}\"]", seen.station, seen.id).as_bytes(),
        );
    }
    let (seq, station, time) = (checked(header.seq)?, header.station, header.time);
    line.extend_from_slice(
        format!("],\"seq\":{seq},\"station\":\"{station}\",\"time\":\"{time}\"}}").as_bytes(),
    );
    if line.len() > canonical::MAX_LINE {
        return Err(EntryError::Body(format!(
            "it has {} bytes; at most {} are kept",
            line.len(),
            canonical::MAX_LINE
        )));
    }
    Ok(line)
}

/// An integer within what every JSON reader keeps exactly.
fn checked(n: u64) -> Result<u64, EntryError> {
    if n <= canonical::MAX_INTEGER.unsigned_abs() {
        Ok(n)
    } else {
        Err(EntryError::Body(format!("the number {n} is beyond 2^53-1")))
    }
}

fn body_depth(value: &Value) -> usize {
    match value {
        Value::Array(items) => 1 + items.iter().map(body_depth).max().unwrap_or(0),
        Value::Object(fields) => 1 + fields.values().map(body_depth).max().unwrap_or(0),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => 0,
    }
}

/// The id of an entry: the leaf hash of its line.
pub fn id(line: &[u8]) -> EntryId {
    EntryId(tree::leaf_hash(line))
}

/// Reads a line back, refusing any other spelling of the same entry.
///
/// # Errors
/// When the line is not canonical or not an entry of this format.
pub fn decode(line: &[u8]) -> Result<Entry, EntryError> {
    from_value(&canonical::read(line)?)
}

/// Reads a line that this program wrote or has verified before, without checking its spelling again.
///
/// # Errors
/// When the line is not JSON or not an entry of this format.
pub fn decode_trusted(line: &[u8]) -> Result<Entry, EntryError> {
    let value: Value = serde_json::from_slice(line).map_err(|e| EntryError::Body(e.to_string()))?;
    from_value(&value)
}

const FIELDS: [&str; 11] =
    ["body", "by", "clock", "format", "kind", "person", "prev", "seen", "seq", "station", "time"];

fn from_value(value: &Value) -> Result<Entry, EntryError> {
    let fields = value.as_object().ok_or(EntryError::Field { field: "body" })?;
    let format = text(fields, "format")?;
    if format != FORMAT {
        return Err(EntryError::Format { found: format.chars().take(40).collect() });
    }
    if let Some(extra) = fields.keys().find(|k| !FIELDS.contains(&k.as_str())) {
        return Err(EntryError::ExtraField { field: extra.clone() });
    }
    let person = match text(fields, "person")? {
        "" => None,
        id => {
            // One spelling only: lower case with hyphens.
            let parsed = uuid::Uuid::parse_str(id).ok().filter(|uuid| uuid.to_string() == id);
            Some(PersonId(parsed.ok_or(EntryError::Field { field: "person" })?))
        }
    };
    let seen_field = || EntryError::Field { field: "seen" };
    let mut seen = Vec::new();
    for item in fields.get("seen").and_then(Value::as_array).ok_or_else(seen_field)? {
        let [station, seq, clock, id] = item.as_array().map(Vec::as_slice).ok_or_else(seen_field)? else {
            return Err(seen_field());
        };
        seen.push(Seen {
            station: station.as_str().and_then(|s| s.parse().ok()).ok_or_else(seen_field)?,
            seq: seq.as_u64().ok_or_else(seen_field)?,
            clock: clock.as_u64().ok_or_else(seen_field)?,
            id: id.as_str().and_then(|s| s.parse().ok()).ok_or_else(seen_field)?,
        });
    }
    let station: StationId =
        text(fields, "station")?.parse().map_err(|_| EntryError::Field { field: "station" })?;
    let sorted = seen.is_sorted_by(|a, b| a.station < b.station);
    if seen.len() > MAX_SEEN || !sorted || seen.iter().any(|s| s.station == station) {
        return Err(seen_field());
    }
    let kind = text(fields, "kind")?;
    if !is_kind(kind) {
        return Err(EntryError::Field { field: "kind" });
    }
    let body = fields.get("body").filter(|b| b.is_object()).ok_or(EntryError::Field { field: "body" })?;
    Ok(Entry {
        header: Header {
            station,
            seq: number(fields, "seq")?,
            prev: text(fields, "prev")?.parse().map_err(|_| EntryError::Field { field: "prev" })?,
            clock: number(fields, "clock")?,
            seen,
            time: Instant::parse(text(fields, "time")?).ok_or(EntryError::Field { field: "time" })?,
            by: text(fields, "by")?.to_owned(),
            person,
        },
        event: Event::from_parts(kind, body),
    })
}

/// Whether a kind is a word of the format, with a number behind it or not: `rod.issued`, `rod.issued/2`.
fn is_kind(kind: &str) -> bool {
    let (word, version) = kind.split_once('/').map_or((kind, "2"), |(word, version)| (word, version));
    word.starts_with(|c: char| c.is_ascii_lowercase())
        && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'_' | b'.'))
        && version.starts_with(|c: char| matches!(c, '1'..='9'))
        && version.bytes().all(|b| b.is_ascii_digit())
}

fn text<'a>(fields: &'a Map<String, Value>, field: &'static str) -> Result<&'a str, EntryError> {
    fields.get(field).and_then(Value::as_str).ok_or(EntryError::Field { field })
}

fn number(fields: &Map<String, Value>, field: &'static str) -> Result<u64, EntryError> {
    fields.get(field).and_then(Value::as_u64).ok_or(EntryError::Field { field })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{JointRef, MarkSpotChecked, NotUnderstood, PersonRef, StationOpened};
    use crate::id::JointId;
    use crate::stated::Stated;
    use crate::time::When;
    use proptest::prelude::*;
    use uuid::Uuid;

    fn header() -> Header {
        Header {
            station: StationId([1; 32]),
            seq: 3,
            prev: EntryId([2; 32]),
            clock: 9,
            seen: vec![
                Seen { station: StationId([3; 32]), seq: 7, clock: 8, id: EntryId([4; 32]) },
                Seen { station: StationId([5; 32]), seq: 1, clock: 2, id: EntryId([6; 32]) },
            ],
            time: Instant(1_780_000_000),
            by: "Gr\u{fc}n \"7\"\\".into(),
            person: None,
        }
    }

    fn event(body: Value) -> Event {
        Event::NotUnderstood(NotUnderstood { kind: "trial.made".into(), body })
    }

    #[test]
    fn the_line_is_canonical_and_reads_back() {
        let event = event(serde_json::json!({ "b": [1, { "z": null }], "a": "x\ny" }));
        let line = encode(&header(), &event).unwrap();
        assert_eq!(canonical::write(&canonical::read(&line).unwrap()).unwrap(), line);
        assert_eq!(decode(&line).unwrap(), Entry { header: header(), event });
    }

    #[test]
    fn what_the_format_has_no_room_for_is_refused() {
        let deep = (0..8).fold(serde_json::json!(1), |inner, _| serde_json::json!([inner]));
        assert!(encode(&header(), &event(serde_json::json!({ "a": deep }))).is_err(), "depth");
        let just = (0..6).fold(serde_json::json!(1), |inner, _| serde_json::json!([inner]));
        let line = encode(&header(), &event(serde_json::json!({ "a": just }))).unwrap();
        assert!(decode(&line).is_ok(), "the deepest that is written is read");
        assert!(encode(&header(), &event(serde_json::json!({ "a": "x".repeat(65_536) }))).is_err(), "length");
        assert!(encode(&header(), &event(serde_json::json!({ "a": 1.5 }))).is_err(), "float");
        let far = Header { clock: 1 << 53, ..header() };
        assert!(encode(&far, &event(serde_json::json!({}))).is_err(), "2^53");
        let hidden = Header { by: "a\u{2028}".into(), ..header() };
        assert!(encode(&hidden, &event(serde_json::json!({}))).is_err(), "U+2028");
    }

    #[test]
    fn unsorted_or_own_heads_are_refused() {
        let mut swapped = header();
        swapped.seen.reverse();
        assert!(decode(&encode(&swapped, &event(serde_json::json!({}))).unwrap()).is_err());
        let mut own = header();
        own.seen = vec![Seen { station: own.station, seq: 0, clock: 1, id: EntryId::ZERO }];
        assert!(decode(&encode(&own, &event(serde_json::json!({}))).unwrap()).is_err());
    }

    proptest! {
        // Both ways to a line give the same bytes or the same refusal, whatever is typed.
        #[test]
        fn both_ways_give_the_same_line(
            by in ".{0,8}", reads in ".{0,8}|x{65000,66000}", clock in any::<u64>(),
            person in any::<Option<u128>>(), at in -9_000_000_000_000_i64..900_000_000_000, what in 0..4,
        ) {
            let at = Instant(at);
            let checked = MarkSpotChecked {
                at: When { from: at, text: by.clone(), to: at },
                by: Stated::Unknown,
                imported: None,
                joint: JointRef { joint: JointId(Uuid::nil()), number: reads.clone() },
                legible: true,
                reads: Stated::Value(reads.clone()),
                welder: PersonRef { badge: "W".into(), person: PersonId(Uuid::nil()) },
            };
            let event = match what {
                0 => event(serde_json::json!({"Odd": 1, "b": 0.5})),
                1 => event(serde_json::json!({"a": {"b": [reads]}, "b": clock})),
                2 => StationOpened {
                    key: reads, name: by.clone(), predecessor: None, shop: String::new(), zone: "UTC".into(),
                }.into(),
                _ => checked.into(),
            };
            let person = person.map(|p| PersonId(Uuid::from_u128(p)));
            let header = Header { seen: Vec::new(), by, clock, person, ..header() };
            prop_assert_eq!(encode(&header, &event), encode_by_value(&header, &event));
        }
    }
}
