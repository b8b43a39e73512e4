//! One shop's record in one SQLite file: tell it something, ask it something, exchange, verify, back up.
//!
//! [`Ledger`] is the only way in. What can be told is in [`tell`], one file per verb; what can be asked is in
//! [`ask`], one file per question. Nothing here prints, parses arguments, or reads a clock: the time of a command
//! comes in with it.

pub mod ask;
pub mod backup;
pub mod error;
pub mod export;
mod facts;
pub mod home;
pub mod import;
mod log;
mod open;
pub mod papers;
pub mod rebuild;
mod schema;
pub mod tell;
pub mod verify;

pub use error::{BadRow, DatabaseError, DatabaseErrorKind, Error, Result, database_error_kind};
pub use log::{Place, Written};

use ask::reading::Reading;
use home::{Mark, StationHome};
use log::{Station, Writing};
use record::station_key::StationKey;
use record::{EntryId, Instant, Refusal, Zone};
use rusqlite::{Connection, TransactionBehavior};
use std::path::{Path, PathBuf};

/// Who acts, when the machine says it is, and how the command is to be taken.
#[derive(Clone, Debug)]
pub struct Acting {
    /// Badge as typed; empty if none was given.
    pub badge: String,
    /// The machine's clock.
    pub now: Instant,
    /// Decide and show, and write nothing.
    pub dry_run: bool,
    /// The reason for setting a rule aside, if one is given.
    pub overriding: Option<String>,
}

/// What a writing command did.
#[derive(Clone, Debug)]
pub struct Done<T> {
    /// What there is to tell about it.
    pub value: T,
    /// The entries written, or with a dry run those that would have been.
    pub entries: Vec<Written>,
    /// Sequence number and id of the station's last entry after it.
    pub head: Option<(u64, EntryId)>,
    /// Whether nothing was kept.
    pub dry_run: bool,
}

/// An open book.
pub struct Ledger {
    conn: Connection,
    path: PathBuf,
    station: Station,
    home: StationHome,
    key: Option<StationKey>,
    /// The tree head that this process signed last: it need not be verified again before the next command builds on it.
    signed: Option<String>,
}

impl Ledger {
    /// Opens a book for questions.
    ///
    /// # Errors
    /// When there is no such book, it is not ours, newer than this program, or damaged.
    pub fn open(path: &Path, home: &Path) -> Result<Self> {
        Self::open_as(path, home, open::Access::Read)
    }

    /// Opens a book for writing.
    ///
    /// # Errors
    /// As [`Ledger::open`], and when this machine has not got the key of the book's station.
    pub fn open_for_writing(path: &Path, home: &Path) -> Result<Self> {
        let mut this = Self::open_as(path, home, open::Access::Write)?;
        match this.home.key()? {
            Some(key) => this.key = Some(key),
            None => {
                return Err(Error::NoKey {
                    station: this.station.id.to_string().chars().take(16).collect(),
                    looked_in: this.home.dir().to_owned(),
                });
            }
        }
        rebuild::if_outdated(&mut this.conn)?;
        Ok(this)
    }

    fn open_as(path: &Path, home: &Path, access: open::Access) -> Result<Self> {
        let conn = open::connect(path, access)?;
        let station = log::own_station(&conn)?;
        let home = StationHome::of(home, station.id);
        Ok(Self { conn, path: path.to_owned(), station, home, key: None, signed: None })
    }

    /// Where the book is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The folder of its papers.
    pub fn papers(&self) -> papers::Papers {
        papers::Papers::beside(&self.path)
    }

    /// The shop's zone.
    ///
    /// # Errors
    /// When the book has no opening entry.
    pub fn zone(&self) -> Result<Zone> {
        ask::reading::zone(&self.conn)
    }

    /// Asks something inside one read transaction.
    ///
    /// # Errors
    /// What the question returns.
    pub fn ask<T>(&self, question: impl FnOnce(&Reading<'_>) -> Result<T>) -> Result<T> {
        // Deferred: a read snapshot, so that an answer of several queries is of one moment.
        let tx = self.conn.unchecked_transaction()?;
        if !rebuild::is_current(&tx)? {
            return Err(Error::OutdatedFacts);
        }
        let answer = question(&Reading::new(&tx)?)?;
        tx.finish()?;
        Ok(answer)
    }

    /// Runs `tell` inside one immediate transaction, signs the new head, commits, and moves the mark.
    pub(crate) fn write<T>(
        &mut self,
        acting: &Acting,
        tell: impl FnOnce(&mut Writing<'_>) -> Result<T>,
    ) -> Result<Done<T>> {
        let Some(key) = &self.key else {
            return Err(Error::NoKey { station: String::new(), looked_in: self.home.dir().to_owned() });
        };
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // Read under the lock: whoever wrote before has either moved the mark or stopped before it.
        let mark = self.home.mark()?;
        let mark_file = self.home.open_mark()?;
        let first;
        let (value, signed) = {
            let mut writing =
                Writing::begin(&tx, key, self.station, mark, acting.now, self.signed.as_deref())?;
            first = writing.next_place()?;
            let value = tell(&mut writing)?;
            (value, writing.sign()?)
        };
        let entries = log::written_from(&tx, first)?;
        let head = log::head(&tx, self.station.no)?.map(|h| (h.seq, h.id));
        if acting.dry_run {
            tx.rollback()?;
            return Ok(Done { value, entries, head, dry_run: true });
        }
        tx.commit()?;
        if let Some((mark, note)) = signed {
            self.home.advance_in(mark_file, mark).map_err(|e| Error::Unmarked(e.to_string()))?;
            self.signed = Some(note);
        }
        Ok(Done { value, entries, head, dry_run: false })
    }

    /// The mark of the book's station on this machine, where there is one.
    pub(crate) fn mark(&self) -> Result<Option<Mark>> {
        if self.home.dir().is_dir() { self.home.mark().map(Some) } else { Ok(None) }
    }
}

/// Whether a label is an identity itself, as listings of ambiguous labels print it.
pub fn is_identity(label: &str) -> bool {
    ask::label::as_identity(label).is_some()
}

/// Lets a command go on where rules speak against it, if an inspector sets them aside with a reason.
pub(crate) fn settle(
    against: Vec<Refusal>,
    acting: &Acting,
    actor: &ask::reading::Person,
) -> Result<Option<record::event::Override>> {
    if against.is_empty() {
        return Ok(None);
    }
    if against.iter().any(|r| !r.may_override) {
        return Err(Error::Refused(against));
    }
    let Some(why) = &acting.overriding else {
        let against = against
            .into_iter()
            .map(|r| r.next("an inspector may set this rule aside with --override \"reason\""))
            .collect();
        return Err(Error::Refused(against));
    };
    record::rules::needs_role(
        "the rule was not set aside",
        &actor.badge,
        &actor.roles,
        record::person::Role::Inspector,
    )?;
    Ok(Some(record::event::Override {
        rules: against.iter().map(|r| r.code.to_owned()).collect(),
        why: tell::remark("--override", why)?,
    }))
}
