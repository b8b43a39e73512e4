//! How fast rows are imported, and in how much memory. Not a check: run it in release and read what it prints.
//!
//! `cargo test --release -p ledger --test import_speed -- --ignored --nocapture`; `ROWS=1000000` rows in each of the
//! three long files, `RODBOOK_BENCH_DIR` for another disk.

#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::float_arithmetic, reason = "a measurement")]

use ledger::tell::init::Opening;
use ledger::{Acting, Ledger};
use record::{Instant, Zone};
use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant as Clock;

fn write_files(folder: &Path, rows: usize) {
    let mut people = String::from("badge,name,roles\nA-1,Ada Ferrow,attendant\n");
    for n in 0..200 {
        writeln!(people, "W-{n},Welder Number {n},welder").unwrap();
    }
    let mut lots = String::from(
        "lot,maker,maker_lot,heats,spec,classification,size,form,quantity,received_at,released_at\n",
    );
    for n in 0..300 {
        writeln!(
            lots,
            "R-{n},Tarvemire Wire,{n}-B,7K{n},A5.18,ER70S-2,3/32 in x 36 in,cut-length,50 lb,2025-01-02,2025-01-03"
        )
        .unwrap();
    }
    let mut joints = String::from("joint,job,level\n");
    for n in 0..5_000 {
        writeln!(joints, "M-{n},Manifold,lot").unwrap();
    }
    // Times from 06:00 to 21:00 on 28 days of every month: none that the clocks skip.
    let time = |n: usize, add: usize| {
        let minute = n * 290_000 / rows + add;
        let (day, minute) = (minute / 900, minute % 900 + 360);
        format!("2025-{:02}-{:02} {:02}:{:02}", day / 28 + 1, day % 28 + 1, minute / 60, minute % 60)
    };
    let mut issues = String::from("slip,lot,welder,quantity,issued_at,issued_by,joints,quiver,due_at\n");
    let mut returns = String::from("slip,quantity,stubs,condition,closes,returned_at,received_by\n");
    let mut welds =
        String::from("joint,cycle,pass,process,filler,welder,lot,slip,used,from,to,mark,recorded_by\n");
    for n in 0..rows {
        let (welder, lot, joint) = (n % 200, n % 300, n * 7 % 5_000);
        let (at, back) = (time(n, 0), time(n, 240));
        writeln!(issues, "26-{n:07},R-{lot},W-{welder},24 rods,{at},A-1,M-{joint},,{back}").unwrap();
        writeln!(returns, "26-{n:07},2 rods,22,marked,,{back},A-1").unwrap();
        let (from, to) = (time(n, 10), time(n, 200));
        writeln!(
            welds,
            "M-{joint},original,root,GTAW,,W-{welder},R-{lot},26-{n:07},4 rods,{from},{to},read,A-1"
        )
        .unwrap();
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

fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    status.lines().find(|l| l.starts_with("VmHWM")).unwrap_or("memory not known").to_owned()
}

#[test]
#[ignore = "a measurement of a minute"]
fn rows_a_second() {
    let rows = std::env::var("ROWS").ok().and_then(|r| r.parse().ok()).unwrap_or(1_000_000);
    let folder =
        tempfile::tempdir_in(std::env::var_os("RODBOOK_BENCH_DIR").unwrap_or_else(|| ".".into())).unwrap();
    let (book, home, files) =
        (folder.path().join("shop.rodbook"), folder.path().join("home"), folder.path().join("files"));
    std::fs::create_dir(&files).unwrap();
    write_files(&files, rows);
    let acting =
        Acting { badge: "A-1".into(), now: Instant(1_780_000_000), dry_run: false, overriding: None };
    let opening = Opening {
        station: "speed".into(),
        shop: String::new(),
        zone: Zone::named("Pacific/Auckland").unwrap(),
        shifts: vec![],
        name: None,
        roles: vec![],
    };
    Ledger::init(&book, &home, &acting, &opening).unwrap();
    let mut ledger = Ledger::open_for_writing(&book, &home).unwrap();
    let started = Clock::now();
    let mut file_started = started;
    let done = ledger
        .import(&acting, &files, false, &mut |p| {
            if p.done == 0 {
                if file_started == started {
                    println!("read, hashed and counted after {:.2} s", started.elapsed().as_secs_f64());
                }
                file_started = Clock::now();
            } else if p.done == p.of {
                let seconds = file_started.elapsed().as_secs_f64();
                println!(
                    "{:16} {:8} rows {seconds:6.2} s {:9.0} rows/s",
                    p.file,
                    p.of,
                    p.of as f64 / seconds
                );
            }
        })
        .unwrap();
    let seconds = started.elapsed().as_secs_f64();
    let all: u64 = done.value.files.iter().map(|f| f.rows).sum();
    println!("all, signed and committed: {all} rows {seconds:.2} s {:.0} rows/s", all as f64 / seconds);
    println!("book {} MB, {}", std::fs::metadata(&book).unwrap().len() / 1_000_000, peak_memory());
    assert_eq!(all, 3 * rows as u64 + 5_501);
}
