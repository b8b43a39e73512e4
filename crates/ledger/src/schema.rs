//! The schema: numbered files for the record, one file for the facts. See `migrations/README.md`.

use crate::error::{Error, Result};
use rusqlite::Connection;

/// `PRAGMA application_id` of a book: the bytes `rodb`.
pub(crate) const APPLICATION_ID: i32 = i32::from_be_bytes(*b"rodb");

/// The record's schema, file by file; `PRAGMA user_version` is the number of the last one applied.
const RECORD: &[&str] = &[include_str!("../../../migrations/0001_record.sql")];

/// The facts' schema.
const FACTS: &str = include_str!("../../../migrations/facts.sql");

/// Raised with every change of the facts or of how they are made from entries.
pub(crate) const FACTS_VERSION: i64 = 5;

/// Version of the record's schema that this program writes.
pub(crate) const RECORD_VERSION: i64 = RECORD.len() as i64;

/// Makes all tables in an empty database.
///
/// # Errors
/// When the database refuses.
pub(crate) fn create(conn: &Connection) -> Result<()> {
    // One transaction: one sync, not one for each table.
    conn.execute_batch("BEGIN")?;
    conn.pragma_update(None, "application_id", APPLICATION_ID)?;
    for sql in RECORD {
        conn.execute_batch(sql)?;
    }
    conn.pragma_update(None, "user_version", RECORD_VERSION)?;
    conn.execute_batch(FACTS)?;
    conn.execute_batch("COMMIT")?;
    Ok(())
}

/// Drops the facts and makes their tables anew, empty.
///
/// # Errors
/// When the database refuses.
pub(crate) fn recreate_facts(conn: &Connection) -> Result<()> {
    for table in fact_tables(conn)? {
        conn.execute_batch(&format!("DROP TABLE {table}"))?;
    }
    conn.execute_batch(FACTS)?;
    Ok(())
}

/// Makes the facts' tables in an empty database, for comparison with a book's.
///
/// # Errors
/// When the database refuses.
pub(crate) fn create_facts(conn: &Connection) -> Result<()> {
    conn.execute_batch(FACTS)?;
    Ok(())
}

/// Names of the facts' tables, sorted.
///
/// # Errors
/// When the schema cannot be read.
pub(crate) fn fact_tables(conn: &Connection) -> Result<Vec<String>> {
    let mut statement = conn.prepare(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name GLOB 'fact_*' ORDER BY name",
    )?;
    let names = statement.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
    Ok(names)
}

/// Refuses what is not a book, and a book of a newer program.
///
/// # Errors
/// [`Error::NotABook`] or [`Error::TooNew`].
pub(crate) fn check(conn: &Connection, path: &std::path::Path) -> Result<()> {
    let not_a_book = |why: String| Error::NotABook { path: path.to_owned(), why };
    let application: i32 =
        conn.pragma_query_value(None, "application_id", |row| row.get(0)).map_err(|e| {
            match e.sqlite_error_code() {
                Some(rusqlite::ErrorCode::NotADatabase) => not_a_book("it is not a SQLite file".into()),
                _ => e.into(),
            }
        })?;
    if application != APPLICATION_ID {
        return Err(not_a_book("it is a file of another program, or empty".into()));
    }
    let version: i64 = conn.pragma_query_value(None, "user_version", |row| row.get(0))?;
    if version > RECORD_VERSION {
        return Err(Error::TooNew {
            what: path.display().to_string(),
            found: version,
            known: RECORD_VERSION,
        });
    }
    Ok(())
}
