//! A shop's book in a temporary folder, for tests that tell it things through the public methods only.

use ledger::tell::init::Opening;
use ledger::verify::{Extent, Report};
use ledger::{Acting, Ledger};
use record::person::Role;
use record::time::Shift;
use record::{Instant, Zone};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};

/// 2026-03-02T08:00:00Z.
pub(crate) const START: i64 = 1_772_438_400;

/// A folder with a book in it, and the folder where stations keep their keys and marks.
pub(crate) struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    /// A folder with nothing in it; in memory where the system has such a place, because nothing tested here hangs on
    /// how long a disk takes to sync.
    pub(crate) fn new() -> Self {
        let memory = Path::new("/dev/shm");
        let folder = tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).unwrap();
        Self { folder }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.path("shop.rodbook")
    }

    pub(crate) fn home(&self) -> PathBuf {
        self.path("home")
    }

    /// Makes the book; I-1 is enrolled as inspector and attendant.
    pub(crate) fn init(&self, now: i64) -> Ledger {
        let opening = Opening {
            station: "crib".into(),
            shop: "Well-head shop".into(),
            zone: Zone::named("Pacific/Auckland").unwrap(),
            shifts: vec![Shift::parse("06:00-14:30").unwrap()],
            name: Some("Ruta Fenbridge".into()),
            roles: vec![Role::Attendant, Role::Inspector],
        };
        Ledger::init(&self.book(), &self.home(), &acting("I-1", now), &opening).unwrap();
        self.writer()
    }

    pub(crate) fn writer(&self) -> Ledger {
        Ledger::open_for_writing(&self.book(), &self.home()).unwrap()
    }
}

pub(crate) fn acting(badge: &str, now: i64) -> Acting {
    Acting { badge: badge.into(), now: Instant(now), dry_run: false, overriding: None }
}

pub(crate) fn verified(ledger: &Ledger, extent: Extent) -> Report {
    ledger.verify(extent, &mut |_, _| {}).unwrap()
}

/// A connection of our own to the file, as any other program has one.
pub(crate) fn connect(path: &Path) -> Connection {
    let conn = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE).unwrap();
    conn.busy_timeout(std::time::Duration::from_secs(5)).unwrap();
    conn
}
