//! Tests of the demo shop as a whole.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use super::custody::{Origin, Reading, Row, amount, interval, read, rows};
use super::{check, generate};

type Files = Vec<(&'static str, Vec<u8>)>;
/// Joint, pass, certainty, sources, others.
type Told = (&'static str, &'static str, &'static str, &'static [&'static str], &'static [&'static str]);

fn files() -> Files {
    generate().unwrap()
}

fn set(words: &[&str]) -> BTreeSet<String> {
    words.iter().map(|w| (*w).to_owned()).collect()
}

fn column(rows: &[Row], name: &str) -> BTreeSet<String> {
    rows.iter().map(|r| r[name].clone()).collect()
}

#[test]
fn the_same_bytes_every_time_and_as_committed() {
    assert_eq!(files(), files());
    check().unwrap();
}

#[test]
fn a_small_shop_with_the_numbers_it_promises() {
    let files = files();
    let people = rows(&files, "people.csv");
    let role = |role: &str| people.iter().filter(|p| p["roles"].split(';').any(|r| r == role)).count();
    assert_eq!((role("welder"), role("attendant"), role("inspector"), role("auditor")), (6, 2, 2, 1));
    assert_eq!(rows(&files, "lots.csv").len(), 15);
    assert_eq!(rows(&files, "wps.csv").len(), 6);
    let joints = rows(&files, "joints.csv");
    assert_eq!(joints.len(), 150);
    assert_eq!(column(&joints, "job").len(), 4);
    let handed = rows(&files, "hand_overs.csv").len();
    let slips = rows(&files, "issues.csv").len() + handed;
    assert!((480..=520).contains(&slips), "{slips} slips");
    assert!((13..=17).contains(&handed), "{handed} hand-overs");
    let checks = rows(&files, "spot_checks.csv");
    assert!((55..=65).contains(&checks.len()), "{} spot checks", checks.len());
    assert!(checks.iter().filter(|c| c["legible"] == "no").count() >= 3);
    let welds = rows(&files, "welds.csv");
    let filled: Vec<&Row> = welds.iter().filter(|w| w["filler"] != "no").collect();
    let named = filled.iter().filter(|w| !w["lot"].is_empty() || !w["slip"].is_empty()).count() * 100;
    assert!((55..=65).contains(&(named / filled.len())), "{named} of {}", filled.len());
    assert!(filled.len() < welds.len());
    for cycle in ["tack", "R1"] {
        assert!(welds.iter().filter(|w| w["cycle"] == cycle).count() > 5, "{cycle}");
    }
    assert!(column(&joints, "joint").difference(&column(&welds, "joint")).count() <= 8);
    let conditions = column(&rows(&files, "returns.csv"), "condition");
    assert_eq!(conditions, set(&["marked", "unmarked", "damaged", "wet", "n/a"]));
}

#[test]
fn rods_weigh_what_the_generator_plans() {
    for lot in rows(&files(), "lots.csv") {
        let planned = i64::try_from(super::catalogue::lot(&lot["lot"]).unwrap().piece_mg()).unwrap();
        assert!((planned - piece_mg(&lot)).abs() <= 1, "{lot:?}: {planned}");
    }
}

#[test]
fn lots_hold_the_cases_that_go_wrong() {
    let lots = rows(&files(), "lots.csv");
    let with = |column: &str, value: &str| lots.iter().filter(|l| l[column] == value).count();
    assert_eq!(with("maker_lot", "62055"), 2);
    assert_eq!(with("certificate_type", "2.2"), 1);
    assert_eq!(with("certificate", ""), 1);
    assert_eq!(lots.iter().filter(|l| l["heats"].contains(';')).count(), 1);
    assert_eq!((with("heats", "unknown"), with("heats", "n/a"), with("form", "flux")), (1, 1, 1));
    assert!(lots.iter().filter(|l| l["form"] == "covered").all(|l| !l["piece_g"].is_empty()));
    assert!(lots.iter().any(|l| l["size"].contains("mm")) && lots.iter().any(|l| l["size"].contains(" in")));
}

#[test]
fn every_reference_resolves() {
    let files = files();
    let badges = column(&rows(&files, "people.csv"), "badge");
    let lots = column(&rows(&files, "lots.csv"), "lot");
    let joints = column(&rows(&files, "joints.csv"), "joint");
    let wps = column(&rows(&files, "wps.csv"), "wps");
    let issues = rows(&files, "issues.csv");
    let hand_overs = rows(&files, "hand_overs.csv");
    let mut slips = column(&issues, "slip");
    let issued = slips.len();
    slips.extend(column(&hand_overs, "new_slip"));
    assert_eq!(issued, issues.len(), "slip numbers of issues repeat");
    assert_eq!(slips.len(), issues.len() + hand_overs.len(), "slip numbers repeat");
    for (file, columns, known) in [
        ("qualifications.csv", &["welder"][..], &badges),
        ("joints.csv", &["wps"], &wps),
        ("issues.csv", &["lot"], &lots),
        ("issues.csv", &["welder", "issued_by"], &badges),
        ("issues.csv", &["joints"], &joints),
        ("returns.csv", &["slip"], &slips),
        ("returns.csv", &["received_by"], &badges),
        ("hand_overs.csv", &["slip", "new_slip"], &slips),
        ("hand_overs.csv", &["to_welder", "by"], &badges),
        ("welds.csv", &["joint"], &joints),
        ("welds.csv", &["welder", "recorded_by"], &badges),
        ("welds.csv", &["lot"], &lots),
        ("welds.csv", &["slip"], &slips),
        ("spot_checks.csv", &["joint"], &joints),
        ("spot_checks.csv", &["welder", "by"], &badges),
    ] {
        for row in rows(&files, file) {
            for name in columns {
                for word in row[*name].split(';').filter(|w| !w.is_empty()) {
                    assert!(known.contains(word), "{file} {name} {word}");
                }
            }
        }
    }
    let lot_of: BTreeMap<String, String> =
        Reading::new(&files).held.into_iter().map(|h| (h.slip, h.lot)).collect();
    for weld in rows(&files, "welds.csv") {
        if !weld["lot"].is_empty() && !weld["slip"].is_empty() {
            assert_eq!(lot_of[&weld["slip"]], weld["lot"], "{weld:?}");
        }
    }
}

/// Mass of one piece in milligrams, from the file; of bare rods from size and density with π to nine places.
fn piece_mg(lot: &Row) -> i64 {
    if !lot["piece_g"].is_empty() {
        let (whole, tenth) = lot["piece_g"].split_once('.').unwrap_or((&lot["piece_g"], "0"));
        return whole.parse::<i64>().unwrap() * 1000 + tenth.parse::<i64>().unwrap() * 100;
    }
    // Hundredths of g/cm3, nanometres, micrometres.
    let density: u128 = match lot["classification"].as_str() {
        "ER309L" | "ER316L" | "ER308/ER308L" => 793,
        "ERNiCrMo-3" => 844,
        "ER2209" => 780,
        _ => 785,
    };
    let (diameter, length): (u128, u128) = match lot["size"].as_str() {
        "3/32 in x 36 in" => (2_381_250, 914_400),
        "2.4 mm x 1000 mm" => (2_400_000, 1_000_000),
        _ => return 0,
    };
    let mg = 3_141_592_654 * diameter * diameter * length * density / (4 * 10_u128.pow(26));
    i64::try_from(mg).unwrap()
}

fn mg(lot: &Row, quantity: &str) -> i64 {
    match amount(quantity) {
        ("mg", mg) => mg,
        (_, pieces) => pieces * piece_mg(lot),
    }
}

#[test]
fn no_slip_gives_more_than_was_on_it() {
    let files = files();
    let reading = Reading::new(&files);
    let mut issued: BTreeMap<&str, i64> = BTreeMap::new();
    let mut short = 0;
    for held in &reading.held {
        let lot = &reading.lots[&held.lot];
        let returns: Vec<&Row> = reading.returns.iter().filter(|r| r["slip"] == held.slip).collect();
        let handed: Vec<&Row> = reading.hand_overs.iter().filter(|h| h["slip"] == held.slip).collect();
        let gone: i64 = returns.iter().chain(&handed).map(|r| mg(lot, &r["quantity"])).sum();
        let out = mg(lot, &held.quantity) - gone;
        assert!(out >= 0, "{held:?} gave back more than it was");
        let used: i64 = reading
            .welds
            .iter()
            .filter(|w| w["slip"] == held.slip && !w["used"].is_empty())
            .map(|w| mg(lot, &w["used"]))
            .sum();
        assert!(used <= out + out / 200, "{held:?} fed {used} of {out}");
        if amount(&held.quantity).0 == "rods" {
            let stubs: i64 = returns.iter().filter_map(|r| r["stubs"].parse::<i64>().ok()).sum();
            let back: i64 = returns.iter().chain(&handed).map(|r| amount(&r["quantity"]).1).sum();
            let missing = amount(&held.quantity).1 - back - stubs;
            assert!(missing >= 0, "{held:?} has {missing} too many");
            short += i64::from(held.closed && missing > 0 && returns.iter().any(|r| !r["stubs"].is_empty()));
        }
        assert!(held.closed || gone == 0 || returns.iter().all(|r| r["closes"] == "no"));
        if !reading.hand_overs.iter().any(|h| h["new_slip"] == held.slip) {
            *issued.entry(&held.lot).or_default() += mg(lot, &held.quantity);
        }
    }
    for (lot, issued) in issued {
        let received = mg(&reading.lots[lot], &reading.lots[lot]["quantity"]);
        assert!(issued <= received, "{lot}: {issued} of {received} mg");
    }
    assert!((2..=10).contains(&short), "{short} slips with missing stubs");
    let open: Vec<&str> = reading.held.iter().filter(|h| !h.closed).map(|h| h.welder.as_str()).collect();
    assert!(open.contains(&"W-16") && open.contains(&"W-14") && open.len() < 6, "{open:?}");
}

#[test]
fn times_are_possible() {
    let files = files();
    let reading = Reading::new(&files);
    for held in &reading.held {
        assert!(held.from <= held.to, "{held:?}");
        let received = interval(&reading.lots[&held.lot]["received_at"]).0;
        assert!(received < held.from, "{held:?}");
    }
    let mut before: BTreeMap<&str, (i64, &Row)> = BTreeMap::new();
    for weld in &reading.welds {
        let (from, to) = Reading::span(weld);
        assert!(from <= to, "{weld:?}");
        // Nobody welds twice at once, where the times say so and no hour is repeated.
        if weld["from"].len() > 10 && !weld["from"].starts_with("2026-04-05") {
            if let Some((end, last)) = before.get(weld["welder"].as_str()) {
                assert!(*end < from, "{last:?} {weld:?}");
            }
            before.insert(&weld["welder"], (to, weld));
        }
    }
    // A hand-over from the day to the night shift happens while both are there.
    for h in &reading.hand_overs {
        let minute = interval(&h["at"]).0 - 60;
        assert!((14 * 60 + 15..14 * 60 + 30).contains(&(minute % 1440)), "{h:?}");
    }
    for joint in rows(&files, "joints.csv").iter().filter(|j| !j["finished_at"].is_empty()) {
        let finished = interval(&joint["finished_at"]).0;
        for weld in reading.welds.iter().filter(|w| w["joint"] == joint["joint"] && w["cycle"] != "R1") {
            assert!(Reading::span(weld).0 < finished, "{weld:?}");
        }
    }
    for check in rows(&files, "spot_checks.csv") {
        let at = interval(&check["at"]).0;
        let during = reading.welds.iter().any(|w| {
            let (from, to) = Reading::span(w);
            w["joint"] == check["joint"] && w["welder"] == check["welder"] && from <= at && at <= to
        });
        assert!(during, "{check:?}");
    }
}

fn told(reading: &Reading, joint: &str, cycle: &str, pass: &str) -> Vec<Origin> {
    reading
        .welds
        .iter()
        .filter(|w| w["joint"] == joint && w["cycle"] == cycle && w["pass"] == pass)
        .map(|w| reading.origin(w))
        .collect()
}

#[test]
fn the_stories_answer_as_they_are_told() {
    let reading = Reading::new(&files());
    let expected: [Told; 27] = [
        ("M-101", "root", "recorded", &["R-1028"], &[]),
        ("M-101", "hot", "recorded", &["R-1028"], &[]),
        ("M-101", "fill", "recorded", &["R-1040"], &[]),
        ("M-101", "cap", "recorded", &["R-1040"], &[]),
        ("M-102", "root", "by-custody", &["R-1028"], &[]),
        ("M-102", "fill", "by-custody", &["R-1040"], &[]),
        ("M-103", "root", "one-of", &["R-1028", "R-1082"], &[]),
        ("M-103", "hot", "recorded", &["R-1082"], &["R-1028"]),
        ("M-104", "root", "contradicted", &["R-1028"], &[]),
        ("M-104", "hot", "recorded", &["R-1028"], &[]),
        ("M-105", "root", "contradicted", &["R-1028"], &[]),
        ("M-105", "hot", "by-custody", &["R-1028"], &[]),
        ("B-206", "root", "unknown", &[], &[]),
        ("B-206", "hot", "recorded", &["R-1028"], &[]),
        ("M-107", "root", "recorded", &["R-1082"], &[]),
        ("M-107", "hot", "by-custody", &["R-1082"], &[]),
        ("M-108", "root", "recorded", &["R-1082"], &[]),
        ("D-419", "root", "one-of", &["R-1050", "R-1052"], &[]),
        ("D-419", "hot", "recorded", &["R-1050"], &["R-1052"]),
        ("M-110", "root", "recorded", &["R-1031"], &[]),
        ("M-111", "root", "by-custody", &["R-1031"], &[]),
        ("M-112", "root", "one-of", &["R-1028", "R-1031"], &[]),
        ("M-113", "root", "contradicted", &["R-1082"], &[]),
        ("M-114", "root", "recorded", &["R-1028"], &["R-1031"]),
        ("M-147", "root", "recorded", &["R-1031"], &[]),
        ("M-120", "root", "one-of", &["R-1028", "R-1082"], &[]),
        ("M-120", "hot", "by-custody", &["R-1082"], &[]),
    ];
    for (joint, pass, certainty, sources, others) in expected {
        let wanted = Origin { certainty, sources: set(sources), others: set(others) };
        assert_eq!(told(&reading, joint, "original", pass), [wanted], "{joint} {pass}");
    }
    let twice = told(&reading, "M-109", "original", "hot");
    assert_eq!(twice[0].certainty, "one-of");
    assert_eq!(twice[0].sources, set(&["R-1028", "R-1082"]));
    assert_eq!((twice[1].certainty, &twice[1].sources), ("by-custody", &set(&["R-1082"])));
}

#[test]
fn the_routine_adds_no_contradiction_and_no_unknown() {
    let reading = Reading::new(&files());
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    let mut odd = BTreeSet::new();
    for weld in &reading.welds {
        let certainty = reading.origin(weld).certainty;
        *count.entry(certainty).or_default() += 1;
        if matches!(certainty, "contradicted" | "unknown") {
            odd.insert(weld["joint"].clone());
        }
    }
    assert_eq!(odd, set(&["M-104", "M-105", "M-113", "B-206"]), "{count:?}");
    for certainty in ["recorded", "by-custody", "one-of", "no-filler"] {
        assert!(count[certainty] > 3, "{count:?}");
    }
}

#[test]
fn the_bad_lot_is_in_many_joints_by_every_kind_of_link() {
    let reading = Reading::new(&files());
    let mut joints: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for weld in &reading.welds {
        let origin = reading.origin(weld);
        let link = if origin.sources.contains("R-1031") {
            "source"
        } else if weld["lot"] == "R-1031" {
            "named"
        } else if origin.others.contains("R-1031") {
            "other"
        } else {
            continue;
        };
        joints.entry(format!("{link} {}", origin.certainty)).or_default().insert(weld["joint"].clone());
    }
    let all: BTreeSet<&String> = joints.values().flatten().collect();
    assert!(all.len() >= 12, "{joints:?}");
    for kind in
        ["source recorded", "source by-custody", "source one-of", "named contradicted", "other recorded"]
    {
        assert!(joints.contains_key(kind), "{kind}: {joints:?}");
    }
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/csv")
}

fn folders(under: &str) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> =
        fs::read_dir(fixtures().join(under)).unwrap().map(|e| e.unwrap().path()).collect();
    found.sort();
    found
}

/// Rows of a small import file in any of the good spellings; cells trimmed, list items too.
fn loose(path: &Path) -> Vec<Row> {
    let bytes = fs::read(path).unwrap();
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&bytes);
    let header = bytes.split(|b| *b == b'\n').next().unwrap();
    if !header.contains(&b';') {
        return read(bytes).into_iter().map(trimmed).collect();
    }
    let mut reader = csv::ReaderBuilder::new().delimiter(b';').from_reader(bytes);
    reader.deserialize().map(|row| trimmed(row.unwrap())).collect()
}

fn trimmed(row: Row) -> Row {
    row.into_iter()
        .map(|(name, cell)| {
            let cell = cell.split(';').map(str::trim).collect::<Vec<_>>().join(";");
            (name.trim().to_owned(), cell)
        })
        .collect()
}

#[test]
fn the_good_spellings_say_the_same() {
    let folders = folders("good");
    let names: Vec<_> = folders.iter().map(|f| f.file_name().unwrap().to_str().unwrap()).collect();
    assert_eq!(names, ["bom-crlf", "minimal", "quoted-newline", "semicolon"]);
    for file in [
        "people.csv",
        "qualifications.csv",
        "wps.csv",
        "joints.csv",
        "lots.csv",
        "issues.csv",
        "returns.csv",
        "hand_overs.csv",
        "welds.csv",
        "spot_checks.csv",
    ] {
        let minimal = loose(&fixtures().join("good/minimal").join(file));
        assert!((1..=3).contains(&minimal.len()), "{file}");
        for folder in &folders {
            assert_eq!(loose(&folder.join(file)), minimal, "{} {file}", folder.display());
        }
    }
}

#[test]
fn every_bad_folder_says_where_its_mistake_is() {
    let folders = folders("bad");
    assert!(folders.len() >= 18, "{}", folders.len());
    for folder in folders {
        let text = fs::read_to_string(folder.join("EXPECT.txt")).unwrap();
        let words: Vec<&str> = text.trim_end().split(' ').collect();
        let (file, row, column) = match words.as_slice() {
            [file, "row", row] => (*file, row.parse::<usize>().unwrap(), None),
            [file, "row", row, "column", column] => (*file, row.parse().unwrap(), Some(*column)),
            _ => panic!("{}: {text}", folder.display()),
        };
        let bytes = fs::read(folder.join(file)).unwrap();
        let mut reader =
            csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes.as_slice());
        let records: Vec<csv::ByteRecord> = reader.byte_records().map(|r| r.unwrap()).collect();
        assert!(row >= 1 && row <= records.len(), "{}", folder.display());
        let missing = folder.ends_with("missing-column");
        if let Some(column) = column {
            let there = records[0].iter().any(|cell| cell == column.as_bytes());
            assert_eq!(there, !missing, "{}: {column}", folder.display());
        }
    }
}
