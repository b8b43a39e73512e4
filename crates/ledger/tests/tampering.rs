//! Damage to a book, one piece at a time, by somebody who has the file, and by somebody who has the key as well: what
//! `verify` finds, what docs/verify.py finds, and what is refused.

// clippy.toml allows these inside #[test] functions only; the helpers here are test code too.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod laws_support;
#[path = "laws_support/verifier.rs"]
mod verifier;

use filler::{ProductForm, Quantity};
use laws_support::{START, Shop, acting, connect, verified};
use ledger::export::{export_checkpoints, export_record};
use ledger::tell::declare::JointRequest;
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::issue::IssueRequest;
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::tell::weld::WeldRequest;
use ledger::verify::{Extent, Outcome, Report};
use ledger::{Acting, Done, Error, Ledger};
use record::checkpoint::Checkpoint;
use record::event::Condition;
use record::person::Role;
use record::station_key::StationKey;
use record::time::Shift;
use record::tree::Frontier;
use record::{EntryId, Stated, entry, short_id};
use rusqlite::Connection;
use rusqlite::config::DbConfig;
use std::path::{Path, PathBuf};
use verifier::Verifier;

/// Place of entry 0 of the only station.
const FIRST: i64 = 1 << 40;

/// Number of the last entry of the first day, which a checkpoint is kept of.
const FIRST_DAY: usize = 5;

/// A finished little book: twelve entries on two days.
struct Little {
    shop: Shop,
    lines: Vec<Vec<u8>>,
    notes: Vec<String>,
}

fn rods(n: i64) -> Quantity {
    Quantity::parse(&format!("{n} rods")).unwrap()
}

fn receipt() -> ReceiveRequest {
    ReceiveRequest {
        values: ledger::tell::certificate_read::ValuesTyped::default(),
        code: "L-0417".into(),
        maker: Some("Ödenfeld \"Nr. 1\" & Söhne \\ <Draht>".into()),
        maker_lot: Some("7H221".into()),
        heats: vec!["A-0117".into()],
        spec: Some("A5.18".into()),
        classification: Some("ER70S-2".into()),
        size: Some("3/32 in x 36 in".into()),
        form: Stated::Value(ProductForm::CutLength),
        quantity: Stated::Value(rods(40)),
        certificate: Some("CERT 4".into()),
        ..ReceiveRequest::default()
    }
}

fn issue() -> IssueRequest {
    IssueRequest {
        lot: "L-0417".into(),
        holder: "W-1".into(),
        quantity: rods(12),
        joints: vec!["J-1".into()],
        quiver: Some("Q-3".into()),
        number: None,
        due: None,
        at: None,
    }
}

fn weld() -> WeldRequest {
    WeldRequest {
        arc: record::event::Arc::default(),
        joint: "J-1".into(),
        also: Vec::new(),
        welder: "W-1".into(),
        pass: Some("root".into()),
        cycle: None,
        process: None,
        lot: None,
        slip: Some("S-00001".into()),
        filler: true,
        used: Some(rods(3)),
        from: None,
        to: None,
        mark: None,
        finished: false,
    }
}

fn spot_check() -> SpotCheckRequest {
    SpotCheckRequest {
        joint: "J-1".into(),
        welder: "W-1".into(),
        legible: true,
        reads: Some("70S-2".into()),
        at: None,
    }
}

fn give_back() -> ReturnRequest {
    ReturnRequest {
        slip: "S-00001".into(),
        quantity: rods(4),
        stubs: Some(3),
        condition: Condition::Marked,
        more: true,
        at: None,
    }
}

impl Little {
    fn new() -> Self {
        let shop = Shop::new();
        let mut ledger = shop.init(START);
        let today = acting("I-1", START + 60);
        ledger.enroll(&today, "W-1", "Marit Oldervane", &[Role::Welder]).unwrap();
        ledger
            .declare_joint(&today, &JointRequest { number: "J-1".into(), ..JointRequest::default() })
            .unwrap();
        ledger.receive(&today, &receipt()).unwrap();
        let tomorrow = |minutes: i64| acting("I-1", START + 86_400 + 60 * minutes);
        ledger.release(&tomorrow(0), "L-0417", None, None).unwrap();
        ledger.issue(&tomorrow(1), &issue()).unwrap();
        ledger.weld(&tomorrow(2), &weld()).unwrap();
        ledger.spot_check(&tomorrow(3), &spot_check()).unwrap();
        ledger.give_back(&tomorrow(4), &give_back()).unwrap();
        ledger.clear(&tomorrow(5), "W-1", None).unwrap();
        let (mut record, mut notes) = (Vec::new(), Vec::new());
        ledger.ask(|r| export_record(r, &mut record)).unwrap();
        ledger.ask(|r| export_checkpoints(r, &mut notes)).unwrap();
        let lines: Vec<Vec<u8>> =
            record.split_inclusive(|b| *b == b'\n').map(|line| line[..line.len() - 1].to_vec()).collect();
        let notes = String::from_utf8(notes).unwrap().replace("\n\nrodbook/", "\n\u{0}rodbook/");
        let notes: Vec<String> = notes.split('\u{0}').map(str::to_owned).collect();
        assert_eq!((lines.len(), notes.len()), (12, 2));
        assert_eq!(notes[0].lines().nth(1), Some("6"));
        drop(ledger);
        Self { shop, lines, notes }
    }

    /// A copy of the book's file, alone.
    fn copy(&self, name: &str) -> PathBuf {
        let path = self.shop.path(name);
        let wal = self.shop.path("shop.rodbook-wal");
        assert!(!wal.exists() || wal.metadata().unwrap().len() == 0, "the file is all there is of the book");
        std::fs::copy(self.shop.book(), &path).unwrap();
        path
    }

    /// A copy, and a connection to damage it with, on which the guards do nothing.
    fn unguarded(&self, name: &str) -> (PathBuf, Connection) {
        let path = self.copy(name);
        let conn = connect(&path);
        // Nothing here hangs on the disk.
        conn.pragma_update(None, "synchronous", "OFF").unwrap();
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false).unwrap();
        (path, conn)
    }

    fn open(&self, path: &Path) -> Ledger {
        Ledger::open(path, &self.shop.home()).unwrap()
    }

    fn report(&self, path: &Path, extent: Extent) -> Report {
        verified(&self.open(path), extent)
    }

    /// The station's folder on this machine: its key and its mark.
    fn station_folder(&self) -> PathBuf {
        let mut folders = std::fs::read_dir(self.shop.home().join("stations")).unwrap();
        folders.next().unwrap().unwrap().path()
    }

    fn key(&self) -> StationKey {
        let text = std::fs::read_to_string(self.station_folder().join("key")).unwrap();
        StationKey::from_seed(hex::decode(text.trim()).unwrap().try_into().unwrap())
    }
}

/// The first problem's entry, and what is wrong.
fn first(report: &Report) -> (Option<u64>, String) {
    let problem = report.problems.first().expect("nothing was found");
    (problem.seq, problem.what.clone())
}

fn outcome<'r>(report: &'r Report, name: &str) -> &'r Outcome {
    &report.checks.iter().find(|(check, _)| *check == name).unwrap().1
}

// ---- lines ----------------------------------------------------------------------------------------------------------

/// One change of the lines of a record.
#[derive(Clone, Copy, Debug)]
enum Edit {
    Byte { entry: usize, at: usize, byte: u8 },
    Cut { entry: usize, at: usize },
    Swap(usize, usize),
    Remove(usize),
    Repeat { entry: usize, after: usize },
    CutFrom(usize),
}

/// Which entry must be named.
#[derive(Clone, Copy, Debug)]
enum Named {
    Exactly(usize),
    /// This one, or the next where the changed line is an entry like any other: then the next one's `prev` is all that
    /// speaks, and it says that one of the two was changed.
    ThisOrNext(usize),
}

impl Edit {
    fn apply(self, lines: &[Vec<u8>]) -> Vec<Vec<u8>> {
        let mut lines = lines.to_vec();
        match self {
            Edit::Byte { entry, at, byte } => lines[entry][at] = byte,
            Edit::Cut { entry, at } => lines[entry].truncate(at),
            Edit::Swap(a, b) => lines.swap(a, b),
            Edit::Remove(entry) => drop(lines.remove(entry)),
            Edit::Repeat { entry, after } => lines.insert(after + 1, lines[entry].clone()),
            Edit::CutFrom(entry) => lines.truncate(entry),
        }
        lines
    }

    fn named(self) -> Named {
        match self {
            Edit::Byte { entry, .. } => Named::ThisOrNext(entry),
            Edit::Cut { entry, .. } => Named::Exactly(entry),
            Edit::Swap(a, b) => Named::Exactly(a.min(b)),
            Edit::Remove(entry) | Edit::CutFrom(entry) => Named::Exactly(entry),
            // A copy just before an entry cannot be told from a copy just behind it.
            Edit::Repeat { entry, after } if entry == after + 1 => Named::Exactly(entry + 1),
            Edit::Repeat { after, .. } => Named::Exactly(after + 1),
        }
    }

    /// Every change of one line: each byte, each cut.
    fn of_lines(lines: &[Vec<u8>]) -> Vec<Edit> {
        let mut edits = Vec::new();
        for (entry, line) in lines.iter().enumerate() {
            for (at, old) in line.iter().enumerate() {
                // Mostly a letter or figure like it; else one that breaks its UTF-8, or the line.
                let byte = match at % 8 {
                    3 => old ^ 0x80,
                    5 => b'\n',
                    _ => old ^ 1,
                };
                edits.push(Edit::Byte { entry, at, byte });
                edits.push(Edit::Cut { entry, at });
            }
        }
        edits
    }

    /// Every change of the order or number of lines.
    fn of_order(lines: &[Vec<u8>]) -> Vec<Edit> {
        let n = lines.len();
        let mut edits = Vec::new();
        for a in 0..n {
            edits.push(Edit::Remove(a));
            edits.extend((a + 1..n).map(|b| Edit::Swap(a, b)));
            edits.extend((0..n).map(|after| Edit::Repeat { entry: a, after }));
            // Nothing at all is left of a record cut from its first entry.
            edits.extend((a > 0).then_some(Edit::CutFrom(a)));
        }
        edits
    }
}

impl Named {
    fn check(self, named: Option<u64>, only_the_next_speaks: bool, context: &dyn std::fmt::Display) {
        let named = named.and_then(|n| usize::try_from(n).ok());
        let right = match self {
            Named::Exactly(entry) => named == Some(entry),
            Named::ThisOrNext(entry) => {
                named == Some(entry) || (named == Some(entry + 1) && only_the_next_speaks)
            }
        };
        assert!(right, "{self:?} must be named, and {named:?} is: {context}");
    }
}

/// Writes the lines as the rows of the book, with ids that fit them.
fn store(conn: &Connection, lines: &[Vec<u8>]) {
    conn.execute_batch("BEGIN; DELETE FROM entry").unwrap();
    for (seq, line) in lines.iter().enumerate() {
        let clock = entry::decode(line).map_or(0, |e| e.header.clock);
        conn.prepare_cached("INSERT INTO entry (place, id, clock, line) VALUES (?1, ?2, ?3, ?4)")
            .unwrap()
            .execute((FIRST + seq as i64, entry::id(line).0, clock as i64, line))
            .unwrap();
    }
    conn.execute_batch("COMMIT").unwrap();
}

#[test]
fn every_change_of_a_line_is_found_and_named() {
    let little = Little::new();
    let (path, conn) = little.unguarded("changed");
    let ledger = little.open(&path);
    assert!(verified(&ledger, Extent::Everything).is_sound(), "the guards are not the proof");
    let put = |entry: usize, line: &[u8], id: EntryId| {
        conn.prepare_cached("UPDATE entry SET line = ?2, id = ?3 WHERE place = ?1")
            .unwrap()
            .execute((FIRST + entry as i64, line, id.0))
            .unwrap();
    };
    let mut tried = 0_usize;
    let mut only_the_next = 0_usize;
    for edit in Edit::of_lines(&little.lines) {
        let (Edit::Byte { entry, .. } | Edit::Cut { entry, .. }) = edit else { unreachable!() };
        let old = &little.lines[entry];
        let changed = edit.apply(&little.lines).swap_remove(entry);
        tried += 1;
        // With the id that the line has now: one has to look at the chain and at what was signed.
        put(entry, &changed, entry::id(&changed));
        let (seq, what) = first(&verified(&ledger, Extent::CopyOnly));
        let next_speaks = what.contains("one of the two has been changed");
        edit.named().check(seq, next_speaks, &format!("{edit:?}: {what}"));
        only_the_next += usize::from(next_speaks);
        // With the id that it had.
        if tried.is_multiple_of(3) {
            put(entry, &changed, entry::id(old));
            let (seq, what) = first(&verified(&ledger, Extent::CopyOnly));
            Named::Exactly(entry).check(seq, false, &format!("{edit:?}: {what}"));
            assert!(what.contains("do not hash to its id"), "{what}");
        }
        put(entry, old, entry::id(old));
    }
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");
    assert!(
        tried > 14_000 && only_the_next > 1_000,
        "{tried} tried, {only_the_next} named by the next entry"
    );
}

#[test]
fn every_change_of_the_order_is_found_and_named() {
    let little = Little::new();
    let (path, conn) = little.unguarded("order");
    let ledger = little.open(&path);
    let index: String = conn
        .query_row("SELECT sql FROM sqlite_schema WHERE name = 'entry_by_id'", [], |row| row.get(0))
        .unwrap();
    for edit in Edit::of_order(&little.lines) {
        // No id stands twice in a book, so a copy of an entry comes in only where the index that says so is gone.
        let twice = matches!(edit, Edit::Repeat { .. });
        if twice {
            conn.execute_batch("DROP INDEX entry_by_id").unwrap();
        }
        store(&conn, &edit.apply(&little.lines));
        for extent in [Extent::CopyOnly, Extent::Everything] {
            let mut report = verified(&ledger, extent);
            if twice {
                assert!(report.problems.remove(0).what.contains("index entry_by_id"));
            }
            let (seq, what) = first(&report);
            edit.named().check(seq, false, &format!("{edit:?}: {what}"));
        }
        if twice {
            store(&conn, &little.lines);
            conn.execute_batch(&index).unwrap();
        }
        // With a gap where the entry was.
        if let Edit::Remove(entry) = edit {
            store(&conn, &little.lines);
            conn.execute("DELETE FROM entry WHERE place = ?1", [FIRST + entry as i64]).unwrap();
            let (seq, what) = first(&verified(&ledger, Extent::CopyOnly));
            Named::Exactly(entry).check(seq, false, &what);
        }
    }
    // Entries of a station that is not there.
    store(&conn, &little.lines);
    for stray in [0, 2 * FIRST, 7 * FIRST] {
        conn.execute(
            "INSERT INTO entry (place, id, clock, line) SELECT ?1, zeroblob(32), 1, line FROM entry WHERE place = ?2",
            [stray, FIRST],
        )
        .unwrap();
        let (_, what) = first(&verified(&ledger, Extent::CopyOnly));
        assert!(what.contains("belong to no station"), "{what}");
        conn.execute("DELETE FROM entry WHERE place = ?1", [stray]).unwrap();
    }
    // The clock beside a line.
    for seq in 0..little.lines.len() as i64 {
        conn.execute("UPDATE entry SET clock = clock + 1 WHERE place = ?1", [FIRST + seq]).unwrap();
        assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some(seq as u64));
        conn.execute("UPDATE entry SET clock = clock - 1 WHERE place = ?1", [FIRST + seq]).unwrap();
    }
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");
}

/// The same record as text, for a verifier that shares nothing with this program.
#[test]
fn the_independent_verifier_finds_and_names_every_change() {
    let little = Little::new();
    let whole: Vec<u8> = little.lines.iter().flat_map(|line| [line.as_slice(), b"\n"].concat()).collect();
    let notes = little.notes.join("\n");
    let mut edits = Edit::of_lines(&little.lines);
    edits.extend(Edit::of_order(&little.lines));
    let exports = |lines: &[Vec<u8>]| -> Vec<u8> {
        lines.iter().flat_map(|line| [line.as_slice(), b"\n"].concat()).collect()
    };
    let records = edits.iter().map(|edit| (exports(&edit.apply(&little.lines)), notes.clone()));
    // The file cut at every seventh byte, and the untouched one to end with.
    let cuts: Vec<usize> = (0..whole.len()).step_by(7).collect();
    let records = records
        .chain(cuts.iter().map(|cut| (whole[..*cut].to_vec(), notes.clone())))
        .chain([(whole.clone(), notes.clone())]);
    let verdicts = Verifier::start().verdicts(records);
    assert_eq!(verdicts.len(), edits.len() + cuts.len() + 1);
    let mut only_the_next = 0_usize;
    for (edit, verdict) in edits.iter().zip(&verdicts) {
        assert_eq!(verdict.exit, 5, "{edit:?}: {}", verdict.said);
        let next_speaks = verdict.said.contains(": prev is not ");
        edit.named().check(verdict.entry(), next_speaks, &format!("{edit:?}: {}", verdict.said));
        only_the_next += usize::from(next_speaks);
    }
    for (cut, verdict) in cuts.iter().zip(&verdicts[edits.len()..]) {
        assert_eq!(verdict.exit, 5, "cut after {cut} bytes: {}", verdict.said);
        let entries = whole[..*cut].iter().filter(|b| **b == b'\n').count();
        assert_eq!(verdict.entry(), Some(entries as u64), "cut after {cut} bytes: {}", verdict.said);
    }
    let last = verdicts.last().unwrap();
    assert_eq!(last.exit, 0, "{}", last.said);
    assert!(only_the_next > 500, "{only_the_next} named by the next entry");
}

/// The verifier as people start it: on the book itself, on an export, and on damage.
#[test]
fn the_independent_verifier_reads_the_book_itself() {
    let little = Little::new();
    let book = little.copy("given");
    let said = verifier::run(&[book.as_os_str()]);
    assert_eq!(said.exit, 0, "{}", said.said);
    let head = entry::id(little.lines.last().unwrap());
    assert!(said.said.contains(&format!("12 entries, head {head}")), "{}", said.said);
    for (sql, entry) in [
        (
            "UPDATE entry SET line = CAST(replace(CAST(line AS TEXT), 'W-1', 'W-2') AS BLOB) WHERE place = ?1",
            8,
        ),
        ("UPDATE entry SET id = zeroblob(32) WHERE place = ?1", 8),
        ("DELETE FROM entry WHERE place = ?1", 8),
        ("UPDATE station SET public_key = zeroblob(32) WHERE ?1 > 0", 0),
        ("UPDATE checkpoint SET note = replace(note, 'A', 'B') WHERE ?1 > 0", FIRST_DAY as i64),
        ("DELETE FROM checkpoint WHERE place > ?1", 8),
    ] {
        let (path, conn) = little.unguarded("given-damaged");
        conn.execute(sql, [FIRST + entry]).unwrap();
        conn.close().unwrap();
        let said = verifier::run(&[path.as_os_str()]);
        assert_eq!(said.exit, 5, "{sql}: {}", said.said);
        let wanted = if sql.starts_with("DELETE FROM checkpoint") { FIRST_DAY as i64 + 1 } else { entry };
        assert!(
            [Some(wanted as u64), Some(wanted as u64 + 1)].contains(&said.entry()),
            "{sql}: {}",
            said.said
        );
        assert!(!little.report(&path, Extent::CopyOnly).is_sound(), "{sql}");
    }
}

// ---- what stands beside the lines -----------------------------------------------------------------------------------

#[test]
fn signed_heads_and_keys_are_part_of_the_proof() {
    let little = Little::new();
    let (path, conn) = little.unguarded("beside");
    let ledger = little.open(&path);
    let newest = FIRST + 11;
    let older = FIRST + FIRST_DAY as i64;
    for (place, note) in [(older, &little.notes[0]), (newest, &little.notes[1])] {
        let seq = (place - FIRST) as u64;
        for at in 0..note.len() {
            for byte in [note.as_bytes()[at] ^ 1, b'\n', b'z'] {
                let mut changed = note.clone().into_bytes();
                changed[at] = byte;
                // What is not UTF-8 cannot be stored as text by honest means, and is no note.
                let Ok(changed) = String::from_utf8(changed) else { continue };
                if changed == *note {
                    continue;
                }
                conn.execute("UPDATE checkpoint SET note = ?2 WHERE place = ?1", (place, &changed)).unwrap();
                assert_eq!(
                    first(&verified(&ledger, Extent::CopyOnly)).0,
                    Some(seq),
                    "byte {at} of {changed:?}"
                );
            }
        }
        conn.execute("UPDATE checkpoint SET note = ?2 WHERE place = ?1", (place, note)).unwrap();
    }

    // A signed head in the place of another.
    conn.execute("UPDATE checkpoint SET note = ?2 WHERE place = ?1", (newest, &little.notes[0])).unwrap();
    assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some(11));
    conn.execute("UPDATE checkpoint SET note = ?2 WHERE place = ?1", (newest, &little.notes[1])).unwrap();
    for wrong in [newest + 1, newest - 1] {
        conn.execute("UPDATE checkpoint SET place = ?2 WHERE place = ?1", [newest, wrong]).unwrap();
        assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some((wrong - FIRST) as u64));
        conn.execute("UPDATE checkpoint SET place = ?2 WHERE place = ?1", [wrong, newest]).unwrap();
    }

    // Without the newest, what came after the older one is nobody's word.
    conn.execute("DELETE FROM checkpoint WHERE place = ?1", [newest]).unwrap();
    let (seq, what) = first(&verified(&ledger, Extent::CopyOnly));
    assert_eq!(seq, Some(FIRST_DAY as u64 + 1), "{what}");
    conn.execute("DELETE FROM checkpoint", []).unwrap();
    assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some(0));
    for (place, day, note) in
        [(older, "2026-03-02", &little.notes[0]), (newest, "2026-03-03", &little.notes[1])]
    {
        conn.execute("INSERT INTO checkpoint (place, day, note) VALUES (?1, ?2, ?3)", (place, day, note))
            .unwrap();
    }
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");

    // The edge of the tree: every byte, other lengths, none.
    let edge: Vec<u8> = conn.query_row("SELECT edge FROM tree_edge", [], |row| row.get(0)).unwrap();
    let mut edges: Vec<Vec<u8>> = (0..edge.len())
        .map(|at| {
            let mut changed = edge.clone();
            changed[at] ^= 1;
            changed
        })
        .collect();
    edges.extend((0..edge.len()).step_by(5).map(|length| edge[..length].to_vec()));
    edges.push([edge.as_slice(), &[0; 32]].concat());
    for changed in edges {
        conn.execute("UPDATE tree_edge SET edge = ?1", [&changed]).unwrap();
        let (_, what) = first(&verified(&ledger, Extent::CopyOnly));
        assert!(what.contains("edge of the tree"), "{what}");
    }
    conn.execute("DELETE FROM tree_edge", []).unwrap();
    assert!(first(&verified(&ledger, Extent::CopyOnly)).1.contains("edge of the tree"));
    conn.execute("INSERT INTO tree_edge (station, size, edge) VALUES (1, 12, ?1)", [&edge]).unwrap();
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");

    // Key and id of the station: every byte.
    for (column, entry_0) in [("public_key", "the key in it is not"), ("id", "entry of another station")] {
        let old: Vec<u8> =
            conn.query_row(&format!("SELECT {column} FROM station"), [], |row| row.get(0)).unwrap();
        for at in 0..32 {
            let mut changed = old.clone();
            changed[at] ^= 1;
            conn.execute(&format!("UPDATE station SET {column} = ?1"), [&changed]).unwrap();
            let report = little.report(&path, Extent::Everything);
            let (seq, what) = first(&report);
            assert_eq!(seq, Some(0), "{what}");
            assert!(what.contains(entry_0), "{what}");
        }
        conn.execute(&format!("UPDATE station SET {column} = ?1"), [&old]).unwrap();
    }
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");
}

/// The size beside the edge, the days beside the heads, and heads and edges of no station are read by nobody, and must
/// not pass either.
#[test]
fn nothing_in_the_tables_of_the_proof_is_left_unread() {
    let little = Little::new();
    let (path, conn) = little.unguarded("unread");
    let ledger = little.open(&path);
    let mut passed = Vec::new();
    for (damage, repair) in [
        ("UPDATE tree_edge SET size = size + 1", "UPDATE tree_edge SET size = size - 1"),
        (
            "INSERT INTO tree_edge (station, size, edge) VALUES (7, 0, zeroblob(8))",
            "DELETE FROM tree_edge WHERE station = 7",
        ),
        (
            "INSERT INTO checkpoint (place, day, note) VALUES (7 << 40, '2026-03-02', 'x')",
            "DELETE FROM checkpoint WHERE place >= 7 << 40",
        ),
        (
            "INSERT INTO station (no, id, public_key) VALUES (7, zeroblob(32), zeroblob(32))",
            "DELETE FROM station WHERE no = 7",
        ),
    ] {
        conn.execute(damage, []).unwrap();
        if verified(&ledger, Extent::CopyOnly).is_sound() {
            passed.push(damage);
        }
        conn.execute(repair, []).unwrap();
    }
    assert_eq!(passed, [""; 0], "found nothing after these");
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");
}

/// Somebody who has the key cuts the end off, and signs what is left.
#[test]
fn a_shorter_chain_signed_anew_shows_only_outside_the_book() {
    let little = Little::new();
    let key = little.key();
    let pin = {
        let id = entry::id(little.lines.last().unwrap());
        let typed = short_id::short(&id.0);
        let bits = short_id::parse(&typed).unwrap();
        (typed, bits)
    };
    let elsewhere = little.shop.path("another-machine");
    for left in 1..little.lines.len() {
        let (path, conn) = little.unguarded(&format!("resigned-{left}"));
        let last = FIRST + left as i64 - 1;
        let mut frontier = Frontier::new();
        little.lines[..left].iter().for_each(|line| frontier.append(entry::id(line).0));
        let note = Checkpoint { station: key.station(), size: left as u64, root: frontier.root() }.sign(&key);
        let mut tables: Vec<String> = tables(&conn, "fact_%");
        tables.extend(["entry".into(), "person_name".into()]);
        for table in tables.into_iter().filter(|table| table != "fact_span") {
            conn.execute(&format!("DELETE FROM {table} WHERE place > ?1"), [last]).unwrap();
        }
        conn.execute_batch(
            "DELETE FROM fact_span;
             INSERT INTO fact_span SELECT holder, slip, min(issued_from), max(closed_to)
             FROM (SELECT holder, slip, issued_from, NULL AS closed_to FROM fact_slip
                   UNION ALL SELECT holder, slip, NULL, at_to FROM fact_out WHERE closes = 1)
             GROUP BY holder, slip",
        )
        .unwrap();
        conn.execute("DELETE FROM checkpoint WHERE place >= ?1", [last]).unwrap();
        conn.execute("INSERT INTO checkpoint (place, day, note) VALUES (?1, '2026-03-03', ?2)", (last, note))
            .unwrap();
        conn.execute("UPDATE tree_edge SET size = ?1, edge = ?2", (left as i64, frontier.to_bytes()))
            .unwrap();

        // This machine remembers how far it had come.
        let report = little.report(&path, Extent::Everything);
        let (seq, what) = first(&report);
        assert_eq!(seq, Some(left as u64), "{what}");
        assert!(what.contains("the end is missing"), "{what}");
        assert!(matches!(outcome(&report, "high-water mark"), Outcome::Broken(_)));

        // Elsewhere the book alone cannot tell, and says so; a receipt in other hands can.
        let ledger = Ledger::open(&path, &elsewhere).unwrap();
        let mut report = verified(&ledger, Extent::Everything);
        assert!(report.is_sound(), "{:?}", report.problems);
        let Outcome::NotChecked(why) = outcome(&report, "high-water mark") else { panic!("not said") };
        assert!(why.contains("a cut-off end would show only there"), "{why}");
        let found = ledger.check_pins(std::slice::from_ref(&pin), &mut report).unwrap();
        assert_eq!(found[0].found, None);
        assert!(!report.is_sound());
        assert!(first(&report).1.contains("replaced or cut off"), "{:?}", report.problems);

        // The machine that has the mark does not write on top of it.
        drop(ledger);
        nothing_is_written(&little, &path, "the end is missing");
    }
    // The pin is of a sound entry where nothing was cut off.
    let ledger = little.open(&little.shop.book());
    let mut report = verified(&ledger, Extent::Everything);
    let found = ledger.check_pins(&[pin], &mut report).unwrap();
    assert_eq!(found[0].found, Some(("crib".into(), 11)));
    assert!(report.is_sound());
}

/// Somebody who has the key writes another last entry in the place of the one that this machine wrote.
#[test]
fn a_last_entry_replaced_and_signed_anew_shows_outside_the_book() {
    let little = Little::new();
    let key = little.key();
    let (path, conn) = little.unguarded("replaced");
    let mut lines = little.lines.clone();
    let last = lines.last_mut().unwrap();
    let text = String::from_utf8(last.clone()).unwrap();
    *last =
        text.replace("\"time\":\"2026-03-03T08:05:00Z\"", "\"time\":\"2026-03-03T08:09:00Z\"").into_bytes();
    assert_ne!(lines, little.lines);
    store(&conn, &lines);
    sign_anew(&conn, &lines, &key);
    let ledger = Ledger::open(&path, &little.shop.path("another-machine")).unwrap();
    assert!(verified(&ledger, Extent::Everything).is_sound(), "elsewhere nothing speaks against it");
    drop(ledger);
    let (seq, what) = first(&little.report(&path, Extent::Everything));
    assert_eq!(seq, Some(11));
    assert!(what.contains("the history was replaced"), "{what}");
    nothing_is_written(&little, &path, "the history was replaced");
}

/// Newest signed head and edge of the tree for these lines.
fn sign_anew(conn: &Connection, lines: &[Vec<u8>], key: &StationKey) {
    let mut frontier = Frontier::new();
    lines.iter().for_each(|line| frontier.append(entry::id(line).0));
    let size = lines.len() as u64;
    let note = Checkpoint { station: key.station(), size, root: frontier.root() }.sign(key);
    conn.execute("DELETE FROM checkpoint", []).unwrap();
    conn.execute(
        "INSERT INTO checkpoint (place, day, note) VALUES (?1, '2026-03-03', ?2)",
        (FIRST + size as i64 - 1, note),
    )
    .unwrap();
    conn.execute("UPDATE tree_edge SET size = ?1, edge = ?2", (size as i64, frontier.to_bytes())).unwrap();
}

/// Lines that hash, chain and are signed as they should, which only the holder of the key can make: whether they are a
/// record is then a question of the format alone, and both verifiers answer it as docs/format.md does.
#[test]
fn what_only_the_holder_of_the_key_can_write_is_judged_by_the_format() {
    let little = Little::new();
    let key = little.key();
    let (path, conn) = little.unguarded("by-the-key");
    let own = hex::encode(key.station());
    let (zeros, ones) = ("0".repeat(64), "1".repeat(64));
    let seen = |items: &[(&str, &str, &str)]| -> String {
        let items: Vec<String> = items
            .iter()
            .map(|(station, seq, clock)| format!(r#"["{station}",{seq},{clock},"{ones}"]"#))
            .collect();
        format!(r#""seen":[{}]"#, items.join(","))
    };
    let stations: Vec<String> = (0..65).map(|n| format!("{n:02}").repeat(32)).collect();
    let many = |n: usize| seen(&stations[..n].iter().map(|s| (s.as_str(), "0", "1")).collect::<Vec<_>>());
    let nothing_seen = r#""seen":[]"#.to_owned();
    let kind = r#""kind":"welder.cleared""#.to_owned();
    let last = String::from_utf8(little.lines[11].clone()).unwrap();
    let body = last[..last.find(r#","by":"#).unwrap()].to_owned();
    let other_kind = r#""kind":"shop.example""#;
    let between = last[body.len()..last.find(&kind).unwrap()].to_owned();
    // The last entry as one of a kind that nobody knows, with this body.
    let with_body = |new: &str| -> (usize, String, String) {
        (11, format!("{body}{between}{kind}"), format!("{{\"body\":{new}{between}{other_kind}"))
    };
    let long = |total: usize| {
        let (_, from, to) = with_body(r#"{"t":""}"#);
        with_body(&format!(r#"{{"t":"{}"}}"#, "x".repeat(total - (last.len() - from.len() + to.len()))))
    };
    let at_11 = |from: &str, to: &str| (11, from.to_owned(), to.to_owned());
    let at_0 = |from: &str, to: &str| (0, from.to_owned(), to.to_owned());
    let kind_of = |word: &str| at_11(&kind, &format!(r#""kind":"{word}""#));
    let time = |text: &str| at_11(r#""time":"2026-03-03T08:05:00Z""#, &format!(r#""time":"{text}""#));
    let person = last.rsplit_once(r#""person":""#).unwrap().1[..36].to_owned();
    let predecessor = |station: &str, seq: u64, id: &str| {
        at_0(
            r#""predecessor":null"#,
            &format!(r#""predecessor":{{"id":"{id}","seq":{seq},"station":"{station}"}}"#),
        )
    };
    let entry_3 = entry::id(&little.lines[3]).to_string();

    let sound = [
        kind_of("welder.cleared/2"),
        kind_of("shop.example"),
        at_11(r#""by":"I-1""#, r#""by":"""#),
        at_11(r#""by":"I-1""#, &format!(r#""by":"{}""#, "y".repeat(3000))),
        at_11(&person, ""),
        at_11(&nothing_seen, &seen(&[(&ones, "0", "1")])),
        at_11(&nothing_seen, &seen(&[(&zeros, "9007199254740991", "3"), (&ones, "0", "11")])),
        at_11(&nothing_seen, &many(64)),
        with_body("{}"),
        with_body(r#"{"a":[[[[[[]]]]]]}"#),
        with_body(r#"{"a":9007199254740991,"b":-9007199254740991,"c":0,"d":[null,true,false]}"#),
        with_body(r#"{"a":"\n \" \\ / <>& ß 🙂 \u{feff}"}"#.replace("\\u{feff}", "\u{feff}").as_str()),
        with_body(&format!(r#"{{"a{}":1}}"#, "b".repeat(31))),
        long(65_536),
        predecessor(&ones, 3, &zeros),
        at_0(r#""zone":"Pacific/Auckland""#, r#""zone":"Pacific/Auckland","zz":[1]"#),
    ];
    let damage = [
        kind_of("Welder.cleared"),
        kind_of(""),
        kind_of("welder cleared"),
        kind_of("welder.cleared/0"),
        kind_of("welder.cleared/02"),
        kind_of("station.opened"),
        time("2026-13-03T08:05:00Z"),
        time("2026-02-30T08:05:00Z"),
        time("2026-03-03T24:05:00Z"),
        time("2026-03-03T08:05:60Z"),
        time("2026-03-03 08:05:00Z"),
        time("2026-03-03T08:05:00+00:00"),
        time("2026-03-03T08:05Z"),
        at_11(&person, &person.to_uppercase()),
        at_11(&person, &person.replace('-', "")),
        at_11(r#""clock":12"#, r#""clock":13"#),
        at_11(r#""clock":12"#, r#""clock":11"#),
        at_11(r#""clock":12"#, r#""clock":"12""#),
        at_11(r#""seq":11"#, r#""seq":12"#),
        at_11(r#""seq":11"#, r#""seq":-11"#),
        at_11(r#""format":"rodbook/1""#, r#""format":"rodbook/2""#),
        at_11(&format!(r#""station":"{own}""#), &format!(r#""station":"{}""#, own.to_uppercase())),
        at_11(&nothing_seen, &seen(&[(&ones, "0", "12345")])),
        at_11(&nothing_seen, &seen(&[(&own, "3", "4")])),
        at_11(&nothing_seen, &seen(&[(&ones, "0", "1"), (&zeros, "0", "1")])),
        at_11(&nothing_seen, &seen(&[(&ones, "0", "1"), (&ones, "1", "2")])),
        at_11(&nothing_seen, &seen(&[(&ones, "-1", "1")])),
        at_11(&nothing_seen, &seen(&[(&ones.replace('1', "G"), "0", "1")])),
        at_11(&nothing_seen, &many(65)),
        at_11(&nothing_seen, &format!(r#""seen":[["{ones}",0,1]]"#)),
        at_11(&nothing_seen, r#""seen":null"#),
        at_11(&nothing_seen, r#""seen":[],"seen_by":1"#),
        at_11(r#""by":"I-1","#, ""),
        at_11(r#""by":"I-1""#, r#""by":null"#),
        with_body("[]"),
        with_body("null"),
        with_body(r#"{"a":[[[[[[[]]]]]]]}"#),
        with_body(r#"{"a":9007199254740992}"#),
        with_body(r#"{"a":-9007199254740992}"#),
        with_body(r#"{"a":-0}"#),
        with_body(r#"{"a":1.0}"#),
        with_body(r#"{"a":1e3}"#),
        with_body(r#"{"a":01}"#),
        with_body(r#"{"a":NaN}"#),
        with_body("{\"a\":\"\u{2028}\"}"),
        with_body("{\"a\":\"\u{fffe}\"}"),
        with_body("{\"a\":\"\u{7f}\"}"),
        with_body("{\"a\":\"\u{9f}\"}"),
        with_body("{\"a\":\"\t\"}"),
        with_body(r#"{"a":"\t"}"#),
        with_body(r#"{"a":"\u0041"}"#),
        with_body(r#"{"a":"\ud800"}"#),
        with_body(r#"{"a":"\/"}"#),
        with_body(r#"{"A":1}"#),
        with_body(r#"{"":1}"#),
        with_body(r#"{"_a":1}"#),
        with_body(r#"{"b":1,"a":1}"#),
        with_body(r#"{"a":1,"a":1}"#),
        with_body(&format!(r#"{{"a{}":1}}"#, "b".repeat(32))),
        with_body(r#"{"a": 1}"#),
        long(65_537),
        predecessor(&own, 3, &zeros),
        predecessor(&own, 12, &entry_3),
        predecessor(&ones, 3, "x"),
        at_0(r#""predecessor":null"#, r#""predecessor":3"#),
        at_0(r#""kind":"station.opened""#, r#""kind":"station.begun""#),
        at_0(r#"=","name""#, r#"","name""#),
    ];
    let made: Vec<Vec<Vec<u8>>> = sound
        .iter()
        .chain(&damage)
        .map(|(at, from, to)| {
            let mut lines = little.lines.clone();
            let text = String::from_utf8(lines[*at].clone()).unwrap();
            assert_eq!(text.matches(from.as_str()).count(), 1, "{from}");
            lines[*at] = text.replace(from.as_str(), to).into_bytes();
            for next in at + 1..lines.len() {
                let (old, new) = (entry::id(&little.lines[next - 1]), entry::id(&lines[next - 1]));
                let text = String::from_utf8(lines[next].clone()).unwrap();
                lines[next] = text.replace(&old.to_string(), &new.to_string()).into_bytes();
            }
            lines
        })
        .collect();
    let mut ours = Vec::new();
    let mut exports = Vec::new();
    for lines in &made {
        store(&conn, lines);
        sign_anew(&conn, lines, &key);
        let note: String = conn.query_row("SELECT note FROM checkpoint", [], |row| row.get(0)).unwrap();
        exports.push((lines.iter().flat_map(|line| [line.as_slice(), b"\n"].concat()).collect(), note));
        // Facts that say what these lines say, where they are lines.
        let mut ledger = Ledger::open_for_writing(&path, &little.shop.home()).unwrap();
        let _ = ledger.rebuild(&mut |_, _| {});
        let report = verified(&ledger, Extent::CopyOnly);
        ours.push(report.problems.first().map(|p| p.to_string()));
    }
    let theirs = Verifier::start().verdicts(exports.into_iter());
    let wrong: Vec<String> = sound
        .iter()
        .map(|case| (case, true))
        .chain(damage.iter().map(|case| (case, false)))
        .zip(ours.iter().zip(&theirs))
        .filter(|((_, sound), (ours, theirs))| ours.is_none() != *sound || (theirs.exit == 0) != *sound)
        .map(|(((at, _, to), sound), (ours, theirs))| {
            let to: String = to.chars().take(160).collect();
            format!(
                "entry {at} with {to}\n  must be sound: {sound}; verify: {ours:?}; verify.py: {}",
                theirs.said
            )
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn tables(conn: &Connection, like: &str) -> Vec<String> {
    let mut statement = conn
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name LIKE ?1 ORDER BY name")
        .unwrap();
    let names = statement.query_map([like], |row| row.get(0)).unwrap();
    names.collect::<Result<_, _>>().unwrap()
}

// ---- facts ----------------------------------------------------------------------------------------------------------

#[test]
fn every_change_of_a_fact_is_found() {
    let little = Little::new();
    let (path, conn) = little.unguarded("facts");
    let ledger = little.open(&path);
    let found = |what: &str, table: &str| {
        let report = verified(&ledger, Extent::CopyOnly);
        let (_, said) = first(&report);
        assert!(said.contains(&format!("table {table} does not say what the log says")), "{what}: {said}");
        assert!(matches!(outcome(&report, "facts against the log"), Outcome::Broken(_)));
    };
    let (mut with_rows, mut changes) = (Vec::new(), 0_usize);
    for table in tables(&conn, "fact_%") {
        let columns: Vec<(String, String, i64)> = {
            let mut statement =
                conn.prepare(&format!("SELECT name, type, pk FROM pragma_table_info('{table}')")).unwrap();
            let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).unwrap();
            rows.collect::<Result<_, _>>().unwrap()
        };
        conn.execute_batch(&format!(
            "DROP TABLE IF EXISTS temp.kept; CREATE TEMP TABLE kept AS SELECT * FROM {table}"
        ))
        .unwrap();
        let restore = || {
            conn.execute_batch(&format!("DELETE FROM {table}; INSERT INTO {table} SELECT * FROM temp.kept"))
                .unwrap();
        };
        // A span is made of several entries; here the moment of its issue names it.
        let key = if table == "fact_span" { "issued_from" } else { "place" };
        let places: Vec<i64> = {
            let sql = format!("SELECT DISTINCT {key} FROM {table} WHERE {key} IS NOT NULL");
            let mut statement = conn.prepare(&sql).unwrap();
            let rows = statement.query_map([], |row| row.get(0)).unwrap();
            rows.collect::<Result<_, _>>().unwrap()
        };
        for place in &places {
            for (column, kind, _) in &columns {
                let other = match kind.as_str() {
                    "INTEGER" => format!("ifnull({column}, 0) + 1000000"),
                    "TEXT" => format!("{column} || 'x'"),
                    "BLOB" => format!("zeroblob(ifnull(length({column}), 16))"),
                    other => panic!("a column of type {other}"),
                };
                conn.execute(&format!("UPDATE {table} SET {column} = {other} WHERE {key} = ?1"), [place])
                    .unwrap();
                found(&format!("{column} of entry {}", place - FIRST), &table);
                restore();
                changes += 1;
            }
            conn.execute(&format!("DELETE FROM {table} WHERE {key} = ?1"), [place]).unwrap();
            found(&format!("row of entry {} removed", place - FIRST), &table);
            restore();
        }
        // A row more: of an entry that there is, and of one that there is not.
        for place in [FIRST + 2, FIRST + 40] {
            let values: Vec<String> = columns
                .iter()
                .map(|(column, kind, _)| match (column.as_str(), kind.as_str()) {
                    ("place", _) => place.to_string(),
                    (_, "INTEGER") => "1".into(),
                    (_, "TEXT") => "'x'".into(),
                    _ => "zeroblob(16)".into(),
                })
                .collect();
            let sql = format!("INSERT OR IGNORE INTO {table} VALUES ({})", values.join(", "));
            if conn.execute(&sql, []).unwrap() == 1 {
                found("a row more", &table);
                restore();
            }
        }
        if !places.is_empty() {
            with_rows.push(table);
        }
    }
    let expected = [
        "clear",
        "joint",
        "label",
        "look_alike",
        "lot",
        "lot_status",
        "out",
        "person",
        "shifts",
        "slip",
        "span",
        "spot_check",
        "station",
        "weld",
        "weld_joint",
    ];
    assert!(changes > 80, "{changes} values changed");
    assert_eq!(with_rows, expected.map(|name| format!("fact_{name}")));
    assert!(verified(&ledger, Extent::Everything).is_sound(), "all is as it was");

    for (n, damage) in [
        "ALTER TABLE fact_out RENAME TO kept_out",
        "DROP TABLE fact_clear",
        "CREATE TABLE fact_more (place INTEGER)",
        "ALTER TABLE fact_clear ADD COLUMN more INTEGER",
        "ALTER TABLE fact_clear RENAME COLUMN at_from TO at",
    ]
    .iter()
    .enumerate()
    {
        let (path, conn) = little.unguarded(&format!("facts-{n}"));
        conn.execute_batch(damage).unwrap();
        assert!(!little.report(&path, Extent::CopyOnly).is_sound(), "{damage}");
    }
}

/// Facts that say another version made them cannot be compared: then nothing may claim that they were.
#[test]
fn facts_that_were_not_compared_are_not_vouched_for() {
    let little = Little::new();
    let (path, conn) = little.unguarded("version");
    conn.execute("UPDATE book SET facts_version = facts_version + 1", []).unwrap();
    conn.execute("UPDATE fact_out SET pieces = 400", []).unwrap();
    let report = little.report(&path, Extent::Everything);
    assert!(matches!(outcome(&report, "facts against the log"), Outcome::NotChecked(_)));
    let vouched: Vec<String> =
        report.shown().into_iter().filter(|s| s.contains("say what the entries say")).collect();
    assert_eq!(vouched, [""; 0]);
}

/// Guards and tables are part of what a sound book is.
#[test]
fn a_guard_that_is_gone_and_one_that_is_more_are_found() {
    let little = Little::new();
    let (path, conn) = little.unguarded("schema");
    let all: Vec<(String, String, String)> = {
        let mut statement = conn
            .prepare("SELECT type, name, sql FROM sqlite_schema WHERE type IN ('trigger', 'index') AND sql IS NOT NULL")
            .unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    };
    assert!(all.len() > 10);
    for (kind, name, sql) in &all {
        conn.execute_batch(&format!("DROP {kind} {name}")).unwrap();
        assert!(first(&little.report(&path, Extent::CopyOnly)).1.contains(name), "{kind} {name} removed");
        conn.execute_batch(sql).unwrap();
    }
    for (damage, repair) in [
        (
            "CREATE TRIGGER more AFTER INSERT ON fact_out BEGIN DELETE FROM fact_slip; END",
            "DROP TRIGGER more",
        ),
        ("CREATE VIEW more AS SELECT * FROM entry", "DROP VIEW more"),
        ("CREATE TABLE more (a)", "DROP TABLE more"),
        ("CREATE INDEX more ON checkpoint (day)", "DROP INDEX more"),
    ] {
        conn.execute_batch(damage).unwrap();
        assert!(!little.report(&path, Extent::CopyOnly).is_sound(), "{damage}");
        conn.execute_batch(repair).unwrap();
    }
    assert!(little.report(&path, Extent::Everything).is_sound(), "all is as it was");
}

// ---- names ----------------------------------------------------------------------------------------------------------

#[test]
fn another_name_is_found_and_an_erased_one_is_no_damage() {
    let little = Little::new();
    let (path, conn) = little.unguarded("names");
    let ledger = little.open(&path);
    let enrolled = FIRST + 3;
    for (damage, repair, seq) in [
        (
            "UPDATE person_name SET name = 'Marit Oldervand' WHERE place = ?1",
            "UPDATE person_name SET name = 'Marit Oldervane' WHERE place = ?1",
            3,
        ),
        (
            "INSERT INTO person_name (place, name, salt) VALUES (?1 + 1, 'Somebody', zeroblob(32))",
            "DELETE FROM person_name WHERE place = ?1 + 1",
            4,
        ),
        (
            "INSERT INTO person_name (place, name, salt) VALUES (?1 + 40, 'Somebody', zeroblob(32))",
            "DELETE FROM person_name WHERE place = ?1 + 40",
            43,
        ),
    ] {
        conn.execute(damage, [enrolled]).unwrap();
        assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some(seq), "{damage}");
        conn.execute(repair, [enrolled]).unwrap();
    }
    let salt: [u8; 32] = conn
        .query_row("SELECT salt FROM person_name WHERE place = ?1", [enrolled], |row| row.get(0))
        .unwrap();
    for at in 0..32 {
        let mut changed = salt;
        changed[at] ^= 0x40;
        conn.execute("UPDATE person_name SET salt = ?2 WHERE place = ?1", (enrolled, changed)).unwrap();
        assert_eq!(first(&verified(&ledger, Extent::CopyOnly)).0, Some(3), "byte {at} of the salt");
    }
    conn.execute("UPDATE person_name SET salt = ?2 WHERE place = ?1", (enrolled, salt)).unwrap();
    let name = |badge: &str| ledger.ask(|r| Ok(r.trace_welder(badge)?.welder.name.clone())).unwrap();
    assert_eq!(name("W-1").as_deref(), Some("Marit Oldervane"));

    conn.execute("DELETE FROM person_name WHERE place = ?1", [enrolled]).unwrap();
    let report = verified(&ledger, Extent::Everything);
    assert!(report.is_sound(), "{:?}", report.problems);
    let Outcome::Sound(how) = outcome(&report, "names beside the record") else { panic!("{report:?}") };
    assert_eq!(how, "1 names are those that were enrolled; 1 have been erased");
    assert_eq!(name("W-1"), None);
    assert_eq!(name("I-1").as_deref(), Some("Ruta Fenbridge"));
}

// ---- writing on top of damage ---------------------------------------------------------------------------------------

/// Does damage at the place of the last entry.
type Damage<'d> = &'d dyn Fn(&Connection, i64);

/// Every verb, in an order in which a sound book takes them all.
type Tell = fn(&mut Ledger, &Acting) -> Result<(), Error>;

fn done<T>(done: Result<Done<T>, Error>) -> Result<(), Error> {
    done.map(drop)
}

const VERBS: [(&str, Tell); 12] = [
    ("enroll", |l, a| done(l.enroll(a, "W-2", "Teo Brandrake", &[Role::Welder]))),
    ("declare joint", |l, a| {
        done(l.declare_joint(a, &JointRequest { number: "J-2".into(), ..JointRequest::default() }))
    }),
    ("declare shifts", |l, a| done(l.declare_shifts(a, &[Shift::parse("06:00-14:00").unwrap()]))),
    ("receive", |l, a| done(l.receive(a, &receipt()))),
    ("hold", |l, a| done(l.hold(a, "L-0417", "certificate not accepted", None))),
    ("release", |l, a| done(l.release(a, "L-0417", None, None))),
    ("issue", |l, a| done(l.issue(a, &issue()))),
    ("hand over", |l, a| {
        let request = HandOverRequest {
            slip: "S-00002".into(),
            to: "W-2".into(),
            quantity: rods(2),
            closes: false,
            number: None,
            at: None,
        };
        done(l.hand_over(a, &request))
    }),
    ("give back", |l, a| done(l.give_back(a, &ReturnRequest { slip: "S-00002".into(), ..give_back() }))),
    ("weld", |l, a| done(l.weld(a, &weld()))),
    ("spot check", |l, a| done(l.spot_check(a, &spot_check()))),
    ("clear", |l, a| done(l.clear(a, "W-1", None))),
];

/// Everything in the book, and the mark beside it.
fn everything(little: &Little, path: &Path) -> Vec<Vec<String>> {
    let conn = connect(path);
    let mark = std::fs::read(little.station_folder().join("mark")).unwrap_or_default();
    let mut all = vec![vec![format!("{mark:?}")]];
    for table in tables(&conn, "%") {
        let mut statement = conn.prepare(&format!("SELECT * FROM {table}")).unwrap();
        let columns = statement.column_count();
        let rows = statement
            .query_map([], |row| {
                (0..columns).map(|i| row.get::<_, rusqlite::types::Value>(i)).collect::<Result<Vec<_>, _>>()
            })
            .unwrap();
        all.push(rows.map(|row| format!("{table} {:?}", row.unwrap())).collect());
    }
    all
}

/// Every verb is refused because of damage, and leaves no trace.
fn nothing_is_written(little: &Little, path: &Path, why: &str) {
    refused(little, &mut Ledger::open_for_writing(path, &little.shop.home()).unwrap(), why);
}

fn refused(little: &Little, ledger: &mut Ledger, why: &str) {
    let path = ledger.path().to_owned();
    let before = everything(little, &path);
    for (name, tell) in VERBS {
        for dry_run in [true, false] {
            let acting = Acting { dry_run, ..acting("I-1", START + 200_000) };
            match tell(ledger, &acting) {
                Err(Error::Damaged(said)) => assert!(said.contains(why), "{name}: {said}"),
                other => panic!("{name}, dry run {dry_run}, over {why}: {other:?}"),
            }
        }
    }
    assert_eq!(everything(little, &path), before);
}

#[test]
fn nothing_is_written_on_top_of_damage() {
    let little = Little::new();
    // What follows proves nothing unless a sound book takes every verb.
    let sound = little.copy("sound");
    let mark = little.station_folder().join("mark");
    let old_mark = std::fs::read(&mark).unwrap();
    let mut ledger = Ledger::open_for_writing(&sound, &little.shop.home()).unwrap();
    for (name, tell) in VERBS {
        tell(&mut ledger, &acting("I-1", START + 200_000)).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    }
    assert!(verified(&ledger, Extent::Everything).is_sound());
    drop(ledger);
    // The mark has moved on with that copy: the others are older copies now.
    nothing_is_written(&little, &little.copy("behind"), "the end is missing");
    std::fs::write(&mark, &old_mark).unwrap();

    let changed = |c: &Connection, place: i64| -> Vec<u8> {
        let line: Vec<u8> =
            c.query_row("SELECT line FROM entry WHERE place = ?1", [place], |row| row.get(0)).unwrap();
        String::from_utf8(line).unwrap().replace("-1", "-2").into_bytes()
    };
    let damages: [(&str, Damage<'_>, &str); 9] = [
        (
            "head, its id left alone",
            &|c, newest| {
                let head = changed(c, newest);
                c.execute("UPDATE entry SET line = ?2 WHERE place = ?1", (newest, &head)).unwrap();
            },
            "do not hash to its id",
        ),
        (
            "head, with its new id",
            &|c, newest| {
                let head = changed(c, newest);
                c.execute(
                    "UPDATE entry SET line = ?2, id = ?3 WHERE place = ?1",
                    (newest, &head, entry::id(&head).0),
                )
                .unwrap();
            },
            "the history was replaced",
        ),
        (
            "edge of the tree",
            &|c, _| {
                c.execute("UPDATE tree_edge SET edge = CAST(substr(edge, 1, 39) || x'00' || substr(edge, 41) AS BLOB)", [])
                    .unwrap();
            },
            "not covered by a signature",
        ),
        (
            "size in the edge",
            &|c, newest| {
                // Two fewer or more, and as many subtrees.
                let size =
                    [(12, "0a"), (13, "0e")].into_iter().find(|(n, _)| FIRST + n == newest + 1).unwrap().1;
                c.execute(
                    &format!(
                        "UPDATE tree_edge SET edge = CAST(x'00000000000000{size}' || substr(edge, 9) AS BLOB)"
                    ),
                    [],
                )
                .unwrap();
            },
            "the tree covers 1",
        ),
        (
            "no edge",
            &|c, _| {
                c.execute("DELETE FROM tree_edge", []).unwrap();
            },
            "the tree covers 0 entries",
        ),
        (
            "length of the edge",
            &|c, _| {
                c.execute("UPDATE tree_edge SET edge = CAST(substr(edge, 1, 60) AS BLOB)", []).unwrap();
            },
            "edge of the tree is damaged",
        ),
        (
            "signed head",
            &|c, _| {
                c.execute("UPDATE checkpoint SET note = note || 'x'", []).unwrap();
            },
            "not covered by a signature",
        ),
        (
            "no signed head",
            &|c, newest| {
                c.execute("DELETE FROM checkpoint WHERE place = ?1", [newest]).unwrap();
            },
            "not covered by a signature",
        ),
        (
            "end cut off",
            &|c, newest| {
                c.execute("DELETE FROM entry WHERE place = ?1", [newest]).unwrap();
            },
            "the end is missing",
        ),
    ];
    for (n, (what, damage, why)) in damages.iter().enumerate() {
        let (path, conn) = little.unguarded(&format!("damaged-{n}"));
        damage(&conn, FIRST + 11);
        assert!(!little.report(&path, Extent::CopyOnly).is_sound(), "{what}");
        nothing_is_written(&little, &path, why);

        // Behind the back of a program that has just signed.
        let (path, conn) = little.unguarded(&format!("open-{n}"));
        let mut ledger = Ledger::open_for_writing(&path, &little.shop.home()).unwrap();
        ledger.enroll(&acting("I-1", START + 100_000), "W-1", "Marit Oldervane", &[Role::Welder]).unwrap();
        damage(&conn, FIRST + 12);
        refused(&little, &mut ledger, why);
        drop(ledger);
        std::fs::write(&mark, &old_mark).unwrap();
    }

    // A mark that is not there or says nothing, or is another station's.
    let path = little.copy("no-mark");
    let id = hex::encode(little.key().station());
    let other = String::from_utf8_lossy(&old_mark).replace(&id, &"0".repeat(64)).into_bytes();
    assert_ne!(other, old_mark);
    for wrong in [None, Some(Vec::new()), Some(vec![0; old_mark.len()]), Some(b"x".repeat(5000)), Some(other)]
    {
        match &wrong {
            None => std::fs::remove_file(&mark).unwrap(),
            Some(bytes) => std::fs::write(&mark, bytes).unwrap(),
        }
        nothing_is_written(&little, &path, "mark");
    }
}

// ---- guards ---------------------------------------------------------------------------------------------------------

#[test]
fn the_table_of_entries_takes_only_the_next_entry() {
    let little = Little::new();
    let path = little.copy("guarded");
    let all = "SELECT group_concat(place || hex(id) || clock || hex(line)) FROM entry";
    // As this program opens it.
    let conn = connect(&path);
    conn.pragma_update(None, "recursive_triggers", true).unwrap();
    let entries: String = conn.query_row(all, [], |row| row.get(0)).unwrap();
    let last = FIRST + 11;
    let row = |place: i64| {
        format!("INTO entry (place, id, clock, line) VALUES ({place}, randomblob(32), 99, x'7b7d')")
    };
    let again = |place: i64, of: i64| {
        format!(
            "INTO entry (place, id, clock, line) SELECT {place}, id, clock, line FROM entry WHERE place = {of}"
        )
    };
    let guarded = [
        "UPDATE entry SET line = x'7b7d'".to_owned(),
        format!("UPDATE entry SET id = randomblob(32) WHERE place = {last}"),
        format!("UPDATE entry SET clock = 1 WHERE place = {last}"),
        format!("UPDATE entry SET place = place + 1 WHERE place = {last}"),
        format!("UPDATE OR REPLACE entry SET place = {FIRST} WHERE place = {last}"),
        "DELETE FROM entry".to_owned(),
        format!("DELETE FROM entry WHERE place = {last}"),
        format!("INSERT {}", row(last)),
        format!("INSERT {}", row(last + 2)),
        format!("INSERT {}", row(FIRST - 1)),
        format!("INSERT OR IGNORE {}", row(last)),
        format!("INSERT OR REPLACE {}", row(last)),
        format!("REPLACE {}", row(FIRST)),
        format!("INSERT {} ON CONFLICT (place) DO UPDATE SET line = x'7b7d'", row(FIRST + 4)),
        // Another place, and the id of an entry that is there: replacing would remove that one.
        format!("INSERT OR REPLACE {}", again(last + 1, FIRST + 4)),
        format!("INSERT {}", again(last + 1, FIRST + 4)),
    ];
    for sql in &guarded {
        assert!(conn.execute(sql, []).is_err(), "{sql}");
        assert_eq!(conn.query_row(all, [], |row| row.get::<_, String>(0)).unwrap(), entries, "{sql}");
    }
    // As any other program may open it: the guard of the next place holds without the one against removing.
    conn.pragma_update(None, "recursive_triggers", false).unwrap();
    let passed: Vec<&String> = guarded
        .iter()
        .filter(|sql| {
            conn.execute_batch("BEGIN").unwrap();
            let refused = conn.execute(sql, []).is_err();
            let same = conn.query_row(all, [], |row| row.get::<_, String>(0)).unwrap() == entries;
            if !conn.is_autocommit() {
                conn.execute_batch("ROLLBACK").unwrap();
            }
            !(refused && same)
        })
        .collect();
    assert_eq!(passed, [""; 0]);
    // The next entry is taken, which shows that the guards are not all there is to refuse.
    conn.execute_batch("BEGIN").unwrap();
    assert_eq!(conn.execute(&format!("INSERT {}", row(last + 1)), []).unwrap(), 1);
    conn.execute_batch("ROLLBACK").unwrap();
    drop(conn);
    assert!(little.report(&path, Extent::Everything).is_sound());
}

// ---- files that are not a book --------------------------------------------------------------------------------------

fn open_error(path: &Path, home: &Path) -> Error {
    let before = std::fs::read(path).ok();
    let reading = Ledger::open(path, home).err().expect("opens for reading");
    let writing = Ledger::open_for_writing(path, home).err().expect("opens for writing");
    let kind = std::mem::discriminant::<Error>;
    assert_eq!(kind(&reading), kind(&writing), "{reading:?} {writing:?}");
    assert_eq!(std::fs::read(path).ok(), before, "it was left alone");
    reading
}

#[test]
fn a_file_that_is_not_a_book_is_not_opened() {
    let little = Little::new();
    let home = little.shop.home();
    let file = |name: &str, content: &[u8]| {
        let path = little.shop.path(name);
        std::fs::write(&path, content).unwrap();
        path
    };
    for path in [
        file("empty", b""),
        file("short", b"SQLite"),
        file("header", b"SQLite format 3\0"),
        file("text", b"badge,name,roles\nW-1,Marit Oldervane,welder\n"),
        file("long-text", "lot,quantity\n".repeat(1000).as_bytes()),
        file("zeros", &[0; 8192]),
        file("lines", &little.lines.join(&b'\n')),
    ] {
        let error = open_error(&path, &home);
        assert!(matches!(error, Error::NotABook { .. }), "{}: {error:?}", path.display());
    }
    let other = little.shop.path("other.sqlite");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE book (one INTEGER)").unwrap();
    assert!(matches!(open_error(&other, &home), Error::NotABook { .. }));

    let newer = little.copy("newer");
    let conn = connect(&newer);
    let known: i64 = conn.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
    conn.pragma_update(None, "user_version", known + 1).unwrap();
    conn.close().unwrap();
    let error = open_error(&newer, &home);
    let Error::TooNew { found, known: ours, .. } = error else { panic!("{error:?}") };
    assert_eq!((found, ours), (known + 1, known));

    assert!(matches!(open_error(&little.shop.path("nowhere"), &home), Error::NoBook(_)));
    assert!(matches!(open_error(&little.shop.path("no/folder"), &home), Error::NoBook(_)));
    assert!(matches!(open_error(&little.shop.path(""), &home), Error::BadPlace { .. }));
    #[cfg(unix)]
    {
        let link = little.shop.path("link");
        std::os::unix::fs::symlink(little.shop.book(), &link).unwrap();
        assert!(matches!(open_error(&link, &home), Error::BadPlace { .. }));
    }
    // Not the machine that has the key.
    let error =
        Ledger::open_for_writing(&little.shop.book(), &little.shop.path("another-machine")).err().unwrap();
    assert!(matches!(error, Error::NoKey { .. }), "{error:?}");
}

/// What a damaged file comes to: not opened, damage found, or nothing found.
#[derive(Debug)]
enum Came {
    NotOpened(Error),
    Found,
    Sound { facts: String, lines: Vec<u8>, notes: Vec<u8> },
}

fn came_of(path: &Path, home: &Path) -> Came {
    let ledger = match Ledger::open(path, home) {
        Ok(ledger) => ledger,
        Err(error) => return Came::NotOpened(error),
    };
    match ledger.verify(Extent::Everything, &mut |_, _| {}) {
        Err(error) => Came::NotOpened(error),
        Ok(report) if report.is_sound() => {
            let (mut lines, mut notes) = (Vec::new(), Vec::new());
            ledger.ask(|r| export_record(r, &mut lines)).unwrap();
            ledger.ask(|r| export_checkpoints(r, &mut notes)).unwrap();
            Came::Sound { facts: ledger.facts_dump().unwrap(), lines, notes }
        }
        Ok(_) => Came::Found,
    }
}

#[test]
fn a_book_cut_short_is_damaged() {
    let little = Little::new();
    let whole = std::fs::read(little.shop.book()).unwrap();
    let path = little.shop.path("cut");
    let lengths = (0..600).step_by(13).chain((600..whole.len()).step_by(512)).chain([
        4095,
        4096,
        4097,
        whole.len() - 1,
    ]);
    for length in lengths {
        std::fs::write(&path, &whole[..length]).unwrap();
        match came_of(&path, &little.shop.home()) {
            Came::NotOpened(Error::NotABook { .. }) => {
                assert!(length < 4096, "{length} of {} bytes", whole.len())
            }
            // From byte 16 on it is a SQLite file, and from byte 72 on it says whose.
            Came::NotOpened(Error::Damaged(_)) => assert!(length >= 16, "{length} bytes"),
            Came::Found => assert!(length >= 72, "{length} bytes"),
            other @ (Came::NotOpened(_) | Came::Sound { .. }) => {
                panic!("{length} of {} bytes: {other:?}", whole.len())
            }
        }
    }
}

#[test]
fn no_byte_of_the_file_can_change_an_answer_unseen() {
    let little = Little::new();
    let home = little.shop.home();
    let whole = std::fs::read(little.shop.book()).unwrap();
    let path = little.shop.path("corrupt");
    std::fs::write(&path, &whole).unwrap();
    let Came::Sound { facts, lines, notes } = came_of(&path, &home) else {
        panic!("the whole file is sound")
    };
    // Most of a little book is unused space: half of the changes go where something is.
    let used: Vec<usize> = (0..whole.len()).filter(|at| whole[*at] != 0).collect();
    let mut seed = 0x0417_u64;
    let mut random = |below: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as usize % below
    };
    let (mut not_opened, mut found, mut sound) = (0, 0, 0);
    let mut untold = std::collections::BTreeMap::new();
    for n in 0..2_000 {
        let at = if n % 2 == 0 { random(whole.len()) } else { used[random(used.len())] };
        let mut changed = whole.clone();
        changed[at] ^= 1 + random(255) as u8;
        std::fs::write(&path, &changed).unwrap();
        let came =
            std::panic::catch_unwind(|| came_of(&path, &home)).unwrap_or_else(|_| panic!("byte {at} panics"));
        match came {
            Came::NotOpened(error) => {
                not_opened += 1;
                // SQLite runs out of memory where the length of a value has become a very large one.
                let out_of_memory = matches!(&error, Error::Sqlite(e)
                    if e.sqlite_error_code() == Some(rusqlite::ErrorCode::OutOfMemory));
                let told = matches!(error, Error::Damaged(_) | Error::NotABook { .. } | Error::TooNew { .. });
                if !told && !out_of_memory {
                    untold.insert(format!("{error:?}"), at);
                }
            }
            Came::Found => found += 1,
            Came::Sound { facts: f, lines: l, notes: n } => {
                sound += 1;
                assert_eq!((f, l, n), (facts.clone(), lines.clone(), notes.clone()), "byte {at}");
            }
        }
        for beside in ["corrupt-wal", "corrupt-shm"] {
            let _ = std::fs::remove_file(little.shop.path(beside));
        }
    }
    assert!(untold.is_empty(), "errors that do not say that it is damage, with the byte: {untold:#?}");
    assert!(
        not_opened > 20 && found > 300 && sound > 300,
        "{not_opened} not opened, {found} found, {sound} sound"
    );
}
