//! The record itself: every line as it was hashed, and every signed head.

use super::{Exported, Hashing, chains, writing};
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::log::Place;
use std::io::Write;

/// Writes every entry of the book as the bytes that were hashed, each followed by a line feed: station by station in
/// the order of their opening entries (clock, then id), each chain in its own order.
///
/// # Errors
/// When the book cannot be read, holds entries of no station, or `out` takes no more.
pub fn export_record(reading: &Reading<'_>, out: &mut dyn Write) -> Result<Exported> {
    let conn = reading.conn();
    let mut out = Hashing::new(out);
    let mut rows = 0_u64;
    let mut statement =
        conn.prepare_cached("SELECT line FROM entry WHERE place >= ?1 AND place < ?2 ORDER BY place")?;
    for chain in chains(conn)? {
        let (first, next) = (Place::new(chain.station.no, 0)?, Place::new(chain.station.no + 1, 0)?);
        let mut lines = statement.query([first.0, next.0])?;
        while let Some(row) = lines.next()? {
            let line = row.get_ref(0)?.as_blob().map_err(rusqlite::Error::from)?;
            out.write_all(line).and_then(|()| out.write_all(b"\n")).map_err(writing("the record"))?;
            rows += 1;
        }
    }
    out.flush().map_err(writing("the record"))?;
    let all: i64 = conn.query_row("SELECT count(*) FROM entry", [], |row| row.get(0))?;
    if all.unsigned_abs() != rows {
        return Err(Error::Damaged(format!(
            "the book holds {all} entries and {rows} of them belong to its stations; the export is not whole"
        )));
    }
    Ok(out.done(rows))
}

/// Writes every signed head that is kept, oldest first (by the clock of the last entry that each covers, then by
/// station), with an empty line between two of them.
///
/// # Errors
/// When the book cannot be read, or `out` takes no more.
pub fn export_checkpoints(reading: &Reading<'_>, out: &mut dyn Write) -> Result<Exported> {
    let mut out = Hashing::new(out);
    let mut rows = 0_u64;
    let mut statement = reading.conn().prepare_cached(
        "SELECT c.note FROM checkpoint c
         LEFT JOIN entry e ON e.place = c.place
         LEFT JOIN station s ON s.no = c.place >> 40
         ORDER BY e.clock IS NULL, e.clock, s.id, c.note",
    )?;
    let mut notes = statement.query([])?;
    while let Some(row) = notes.next()? {
        let note = row.get_ref(0)?.as_str().map_err(rusqlite::Error::from)?;
        let between = if rows == 0 { "" } else { "\n" };
        out.write_all(between.as_bytes())
            .and_then(|()| out.write_all(note.as_bytes()))
            .map_err(writing("the checkpoints"))?;
        rows += 1;
    }
    out.flush().map_err(writing("the checkpoints"))?;
    Ok(out.done(rows))
}
