//! Every exit code, reached for the reason that the table of the help page gives.

use crate::shop::{Shop, parse_one, snapshot};
use rusqlite::Connection;
use std::fs;
use std::time::{Duration, Instant};

/// A connection that may do what the program never does: change the book behind its back.
pub(crate) fn tamper(book: &std::path::Path, sql: &str) {
    let conn = Connection::open(book).unwrap();
    conn.execute_batch(sql).unwrap();
}

#[test]
fn help_has_the_table() {
    let shop = Shop::empty();
    let help = shop.ok("--help");
    for code in 0..=7 {
        assert!(
            help.stdout.lines().any(|l| l.trim_start().starts_with(&format!("{code}  "))),
            "{}",
            help.shown()
        );
    }
    snapshot!("help", help.shown());
    let version = shop.ok("--version");
    assert_eq!(version.stdout, format!("rodbook {}\n", env!("CARGO_PKG_VERSION")));
    let _ = shop.run("").expect_code(2);
}

/// Every verb has a help page on standard output, and says what it takes.
#[test]
fn every_verb_has_help() {
    let shop = Shop::empty();
    let mut pages = Vec::new();
    for verb in [
        "init",
        "demo",
        "enroll",
        "joint",
        "shifts",
        "receive",
        "release",
        "hold",
        "issue",
        "return",
        "hand-over",
        "clear",
        "weld",
        "spot-check",
        "trace",
        "stock",
        "out",
        "slip",
        "import",
        "export",
        "verify",
        "rebuild",
        "backup",
        "restore",
        "completions",
    ] {
        let help = shop.ok(&format!("{verb} --help"));
        assert!(help.stdout.contains("Usage: rodbook"), "{}", help.shown());
        assert_eq!(help.stderr, "");
        pages.push(help.shown());
    }
    snapshot!("help-verbs", pages.join("\n"));
}

#[test]
fn code_0_done() {
    let shop = Shop::worked();
    for line in
        ["stock", "out", "verify", "issue R-1028 W-12 6 rods --by A-01", "trace joint M-102", "export record"]
    {
        let _ = shop.run(line).expect_code(0);
    }
}

#[test]
fn code_1_failed_for_another_reason() {
    let shop = Shop::empty();
    for line in ["stock", "issue R-1028 W-12 6 rods --by A-01", "verify", "--book folder/none.rodbook stock"]
    {
        let _ = shop.run(line).expect_code(1).says(&["there is no book at", "rodbook init"]);
    }
    assert!(!shop.book().exists(), "no verb but init, restore and demo makes a book");
    fs::create_dir(shop.file("folder.rodbook")).unwrap();
    let _ = shop.run("--book folder.rodbook stock").expect_code(1).says(&["it is a folder"]);
    let shop = Shop::worked();
    let _ = shop
        .writes_nothing("init --station 'crib 1' --zone Pacific/Auckland --by I-21", 1)
        .says(&["exists already"]);
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(shop.book(), shop.file("link.rodbook")).unwrap();
        let _ = shop.run("--book link.rodbook stock").expect_code(1).says(&["symbolic link"]);
    }
    snapshot!("no-book", Shop::empty().session(&["stock", "issue R-1028 W-12 6 rods --by A-01"]));
}

#[test]
fn code_2_not_understood() {
    let shop = Shop::worked();
    for line in [
        "frobnicate",
        "issue",
        "trace lot",
        "stock --format xml",
        "issue R-1028 W-12 six rods --by A-01",
        "stock --colour",
        "import nowhere --by A-01",
    ] {
        let _ = shop.writes_nothing(line, 2);
    }
    snapshot!(
        "command-line-not-understood",
        shop.session(&[
            "isue R-1028",
            "stock --clas 7018",
            "trace weld M-101",
            "stock --format xml",
            "issue R-1028 --by"
        ])
    );
}

/// Not abbreviated: an abbreviation that works today would freeze every later name.
#[test]
fn verbs_are_not_abbreviated() {
    let shop = Shop::worked();
    let _ = shop.writes_nothing("iss R-1028 W-12 6 rods --by A-01", 2);
    let _ = shop.writes_nothing("ver", 2);
}

#[test]
fn code_3_refused() {
    let shop = Shop::worked();
    let _ = shop.writes_nothing("issue R-1031 W-12 6 rods --by A-01", 3).says(&["Nothing was written."]);
    let error = shop.json_error("issue R-1031 W-12 6 rods --by A-01", 3);
    assert_eq!(error["code"], "lot-not-released");
}

#[test]
fn code_4_no_such_thing() {
    let shop = Shop::worked();
    for line in [
        "trace lot R-9",
        "trace joint X-1",
        "trace heat 1",
        "trace cert 1",
        "trace slip 9",
        "trace welder X-1",
        "slip 9",
        "issue R-9 W-12 6 rods --by A-01",
        "issue R-1028 X-1 6 rods --by A-01",
        "return 9 6 rods --condition marked --by A-01",
    ] {
        let _ = shop.writes_nothing(line, 4);
    }
}

/// A byte of an entry changed, an entry taken away, an answer table changed: `verify` finds it and says where, and no
/// verb writes on top of a changed end.
#[test]
fn code_5_damage() {
    let no_triggers = "DROP TRIGGER entry_no_update; DROP TRIGGER entry_no_delete;";
    for (name, sql, writes) in [
        (
            "a byte",
            "UPDATE entry SET line = CAST(replace(CAST(line AS TEXT), '24', '42') AS BLOB) WHERE seq = 15",
            0,
        ),
        (
            "the last entry changed",
            "UPDATE entry SET line = CAST(replace(CAST(line AS TEXT), 'marked', 'm4rked') AS BLOB) WHERE seq = 20",
            5,
        ),
        ("the last entry gone", "DELETE FROM entry WHERE seq = 20", 5),
        ("an entry in the middle gone", "DELETE FROM entry WHERE seq = 10", 0),
        ("a fact", "UPDATE fact_slip SET pieces = 23 WHERE place = (SELECT min(place) FROM fact_slip)", 0),
        ("no signed head", "DELETE FROM checkpoint", 5),
    ] {
        let shop = Shop::worked();
        tamper(&shop.book(), &format!("{no_triggers} {sql}"));
        let verified = shop.run("verify").expect_code(5);
        assert!(verified.stdout.starts_with("DAMAGE FOUND\n"), "{name}: {}", verified.shown());
        let json = shop.run("verify --format json").expect_code(5);
        let report = parse_one(&json.stdout, name);
        assert_eq!(report["sound"], false, "{name}");
        assert!(!report["problems"].as_array().unwrap().is_empty(), "{name}");
        assert_eq!(report["shown"], serde_json::json!([]), "{name}: nothing is said to be shown");
        if writes == 5 {
            let _ =
                shop.run("issue R-1028 W-12 1 rod --by A-01").expect_code(5).says(&["Nothing was written."]);
        }
        let _ = shop.run("backup copy.rodbook").expect_code(5);
        assert!(!shop.file("copy.rodbook").exists(), "{name}: no copy of a damaged book");
    }
    let shop = Shop::worked();
    tamper(&shop.book(), &format!("{no_triggers} DELETE FROM entry WHERE seq = 20"));
    snapshot!(
        "damage",
        shop.session(&["verify", "issue R-1028 W-12 1 rod --by A-01", "backup copy.rodbook"])
    );
}

/// The end cut off together with its signature and facts, so that the file alone looks sound: the mark beside the key
/// knows better.
#[test]
fn code_5_a_cut_off_end_behind_the_mark() {
    let shop = Shop::worked();
    fs::copy(shop.book(), shop.file("older.rodbook")).unwrap();
    let _ = shop.ok("clear W-14 --by A-01");
    let _ = fs::remove_file(shop.file("shop.rodbook-wal"));
    let _ = fs::remove_file(shop.file("shop.rodbook-shm"));
    fs::copy(shop.file("older.rodbook"), shop.book()).unwrap();
    let _ = shop.run("verify").expect_code(5);
    let _ = shop.run("verify --copy").expect_code(0);
    snapshot!("behind-the-mark", shop.session(&["issue R-1028 W-12 1 rod --by A-01"]));
}

/// The key of another station in the folder, or a mark that is none.
#[test]
fn code_5_a_key_or_mark_that_is_not_the_station_s() {
    for (file, content) in [("key", "00".repeat(32)), ("key", "not a key".into()), ("mark", "nothing".into())]
    {
        let shop = Shop::worked();
        let station = fs::read_dir(shop.home().join("stations")).unwrap().next().unwrap().unwrap().path();
        fs::write(station.join(file), content).unwrap();
        let before = shop.record();
        let _ = shop.run("issue R-1028 W-12 1 rod --by A-01").expect_code(5).says(&["Nothing was written."]);
        assert_eq!(shop.record(), before);
        let _ = shop.ok("trace joint M-101");
    }
}

/// Somebody else writes for longer than a command waits: busy, nothing written; and done once they have finished.
#[test]
fn code_6_busy() {
    let shop = Shop::worked();
    let before = shop.count();
    let other = Connection::open(shop.book()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let started = Instant::now();
    let line = "issue R-1028 W-12 1 rod --at '2026-04-07 15:00' --by A-01";
    let busy = shop.run(line).expect_code(6).says(&[
        "another program is writing in this book",
        "do it again",
        "Nothing was written.",
    ]);
    assert!(started.elapsed() >= Duration::from_secs(5), "it waited first");
    assert!(started.elapsed() < Duration::from_secs(20), "and not for ever");
    assert_eq!(busy.stdout, "");
    // Questions are answered meanwhile.
    let _ = shop.ok("stock");
    let _ = shop.ok("trace joint M-101");
    assert_eq!(shop.count(), before);
    other.execute_batch("ROLLBACK").unwrap();
    drop(other);
    let _ = shop.ok(line);
    assert_eq!(shop.count(), before + 1);
    shop.is_sound();
}

/// A short wait is no refusal.
#[test]
fn a_short_wait_for_another_writer_is_waited() {
    let shop = Shop::worked();
    let other = Connection::open(shop.book()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    std::thread::scope(|scope| {
        let waiting = scope.spawn(|| shop.ok("issue R-1028 W-12 1 rod --by A-01"));
        std::thread::sleep(Duration::from_millis(1_500));
        other.execute_batch("ROLLBACK").unwrap();
        let _ = waiting.join().unwrap();
    });
    shop.is_sound();
}

#[test]
fn code_7_newer_program() {
    let shop = Shop::worked();
    tamper(&shop.book(), "PRAGMA user_version = 99");
    let bytes = fs::read(shop.book()).unwrap();
    for line in [
        "stock",
        "verify",
        "trace joint M-101",
        "issue R-1028 W-12 1 rod --by A-01",
        "backup copy.rodbook",
        "rebuild",
        "export record",
    ] {
        let _ = shop.run(line).expect_code(7).says(&["newer program", "99"]);
    }
    let _ = shop.run("--book new.rodbook --by A-01 restore shop.rodbook").expect_code(7);
    assert_eq!(fs::read(shop.book()).unwrap(), bytes, "the file is left alone");
    snapshot!("newer", shop.session(&["stock", "issue R-1028 W-12 1 rod --by A-01 --format json"]));
}

/// Every answer in JSON is one object on one line, with the name of its schema.
#[test]
fn every_json_answer_has_a_schema() {
    let shop = Shop::worked();
    let schema = regex::Regex::new("^rodbook-[a-z][a-z-]*/[0-9]+$").unwrap();
    shop.write("slips/people.csv", "badge,name,roles\nW-16,Sten Fjordhouse,welder\n");
    for (line, name) in [
        ("trace joint M-101", "rodbook-trace-joint/1"),
        ("trace lot R-1028", "rodbook-where-used/1"),
        ("trace heat 7K2214", "rodbook-where-used/1"),
        ("trace cert TW-26-0388", "rodbook-where-used/1"),
        ("trace slip S-00001", ""),
        ("trace welder W-12", ""),
        ("stock", ""),
        ("out", ""),
        ("slip S-00001", ""),
        ("shifts", ""),
        ("verify", ""),
        ("rebuild", ""),
        ("backup copy.rodbook", ""),
        ("--book new.rodbook --by A-01 restore copy.rodbook", ""),
        ("export lot-joint --out list.csv", ""),
        ("export record --out record.jsonl", ""),
        ("import slips --by A-01", ""),
        ("enroll W-15 --name 'Runa Kestwick' --role welder --by I-21", ""),
        ("joint M-110 --by A-01", ""),
        ("shifts 07:00-15:30 --by A-01", ""),
        ("receive --lot R-1050 --maker X --maker-lot 1 --by A-01", ""),
        ("release R-1031 --by I-21", ""),
        ("hold R-1031 --why letter --by I-21", ""),
        ("issue R-1028 W-12 6 rods --by A-01", ""),
        ("return S-00002 1 rod --condition marked --more --by A-01", ""),
        ("hand-over S-00002 W-12 1 rod --by A-01", ""),
        ("clear W-14 --by A-01", ""),
        ("weld M-102 W-12 --by A-01", ""),
        ("spot-check M-101 W-12 --legible yes --by I-21", ""),
        ("--book other.rodbook init --station s --zone UTC --by A-01", ""),
        ("demo demo", ""),
    ] {
        let found = shop.json(line)["schema"].as_str().unwrap_or_default().to_owned();
        assert!(schema.is_match(&found), "{line}: {found:?}");
        assert!(name.is_empty() || found == name, "{line}: {found:?}");
    }
}

/// With `--format json` every failure is one JSON object on standard error, command lines that were not understood too.
#[test]
fn errors_in_json_for_every_code() {
    let shop = Shop::worked();
    for (line, code, name) in [
        ("--book none.rodbook stock", 1, "no-book"),
        ("stock --colour", 2, "command-line"),
        ("isue R-1028", 2, "command-line"),
        ("issue R-1028 W-12 --by A-01", 2, "command-line"),
        ("issue R-1028 W-12 six rods --by A-01", 2, "not-understood"),
        ("return S-00002 1 rod --by A-01", 2, "command-line"),
        ("issue R-1031 W-12 6 rods --by A-01", 3, "lot-not-released"),
        ("trace lot R-1O28", 4, "not-found"),
    ] {
        assert_eq!(shop.json_error(line, code)["code"], name, "{line}");
    }
    for words in [["--format=json", "isue"], ["--format", "json"]] {
        let output = shop.run_words(&words).expect_code(2);
        assert_eq!(parse_one(&output.stderr, "json")["error"]["code"], "command-line");
    }
}
