//! A new book, and a successor to an old one.

use crate::error::{Error, Result};
use crate::home::{Mark, StationHome};
use crate::log::{self, Station, Writing};
use crate::open::{self, Access};
use crate::papers::{Copying, Papers, PapersCopied};
use crate::{Acting, Done, Ledger, home, schema, tell};
use record::Zone;
use record::entry::Seen;
use record::event::{Event, Predecessor, ShiftsDeclared, StationOpened};
use record::id::StationId;
use record::person::Role;
use record::station_key::StationKey;
use record::time::Shift;
use rusqlite::{Connection, TransactionBehavior, params};
use std::path::{Path, PathBuf};

/// What a new book is told.
#[derive(Clone, Debug)]
pub struct Opening {
    /// What people call the station.
    pub station: String,
    /// What people call the shop; empty if not said.
    pub shop: String,
    /// The shop's zone.
    pub zone: Zone,
    /// The shop's shifts; may be empty.
    pub shifts: Vec<Shift>,
    /// Name of the person acting, who is enrolled with the roles given here.
    pub name: Option<String>,
    /// Roles of the person acting.
    pub roles: Vec<Role>,
}

/// What there is to tell about a new book.
#[derive(Clone, Debug)]
pub struct Opened {
    /// The station's id.
    pub station: StationId,
    /// Where its key is.
    pub key_folder: PathBuf,
    /// After a restore: entries that this machine wrote with the old station and that the copy has not got.
    pub lost: Option<u64>,
    /// After a restore: the papers that came along, where there is a folder of them beside the copy.
    pub papers: Option<PapersCopied>,
}

impl Ledger {
    /// Creates a book, a station key and the opening entry. The person acting is enrolled.
    ///
    /// # Errors
    /// When a file of that name exists, or file or key cannot be written.
    pub fn init(path: &Path, home_folder: &Path, acting: &Acting, opening: &Opening) -> Result<Done<Opened>> {
        let name = tell::text("--station", &opening.station)?;
        let shop = if opening.shop.is_empty() { String::new() } else { tell::text("--shop", &opening.shop)? };
        let badge = if acting.badge.is_empty() { None } else { Some(tell::text("--by", &acting.badge)?) };
        let person_name = opening.name.as_deref().map(|n| tell::text("--name", n)).transpose()?;
        new_book(
            path,
            home_folder,
            acting,
            |conn| schema::create(conn),
            |writing, key| {
                if let Some(badge) = &badge {
                    writing.act_as(badge, None);
                }
                writing.append(&Event::StationOpened(StationOpened {
                    key: base64(&key.public()),
                    name,
                    predecessor: None,
                    shop,
                    zone: opening.zone.name().to_owned(),
                }))?;
                if let Some(badge) = &badge {
                    let name = person_name.as_deref().unwrap_or(badge);
                    tell::enroll::enroll(writing, badge, name, &opening.roles, None)?;
                }
                if !opening.shifts.is_empty() {
                    writing
                        .append(&Event::ShiftsDeclared(ShiftsDeclared { shifts: opening.shifts.clone() }))?;
                }
                Ok(())
            },
        )
    }

    /// Makes a new book from a copy of an old one. A new station continues it, naming the old one's last entry.
    ///
    /// # Errors
    /// When the copy is damaged or not ours, the acting badge is not enrolled in it, or a file of that name exists.
    pub fn restore(
        path: &Path,
        home_folder: &Path,
        acting: &Acting,
        copy: &Path,
        station_name: &str,
    ) -> Result<Done<Opened>> {
        let name = tell::text("--station", station_name)?;
        let source = Ledger::open(copy, home_folder)?;
        crate::verify::refuse_damaged(&source)?;
        let old = source.station;
        let zone = source.zone()?;
        let shop: String = source.conn.query_row(
            "SELECT shop FROM fact_station ORDER BY place DESC LIMIT 1",
            [],
            |row| row.get(0),
        )?;
        // The copy's pages as they are, so that every line stays byte for byte.
        let fill = |conn: &mut Connection| crate::backup::copy_into(&source.conn, conn);
        let copy_size = log::head(&source.conn, old.no)?.map_or(0, |h| h.seq + 1);
        let mut papers = None;
        let mut done = new_book(path, home_folder, acting, fill, |writing, key| {
            let head = log::head(writing.conn(), old.no)?
                .ok_or_else(|| Error::Damaged("the copy has no entries".into()))?;
            writing.has_seen(vec![Seen { station: old.id, seq: head.seq, clock: head.clock, id: head.id }]);
            writing.actor(acting)?;
            writing.append(&Event::StationOpened(StationOpened {
                key: base64(&key.public()),
                name,
                predecessor: Some(Predecessor { id: head.id, seq: head.seq, station: old.id }),
                shop,
                zone: zone.name().to_owned(),
            }))?;
            if !acting.dry_run {
                papers = source.papers().copy_to(&Papers::beside(path))?;
            }
            Ok(())
        })?;
        done.value.papers = papers.map(Copying::keep);
        if let Ok(Some(Mark::At { seq, .. })) = source.mark() {
            done.value.lost = (seq + 1).checked_sub(copy_size).filter(|lost| *lost > 0);
        }
        Ok(done)
    }
}

/// Makes the file under a passing name and gives it its own when everything is in it, so that a book is there whole
/// or not at all.
fn new_book(
    path: &Path,
    home_folder: &Path,
    acting: &Acting,
    fill: impl FnOnce(&mut Connection) -> Result<()>,
    tell: impl FnOnce(&mut Writing<'_>, &StationKey) -> Result<()>,
) -> Result<Done<Opened>> {
    if std::fs::symlink_metadata(path).is_ok() {
        return Err(Error::Exists(path.to_owned()));
    }
    let mut seed = [0; 32];
    random(&mut seed)?;
    let key = StationKey::from_seed(seed);
    let station_id = StationId(key.station());
    let dir = match path.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir.to_owned(),
        _ => PathBuf::from("."),
    };
    let passing = dir.join(format!(".{}.new", station_id.to_string().get(..16).unwrap_or("book")));
    let result = (|| -> Result<_> {
        let station_home = StationHome::create(home_folder, &key)?;
        let made = (|| -> Result<_> {
            let mut conn = open::connect(&passing, Access::Create)?;
            fill(&mut conn)?;
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            tx.execute(
                "INSERT INTO station (no, id, public_key)
                 VALUES ((SELECT ifnull(max(no), 0) + 1 FROM station), ?1, ?2)",
                params![station_id.0, key.public()],
            )?;
            let station = Station { no: tx.last_insert_rowid(), id: station_id, public_key: key.public() };
            tx.execute(
                "INSERT INTO book (one, own_station, facts_version) VALUES (1, ?1, ?2)
                 ON CONFLICT (one) DO UPDATE SET own_station = excluded.own_station",
                params![station.no, schema::FACTS_VERSION],
            )?;
            let mut writing = Writing::begin(&tx, &key, station, Mark::Nothing, acting.now, None)?;
            let first = writing.next_place()?;
            tell(&mut writing, &key)?;
            let mark = writing.sign()?;
            let entries = log::written_from(&tx, first)?;
            let head = log::head(&tx, station.no)?.map(|h| (h.seq, h.id));
            tx.commit()?;
            // Closing writes the log back, so that the one file is all there is.
            conn.close().map_err(|(_, e)| Error::from(e))?;
            if acting.dry_run {
                return Ok((entries, head));
            }
            if let Some((mark, _)) = mark {
                station_home.advance(mark)?;
            }
            put_in_place(&passing, path)?;
            home::sync_dir(&dir)?;
            Ok((entries, head))
        })();
        if acting.dry_run || made.is_err() {
            station_home.forget();
        }
        let (entries, head) = made?;
        let opened = Opened {
            station: station_id,
            key_folder: station_home.dir().to_owned(),
            lost: None,
            papers: None,
        };
        Ok(Done { value: opened, entries, head, dry_run: acting.dry_run })
    })();
    for suffix in ["", "-wal", "-shm", "-journal"] {
        let mut leftover = passing.as_os_str().to_owned();
        leftover.push(suffix);
        let _ = std::fs::remove_file(leftover);
    }
    result
}

/// Gives the finished file its name without ever replacing another.
fn put_in_place(passing: &Path, path: &Path) -> Result<()> {
    match std::fs::hard_link(passing, path) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Err(Error::Exists(path.to_owned())),
        // No hard links on this disk (FAT sticks): look once more, then rename.
        Err(_) if std::fs::symlink_metadata(path).is_ok() => Err(Error::Exists(path.to_owned())),
        Err(_) => {
            std::fs::rename(passing, path).map_err(Error::io(format!("naming the book {}", path.display())))
        }
    }
}

/// Fills the bytes with random ones of the system.
pub(crate) fn random(bytes: &mut [u8]) -> Result<()> {
    getrandom::fill(bytes).map_err(|e| Error::Io {
        doing: "asking the system for random bytes".into(),
        source: std::io::Error::other(e.to_string()),
    })
}

fn base64(bytes: &[u8]) -> String {
    data_encoding::BASE64.encode(bytes)
}
