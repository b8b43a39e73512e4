//! Check everything, and say in plain words what is shown and what rests on somebody's word.

use crate::error::{Error, Result};
use crate::facts::Facts;
use crate::home::Mark;
use crate::log::{self, Place, Station};
use crate::{Ledger, schema};
use record::entry::{self, Entry};
use record::event::{Event, Predecessor};
use record::id::{EntryId, StationId};
use record::station_key::station_id;
use record::tree::{Frontier, Hash};
use record::{Instant, short_id};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension as _, Row};
use std::collections::HashMap;
use std::fmt;
use std::sync::OnceLock;

/// Name of the check that compares the tables of facts with the log.
const FACTS: &str = "facts against the log";

/// How much is checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// Everything, the high-water mark of this machine included.
    Everything,
    /// A copy: older than the mark by nature.
    CopyOnly,
}

/// Something that is not as it must be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The station whose chain it is in.
    pub station: Option<StationId>,
    /// The first entry it shows at.
    pub seq: Option<u64>,
    /// What is wrong.
    pub what: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(station) = self.station {
            write!(f, "station {} ", station.to_string().get(..16).unwrap_or(""))?;
        }
        if let Some(seq) = self.seq {
            write!(f, "entry {seq}: ")?;
        }
        f.write_str(&self.what)
    }
}

/// What was found about one station's chain.
#[derive(Clone, Debug)]
pub struct StationReport {
    /// Its id.
    pub station: StationId,
    /// Its name, from the opening entry.
    pub name: String,
    /// Sound entries from the first on.
    pub entries: u64,
    /// Id of the last sound entry.
    pub head: Option<EntryId>,
    /// Recorded-at of the last sound entry.
    pub last_time: Option<Instant>,
    /// Entries covered by a signature that verifies.
    pub signed: u64,
    /// Whether it writes in this book.
    pub own: bool,
}

/// Whether one of the checks was made, and how it came out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Made, and as it must be.
    Sound(String),
    /// Made, and not as it must be.
    Broken(String),
    /// Not made, and why.
    NotChecked(String),
}

/// A pin, an entry id kept outside, and where it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pinned {
    /// As typed.
    pub typed: String,
    /// Name of the station and sequence number of the entry; none if no sound entry has that id.
    pub found: Option<(String, u64)>,
}

/// Everything that `verify` found.
#[derive(Clone, Debug)]
pub struct Report {
    /// One per station, in local order.
    pub stations: Vec<StationReport>,
    /// The checks in the order they were made: name and outcome.
    pub checks: Vec<(&'static str, Outcome)>,
    /// What is wrong, first things first.
    pub problems: Vec<Problem>,
    /// Kinds that this program does not know, with how many entries have them.
    pub not_understood: Vec<(String, u64)>,
}

impl Report {
    /// Whether nothing is wrong.
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }

    /// What a sound report shows, sentence by sentence.
    pub fn shown(&self) -> Vec<String> {
        let mut shown = Vec::new();
        for station in &self.stations {
            if let Some(head) = station.head {
                shown.push(format!(
                    "The chain of station {} ({}) is unbroken: each entry names the one before by its hash, and the \
                     station's key signed them all up to entry {}, id {}.",
                    station.name,
                    station.station.to_string().get(..16).unwrap_or(""),
                    station.signed.saturating_sub(1),
                    short_id::short(&head.0),
                ));
            }
        }
        let compared =
            |(name, outcome): &(&str, Outcome)| *name == FACTS && matches!(outcome, Outcome::Sound(_));
        if self.checks.iter().any(compared) {
            shown.push(
                "The tables that answers are read from say what the entries say, and nothing else.".into(),
            );
        }
        shown
    }

    /// What no check here can show, sentence by sentence.
    pub fn not_shown(&self) -> Vec<String> {
        vec![
            "Nothing here shows when an entry was written: times are what this machine's clock and people said.".into(),
            "Whoever has the station's key and this machine could have written the history anew, and an end cut off at \
             an older signature shows only against this machine's high-water mark. A receipt or slip in other hands that \
             carries an entry id proves the history up to that entry; compare one with --pin."
                .into(),
            "That an entry was true when it was typed, and that everything that happened was entered, rests on the \
             people who typed it."
                .into(),
        ]
    }
}

impl Ledger {
    /// Checks everything.
    ///
    /// # Errors
    /// When the file cannot be read at all; what is wrong inside it is in the report.
    pub fn verify(&self, extent: Extent, progress: &mut dyn FnMut(u64, u64)) -> Result<Report> {
        // Read before the snapshot: beside a writer the book may then be ahead of the mark, never behind it.
        let mark = self.mark();
        let tx = self.conn.unchecked_transaction()?;
        let mut report = Report {
            stations: Vec::new(),
            checks: Vec::new(),
            problems: Vec::new(),
            not_understood: Vec::new(),
        };
        file(&tx, &mut report)?;
        // The facts are made anew on the way along the chains, so that every entry is decoded once.
        let fresh = facts_without_indexes()?;
        fresh.execute_batch("BEGIN")?;
        let chains = {
            let mut replay = Facts::prepare_without_log(&fresh)?;
            chains(&tx, self.station, &mut replay, progress, &mut report)?
        };
        fresh.execute_batch("COMMIT")?;
        seen(&chains, &mut report);
        match extent {
            Extent::Everything => self.mark_check(mark, &chains, &mut report),
            Extent::CopyOnly => report.checks.push((
                "high-water mark",
                Outcome::NotChecked("a copy is older than the mark by nature".into()),
            )),
        }
        names(&tx, &mut report)?;
        if report.problems.is_empty() {
            facts(&tx, &fresh, &mut report)?;
        } else {
            report.checks.push((
                FACTS,
                Outcome::NotChecked("the log is damaged; facts are compared with a sound log only".into()),
            ));
        }
        tx.finish()?;
        Ok(report)
    }

    /// Looks for entries whose ids somebody outside kept, by their first 80 bits. One that is missing is a problem.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn check_pins(&self, pins: &[(String, [u8; 10])], report: &mut Report) -> Result<Vec<Pinned>> {
        let mut found = Vec::new();
        for (typed, first_bytes) in pins {
            let mut upper = first_bytes.to_vec();
            upper.extend([0xFF; 22]);
            let place: Option<i64> = self
                .conn
                .prepare_cached("SELECT place FROM entry WHERE id BETWEEN ?1 AND ?2 LIMIT 1")?
                .query_row((first_bytes.as_slice(), upper), |row| row.get(0))
                .optional()?;
            // Only entries on the sound part of a chain count.
            let sound = place.map(Place).and_then(|place| {
                let index =
                    log::stations(&self.conn).ok()?.iter().position(|s| s.no == place.station_no())?;
                let station = report.stations.get(index)?;
                (place.seq() < station.entries).then(|| (station.name.clone(), place.seq()))
            });
            if sound.is_none() {
                report.problems.push(Problem {
                    station: None,
                    seq: None,
                    what: format!("no entry has the id {typed}, which somebody outside holds: the history was replaced or cut off"),
                });
            }
            found.push(Pinned { typed: typed.clone(), found: sound });
        }
        Ok(found)
    }

    fn mark_check(&self, mark: Result<Option<Mark>>, chains: &[Chain], report: &mut Report) {
        const NAME: &str = "high-water mark";
        let own = chains.iter().find(|c| c.station.no == self.station.no);
        let found = match (mark, own) {
            (Ok(None), _) | (_, None) => {
                report.checks.push((
                    NAME,
                    Outcome::NotChecked(
                        "this machine has not got the station's mark; a cut-off end would show only there"
                            .into(),
                    ),
                ));
                return;
            }
            (Err(error), _) => Err((None, error.to_string())),
            (Ok(Some(Mark::Nothing)), Some(_)) => Ok("the mark says that nothing was written yet".to_owned()),
            (Ok(Some(Mark::At { seq, id })), Some(chain)) => {
                match usize::try_from(seq).ok().and_then(|s| chain.ids.get(s)) {
                    Some(found) if found.0 == id.0 => {
                        Ok(format!("entry {seq} is here as this machine wrote it"))
                    }
                    Some(_) => Err((
                        Some(seq),
                        format!("entry {seq} is not the one this machine wrote: the history was replaced"),
                    )),
                    None => Err((
                        Some(chain.ids.len() as u64),
                        format!(
                            "this machine wrote entry {seq}, and the chain ends before it: the end is missing"
                        ),
                    )),
                }
            }
        };
        match found {
            Ok(how) => report.checks.push((NAME, Outcome::Sound(how))),
            Err((seq, what)) => {
                report.checks.push((NAME, Outcome::Broken(what.clone())));
                report.problems.push(Problem { station: Some(self.station.id), seq, what });
            }
        }
    }
}

/// Refuses a book whose record or facts are damaged.
pub(crate) fn refuse_damaged(ledger: &Ledger) -> Result<()> {
    let report = ledger.verify(Extent::CopyOnly, &mut |_, _| {})?;
    match report.problems.first() {
        None => Ok(()),
        Some(problem) => Err(Error::Damaged(format!("the copy is damaged: {problem}"))),
    }
}

/// SQLite's own check of the file, and whether its tables, indexes and guards are those that this program makes: where a
/// guard is gone entries can be changed, and one that is more can change what is written.
fn file(conn: &Connection, report: &mut Report) -> Result<()> {
    const NAME: &str = "database file";
    let answer: rusqlite::Result<Vec<String>> = conn
        .prepare("PRAGMA integrity_check(5)")
        .and_then(|mut s| s.query_map([], |row| row.get(0))?.collect());
    let wrong = match answer {
        Ok(lines) if lines == ["ok"] => not_as_made(conn)?,
        Ok(lines) => Some(lines.join("; ")),
        Err(error) => Some(error.to_string()),
    };
    match wrong {
        None => report.checks.push((NAME, Outcome::Sound("SQLite finds nothing".into()))),
        Some(wrong) => {
            let what = format!("the database file is damaged: {wrong}");
            report.checks.push((NAME, Outcome::Broken(what.clone())));
            report.problems.push(Problem { station: None, seq: None, what });
        }
    }
    Ok(())
}

/// What a database is made of: kind, name and statement of each table, index and guard.
type Schema = Vec<(String, String, String)>;

/// The schema of a database; without that of the facts where another version made them.
fn schema_of(conn: &Connection, with_facts: bool) -> Result<Schema> {
    let mut statement = conn.prepare(
        "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND (?1 OR tbl_name NOT GLOB 'fact_*')
         ORDER BY type, name",
    )?;
    let rows = statement.query_map([with_facts], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The schema that this program makes.
fn made_schema() -> Result<&'static Schema> {
    static MADE: OnceLock<Schema> = OnceLock::new();
    if let Some(made) = MADE.get() {
        return Ok(made);
    }
    let fresh = Connection::open_in_memory()?;
    schema::create(&fresh)?;
    let made = schema_of(&fresh, true)?;
    Ok(MADE.get_or_init(|| made))
}

/// The first table, index or guard that is not as this program makes it. Facts that another version made have tables of
/// their own.
fn not_as_made(conn: &Connection) -> Result<Option<String>> {
    let made_with: i64 = conn.query_row("SELECT facts_version FROM book", [], |row| row.get(0))?;
    let with_facts = made_with == schema::FACTS_VERSION;
    let mut wanted = made_schema()?.clone();
    wanted.retain(|(_, _, sql)| with_facts || !sql.contains(" fact_"));
    let found = schema_of(conn, with_facts)?;
    let only_in = |these: &Schema, those: &Schema| {
        these
            .iter()
            .find(|x| !those.contains(x))
            .map(|(kind, name, _)| format!("{kind} {name} is not as this program makes it"))
    };
    Ok(only_in(&wanted, &found).or_else(|| only_in(&found, &wanted)))
}

/// What the walk along one chain leaves for the other checks.
struct Chain {
    station: Station,
    ids: Vec<EntryId>,
    clocks: Vec<u64>,
    seen: Vec<(u64, entry::Seen)>,
    predecessor: Option<Predecessor>,
}

fn chains(
    conn: &Connection,
    own: Station,
    replay: &mut Facts<'_>,
    progress: &mut dyn FnMut(u64, u64),
    report: &mut Report,
) -> Result<Vec<Chain>> {
    let all: i64 = conn.query_row("SELECT count(*) FROM entry", [], |row| row.get(0))?;
    let mut done = 0;
    let mut chains = Vec::new();
    let stations = log::stations(conn)?;
    let problems_before = report.problems.len();
    for (what, station, table) in [
        ("entries", "station", "entry"),
        ("signed tree heads", "place >> 40", "checkpoint"),
        ("edges of trees", "station", "tree_edge"),
    ] {
        let sql = format!("SELECT count(*) FROM {table} WHERE {station} NOT IN (SELECT no FROM station)");
        let strays: i64 = conn.query_row(&sql, [], |r| r.get(0))?;
        if strays > 0 {
            report.problems.push(Problem {
                station: None,
                seq: None,
                what: format!("{strays} {what} belong to no station of the book"),
            });
        }
    }
    let mut kinds: HashMap<String, u64> = HashMap::new();
    for station in stations {
        let mut tick = || {
            done += 1;
            if done % 4096 == 0 {
                progress(done, all.unsigned_abs());
            }
        };
        let (chain, name, last_time) = walk(conn, station, replay, &mut tick, &mut kinds, report)?;
        let signed = signatures(conn, &chain, report)?;
        report.stations.push(StationReport {
            station: station.id,
            name,
            entries: chain.ids.len() as u64,
            head: chain.ids.last().copied(),
            last_time,
            signed,
            own: station.no == own.no,
        });
        chains.push(chain);
    }
    let mut not_understood: Vec<_> = kinds.into_iter().collect();
    not_understood.sort();
    report.not_understood = not_understood;
    let outcome = match report.problems.get(problems_before) {
        None => Outcome::Sound(format!(
            "{all} entries of {}",
            if chains.len() == 1 { "1 station".into() } else { format!("{} stations", chains.len()) }
        )),
        Some(problem) => Outcome::Broken(problem.to_string()),
    };
    report.checks.push(("chains and signatures", outcome));
    Ok(chains)
}

/// Walks one chain from its opening entry and stops at the first entry that is not as it must be.
fn walk(
    conn: &Connection,
    station: Station,
    replay: &mut Facts<'_>,
    tick: &mut dyn FnMut(),
    kinds: &mut HashMap<String, u64>,
    report: &mut Report,
) -> Result<(Chain, String, Option<Instant>)> {
    let mut chain =
        Chain { station, ids: Vec::new(), clocks: Vec::new(), seen: Vec::new(), predecessor: None };
    let (mut name, mut last_time) = (String::new(), None);
    let first = Place::new(station.no, 0)?;
    let last = Place(Place::new(station.no + 1, 0)?.0 - 1);
    let mut statement = conn
        .prepare("SELECT place, id, clock, line FROM entry WHERE place BETWEEN ?1 AND ?2 ORDER BY place")?;
    let mut rows = statement.query([first.0, last.0])?;
    loop {
        let seq = chain.ids.len() as u64;
        let mut broken = |what: String| {
            report.problems.push(Problem { station: Some(station.id), seq: Some(seq), what });
        };
        let row = match rows.next() {
            Ok(Some(row)) => row,
            Ok(None) => break,
            Err(error) => {
                broken(format!("cannot be read: {error}"));
                break;
            }
        };
        tick();
        let place = Place(row.get(0)?);
        if place.seq() != seq {
            broken(format!("is missing; the next one stored is {}", place.seq()));
            break;
        }
        let line = match row.get_ref(3)?.as_blob() {
            Ok(line) => line,
            Err(_) => {
                broken("is not stored as bytes".into());
                break;
            }
        };
        let id = entry::id(line);
        if row.get::<_, [u8; 32]>(1)? != id.0 {
            broken("has been changed: its bytes do not hash to its id".into());
            break;
        }
        let entry = match entry::decode(line) {
            Ok(entry) => entry,
            Err(error) => {
                broken(format!("is not an entry of the format: {error}"));
                break;
            }
        };
        if let Err(what) = in_place(&chain, &entry) {
            broken(what);
            break;
        }
        if row.get::<_, i64>(2)?.unsigned_abs() != entry.header.clock {
            broken("the clock in its row is not the clock in its bytes".into());
            break;
        }
        if let Event::StationOpened(opened) = &entry.event
            && seq == 0
        {
            name.clone_from(&opened.name);
            chain.predecessor.clone_from(&opened.predecessor);
        }
        if let Event::NotUnderstood(other) = &entry.event {
            *kinds.entry(other.kind.clone()).or_default() += 1;
        }
        replay.apply(place, &entry.event)?;
        chain.seen.extend(entry.header.seen.iter().map(|s| (seq, *s)));
        chain.ids.push(id);
        chain.clocks.push(entry.header.clock);
        last_time = Some(entry.header.time);
    }
    Ok((chain, name, last_time))
}

/// Whether an entry follows on what the chain has so far.
fn in_place(chain: &Chain, entry: &Entry) -> Result<(), String> {
    let header = &entry.header;
    let seq = chain.ids.len() as u64;
    if header.station != chain.station.id {
        return Err("is an entry of another station".into());
    }
    if header.seq != seq {
        return Err(format!("says that it is entry {}", header.seq));
    }
    if header.prev != chain.ids.last().copied().unwrap_or(EntryId::ZERO) {
        return Err("does not name the entry before it: one of the two has been changed".into());
    }
    let before = chain.clocks.last().copied().unwrap_or(0);
    if header.clock != header.seen.iter().map(|s| s.clock).fold(before, u64::max).saturating_add(1) {
        return Err("its clock is not 1 + the greatest before it".into());
    }
    match (&entry.event, seq) {
        (Event::StationOpened(opened), 0) => {
            let key = data_encoding::BASE64.decode(opened.key.as_bytes()).ok();
            let key: Option<[u8; 32]> = key.and_then(|k| k.try_into().ok());
            match key {
                Some(key) if station_id(&key) == header.station.0 && key == chain.station.public_key => {
                    Ok(())
                }
                Some(_) | None => Err("the key in it is not the station's".into()),
            }
        }
        // By its kind: a body that this program does not understand does not make it another kind.
        (event, 1..) if event.kind() == "station.opened" => {
            Err("opens a station that is open already".into())
        }
        (_, 0) => Err("the chain does not begin with the opening of its station".into()),
        _ => Ok(()),
    }
}

/// Compares every kept checkpoint with the tree over the entries. Returns how many entries are signed.
fn signatures(conn: &Connection, chain: &Chain, report: &mut Report) -> Result<u64> {
    let station = chain.station;
    let mut broken = |seq: u64, what: String| {
        report.problems.push(Problem { station: Some(station.id), seq: Some(seq), what });
    };
    let mut statement =
        conn.prepare("SELECT place, note FROM checkpoint WHERE place >> 40 = ?1 ORDER BY place")?;
    let notes = statement
        .query_map([station.no], |row| Ok((Place(row.get(0)?), row.get::<_, String>(1)?)))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let entries = chain.ids.len() as u64;
    let mut frontier = Frontier::new();
    let mut ids = chain.ids.iter();
    let mut signed = 0;
    for (place, note) in notes {
        let checkpoint = match record::checkpoint::open(&note, &station.public_key) {
            Ok(checkpoint) => checkpoint,
            Err(error) => {
                broken(place.seq(), format!("the signed tree head at this entry does not verify: {error}"));
                continue;
            }
        };
        if checkpoint.station != station.id.0 || checkpoint.size != place.seq().saturating_add(1) {
            broken(place.seq(), "the signed tree head at this entry is that of another place".into());
            continue;
        }
        if checkpoint.size > entries {
            broken(
                entries,
                format!(
                    "is missing: the station signed {} entries, and {entries} sound ones are here",
                    checkpoint.size
                ),
            );
            continue;
        }
        while frontier.size() < checkpoint.size {
            match ids.next() {
                Some(id) => frontier.append(id.0),
                None => break,
            }
        }
        if frontier.root() != checkpoint.root {
            broken(place.seq(), "the entries up to here are not those that the station signed".into());
            continue;
        }
        signed = checkpoint.size;
    }
    for id in ids {
        frontier.append(id.0);
    }
    // A damaged chain is reported already; what is beyond its damage is not "unsigned" on top of that.
    let whole: i64 =
        conn.query_row("SELECT count(*) FROM entry WHERE place >> 40 = ?1", [station.no], |row| row.get(0))?;
    if whole.unsigned_abs() == entries {
        if signed < entries {
            broken(signed, "is not covered by a signature of the station".into());
        }
        let size: Option<i64> = conn
            .query_row("SELECT size FROM tree_edge WHERE station = ?1", [station.no], |row| row.get(0))
            .optional()?;
        let edge: Option<Hash> = log::read_edge(conn, station.no)
            .ok()
            .flatten()
            .filter(|edge| edge.size() == entries && size.map(i64::unsigned_abs) == Some(entries))
            .map(|edge| edge.root());
        if edge != Some(frontier.root()) {
            broken(
                entries.saturating_sub(1),
                "the stored edge of the tree is not that of the entries".into(),
            );
        }
    }
    Ok(signed)
}

/// Heads of other stations that entries name, and the one that a successor goes on from, must be what those stations
/// wrote.
fn seen(chains: &[Chain], report: &mut Report) {
    let mut compared = 0_u64;
    let mut not_here = 0_u64;
    let mut first_broken = None;
    for chain in chains {
        let heads =
            chain.seen.iter().map(|(at, seen)| (*at, seen.station, seen.seq, Some(seen.clock), seen.id));
        let predecessor = chain.predecessor.iter().map(|p| (0, p.station, p.seq, None, p.id));
        for (at, station, seq, clock, id) in predecessor.chain(heads) {
            let Some(other) = chains.iter().find(|c| c.station.id == station) else {
                not_here += u64::from(clock.is_some());
                continue;
            };
            compared += u64::from(clock.is_some());
            let index = usize::try_from(seq).unwrap_or(usize::MAX);
            let same_clock = clock.is_none() || other.clocks.get(index).copied() == clock;
            if other.ids.get(index) != Some(&id) || !same_clock {
                let what = format!(
                    "had seen entry {seq} of station {}, which is not here as it was seen",
                    station.to_string().get(..16).unwrap_or("")
                );
                first_broken.get_or_insert_with(|| what.clone());
                report.problems.push(Problem { station: Some(chain.station.id), seq: Some(at), what });
            }
        }
    }
    let outcome = match first_broken {
        Some(what) => Outcome::Broken(what),
        None if compared + not_here == 0 => Outcome::Sound("no station has met another".into()),
        None if not_here > 0 => Outcome::NotChecked(format!(
            "{compared} heads agree; {not_here} are of stations that are not in this book"
        )),
        None => Outcome::Sound(format!("{compared} heads seen by others agree")),
    };
    report.checks.push(("heads seen by other stations", outcome));
}

/// Names and salts that are still here must be those that the chain has the hash of.
fn names(conn: &Connection, report: &mut Report) -> Result<()> {
    const NAME: &str = "names beside the record";
    let mut statement = conn.prepare(
        "SELECT n.place, n.name, n.salt, e.line FROM person_name n LEFT JOIN entry e ON e.place = n.place
         ORDER BY n.place",
    )?;
    let mut rows = statement.query([])?;
    let mut compared = 0_u64;
    while let Some(row) = rows.next()? {
        let place = Place(row.get(0)?);
        let (name, salt): (String, [u8; 32]) = (row.get(1)?, row.get(2)?);
        let line: Option<Vec<u8>> = row.get(3)?;
        let enrolled = line.and_then(|l| entry::decode_trusted(&l).ok()).map(|e| e.event);
        let same = match enrolled {
            Some(Event::PersonEnrolled(e)) => e.name_hash == record::person::name_hash(&salt, &name),
            Some(_) | None => false,
        };
        if !same {
            let what = format!("the name beside entry {} is not the one that was enrolled", place.seq());
            report.checks.push((NAME, Outcome::Broken(what.clone())));
            report.problems.push(Problem { station: None, seq: Some(place.seq()), what });
            return Ok(());
        }
        compared += 1;
    }
    let erased: i64 = conn.query_row(
        "SELECT count(*) FROM fact_person WHERE place NOT IN (SELECT place FROM person_name)",
        [],
        |row| row.get(0),
    )?;
    let mut how = format!("{compared} names are those that were enrolled");
    if erased > 0 {
        how.push_str(&format!("; {erased} have been erased"));
    }
    report.checks.push((NAME, Outcome::Sound(how)));
    Ok(())
}

/// An empty database of facts; rows are only compared in it, so it needs no indexes.
fn facts_without_indexes() -> Result<Connection> {
    let fresh = Connection::open_in_memory()?;
    schema::create_facts(&fresh)?;
    let indexes: Vec<String> = fresh
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'index' AND sql IS NOT NULL")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    for index in indexes {
        fresh.execute_batch(&format!("DROP INDEX {index}"))?;
    }
    Ok(fresh)
}

/// Compares every fact with those that the walk along the chains made.
fn facts(conn: &Connection, fresh: &Connection, report: &mut Report) -> Result<()> {
    const NAME: &str = FACTS;
    let made_with: i64 = conn.query_row("SELECT facts_version FROM book", [], |row| row.get(0))?;
    if made_with != schema::FACTS_VERSION {
        report.checks.push((
            NAME,
            Outcome::NotChecked(format!(
                "they were made by version {made_with} of the program's tables, this one has {}; run rodbook rebuild",
                schema::FACTS_VERSION
            )),
        ));
        return Ok(());
    }
    let mut rows_compared = 0_u64;
    let tables = schema::fact_tables(fresh)?;
    let found = schema::fact_tables(conn)?;
    let mut problem =
        (tables != found).then(|| "the tables of facts are not those of this program".to_owned());
    for table in &tables {
        if problem.is_some() {
            break;
        }
        let sql = format!("SELECT * FROM {table} NOT INDEXED");
        let (mut there, mut anew) = (conn.prepare(&sql)?, fresh.prepare(&sql)?);
        let columns = anew.column_count();
        if there.column_count() != columns {
            problem = Some(format!("table {table} has not the columns of this program"));
            break;
        }
        let anew_names: Vec<String> = anew.column_names().map(str::to_owned).collect();
        let (mut there, mut anew) = (there.query([])?, anew.query([])?);
        let place_column = anew_names.iter().position(|name| name == "place");
        loop {
            let (a, b) = (there.next()?, anew.next()?);
            if same_row(a, b, columns)? {
                match a {
                    Some(_) => rows_compared += 1,
                    None => break,
                }
                continue;
            }
            let seq = |row: Option<&Row<'_>>| {
                let place = row?.get_ref(place_column?).ok()?;
                if let ValueRef::Integer(place) = place { Some(Place(place).seq()) } else { None }
            };
            let about = [seq(a), seq(b)].into_iter().flatten().min();
            problem = Some(format!(
                "table {table} does not say what the log says{}; the log is right, run rodbook rebuild",
                about.map_or(String::new(), |seq| format!(" about entry {seq}"))
            ));
            break;
        }
    }
    match problem {
        None => report.checks.push((NAME, Outcome::Sound(format!("{rows_compared} rows are as replayed")))),
        Some(what) => {
            report.checks.push((NAME, Outcome::Broken(what.clone())));
            report.problems.push(Problem { station: None, seq: None, what });
        }
    }
    Ok(())
}

/// Whether two rows have the same values, or both have ended.
fn same_row(a: Option<&Row<'_>>, b: Option<&Row<'_>>, columns: usize) -> Result<bool> {
    let (Some(a), Some(b)) = (a, b) else {
        return Ok(a.is_none() && b.is_none());
    };
    for column in 0..columns {
        if a.get_ref(column)? != b.get_ref(column)? {
            return Ok(false);
        }
    }
    Ok(true)
}
