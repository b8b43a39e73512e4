//! Entries of any kind and time at the end of a book's chain, signed as its station signs: what no verb tells, or not in
//! the order that a test wants.

use crate::laws_support::connect;
use ledger::home::StationHome;
use ledger::{Ledger, Place};
use record::checkpoint::Checkpoint;
use record::entry::{Header, encode};
use record::id::{EntryId, StationId};
use record::tree::Frontier;
use record::{Event, Instant};
use std::path::Path;

/// Appends events, each with the time that the station's clock shows then, and makes the facts anew. Returns their ids.
pub(crate) fn append(ledger: &mut Ledger, home: &Path, events: &[(Event, i64)]) -> Vec<EntryId> {
    if events.is_empty() {
        return Vec::new();
    }
    let mut conn = connect(ledger.path());
    let tx = conn.transaction().unwrap();
    let (no, station): (i64, [u8; 32]) = tx
        .query_row("SELECT s.no, s.id FROM book JOIN station s ON s.no = own_station", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    let station = StationId(station);
    let (mut place, mut prev, mut clock): (i64, [u8; 32], i64) = tx
        .query_row("SELECT place, id, clock FROM entry ORDER BY place DESC LIMIT 1", [], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .unwrap();
    let edge: Vec<u8> = tx.query_row("SELECT edge FROM tree_edge", [], |row| row.get(0)).unwrap();
    let mut frontier = Frontier::from_bytes(&edge).unwrap();
    let mut ids = Vec::new();
    for (event, recorded) in events {
        (place, clock) = (place + 1, clock + 1);
        let header = Header {
            station,
            seq: Place(place).seq(),
            prev: EntryId(prev),
            clock: clock.unsigned_abs(),
            seen: Vec::new(),
            time: Instant(*recorded),
            by: "I-1".into(),
            person: None,
        };
        let line = encode(&header, event).unwrap();
        let id = record::entry::id(&line);
        tx.execute(
            "INSERT INTO entry (place, id, clock, line) VALUES (?1, ?2, ?3, ?4)",
            (place, id.0, clock, line),
        )
        .unwrap();
        frontier.append(id.0);
        ids.push(id);
        prev = id.0;
    }
    let key = StationHome::of(home, station).key().unwrap().unwrap();
    let note = Checkpoint { station: station.0, size: frontier.size(), root: frontier.root() }.sign(&key);
    tx.execute("DELETE FROM checkpoint", []).unwrap();
    tx.execute("INSERT INTO checkpoint (place, day, note) VALUES (?1, '2026-03-02', ?2)", (place, note))
        .unwrap();
    tx.execute(
        "UPDATE tree_edge SET size = ?2, edge = ?3 WHERE station = ?1",
        (no, frontier.size() as i64, frontier.to_bytes()),
    )
    .unwrap();
    tx.commit().unwrap();
    ledger.rebuild(&mut |_, _| {}).unwrap();
    ids
}
