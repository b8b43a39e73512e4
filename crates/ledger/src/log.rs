//! The log: the only code that writes entries, and the only code that signs a head.

use crate::error::{Error, Result};
use crate::facts;
use crate::home::Mark;
use record::checkpoint::Checkpoint;
use record::entry::{self, Header, Seen};
use record::id::{EntryId, PersonId, StationId};
use record::station_key::StationKey;
use record::tree::Frontier;
use record::{Entry, Event, Instant};
use rusqlite::{Connection, OptionalExtension as _, params};

/// Bits of a place that hold the sequence number; the rest is the station's local number.
const SEQ_BITS: u32 = 40;

/// Where an entry is in this file: station number × 2^40 + sequence number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place(pub i64);

impl Place {
    /// The place of a station's entry.
    pub(crate) fn new(station_no: i64, seq: u64) -> Result<Self> {
        let seq = i64::try_from(seq).ok().filter(|s| *s < 1 << SEQ_BITS);
        seq.map(|seq| Self((station_no << SEQ_BITS) | seq))
            .ok_or_else(|| Error::Damaged("a chain is longer than the format allows".into()))
    }

    /// Local number of the station.
    pub fn station_no(self) -> i64 {
        self.0 >> SEQ_BITS
    }

    /// Sequence number in the station's chain.
    pub fn seq(self) -> u64 {
        (self.0 & ((1 << SEQ_BITS) - 1)).unsigned_abs()
    }
}

/// The last entry of a chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Head {
    pub(crate) seq: u64,
    pub(crate) id: EntryId,
    pub(crate) clock: u64,
}

/// A station whose chain is in the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Station {
    pub(crate) no: i64,
    pub(crate) id: StationId,
    pub(crate) public_key: [u8; 32],
}

/// The stations of the book, in local order.
pub(crate) fn stations(conn: &Connection) -> Result<Vec<Station>> {
    let mut statement = conn.prepare_cached("SELECT no, id, public_key FROM station ORDER BY no")?;
    let rows = statement
        .query_map([], |row| {
            Ok(Station { no: row.get(0)?, id: StationId(row.get(1)?), public_key: row.get(2)? })
        })?
        .collect::<rusqlite::Result<_>>()?;
    Ok(rows)
}

/// The station that writes in this book.
pub(crate) fn own_station(conn: &Connection) -> Result<Station> {
    let sql = "SELECT s.no, s.id, s.public_key FROM book JOIN station s ON s.no = book.own_station";
    conn.query_row(sql, [], |row| {
        Ok(Station { no: row.get(0)?, id: StationId(row.get(1)?), public_key: row.get(2)? })
    })
    .optional()?
    .ok_or_else(|| Error::Damaged("the book does not say which station writes in it".into()))
}

/// The last entry of a station's chain.
pub(crate) fn head(conn: &Connection, station_no: i64) -> Result<Option<Head>> {
    let first = Place::new(station_no, 0)?;
    let sql = "SELECT place, id, clock FROM entry WHERE place BETWEEN ?1 AND ?2 ORDER BY place DESC LIMIT 1";
    conn.prepare_cached(sql)?
        .query_row([first.0, first.0 | ((1 << SEQ_BITS) - 1)], |row| {
            Ok(Head {
                seq: Place(row.get(0)?).seq(),
                id: EntryId(row.get(1)?),
                clock: row.get::<_, i64>(2)?.unsigned_abs(),
            })
        })
        .optional()
        .map_err(Error::from)
}

/// The entry at a place.
pub(crate) fn entry_at(conn: &Connection, place: Place) -> Result<Entry> {
    let mut statement = conn.prepare_cached("SELECT line FROM entry WHERE place = ?1")?;
    let line: Option<Vec<u8>> = statement.query_row([place.0], |row| row.get(0)).optional()?;
    let line = line.ok_or_else(|| not_there(place))?;
    Ok(entry::decode_trusted(&line)?)
}

/// Why a place that a fact names cannot be read.
pub(crate) fn not_there(place: Place) -> Error {
    Error::Damaged(format!(
        "a fact names entry {} of station {}, which is not there",
        place.seq(),
        place.station_no()
    ))
}

/// What the entry at a place says happened; of a correction, what holds instead.
pub(crate) fn event_at(conn: &Connection, place: Place) -> Result<Event> {
    Ok(entry_at(conn, place)?.event.effect())
}

/// Id and clock of the entry at a place.
pub(crate) fn id_and_clock(conn: &Connection, place: Place) -> Result<(EntryId, u64)> {
    let mut statement = conn.prepare_cached("SELECT id, clock FROM entry WHERE place = ?1")?;
    statement
        .query_row([place.0], |row| Ok((EntryId(row.get(0)?), row.get::<_, i64>(1)?.unsigned_abs())))
        .map_err(Error::from)
}

/// What an open transaction writes: appends, then one signature over the new head.
pub(crate) struct Writing<'c> {
    conn: &'c Connection,
    key: &'c StationKey,
    station: Station,
    head: Option<Head>,
    frontier: Frontier,
    seen: Vec<Seen>,
    now: Instant,
    by: String,
    person: Option<PersonId>,
    first_written: Option<Place>,
    statements: facts::Facts<'c>,
}

/// The end of a chain that is being added to, apart from any database.
struct Chain {
    station: StationId,
    head: Option<Head>,
    now: Instant,
    by: String,
    person: Option<PersonId>,
}

/// An entry that is encoded, and the head that it makes.
struct Line {
    head: Head,
    bytes: Vec<u8>,
}

impl Chain {
    /// The line of the next event.
    fn next(&mut self, seen: Vec<Seen>, event: &Event) -> Result<Line> {
        let before = self.head.map_or(0, |h| h.clock);
        let clock = 1 + seen.iter().map(|s| s.clock).fold(before, u64::max);
        let header = Header {
            station: self.station,
            seq: self.head.map_or(0, |h| h.seq + 1),
            prev: self.head.map_or(EntryId::ZERO, |h| h.id),
            clock,
            seen,
            time: self.now,
            by: self.by.clone(),
            person: self.person,
        };
        let bytes = entry::encode(&header, event)?;
        let head = Head { seq: header.seq, id: entry::id(&bytes), clock };
        self.head = Some(head);
        Ok(Line { head, bytes })
    }
}

/// The receipt of one entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// Where it is.
    pub place: Place,
    /// Its id.
    pub id: EntryId,
}

impl<'c> Writing<'c> {
    /// Reads the head and compares it with the mark; the caller has begun an immediate transaction.
    pub(crate) fn begin(
        conn: &'c Connection,
        key: &'c StationKey,
        station: Station,
        mark: Mark,
        now: Instant,
        signed: Option<&str>,
    ) -> Result<Self> {
        let head = head(conn, station.no)?;
        compare_with_mark(conn, station, head, mark)?;
        let frontier = match read_edge(conn, station.no)? {
            Some(edge) => edge,
            None => Frontier::new(),
        };
        if frontier.size() != head.map_or(0, |h| h.seq + 1) {
            return Err(Error::Damaged(format!(
                "the tree covers {} entries and the chain has {}; nothing is signed over that",
                frontier.size(),
                head.map_or(0, |h| h.seq + 1)
            )));
        }
        never_over_damage(conn, station, head, &frontier, signed)?;
        let statements = facts::Facts::prepare(conn)?;
        Ok(Self {
            conn,
            key,
            station,
            head,
            frontier,
            seen: Vec::new(),
            now,
            by: String::new(),
            person: None,
            first_written: None,
            statements,
        })
    }

    /// The connection, for questions inside the transaction.
    pub(crate) fn conn(&self) -> &'c Connection {
        self.conn
    }

    /// The station's clock at the start of the command.
    pub(crate) fn now(&self) -> Instant {
        self.now
    }

    /// Place of the next entry.
    pub(crate) fn next_place(&self) -> Result<Place> {
        Place::new(self.station.no, self.head.map_or(0, |h| h.seq + 1))
    }

    /// Names the person acting, for the entries that follow.
    pub(crate) fn act_as(&mut self, badge: &str, person: Option<PersonId>) {
        badge.clone_into(&mut self.by);
        self.person = person;
    }

    /// Other stations' heads to be listed on the next entry.
    pub(crate) fn has_seen(&mut self, seen: Vec<Seen>) {
        self.seen = seen;
    }

    /// Appends one event and makes its facts.
    pub(crate) fn append(&mut self, event: &Event) -> Result<Written> {
        let seen = std::mem::take(&mut self.seen);
        let line = self.chain().next(seen, event)?;
        self.write_down(&line, event)
    }

    /// Appends many events, as appending one after the other would. Lines are encoded and hashed on a second thread
    /// while this one writes those before them.
    pub(crate) fn append_all(&mut self, events: &[Event]) -> Result<()> {
        /// Fewer events than this are not worth a thread.
        const FEW: usize = 256;
        /// Lines handed over at a time.
        const LINES: usize = 64;
        if events.len() < FEW || !self.seen.is_empty() {
            return events.iter().try_for_each(|event| self.append(event).map(drop));
        }
        let mut chain = self.chain();
        std::thread::scope(|scope| {
            let (sender, lines) = std::sync::mpsc::sync_channel::<Result<Vec<Line>>>(16);
            scope.spawn(move || {
                for events in events.chunks(LINES) {
                    let lines =
                        events.iter().map(|event| chain.next(Vec::new(), event)).collect::<Result<_>>();
                    let failed = lines.is_err();
                    // Nobody listens any more once writing has failed.
                    if sender.send(lines).is_err() || failed {
                        return;
                    }
                }
            });
            let mut events = events.iter();
            for lines in lines {
                for line in lines? {
                    let event =
                        events.next().ok_or_else(|| Error::Damaged("more lines than events".into()))?;
                    self.write_down(&line, event)?;
                }
            }
            match events.next() {
                None => Ok(()),
                Some(_) => Err(Error::Damaged("fewer lines than events".into())),
            }
        })
    }

    /// Does something, lets it be looked at, and takes it back: nothing that was appended is kept.
    pub(crate) fn attempt<T>(&mut self, attempt: impl FnOnce(&mut Self) -> Result<T>) -> Result<T> {
        let before = (self.head, self.frontier.clone(), self.seen.clone(), self.first_written);
        self.conn.execute_batch("SAVEPOINT attempt")?;
        let attempted = attempt(self);
        self.conn.execute_batch("ROLLBACK TO attempt; RELEASE attempt")?;
        (self.head, self.frontier, self.seen, self.first_written) = before;
        attempted
    }

    /// The end of the chain, to which lines are added.
    fn chain(&self) -> Chain {
        Chain {
            station: self.station.id,
            head: self.head,
            now: self.now,
            by: self.by.clone(),
            person: self.person,
        }
    }

    /// Writes a line and makes its facts.
    fn write_down(&mut self, line: &Line, event: &Event) -> Result<Written> {
        let place = Place::new(self.station.no, line.head.seq)?;
        let clock =
            i64::try_from(line.head.clock).map_err(|_| Error::Damaged("the clock overflows".into()))?;
        self.statements.insert_entry(place, &line.head.id, clock, &line.bytes)?;
        self.statements.apply(place, event)?;
        self.frontier.append(line.head.id.0);
        self.head = Some(line.head);
        self.first_written.get_or_insert(place);
        Ok(Written { place, id: line.head.id })
    }

    /// Reads back what was written, hashes it again, and signs the new head. Returns the mark that the caller moves
    /// after the commit and the signed note; none where nothing was appended.
    pub(crate) fn sign(self) -> Result<Option<(Mark, String)>> {
        let (Some(first), Some(head)) = (self.first_written, self.head) else {
            return Ok(None);
        };
        let last = Place::new(self.station.no, head.seq)?;
        self.read_back(first, last, head)?;
        let checkpoint =
            Checkpoint { station: self.station.id.0, size: self.frontier.size(), root: self.frontier.root() };
        let note = checkpoint.sign(self.key);
        // Pair assertion: what was signed can be opened again, strictly.
        record::checkpoint::open(&note, &self.station.public_key)
            .map_err(|e| Error::Damaged(format!("the signature just made does not verify: {e}")))?;
        let day = self.now.to_string().get(..10).unwrap_or_default().to_owned();
        // Kept are the latest and the last of each day: an earlier one of the same day is superseded.
        self.conn.execute(
            "DELETE FROM checkpoint WHERE place >> 40 = ?1 AND day = ?2
               AND place = (SELECT max(place) FROM checkpoint WHERE place >> 40 = ?1)",
            params![self.station.no, day],
        )?;
        self.conn.execute(
            "INSERT INTO checkpoint (place, day, note) VALUES (?1, ?2, ?3)",
            params![last.0, day, note],
        )?;
        self.conn.execute(
            "INSERT INTO tree_edge (station, size, edge) VALUES (?1, ?2, ?3)
             ON CONFLICT (station) DO UPDATE SET size = excluded.size, edge = excluded.edge",
            params![self.station.no, self.frontier.size() as i64, self.frontier.to_bytes()],
        )?;
        Ok(Some((Mark::At { seq: head.seq, id: head.id }, note)))
    }

    /// One flipped bit between memory and database must be found before it is signed over, not after.
    fn read_back(&self, first: Place, last: Place, head: Head) -> Result<()> {
        let mut statement = self.conn.prepare_cached(
            "SELECT place, id, line FROM entry WHERE place BETWEEN ?1 AND ?2 ORDER BY place",
        )?;
        let mut rows = statement.query([first.0, last.0])?;
        let mut expected = first.0;
        let mut last_id = None;
        while let Some(row) = rows.next()? {
            let id: [u8; 32] = row.get(1)?;
            let line = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
            if row.get::<_, i64>(0)? != expected || entry::id(line).0 != id {
                return Err(Error::Damaged("what was just written does not read back the same".into()));
            }
            expected += 1;
            last_id = Some(id);
        }
        if last_id != Some(head.id.0) || expected != last.0 + 1 {
            return Err(Error::Damaged("what was just written does not read back the same".into()));
        }
        Ok(())
    }
}

/// The entries of a station from a place on, at most the first hundred: what a receipt lists.
pub(crate) fn written_from(conn: &Connection, first: Place) -> Result<Vec<Written>> {
    let last = first.0 | ((1 << SEQ_BITS) - 1);
    let mut statement = conn.prepare_cached(
        "SELECT place, id FROM entry WHERE place BETWEEN ?1 AND ?2 ORDER BY place LIMIT 100",
    )?;
    let rows = statement
        .query_map([first.0, last], |row| {
            Ok(Written { place: Place(row.get(0)?), id: EntryId(row.get(1)?) })
        })?
        .collect::<rusqlite::Result<_>>()?;
    Ok(rows)
}

/// The right edge of a station's tree.
pub(crate) fn read_edge(conn: &Connection, station_no: i64) -> Result<Option<Frontier>> {
    let bytes: Option<Vec<u8>> = conn
        .prepare_cached("SELECT edge FROM tree_edge WHERE station = ?1")?
        .query_row([station_no], |row| row.get(0))
        .optional()?;
    bytes
        .map(|b| {
            Frontier::from_bytes(&b)
                .map_err(|e| Error::Damaged(format!("the edge of the tree is damaged: {e}")))
        })
        .transpose()
}

/// Refuses to sign over a head that does not hash to its id, or a tree that is not the one last signed.
fn never_over_damage(
    conn: &Connection,
    station: Station,
    head: Option<Head>,
    frontier: &Frontier,
    signed: Option<&str>,
) -> Result<()> {
    let Some(head) = head else {
        return Ok(());
    };
    let place = Place::new(station.no, head.seq)?;
    let line: Vec<u8> =
        conn.query_row("SELECT line FROM entry WHERE place = ?1", [place.0], |row| row.get(0))?;
    if entry::id(&line) != head.id {
        return Err(Error::Damaged(format!(
            "entry {} has been changed: its bytes do not hash to its id",
            head.seq
        )));
    }
    let note: Option<String> = conn
        .query_row("SELECT note FROM checkpoint WHERE place = ?1", [place.0], |row| row.get(0))
        .optional()?;
    // Signed by this process a moment ago, over this very tree: the comparison of texts says so.
    let expected = Checkpoint { station: station.id.0, size: frontier.size(), root: frontier.root() };
    if let Some(signed) = signed
        && note.as_deref() == Some(signed)
        && signed.starts_with(&expected.text())
    {
        return Ok(());
    }
    match note.and_then(|n| record::checkpoint::open(&n, &station.public_key).ok()) {
        Some(c) if c.size == frontier.size() && c.root == frontier.root() && c.station == station.id.0 => {
            Ok(())
        }
        Some(_) | None => Err(Error::Damaged(format!(
            "entry {} is not covered by a signature of this station; nothing is written on top of it",
            head.seq
        ))),
    }
}

/// Refuses to append to a chain that has lost entries since this machine last wrote, or has others in their place.
fn compare_with_mark(conn: &Connection, station: Station, head: Option<Head>, mark: Mark) -> Result<()> {
    let Mark::At { seq, id } = mark else {
        return Ok(());
    };
    let have = head.map_or(0, |h| h.seq + 1);
    if have <= seq {
        return Err(Error::Damaged(format!(
            "this book ends at entry {}, but this machine has written entry {seq} of the same station: the end is \
             missing. An older copy was put in its place, or the file was cut off",
            have.checked_sub(1).map_or("nothing".into(), |s| s.to_string()),
        )));
    }
    let (found, _) = id_and_clock(conn, Place::new(station.no, seq)?)?;
    if found != id {
        return Err(Error::Damaged(format!(
            "entry {seq} of this book is not the entry {seq} that this machine has written: the history was replaced"
        )));
    }
    // Ahead of the mark: the machine stopped between commit and mark. Those entries are this station's own if they
    // are signed, which the tree's edge and checkpoint say; the mark moves with the next commit.
    Ok(())
}
