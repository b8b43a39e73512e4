//! The indexes of the long tables, taken down while a large history is brought into a new book.
//!
//! Entry ids are hashes and land anywhere in their index; made anew in one go at the end, an index is sorted instead.
//! That is only done where nothing is asked of these tables meanwhile: before the book's first slip and weld record.
//! The guard that looks into that index for every entry goes with it; both are back before the commit, and the index
//! does not come back over two entries of one id.

use crate::error::Result;
use crate::schema;
use rusqlite::Connection;

/// Fewer rows than this are quicker with the indexes in place.
const FEW: u64 = 20_000;

/// The indexes that were taken down, as the statements that make them.
#[derive(Debug, Default)]
pub(super) struct TakenDown(Vec<String>);

/// Takes the indexes down, inside the import's transaction, if the import is large and the book new.
pub(super) fn take_down(conn: &Connection, rows: u64) -> Result<TakenDown> {
    let entries: i64 = conn.query_row("SELECT ifnull(max(seq), 0) FROM entry", [], |row| row.get(0))?;
    let in_use: bool = conn.query_row(
        "SELECT EXISTS (SELECT 1 FROM fact_slip) OR EXISTS (SELECT 1 FROM fact_out)
             OR EXISTS (SELECT 1 FROM fact_weld)",
        [],
        |row| row.get(0),
    )?;
    if rows < FEW || in_use || entries.unsigned_abs() > rows / 4 {
        return Ok(TakenDown::default());
    }
    // From a schema of our own: the statements in a book's file may have been written by anybody.
    let own = Connection::open_in_memory()?;
    schema::create(&own)?;
    let indexes = own
        .prepare(
            "SELECT type, name, sql FROM sqlite_schema
             WHERE type = 'index' AND sql IS NOT NULL
               AND tbl_name IN ('entry', 'fact_slip', 'fact_out', 'fact_weld') OR name = 'entry_dense'",
        )?
        .query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut down = Vec::with_capacity(indexes.len());
    for (kind, name, sql) in indexes {
        let there: bool = conn.query_row(
            "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = ?1 AND name = ?2 AND sql = ?3)",
            [&kind, &name, &sql],
            |row| row.get(0),
        )?;
        if there {
            conn.execute_batch(&format!("DROP {kind} {name}"))?;
            down.push(sql);
        }
    }
    Ok(TakenDown(down))
}

impl TakenDown {
    /// Makes them anew.
    pub(super) fn put_up(self, conn: &Connection) -> Result<()> {
        self.0.iter().try_for_each(|sql| Ok(conn.execute_batch(sql)?))
    }
}
