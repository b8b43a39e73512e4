//! Import of a shop's own files: what is taken, and every way in which a file can be refused.

use crate::shop::{Shop, root, snapshot};
use serde_json::json;
use std::fs;

#[test]
fn import() {
    let shop = Shop::new();
    shop.fixture("csv/good/minimal", "slips");
    snapshot!(
        "import",
        shop.session(&[
            "import slips --dry-run --by A-1",
            "import slips --by A-1",
            "import slips/people.csv --by A-1",
            "import slips/people.csv --again --by A-1",
            "import slips --format csv --again --dry-run --by A-1",
            "import nowhere --by A-1",
            "import slips",
            "import keys --by A-1",
            "trace joint J-1",
        ])
    );
    shop.is_sound();
}

#[test]
fn import_as_json() {
    let shop = Shop::new();
    shop.fixture("csv/good/minimal", "slips");
    let answer = shop.json("import slips --by A-1");
    assert_eq!((&answer["schema"], &answer["verb"]), (&json!("rodbook-receipt/1"), &json!("import")));
    let files = answer["files"].as_array().unwrap();
    assert_eq!(files.len(), 12);
    assert!(files.iter().all(|f| f["file"].is_string() && f["rows"].is_u64() && f["entries"].is_u64()));
    let entries: u64 = files.iter().map(|f| f["entries"].as_u64().unwrap()).sum();
    let record = shop.entries();
    // Three of the opening, one that names the files.
    assert_eq!(record.len() as u64, 3 + 1 + entries);
    assert_eq!(answer["head"]["seq"], record.len() - 1);
    let of_rows = record.iter().filter(|e| e["body"]["imported"].is_object()).count() as u64;
    assert_eq!(of_rows, entries, "every entry of a row names its file and row");
    let first = record.iter().find(|e| e["kind"] == "rod.issued").unwrap();
    assert_eq!(first["body"]["imported"], json!({"file": "issues.csv", "row": 2}));
}

/// Files taken again say what the book has already, and nothing that is not so.
#[test]
fn importing_again_warns_of_nothing_new() {
    let shop = Shop::new();
    shop.fixture("demo-shop", "slips");
    let _ = shop.ok("import slips --by A-01");
    let again = shop.ok("import slips/lots.csv --again --by A-01");
    for line in again.stderr.lines().filter(|l| l.contains("means two lots")) {
        let code = line.split(' ').find(|w| w.starts_with("R-")).unwrap();
        let _ = shop.run(&format!("trace lot {code}")).expect_code(2);
    }
}

/// A dry run of an import takes the same path: the same answer, and nothing is written.
#[test]
fn a_dry_run_of_an_import_writes_nothing() {
    let shop = Shop::new();
    shop.fixture("demo-shop", "slips");
    let dry = shop.writes_nothing("import slips --dry-run --by A-01", 0);
    let real = shop.ok("import slips --by A-01");
    assert_eq!(
        dry.stdout.replace("Would write", "Wrote").lines().take(12).collect::<Vec<_>>(),
        real.stdout.lines().take(12).collect::<Vec<_>>()
    );
}

/// Byte order mark and CRLF, semicolons, quoted line breaks: the same shop in four spellings, one list.
#[test]
fn the_same_files_in_four_spellings_are_the_same_shop() {
    let list = |spelling: &str| {
        let shop = Shop::new();
        shop.fixture(&format!("csv/good/{spelling}"), "slips");
        let _ = shop.ok("import slips --by A-1");
        shop.is_sound();
        let (header, rows) = shop.ok("export lot-joint --names").csv();
        let column = |name: &str| header.iter().position(|c| c == name).unwrap();
        let ids = [column("entry"), column("findings")];
        rows.into_iter()
            .map(|mut row| {
                // Ids differ from station to station.
                for id in ids {
                    row[id].clear();
                }
                row
            })
            .collect::<Vec<_>>()
    };
    let minimal = list("minimal");
    assert!(minimal.len() >= 3, "{minimal:?}");
    for spelling in ["bom-crlf", "semicolon", "quoted-newline"] {
        assert_eq!(list(spelling), minimal, "{spelling}");
    }
}

/// One mistake a folder: exit 2, the place named, nothing written.
#[test]
fn every_bad_file_is_refused_at_its_place() {
    let mut tried = 0;
    for folder in fs::read_dir(root().join("fixtures/csv/bad")).unwrap() {
        let folder = folder.unwrap();
        let name = folder.file_name().to_string_lossy().into_owned();
        let expect = fs::read_to_string(folder.path().join("EXPECT.txt")).unwrap();
        let shop = Shop::new();
        shop.fixture(&format!("csv/bad/{name}"), "slips");
        fs::remove_file(shop.file("slips/EXPECT.txt")).unwrap();
        for line in ["import slips --by A-1", "import slips --dry-run --by A-1"] {
            let output = shop.writes_nothing(line, 2);
            let at = format!("{}:", expect.trim());
            assert_eq!(
                output.stderr.matches(&at).count(),
                1,
                "{name}: {at:?} is not named once in\n{}",
                output.shown()
            );
            assert!(
                output.stderr.contains("Error: nothing was imported: 1 cell or row cannot be taken."),
                "{}",
                output.shown()
            );
            let _ = output.says(&["Nothing was written."]);
        }
        shop.is_sound();
        tried += 1;
    }
    assert!(tried >= 20, "{tried} folders");
}

/// What people read in each of these cases.
#[test]
fn bad_files_as_people_see_them() {
    let names = {
        let mut names: Vec<String> = fs::read_dir(root().join("fixtures/csv/bad"))
            .unwrap()
            .map(|f| f.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    };
    let shop = Shop::new();
    let mut shown = Vec::new();
    for name in &names {
        shop.fixture(&format!("csv/bad/{name}"), name);
        fs::remove_file(shop.file(name).join("EXPECT.txt")).unwrap();
        shown.push(shop.shown(&format!("import {name} --by A-1")));
    }
    snapshot!("import-bad", shown.join("\n"));
}

/// Every bad row is said, not the first alone, and also when there are many.
#[test]
fn every_bad_row_is_said() {
    let shop = Shop::new();
    shop.fixture("csv/good/minimal", "slips");
    shop.write(
        "slips/welds.csv",
        "joint,welder,used,from,lot\nJ-1,W-1,4 rodz,2026-04-07 06:40,L-1\nJ-9,W-1,4 rods,2026-04-07 06:40,L-1\n\
         J-1,W-7,4 rods,2026-04-07 26:40,L-1\nJ-1,W-1,4 rods,2026-04-07 06:40,L-3\n",
    );
    let output = shop.writes_nothing("import slips --by A-1", 2);
    for place in [
        "row 2 column used",
        "row 3 column joint",
        "row 4 column welder",
        "row 4 column from",
        "row 5 column lot",
    ] {
        assert!(output.stderr.contains(&format!("welds.csv {place}")), "{place}\n{}", output.shown());
    }
    let error = shop.json_error("import slips --by A-1", 2);
    assert_eq!(error["code"], "bad-rows");
    assert_eq!(error["why"].as_str().unwrap().lines().count(), 5);
    shop.write("slips/welds.csv", format!("joint,welder,from\n{}", "J-1,W-1,never\n".repeat(5_000)));
    let many = shop.writes_nothing("import slips --by A-1", 2);
    assert!(
        many.stderr.starts_with("Error: nothing was imported: 5000 cells or rows cannot be taken.\n"),
        "{}",
        &many.stderr[..200]
    );
}

/// What the counter would refuse is recorded when it is imported: history does not stop.
#[test]
fn import_records_what_the_counter_would_refuse() {
    let shop = Shop::new();
    shop.write(
        "slips/people.csv",
        "badge,name,roles\nA-1,Ebba Stonefeather,attendant\nW-1,Marit Oldervane,welder\n",
    );
    shop.write("slips/joints.csv", "joint\nJ-1\n");
    shop.write(
        "slips/lots.csv",
        "lot,maker,maker_lot,spec,classification,size,form,quantity,received_at\n\
         L-1,Tarvemire Wire,0417,A5.18,ER70S-2,3/32 in x 36 in,cut-length,1 lb,2026-03-02 09:00\n",
    );
    // Before the receipt, never released, more than there is; returned before it went out; a weld in the future.
    shop.write("slips/issues.csv", "slip,lot,welder,quantity,issued_at\nS-1,L-1,W-1,500 rods,2026-03-01 06:10\nS-2,L-1,W-1,5 rods,2026-03-04 06:10\n");
    shop.write(
        "slips/returns.csv",
        "slip,quantity,condition,returned_at\nS-2,2 rods,marked,2026-03-03 06:10\n",
    );
    shop.write("slips/welds.csv", "joint,welder,process,from\nJ-1,W-1,GTAW,2198-03-04 06:40\n");
    let _ = shop.ok("import slips --by A-1");
    shop.is_sound();
    assert_eq!(
        shop.entries()
            .iter()
            .filter(|e| ["rod.issued", "rod.returned", "joint.welded"].contains(&e["kind"].as_str().unwrap()))
            .count(),
        4
    );
    // A closing before the issue counts at the issue.
    assert_eq!(shop.json("slip S-2")["closed_at"], "2026-03-03T17:10:00Z");
    let trace = shop.json("trace joint J-1");
    assert_eq!(trace["welds"][0]["certainty"], "by-custody");
    assert_eq!(trace["welds"][0]["sources"][0]["slip"], "S-1");
}

/// The same at the counter: refused, each with its number.
#[test]
fn the_counter_refuses_what_an_import_records() {
    let shop = Shop::stocked();
    let _ = shop.ok("issue R-1028 W-12 6 rods --at '2026-04-07 06:10' --by A-01");
    for (line, says) in [
        ("issue R-1028 W-12 6 rods --at '2026-03-09 09:00' --by A-01", "had not been received yet"),
        (
            "return S-00001 6 rods --condition marked --at '2026-04-07 06:00' --by A-01",
            "had not been issued yet",
        ),
        ("weld M-101 W-12 --from '2198-03-04 06:40' --by A-01", "its time has not come yet"),
        ("receive --lot R-1 --at '2198-03-04 06:40' --by A-01", "its time has not come yet"),
        ("release R-1031 --at '2198-03-04 06:40' --by I-21", "its time has not come yet"),
        ("release R-1031 --at '2026-03-04 06:40' --by I-21", "had not been received yet"),
        ("clear W-12 --at '2198-03-04 06:40' --by A-01", "its time has not come yet"),
        ("hand-over S-00001 W-14 2 rods --at '2026-04-07 06:00' --by A-01", "had not been issued yet"),
    ] {
        let _ = shop.writes_nothing(line, 3).says(&[says]);
    }
}

/// The hour that the clocks repeat is both hours, the hour that they leave out is none. New Zealand's clocks went back on
/// 5 April 2026 at 03:00 NZDT and forward on 27 September 2026 at 02:00 NZST (IANA time zone database, Pacific/Auckland).
#[test]
fn an_hour_that_comes_twice_is_both() {
    let shop = Shop::stocked();
    let _ = shop.ok("issue R-1028 W-12 6 rods --at '2026-04-05 02:15' --by A-01");
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(
        body["at"],
        json!({"from": "2026-04-04T13:15:00Z", "text": "2026-04-05 02:15", "to": "2026-04-04T14:15:00Z"})
    );
    let output = shop.writes_nothing("issue R-1028 W-12 6 rods --at '2026-09-27 02:30' --by A-01", 2);
    let _ = output.says(&["2026-09-27 02:30", "does not exist in Pacific/Auckland"]);
}

/// A million rows, each an entry. About a minute where nothing else runs; for the record, not for every run.
#[test]
#[ignore = "takes about a minute and two gigabytes: cargo test -p rodbook --test cli -- --ignored a_million"]
fn a_million_rows() {
    use std::io::Write as _;
    let shop = Shop::stocked();
    fs::create_dir(shop.file("slips")).unwrap();
    let mut issues = std::io::BufWriter::new(fs::File::create(shop.file("slips/issues.csv")).unwrap());
    let mut returns = std::io::BufWriter::new(fs::File::create(shop.file("slips/returns.csv")).unwrap());
    writeln!(issues, "slip,lot,welder,quantity,issued_at").unwrap();
    writeln!(returns, "slip,quantity,condition,returned_at").unwrap();
    for n in 0..500_000 {
        let (day, minute) = (1 + n / 20_000, n % 60);
        writeln!(issues, "P-{n:06},R-1028,W-12,4 rods,2026-04-{day:02} 06:{minute:02}").unwrap();
        writeln!(returns, "P-{n:06},1 rod,marked,2026-04-{day:02} 14:{minute:02}").unwrap();
    }
    issues.flush().unwrap();
    returns.flush().unwrap();
    drop((issues, returns));
    let before = shop.count();
    let started = std::time::Instant::now();
    let imported = shop.ok("import slips --by A-01");
    eprintln!("a million rows imported in {:.1} s", started.elapsed().as_secs_f64());
    assert!(imported.stdout.contains("Wrote 1000000 entries from 2 files."), "{}", imported.shown());
    let verified = shop.json("verify");
    assert_eq!(verified["sound"], true);
    assert_eq!(verified["stations"][0]["entries"], before + 1 + 1_000_000);
    assert_eq!(shop.ok("out").stdout, "Nothing is out.\n");
}
