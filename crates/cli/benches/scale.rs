//! A book of a million entries, from slips to answers, each figure beside a peer of the same run:
//! import against a bare batched insert of the same lines, `verify` against SHA-256 over the same bytes, and whole
//! processes against `true`. `RODBOOK_BENCH_ENTRIES` sets the size, `RODBOOK_BENCH_DIR` the disk.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::float_arithmetic,
    clippy::indexing_slicing,
    missing_docs
)]

use ledger::tell::init::Opening;
use ledger::verify::Extent;
use ledger::{Acting, Ledger};
use record::person::Role;
use record::{Instant, Zone};
use rusqlite::{Connection, params};
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant as Clock};

const WELDERS: usize = 60;

fn main() {
    let entries: usize =
        std::env::var("RODBOOK_BENCH_ENTRIES").ok().and_then(|n| n.parse().ok()).unwrap_or(1_000_000);
    let folder =
        tempfile::tempdir_in(std::env::var_os("RODBOOK_BENCH_DIR").unwrap_or_else(|| ".".into())).unwrap();
    let (book, home, slips) =
        (folder.path().join("shop.rodbook"), folder.path().join("home"), folder.path().join("slips"));
    // Per slip an issue, a return and a weld; a joint for three welds, a lot with its release for a hundred slips.
    let slip_count = entries * 100 / (100 * 3 + 34 + 2);
    write_slips(&slips, slip_count);
    let acting =
        Acting { badge: "A-01".into(), now: Instant(1_780_000_000), dry_run: false, overriding: None };
    let opening = Opening {
        station: "bench".into(),
        shop: String::new(),
        zone: Zone::named("UTC").unwrap(),
        shifts: vec![],
        name: None,
        roles: vec![Role::Attendant, Role::Inspector],
    };
    Ledger::init(&book, &home, &acting, &opening).unwrap();

    let mut ledger = Ledger::open_for_writing(&book, &home).unwrap();
    let started = Clock::now();
    let done = ledger.import(&acting, &slips, false, &mut |_| {}).unwrap();
    let import = started.elapsed();
    let written: u64 = done.value.files.iter().map(|f| f.entries).sum();
    drop(ledger);
    let (bare, bytes, lines) = bare_insert(&book, &folder.path().join("bare.db"));
    println!(
        "import: {written} entries in {import:.2?}, {:.0} entries/s; bare batched insert of the same lines: {bare:.2?}; ratio {:.2}",
        written as f64 / import.as_secs_f64(),
        bare.as_secs_f64() / import.as_secs_f64()
    );

    let ledger = Ledger::open(&book, &home).unwrap();
    let started = Clock::now();
    let report = ledger.verify(Extent::Everything, &mut |_, _| {}).unwrap();
    let verify = started.elapsed();
    assert!(report.is_sound());
    drop(ledger);
    let started = Clock::now();
    let mut last = [0; 32];
    for line in &lines {
        last = Sha256::digest(line).into();
    }
    let sha = started.elapsed();
    println!(
        "verify: {} entries, {bytes} bytes in {verify:.2?}; SHA-256 over the same lines: {sha:.2?} ({:02x}); ratio {:.3}",
        lines.len(),
        last[0],
        sha.as_secs_f64() / verify.as_secs_f64()
    );

    let run = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_rodbook"));
        command.args(words).env("RODBOOK_BOOK", &book).env("RODBOOK_HOME", &home).env("RODBOOK_BY", "A-01");
        command.stdout(Stdio::null());
        let started = Clock::now();
        assert!(command.status().unwrap().success());
        started.elapsed()
    };
    let spawn = median((0..30).map(|_| {
        let started = Clock::now();
        assert!(Command::new("true").status().unwrap().success());
        started.elapsed()
    }));
    let joint = format!("J-{:06}", slip_count / 6);
    let lot = format!("L-{:05}", wide_lot(slip_count) - 1);
    let last_lot = format!("L-{:05}", slip_count / 100 - 1);
    let lot_of_200 = format!("L-{:05}", wide_lot(slip_count));
    for (what, words, rounds) in [
        ("trace joint", vec!["trace", "joint", &joint], 30),
        ("issue", vec!["issue", &last_lot, "W-07", "2", "rods"], 30),
        ("trace lot, 100 welds", vec!["trace", "lot", &lot], 10),
        ("trace lot, 200 welds", vec!["trace", "lot", &lot_of_200], 10),
        ("recall --dry-run, 200 welds", vec!["recall", &lot_of_200, "--why", "bench", "--dry-run"], 10),
        ("recall, 200 welds", vec!["recall", &lot_of_200, "--why", "bench"], 10),
        ("stock", vec!["stock"], 3),
        ("out", vec!["out"], 3),
    ] {
        let time = median((0..rounds).map(|_| run(&words)));
        println!("{what}, whole process, warm: {time:.2?}; true: {spawn:.2?}");
    }
}

/// The lines of the book into a database with one table of the same columns and index, one transaction, same settings.
fn bare_insert(book: &Path, path: &Path) -> (Duration, usize, Vec<Vec<u8>>) {
    let source = Connection::open(book).unwrap();
    let mut statement = source.prepare("SELECT line FROM entry ORDER BY place").unwrap();
    let lines: Vec<Vec<u8>> =
        statement.query_map([], |row| row.get(0)).unwrap().collect::<rusqlite::Result<_>>().unwrap();
    let bare = Connection::open(path).unwrap();
    bare.pragma_update(None, "journal_mode", "WAL").unwrap();
    bare.pragma_update(None, "synchronous", "FULL").unwrap();
    bare.pragma_update(None, "cache_size", -128 * 1024).unwrap();
    bare.execute_batch(
        "CREATE TABLE entry (place INTEGER PRIMARY KEY, id BLOB NOT NULL, clock INTEGER NOT NULL, line BLOB NOT NULL) STRICT;
         CREATE UNIQUE INDEX entry_by_id ON entry (id)",
    )
    .unwrap();
    let ids: Vec<[u8; 32]> = lines.iter().map(|l| record::tree::leaf_hash(l)).collect();
    let started = Clock::now();
    let tx = bare.unchecked_transaction().unwrap();
    {
        let mut insert = tx.prepare("INSERT INTO entry (id, clock, line) VALUES (?1, ?2, ?3)").unwrap();
        for (i, (line, id)) in lines.iter().zip(&ids).enumerate() {
            insert.execute(params![id.as_slice(), i as i64, line]).unwrap();
        }
    }
    tx.commit().unwrap();
    let bytes = lines.iter().map(Vec::len).sum();
    (started.elapsed(), bytes, lines)
}

/// The lot of two hundred slips, in the middle of the book; the other lots have a hundred, and the one after it none.
fn wide_lot(slips: usize) -> usize {
    slips / 200
}

/// The lot of a slip.
fn lot_of(slip: usize, slips: usize) -> usize {
    let lot = slip / 100;
    if lot == wide_lot(slips) + 1 { wide_lot(slips) } else { lot }
}

/// A shop of sixty welders, one slip each a shift, one weld in it.
fn write_slips(folder: &Path, slips: usize) {
    std::fs::create_dir(folder).unwrap();
    let mut people = String::from("badge,name,roles\nA-01,Attendant,attendant;inspector\n");
    for w in 0..WELDERS {
        let _ = writeln!(people, "W-{w:02},Welder {w},welder");
    }
    let mut lots = String::from(
        "lot,maker,maker_lot,heats,spec,classification,size,form,quantity,certificate,certificate_type,received_at,released_at\n",
    );
    for l in 0..slips / 100 + 1 {
        let _ = writeln!(
            lots,
            "L-{l:05},Maker {},M{l:06},H{l:06},A5.18,ER70S-2,3/32 in x 36 in,cut-length,5000 lb,C{l:06},3.1,2004-12-01 08:00,2004-12-02 08:00",
            l % 7
        );
    }
    let mut joints = String::from("joint,job,level\n");
    for j in 0..slips / 3 + 1 {
        let _ = writeln!(joints, "J-{j:06},Job {},lot", j / 1000);
    }
    let mut issues = String::from("slip,lot,welder,quantity,issued_at,issued_by\n");
    let mut returns = String::from("slip,quantity,stubs,condition,returned_at,received_by\n");
    let mut welds = String::from("joint,pass,process,welder,slip,used,from,to,mark,recorded_by\n");
    let start = chrono::NaiveDate::from_ymd_opt(2005, 1, 1).unwrap();
    for s in 0..slips {
        let day = start + chrono::Days::new((s / (2 * WELDERS)) as u64);
        let (shift, welder) = ((s / WELDERS) % 2, s % WELDERS);
        let (out, from, to, back) = [(6, 7, 9, 13), (14, 15, 17, 22)][shift];
        let minute = s % 60;
        let _ = writeln!(
            issues,
            "S{s:07},L-{:05},W-{welder:02},24 rods,{day} {out:02}:{minute:02},A-01",
            lot_of(s, slips)
        );
        let _ = writeln!(returns, "S{s:07},10 rods,14,marked,{day} {back:02}:{minute:02},A-01");
        let named = if s % 3 == 0 { String::new() } else { format!("S{s:07}") };
        let _ = writeln!(
            welds,
            "J-{:06},root,GTAW,W-{welder:02},{named},14 rods,{day} {from:02}:{minute:02},{day} {to:02}:{minute:02},read,A-01",
            s / 3
        );
    }
    for (name, text) in [
        ("people.csv", people),
        ("lots.csv", lots),
        ("joints.csv", joints),
        ("issues.csv", issues),
        ("returns.csv", returns),
        ("welds.csv", welds),
    ] {
        std::fs::write(folder.join(name), text).unwrap();
    }
}

fn median(times: impl Iterator<Item = Duration>) -> Duration {
    let mut times: Vec<Duration> = times.collect();
    times.sort_unstable();
    times[times.len() / 2]
}
