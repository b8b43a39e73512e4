//! What stands beside an exported list: how long it is, its hash, what it covers, and what nothing here shows.

use super::lot_joint::NOT_FILLED;
use super::{Chain, chains};
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::log::Place;
use ::record::{Instant, short_id};
use rusqlite::OptionalExtension as _;
use serde::Serialize;
use std::collections::HashSet;

/// The name and version of the manifest's form.
pub const SCHEMA: &str = "rodbook-manifest/1";

#[derive(Serialize)]
struct Manifest<'a> {
    schema: &'static str,
    file: &'a str,
    rows: u64,
    sha256: &'a str,
    written_at: Instant,
    joints: u64,
    weld_records: u64,
    struck: u64,
    stations: Vec<StationPart>,
    coverage: String,
    not_checked: Vec<NotChecked>,
    not_understood: Vec<NotUnderstood>,
    not_shown: &'static [&'static str],
}

#[derive(Serialize)]
struct StationPart {
    id: String,
    name: String,
    entries: u64,
    head: Option<String>,
    short: Option<String>,
    checkpoint: Option<String>,
}

#[derive(Serialize)]
struct NotChecked {
    columns: &'static str,
    why: &'static str,
}

#[derive(Serialize)]
struct NotUnderstood {
    kind: String,
    entries: u64,
}

/// What rests on somebody's word, or on nothing at all.
const NOT_SHOWN: &[&str] = &[
    "The stations signed their entries, not this list or this manifest. Who doubts the list takes the record itself \
     (rodbook export record --checkpoints), checks it up to the heads named here, and makes the list anew: the same \
     record gives the same bytes.",
    "From a part of the list nobody can tell what was left out of it. The number of rows and the SHA-256 are those of \
     the whole file.",
    "A source is a slip that was in the welder's hands at the time. The column certainty says how certain each line is, \
     and no line says that the metal of a lot is in a joint.",
    "The columns findings and finding_codes have the open findings that touch a line. Overdue slips are not among them: \
     they depend on the day of asking.",
    "Nothing here shows when an entry was written: times are what a machine's clock and people said.",
    "Whoever has a station's key and its machine could have written its history anew. A receipt or slip in other hands \
     that carries an entry id proves the history up to that entry; compare one.",
    "That an entry was true when it was typed, and that everything that happened was entered, rests on the people who \
     typed it.",
];

/// The manifest of a lot-to-joint list as JSON, ended by a line feed: `rows` and `sha256` as
/// [`Reading::export_lot_joint`] gave them in the same reading, `now` from the clock of the machine.
///
/// # Errors
/// When the book cannot be read.
pub fn manifest(
    reading: &Reading<'_>,
    file_name: &str,
    rows: u64,
    sha256: &str,
    now: Instant,
) -> Result<String> {
    let joints = standing_joints(reading)?;
    let weld_records =
        reading.standing_places("SELECT DISTINCT place FROM fact_weld_joint", [])?.len() as u64;
    let struck = reading.corrections().count() as u64;
    let stations = chains(reading.conn())?.iter().map(|c| station(reading, c)).collect::<Result<Vec<_>>>()?;
    let manifest = Manifest {
        schema: SCHEMA,
        file: file_name,
        rows,
        sha256,
        written_at: now,
        joints,
        weld_records,
        struck,
        stations,
        coverage: format!(
            "The list covers all {joints} joints that are declared and all {weld_records} weld records that are \
             written at a joint in this book, up to the head of each station named here, and nothing after it. A \
             joint without weld records and a weld record without sources have a line too. {}",
            match struck {
                0 => "No entry was corrected or voided.".to_owned(),
                n => format!(
                    "Entries that were corrected or voided are not counted, {n} of them; what was struck of a line \
                     stands in its column struck."
                ),
            }
        ),
        not_checked: NOT_FILLED.iter().map(|(columns, why)| NotChecked { columns, why }).collect(),
        // They change no line of the list, so they must be mentioned.
        not_understood: reading
            .not_understood()?
            .into_iter()
            .map(|(kind, entries)| NotUnderstood { kind, entries })
            .collect(),
        not_shown: NOT_SHOWN,
    };
    let mut text = serde_json::to_string_pretty(&manifest)
        .map_err(|e| Error::io("writing the manifest")(std::io::Error::other(e)))?;
    text.push('\n');
    Ok(text)
}

/// Joints with a description that stands.
fn standing_joints(reading: &Reading<'_>) -> Result<u64> {
    let mut statement = reading.conn().prepare_cached("SELECT joint, place FROM fact_joint")?;
    let mut rows = statement.query([])?;
    let mut joints: HashSet<[u8; 16]> = HashSet::new();
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(1)?)) {
            joints.insert(row.get(0)?);
        }
    }
    Ok(joints.len() as u64)
}

fn station(reading: &Reading<'_>, chain: &Chain) -> Result<StationPart> {
    let conn = reading.conn();
    let no = chain.station.no;
    let name: Option<String> = conn
        .prepare_cached("SELECT name FROM fact_station WHERE place = ?1 << 40")?
        .query_row([no], |row| row.get(0))
        .optional()?;
    let checkpoint: Option<String> = conn
        .prepare_cached("SELECT note FROM checkpoint WHERE place >> 40 = ?1 ORDER BY place DESC LIMIT 1")?
        .query_row([no], |row| row.get(0))
        .optional()?;
    Ok(StationPart {
        id: chain.station.id.to_string(),
        name: name.unwrap_or_default(),
        entries: chain.head.map_or(0, |(seq, _)| seq.saturating_add(1)),
        head: chain.head.map(|(_, id)| id.to_string()),
        short: chain.head.map(|(_, id)| short_id::short(&id.0)),
        checkpoint,
    })
}
