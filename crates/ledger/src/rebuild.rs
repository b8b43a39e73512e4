//! Facts anew from the log, and facts as text for comparison.

use crate::error::{Error, Result};
use crate::facts::Facts;
use crate::log::{self, Place};
use crate::{Ledger, schema};
use record::entry;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, TransactionBehavior};
use std::fmt::Write as _;

impl Ledger {
    /// Drops the facts and replays the log. Returns the number of entries replayed.
    ///
    /// # Errors
    /// When the book cannot be written or an entry is damaged.
    pub fn rebuild(&mut self, progress: &mut dyn FnMut(u64, u64)) -> Result<u64> {
        rebuild(&mut self.conn, progress)
    }

    /// The facts as text, one line per row, in an order that does not depend on how they arrived.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn facts_dump(&self) -> Result<String> {
        dump(&self.conn, &self.conn)
    }

    /// The facts that a replay of the log would make, entries arriving in the order that `arrange` gives them.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn facts_dump_replayed(&self, arrange: impl FnOnce(&mut Vec<Place>)) -> Result<String> {
        let mut places = self
            .conn
            .prepare("SELECT place FROM entry ORDER BY place")?
            .query_map([], |row| row.get(0).map(Place))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        arrange(&mut places);
        let memory = Connection::open_in_memory()?;
        schema::create_facts(&memory)?;
        {
            let mut facts = Facts::prepare_without_log(&memory)?;
            for place in places {
                facts.apply(place, &log::entry_at(&self.conn, place)?.event)?;
            }
        }
        dump(&memory, &self.conn)
    }
}

/// Rebuilds when the facts were made by another version of this program.
pub(crate) fn if_outdated(conn: &mut Connection) -> Result<()> {
    if !is_current(conn)? {
        rebuild(conn, &mut |_, _| {})?;
    }
    Ok(())
}

/// Whether the facts were made by this version of the program.
pub(crate) fn is_current(conn: &Connection) -> Result<bool> {
    let made_with: i64 = conn.query_row("SELECT facts_version FROM book", [], |row| row.get(0))?;
    Ok(made_with == schema::FACTS_VERSION)
}

fn rebuild(conn: &mut Connection, progress: &mut dyn FnMut(u64, u64)) -> Result<u64> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    schema::recreate_facts(&tx)?;
    let entries = {
        let mut facts = Facts::prepare_without_log(&tx)?;
        replay(&tx, &mut facts, progress)?
    };
    tx.execute("UPDATE book SET facts_version = ?1", [schema::FACTS_VERSION])?;
    tx.commit()?;
    Ok(entries)
}

/// Applies every entry of the log in stored order.
pub(crate) fn replay(
    conn: &Connection,
    facts: &mut Facts<'_>,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<u64> {
    let all: i64 = conn.query_row("SELECT count(*) FROM entry", [], |row| row.get(0))?;
    let all = all.unsigned_abs();
    let mut statement = conn.prepare("SELECT place, line FROM entry ORDER BY place")?;
    let mut rows = statement.query([])?;
    let mut done = 0;
    while let Some(row) = rows.next()? {
        let place = Place(row.get(0)?);
        let line = row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?;
        facts.apply(place, &entry::decode_trusted(line)?.event)?;
        done += 1;
        if done % 4096 == 0 {
            progress(done, all);
        }
    }
    Ok(done)
}

/// Rows of all facts of `facts`, each line `table station:seq column…`, sorted. Station numbers are local to a file, so
/// the stations' ids, from `log`, stand in their place.
fn dump(facts: &Connection, log: &Connection) -> Result<String> {
    let stations = log::stations(log)?;
    let mut lines = Vec::new();
    for table in schema::fact_tables(facts)? {
        let mut statement = facts.prepare(&format!("SELECT * FROM {table}"))?;
        let names: Vec<String> = statement.column_names().map(str::to_owned).collect();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let mut line = table.clone();
            for (i, name) in names.iter().enumerate() {
                line.push(' ');
                line.push_str(name);
                line.push('=');
                let value = row.get_ref(i)?;
                if let (ValueRef::Integer(n), "place") = (value, name.as_str()) {
                    let place = Place(n);
                    let station = stations.iter().find(|s| s.no == place.station_no()).ok_or_else(|| {
                        Error::Damaged("a fact comes from a station that is not there".into())
                    })?;
                    let _ = write!(line, "{}:{}", station.id, place.seq());
                } else {
                    push_value(&mut line, value);
                }
            }
            lines.push(line);
        }
    }
    lines.sort_unstable();
    Ok(lines.join("\n"))
}

fn push_value(line: &mut String, value: ValueRef<'_>) {
    match value {
        ValueRef::Null => line.push_str("null"),
        ValueRef::Integer(n) => {
            let _ = write!(line, "{n}");
        }
        ValueRef::Real(x) => {
            let _ = write!(line, "{x:?}");
        }
        ValueRef::Text(text) => {
            let _ = write!(line, "{:?}", String::from_utf8_lossy(text));
        }
        ValueRef::Blob(bytes) => line.push_str(&hex::encode(bytes)),
    }
}
