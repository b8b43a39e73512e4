//! Durable append: one `spot-check` through the ledger, against one bare SQLite insert of the same bytes with the same
//! settings, in the same run and folder, alternating.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::float_arithmetic,
    missing_docs,
    clippy::indexing_slicing
)]

use ledger::tell::declare::JointRequest;
use ledger::tell::init::Opening;
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::{Acting, Ledger};
use record::person::Role;
use record::{Instant, Zone};
use rusqlite::{Connection, params};
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
    ledger.declare_joint(&acting, &JointRequest { number: "J-1".into(), ..JointRequest::default() }).unwrap();
    let request = |i: usize| SpotCheckRequest {
        joint: "J-1".into(),
        welder: "A-01".into(),
        legible: true,
        reads: Some(format!("70S-{i}")),
        at: None,
    };
    ledger.spot_check(&acting, &request(0)).unwrap();
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

    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for i in 0..ROUNDS {
        let started = Clock::now();
        let tx = bare.unchecked_transaction().unwrap();
        tx.prepare_cached("INSERT INTO entry (id, clock, line) VALUES (?1, ?2, ?3)")
            .unwrap()
            .execute(params![record::tree::leaf_hash(&i.to_be_bytes()), i as i64, line])
            .unwrap();
        tx.commit().unwrap();
        theirs.push(started.elapsed());
        let started = Clock::now();
        ledger.clear(&acting, "A-01", None).unwrap();
        ours.push(started.elapsed());
    }
    let (ours, theirs) = (median(ours), median(theirs));
    println!(
        "durable append: {ours:?}; bare insert: {theirs:?}; ratio {:.2}",
        theirs.as_secs_f64() / ours.as_secs_f64()
    );
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}
