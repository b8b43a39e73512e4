//! What leaves the book as files for other people: the lot-to-joint list with its manifest, and the record itself.
//!
//! The bytes depend on the record alone: not on the machine, its locale, the time zone of whoever asks, or the order
//! in which entries of several stations came into the book.

pub mod lot_joint;
pub mod manifest;
pub mod record;
pub mod spreadsheet;

pub use self::record::{export_checkpoints, export_record};
pub use lot_joint::LotJoint;
pub use manifest::manifest;

use crate::error::{Error, Result};
use crate::log::{self, Place, Station};
use ::record::EntryId;
use rusqlite::{Connection, OptionalExtension as _};
use sha2::{Digest as _, Sha256};
use std::io::{self, Write};

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// Lines of the list (without its header), entries, or notes.
    pub rows: u64,
    /// SHA-256 of all bytes written, in hexadecimal.
    pub sha256: String,
}

/// Passes bytes on and hashes them.
struct Hashing<'w> {
    out: &'w mut dyn Write,
    sha: Sha256,
}

impl<'w> Hashing<'w> {
    fn new(out: &'w mut dyn Write) -> Self {
        Self { out, sha: Sha256::new() }
    }

    fn done(self, rows: u64) -> Exported {
        Exported { rows, sha256: hex::encode(self.sha.finalize()) }
    }
}

impl Write for Hashing<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // All or nothing, so that the hash is of what has gone out.
        self.out.write_all(bytes)?;
        self.sha.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A station with the first and the last entry of its chain; none where the book has no entry of it.
struct Chain {
    station: Station,
    opened: Option<(u64, EntryId)>,
    head: Option<(u64, EntryId)>,
}

/// The stations by the clock of their opening entry, then by id: an order that does not depend on which of them came
/// into this book first.
fn chains(conn: &Connection) -> Result<Vec<Chain>> {
    let mut chains = Vec::new();
    for station in log::stations(conn)? {
        let first = Place::new(station.no, 0)?;
        let opened = conn
            .prepare_cached("SELECT clock, id FROM entry WHERE place = ?1")?
            .query_row([first.0], |row| Ok((row.get::<_, i64>(0)?.unsigned_abs(), EntryId(row.get(1)?))))
            .optional()?;
        let head = log::head(conn, station.no)?.map(|head| (head.seq, head.id));
        chains.push(Chain { station, opened, head });
    }
    chains.sort_by_key(|chain| (chain.opened.map_or(u64::MAX, |(clock, _)| clock), chain.station.id));
    Ok(chains)
}

/// An error of the file or pipe that an export goes to.
fn writing(what: &str) -> impl FnOnce(io::Error) -> Error {
    Error::io(format!("writing {what}"))
}
