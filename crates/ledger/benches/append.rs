//! Durable append: one `clear` through the ledger, against two peers with the same bytes, settings and folder, taking
//! turns in one run: a bare SQLite insert, and a bare insert followed by one synced write of 512 bytes in place, which
//! is what the high-water mark costs on any machine.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::float_arithmetic,
    missing_docs,
    clippy::indexing_slicing
)]

use ledger::tell::init::Opening;
use ledger::{Acting, Ledger};
use record::person::Role;
use record::{Instant, Zone};
use rusqlite::{Connection, params};
use std::io::{Seek as _, SeekFrom, Write as _};
use std::time::{Duration, Instant as Clock};

const ROUNDS: usize = 400;

fn main() {
    let folder =
        tempfile::tempdir_in(std::env::var_os("RODBOOK_BENCH_DIR").unwrap_or_else(|| ".".into())).unwrap();
    let (book, home) = (folder.path().join("shop.rodbook"), folder.path().join("home"));
    let acting =
        Acting { badge: "A-01".into(), now: Instant(1_780_000_000), dry_run: false, overriding: None };
    let opening = Opening {
        station: "bench".into(),
        shop: String::new(),
        zone: Zone::named("UTC").unwrap(),
        shifts: vec![],
        name: None,
        roles: vec![Role::Inspector],
    };
    Ledger::init(&book, &home, &acting, &opening).unwrap();
    let mut ledger = Ledger::open_for_writing(&book, &home).unwrap();
    ledger.clear(&acting, "A-01", None).unwrap();
    let line: Vec<u8> = Connection::open(&book)
        .unwrap()
        .query_row("SELECT line FROM entry ORDER BY place DESC LIMIT 1", [], |row| row.get(0))
        .unwrap();

    let bare = Connection::open(folder.path().join("bare.db")).unwrap();
    bare.pragma_update(None, "journal_mode", "WAL").unwrap();
    bare.pragma_update(None, "synchronous", "FULL").unwrap();
    bare.execute_batch(
        "CREATE TABLE entry (place INTEGER PRIMARY KEY, id BLOB NOT NULL, clock INTEGER NOT NULL, line BLOB NOT NULL) STRICT;
         CREATE UNIQUE INDEX entry_by_id ON entry (id)",
    )
    .unwrap();

    let mut mark = std::fs::File::create(folder.path().join("mark")).unwrap();
    mark.write_all(&[10; 1024]).unwrap();
    mark.sync_all().unwrap();
    let (mut ours, mut theirs, mut with_mark) = (Vec::new(), Vec::new(), Vec::new());
    for i in 0..ROUNDS {
        let started = Clock::now();
        let tx = bare.unchecked_transaction().unwrap();
        tx.prepare_cached("INSERT INTO entry (id, clock, line) VALUES (?1, ?2, ?3)")
            .unwrap()
            .execute(params![record::tree::leaf_hash(&i.to_be_bytes()), i as i64, line])
            .unwrap();
        tx.commit().unwrap();
        theirs.push(started.elapsed());
        mark.seek(SeekFrom::Start((i % 2 * 512) as u64)).unwrap();
        mark.write_all(&[10; 512]).unwrap();
        mark.sync_data().unwrap();
        with_mark.push(started.elapsed());
        let started = Clock::now();
        ledger.clear(&acting, "A-01", None).unwrap();
        ours.push(started.elapsed());
    }
    let (ours, theirs, with_mark) = (median(ours), median(theirs), median(with_mark));
    let ratio = |peer: Duration| peer.as_secs_f64() / ours.as_secs_f64();
    println!(
        "durable append: {ours:?}; bare insert: {theirs:?}, ratio {:.2}; bare insert and mark: {with_mark:?}, ratio {:.2}",
        ratio(theirs),
        ratio(with_mark)
    );
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}
