//! The import against small folders of files, good and bad, and against the demo shop's.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test may panic")]

use ledger::import::{FileCount, Imported};
use ledger::tell::init::Opening;
use ledger::verify::Extent;
use ledger::{Acting, BadRow, Done, Error, Ledger};
use proptest::prelude::*;
use record::person::Role;
use record::{Instant, Zone};
use serde_json::Value;
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

/// 2026-06-01T00:00:00Z.
const NOW: Instant = Instant(1_780_272_000);

struct Shop {
    dir: tempfile::TempDir,
    ledger: Ledger,
}

fn acting(badge: &str) -> Acting {
    Acting { badge: badge.into(), now: NOW, dry_run: false, overriding: None }
}

impl Shop {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let (book, home) = (dir.path().join("shop.rodbook"), dir.path().join("home"));
        let opening = Opening {
            station: "crib".into(),
            shop: "Shop".into(),
            zone: Zone::named("Pacific/Auckland").unwrap(),
            shifts: Vec::new(),
            name: None,
            roles: vec![Role::Inspector],
        };
        Ledger::init(&book, &home, &acting("I-1"), &opening).unwrap();
        let ledger = Ledger::open_for_writing(&book, &home).unwrap();
        Self { dir, ledger }
    }

    /// A folder of files, new for each call.
    fn folder(&self, name: &str, files: &[(&str, &str)]) -> PathBuf {
        let folder = self.dir.path().join(name);
        std::fs::create_dir(&folder).unwrap();
        for (file, text) in files {
            std::fs::write(folder.join(file), text).unwrap();
        }
        folder
    }

    fn import(&mut self, folder: &Path) -> Result<Done<Imported>, Error> {
        self.ledger.import(&acting("I-1"), folder, false, &mut |_| {})
    }

    fn again(&mut self, folder: &Path) -> Result<Done<Imported>, Error> {
        self.ledger.import(&acting("I-1"), folder, true, &mut |_| {})
    }

    /// Imports a folder of these files that must be taken.
    fn take(&mut self, name: &str, files: &[(&str, &str)]) -> Imported {
        let folder = self.folder(name, files);
        self.import(&folder).unwrap_or_else(|e| panic!("{name}: {:?}", bad(e))).value
    }

    /// Imports a folder of these files that must be refused for bad rows, and checks that nothing was written.
    fn refuse(&mut self, name: &str, files: &[(&str, &str)]) -> Vec<String> {
        let folder = self.folder(name, files);
        let before = self.lines();
        let error = self.import(&folder).err().unwrap_or_else(|| panic!("{name} was taken"));
        assert_eq!(self.lines(), before, "{name}: nothing may be written");
        bad(error).iter().map(ToString::to_string).collect()
    }

    /// Every entry of the book as it is stored.
    fn lines(&self) -> Vec<String> {
        let conn = rusqlite::Connection::open(self.ledger.path()).unwrap();
        let mut statement = conn.prepare("SELECT line FROM entry ORDER BY place").unwrap();
        let lines = statement.query_map([], |row| row.get::<_, Vec<u8>>(0)).unwrap();
        lines.map(|line| String::from_utf8(line.unwrap()).unwrap()).collect()
    }

    fn entries(&self) -> Vec<Value> {
        self.lines().iter().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    fn of_kind(&self, kind: &str) -> Vec<Value> {
        self.entries().into_iter().filter(|e| e["kind"] == kind).map(|e| e["body"].clone()).collect()
    }

    /// The book is sound, and its facts are those of a replay.
    fn assert_sound(&self) {
        let report = self.ledger.verify(Extent::Everything, &mut |_, _| {}).unwrap();
        assert!(report.problems.is_empty(), "{:?}", report.problems);
        let dump = self.ledger.facts_dump().unwrap();
        assert!(dump == self.ledger.facts_dump_replayed(|_| {}).unwrap(), "facts are those of a replay");
    }
}

fn bad(error: Error) -> Vec<BadRow> {
    let Error::BadRows { rows, .. } = error else { panic!("not bad rows: {error:?}") };
    rows
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures")
}

fn folders(path: &str) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = std::fs::read_dir(fixtures().join(path))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.is_dir())
        .collect();
    all.sort();
    all
}

fn count(imported: &Imported, file: &str) -> FileCount {
    imported.files.iter().find(|f| f.name == file).unwrap_or_else(|| panic!("{file} was not read")).clone()
}

/// Bodies with every identity replaced by its number in order of appearance, without what is random or says how a
/// file was spelt.
fn comparable(entries: &[Value]) -> Vec<Value> {
    fn walk(value: &mut Value, ids: &mut HashMap<String, usize>) {
        match value {
            Value::String(text) if text.len() == 36 && uuid::Uuid::try_parse(text).is_ok() => {
                let next = ids.len();
                let n = *ids.entry(text.clone()).or_insert(next);
                *text = format!("identity {n}");
            }
            Value::Array(items) => items.iter_mut().for_each(|v| walk(v, ids)),
            Value::Object(map) => {
                map.remove("name_hash");
                map.remove("sha256");
                map.values_mut().for_each(|v| walk(v, ids));
            }
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
        }
    }
    let mut ids = HashMap::new();
    let bodies = entries.iter().map(|e| serde_json::json!([e["kind"], e["body"]]));
    // The opening entry has the key of the station.
    bodies
        .skip(1)
        .map(|mut body| {
            walk(&mut body, &mut ids);
            body
        })
        .collect()
}

#[test]
fn the_same_files_in_every_spelling_make_the_same_entries() {
    let mut first: Option<(PathBuf, Vec<Value>)> = None;
    let folders = folders("csv/good");
    assert!(folders.len() >= 4);
    for folder in folders {
        let mut shop = Shop::new();
        let done = shop.import(&folder).unwrap_or_else(|e| panic!("{}: {:?}", folder.display(), bad(e)));
        assert_eq!(done.value.files.len(), 12, "{}", folder.display());
        assert_eq!(done.value.warnings, Vec::<String>::new(), "{}", folder.display());
        shop.assert_sound();
        let entries = comparable(&shop.entries());
        match &first {
            None => first = Some((folder, entries)),
            Some((other, expected)) => {
                for (a, b) in entries.iter().zip(expected) {
                    assert_eq!(a, b, "{} and {}", folder.display(), other.display());
                }
                assert_eq!(entries.len(), expected.len());
            }
        }
    }
}

#[test]
fn what_the_files_say_is_what_the_entries_say() {
    let mut shop = Shop::new();
    shop.import(&fixtures().join("csv/good/minimal")).unwrap();
    let lots = shop.of_kind("lot.received");
    assert_eq!(lots[0]["heats"], serde_json::json!(["7E210", "7K22"]));
    assert_eq!(lots[0]["size"]["text"], "3/32 in x 36 in");
    assert_eq!(lots[0]["piece"]["origin"], "computed");
    assert_eq!(lots[1]["heats"], serde_json::json!([]));
    assert_eq!(lots[1]["heats_stated"]["no_value"], "unknown");
    assert_eq!(
        lots[1]["piece"],
        serde_json::json!({"density_confidence": null, "density_g_per_cm3": null,
        "mg": 33_600, "origin": "declared"})
    );
    assert_eq!(lots[1]["surface"]["no_value"], "n/a");
    assert_eq!(lots[1]["imported"], serde_json::json!({"file": "lots.csv", "row": 3}));
    let issues = shop.of_kind("rod.issued");
    assert_eq!(issues[0]["lot"]["lot"], lots[0]["lot"]);
    // +12:00 on 2026-04-07: New Zealand's daylight time had ended on 5 April.
    assert_eq!(
        issues[0]["at"],
        serde_json::json!({"from": "2026-04-06T18:10:00Z", "text": "2026-04-07 06:10",
        "to": "2026-04-06T18:10:00Z"})
    );
    assert_eq!(issues[0]["joints"].as_array().unwrap().len(), 2);
    let over = &shop.of_kind("rod.handed_over")[0];
    assert_eq!(over["lot"], lots[0]["lot"]);
    assert_eq!(over["from"], issues[0]["holder"]["person"]);
    assert_eq!(over["slip"]["slip"], issues[0]["slip"]);
    assert_eq!(over["closes"], true);
    let returns = shop.of_kind("rod.returned");
    assert_eq!((&returns[0]["closes"], &returns[0]["stubs"]), (&Value::from(false), &Value::from(4)));
    assert_eq!(returns[1]["lot"], lots[1]["lot"]);
    let welds = shop.of_kind("joint.welded");
    assert_eq!(welds[0]["slip"]["number"], "S-1");
    assert_eq!((&welds[1]["slip"], &welds[1]["filler"]), (&Value::Null, &Value::from(true)));
    let joints = shop.of_kind("joint.declared");
    assert_eq!(joints[0]["needed_mg"], 250_000);
    assert_eq!(joints[0]["wps"][0]["wps"], shop.of_kind("wps.declared")[0]["wps"]);
    let kinds: Vec<_> = shop.entries().iter().map(|e| e["kind"].as_str().unwrap().to_owned()).collect();
    let files = kinds.iter().position(|k| k == "files.imported").unwrap();
    assert_eq!(kinds[files + 1], "person.enrolled", "the files come first, then people");
    assert_eq!(kinds.iter().filter(|k| *k == "lot.released").count(), 2);
}

#[test]
fn every_bad_folder_is_refused_at_its_place_and_nothing_is_written() {
    let folders = folders("csv/bad");
    assert!(folders.len() >= 20);
    for folder in folders {
        let name = folder.file_name().unwrap().to_string_lossy().into_owned();
        let mut shop = Shop::new();
        let before = shop.lines();
        let error = shop.import(&folder).err().unwrap_or_else(|| panic!("{name} was taken"));
        assert_eq!(shop.lines(), before, "{name}");
        let found: Vec<String> = bad(error)
            .iter()
            .map(|b| {
                let column =
                    if b.column.is_empty() { String::new() } else { format!(" column {}", b.column) };
                format!("{} row {}{column}", b.file, b.row)
            })
            .collect();
        let expected = std::fs::read_to_string(folder.join("EXPECT.txt")).unwrap();
        assert_eq!(found, expected.lines().collect::<Vec<_>>(), "{name}");
        // And the book can still be written.
        shop.import(&fixtures().join("csv/good/minimal")).unwrap();
    }
}

#[test]
fn the_demo_shop_is_taken_whole() {
    let folder = fixtures().join("demo-shop");
    let mut shop = Shop::new();
    let mut last = BTreeMap::new();
    let done = shop
        .ledger
        .import(&acting("I-1"), &folder, false, &mut |p| {
            last.insert(p.file.clone(), (p.done, p.of));
        })
        .unwrap_or_else(|e| panic!("{:?}", bad(e)));
    let mut entries = 0;
    for file in &done.value.files {
        // Counted by another reader.
        let rows = csv::Reader::from_path(folder.join(&file.name)).unwrap().into_records().count() as u64;
        assert_eq!((file.rows, file.already_there), (rows, 0), "{}", file.name);
        assert_eq!(last[&file.name], (rows, rows), "progress of {}", file.name);
        let kind = match file.name.as_str() {
            "people.csv" => "person.enrolled",
            "qualifications.csv" => "welder.qualified",
            "wps.csv" => "wps.declared",
            "joints.csv" => "joint.declared",
            "lots.csv" => "lot.received",
            "issues.csv" => "rod.issued",
            "hand_overs.csv" => "rod.handed_over",
            "returns.csv" => "rod.returned",
            "welds.csv" => "joint.welded",
            "spot_checks.csv" => "mark.spot_checked",
            "scraps.csv" => "rod.scrapped",
            "found_wire.csv" => "wire.found_unmarked",
            other => panic!("{other}"),
        };
        let by_hand = u64::from(kind == "person.enrolled");
        assert_eq!(shop.of_kind(kind).len() as u64, rows + by_hand, "{kind}");
        entries += file.entries;
    }
    assert_eq!(done.value.files.len(), 12);
    assert!(shop.of_kind("lot.released").len() > 5);
    // The opening entry, the person of the opening, and the entry of the files.
    assert_eq!(shop.lines().len() as u64, entries + 3);
    shop.assert_sound();
}

#[test]
fn the_same_files_are_refused_a_second_time() {
    let folder = fixtures().join("csv/good/minimal");
    let mut shop = Shop::new();
    shop.import(&folder).unwrap();
    let before = shop.lines();
    let Err(Error::Refused(refusals)) = shop.import(&folder) else { panic!("taken a second time") };
    assert_eq!(refusals.len(), 12);
    assert_eq!(refusals[0].code, "file-imported-before");
    assert!(!refusals[0].may_override);
    assert!(
        refusals[0].message.contains("people.csv was imported before, on 2026-06-01 12:00 NZST"),
        "{refusals:?}"
    );
    assert!(refusals[0].next.iter().any(|n| n.contains("--again")));
    assert_eq!(shop.lines(), before);

    // What has an identity is there already; what has none is recorded a second time, as asked.
    let done = shop.again(&folder).unwrap().value;
    for (file, entries, already) in [
        ("people.csv", 0, 3),
        ("qualifications.csv", 0, 2),
        ("wps.csv", 0, 1),
        ("joints.csv", 0, 2),
        ("lots.csv", 0, 2),
        ("issues.csv", 0, 2),
        ("hand_overs.csv", 0, 1),
        ("returns.csv", 2, 0),
        ("welds.csv", 2, 0),
        ("spot_checks.csv", 1, 0),
        ("scraps.csv", 2, 0),
        ("found_wire.csv", 2, 0),
    ] {
        let found = count(&done, file);
        assert_eq!((found.entries, found.already_there), (entries, already), "{file}");
    }
    shop.assert_sound();
}

const PEOPLE: &str = "badge,name,roles\nA,Ada Ferrow,attendant\nW,Wim Torrel,welder\nV,Vera Lund,welder\n";
const LOTS: &str = "lot,maker,maker_lot,classification,size,form,received_at\n\
                    L-1,Tarvemire,M1,ER70S-2,3/32 in x 36 in,cut-length,2026-03-02\n\
                    L-2,Quennisford,M2,E7018,1/8 in x 14 in,covered,2026-03-02\n";
const JOINTS: &str = "joint\nJ-1\nJ-2\n";
const ISSUES: &str = "slip,lot,welder,issued_at\nS-1,L-1,W,2026-04-01 08:00\nS-2,L-2,W,2026-04-01 08:00\n";

fn base(shop: &mut Shop) {
    shop.take(
        "base",
        &[("people.csv", PEOPLE), ("lots.csv", LOTS), ("joints.csv", JOINTS), ("issues.csv", ISSUES)],
    );
}

#[test]
fn rows_that_the_book_has_are_not_recorded_twice_unless_asked() {
    let mut shop = Shop::new();
    base(&mut shop);
    let returns = "slip,quantity,returned_at\nS-1,2 rods,2026-04-01 10:00\n";
    let welds = "joint,welder,from,to\nJ-1,W,2026-04-01 08:30,2026-04-01 09:00\n";
    let checks = "joint,welder,at,legible,reads\nJ-1,W,2026-04-01 08:40,yes,70S-2\n";
    let scraps = "slip,lot,quantity,why,scrapped_at\nS-2,,1 rod,bent,2026-04-01 10:30\n,L-1,3 rods,rusted,2026-04-01\n";
    let found = "found_at,place,welder,joints\n2026-04-01 11:00,bench 2,W,J-1;J-2\n";
    shop.take(
        "first",
        &[
            ("returns.csv", returns),
            ("welds.csv", welds),
            ("spot_checks.csv", checks),
            ("scraps.csv", scraps),
            ("found_wire.csv", found),
        ],
    );
    // The same moments written otherwise, each file with one new row.
    let more = [
        (
            "returns.csv",
            "slip,quantity,returned_at\nS-1,1 rods,2026-04-01 10:00\nS-1,2 rods,2026-04-01T10:00:00+13:00\n",
        ),
        (
            "welds.csv",
            "joint,welder,from,to\nJ-2,W,2026-04-01 08:30,2026-04-01 09:00\nJ-1,W,2026-03-31T19:30:00Z,2026-04-01 09:00\n",
        ),
        (
            "spot_checks.csv",
            "joint,welder,at,legible,reads\nJ-1,W,2026-04-01 08:40,yes,70S-6\nJ-1,W,2026-04-01 08:40,yes,70S-2\n",
        ),
        (
            "scraps.csv",
            "slip,lot,quantity,why,scrapped_at\nS-2,,1 rod,burnt,2026-04-01 10:30\nS-2,,1 rod,bent,2026-03-31T21:30:00Z\n\
             ,M1,3 rods,rusted,2026-04-01\n",
        ),
        (
            "found_wire.csv",
            "found_at,place,welder,joints\n2026-04-01 11:00,bench 3,W,J-1;J-2\n2026-04-01 11:00,bench 2,W,J-1;J-2\n",
        ),
    ];
    let bad = shop.refuse("more", &more);
    let places = [
        "returns.csv row 3",
        "scraps.csv row 3",
        "scraps.csv row 4",
        "welds.csv row 3",
        "spot_checks.csv row 3",
        "found_wire.csv row 3",
    ];
    assert_eq!(bad.len(), places.len(), "{bad:?}");
    for (text, place) in bad.iter().zip(places) {
        assert!(text.starts_with(&format!("{place}: it is recorded already, as entry ")), "{text}");
        assert!(text.contains("--again"), "{text}");
    }
    let folder = shop.dir.path().join("more");
    let done = shop.again(&folder).unwrap().value;
    assert_eq!(done.files.iter().map(|f| f.entries).collect::<Vec<_>>(), [2, 3, 2, 2, 2]);
    shop.assert_sound();
}

#[test]
fn two_equal_rows_of_one_file_are_two_records() {
    let mut shop = Shop::new();
    base(&mut shop);
    let row = "S-1,1 rod,no,2026-04-01 10:00\n";
    let returns = format!("slip,quantity,closes,returned_at\n{row}{row}");
    let done = shop.take("twice", &[("returns.csv", &returns)]);
    assert_eq!(count(&done, "returns.csv").entries, 2);
    assert_eq!(done.warnings, ["returns.csv: row 3 is the same as an earlier row; each was recorded"]);
}

#[test]
fn descriptions_are_renewed_and_equal_ones_left_alone() {
    let mut shop = Shop::new();
    base(&mut shop);
    let done = shop.take(
        "newer",
        &[
            ("people.csv", "badge,name,roles\nA,Ada Ferrow,attendant;inspector\nW,Wim Torrel,welder\n"),
            ("joints.csv", "joint,job\nJ-1,\nJ-2,North\nJ-2,South\n"),
        ],
    );
    assert_eq!((count(&done, "people.csv").entries, count(&done, "people.csv").already_there), (1, 1));
    assert_eq!((count(&done, "joints.csv").entries, count(&done, "joints.csv").already_there), (2, 1));
    assert_eq!(
        done.warnings,
        ["joints.csv: row 4 is another description of a joint of an earlier row; the later one holds"]
    );
    let joints = shop.of_kind("joint.declared");
    assert_eq!(joints[1]["joint"], joints[3]["joint"], "the same joint");
    shop.assert_sound();
}

#[test]
fn lots_by_identity() {
    let mut shop = Shop::new();
    base(&mut shop);
    let head = "lot,maker,maker_lot,classification,size,form,quantity,received_at\n";
    // A further delivery of L-1; another lot of the code L-2.
    let lots = format!(
        "{head}L-1,Tarvemire,M1,ER70S-2,3/32 in x 36 in,cut-length,5 lb,2026-05-02\n\
         L-2,Ostrabeck,M9,E7018,1/8 in x 14 in,covered,5 lb,2026-05-02\n"
    );
    let done = shop.take("lots", &[("lots.csv", &lots)]);
    assert_eq!(done.warnings.len(), 1, "{:?}", done.warnings);
    assert!(done.warnings[0].contains("row 3: L-2 is the code of another lot too"), "{}", done.warnings[0]);
    let received = shop.of_kind("lot.received");
    assert_eq!(received[0]["lot"], received[2]["lot"]);
    assert_ne!(received[1]["lot"], received[3]["lot"]);

    let other_code = format!("{head}L-7,Tarvemire,M1,ER70S-2,3/32 in x 36 in,cut-length,5 lb,2026-05-02\n");
    let bad = shop.refuse("code", &[("lots.csv", &other_code)]);
    assert!(bad[0].starts_with("lots.csv row 2 column lot: \"L-7\"") && bad[0].contains("L-1"), "{bad:?}");

    let issue = |lot: &str| format!("slip,lot,welder,issued_at\nS-9,{lot},W,2026-05-03\n");
    let bad = shop.refuse("two", &[("issues.csv", &issue("L-2"))]);
    assert!(bad[0].contains("means several lots"), "{bad:?}");
    assert!(
        bad[0].contains("write Quennisford:L-2 for") && bad[0].contains("write Ostrabeck:L-2 for"),
        "{bad:?}"
    );
    shop.take("one", &[("issues.csv", &issue("Ostrabeck:L-2"))]);
    assert_eq!(shop.of_kind("rod.issued")[2]["lot"]["lot"], received[3]["lot"]);
    // By the maker's lot number too.
    shop.take("by-maker-lot", &[("issues.csv", "slip,lot,welder,issued_at\nS-10,M9,W,2026-05-03\n")]);
    assert_eq!(shop.of_kind("rod.issued")[3]["lot"]["lot"], received[3]["lot"]);
}

#[test]
fn a_label_that_means_one_lot_of_the_files_and_one_of_the_book_is_asked_about() {
    let mut shop = Shop::new();
    base(&mut shop);
    let bad = shop.refuse(
        "both",
        &[
            ("lots.csv", "lot,maker,maker_lot,classification,size,form,received_at\nN-1,Ostrabeck,L-1,E7018,1/8 in,covered,2026-05-02\n"),
            ("issues.csv", "slip,lot,welder,issued_at\nS-9,L-1,W,2026-05-03\n"),
        ],
    );
    assert_eq!(bad.len(), 1, "{bad:?}");
    assert!(bad[0].contains("write Tarvemire:L-1 for") && bad[0].contains("write N-1 for"), "{bad:?}");
}

#[test]
fn a_release_that_comes_later_is_added_to_a_receipt_that_is_there() {
    let mut shop = Shop::new();
    base(&mut shop);
    let lots = LOTS
        .replace("received_at\n", "received_at,released_at\n")
        .replace("2026-03-02\n", "2026-03-02,2026-03-03\n");
    let done = shop.take("released", &[("lots.csv", &lots)]);
    assert_eq!((count(&done, "lots.csv").entries, count(&done, "lots.csv").already_there), (2, 0));
    assert_eq!(shop.of_kind("lot.received").len(), 2);
    let folder = shop.dir.path().join("released");
    assert_eq!(count(&shop.again(&folder).unwrap().value, "lots.csv").already_there, 2);
}

#[test]
fn hand_overs_in_any_order() {
    let mut shop = Shop::new();
    base(&mut shop);
    let over = "slip,new_slip,to_welder,at\nT-2,T-3,W,2026-04-01 12:00\nT-1,T-2,V,2026-04-01 11:00\nS-1,T-1,V,2026-04-01 10:00\n";
    let done = shop.take("over", &[("hand_overs.csv", over)]);
    assert_eq!(count(&done, "hand_overs.csv").entries, 3);
    let entries = shop.of_kind("rod.handed_over");
    let news: Vec<_> = entries.iter().map(|e| e["new_slip"]["number"].as_str().unwrap()).collect();
    assert_eq!(news, ["T-1", "T-2", "T-3"], "never a slip before the one it comes from");
    let lot = &shop.of_kind("rod.issued")[0]["lot"]["lot"];
    assert!(entries.iter().all(|e| e["lot"] == *lot));
    assert_eq!(entries[1]["from"], entries[0]["to"]["person"]);
    assert_eq!(entries[2]["imported"]["row"], 2);
    shop.assert_sound();
    // Its end can be imported later, naming a slip of the book.
    shop.take("back", &[("returns.csv", "slip,returned_at\nT-3,2026-04-02\n")]);
    assert_eq!(shop.of_kind("rod.returned")[0]["lot"], *lot);
}

#[test]
fn hand_overs_that_lead_nowhere() {
    let mut shop = Shop::new();
    base(&mut shop);
    let head = "slip,new_slip,to_welder,at\n";
    let rows = "A1,A2,W,2026-04-01\nA2,A1,V,2026-04-01\nA2,A3,V,2026-04-01\nX9,B1,V,2026-04-01\nB1,B2,V,2026-04-01\n\
                C1,C1,V,2026-04-01\nS-1,S-2,V,2026-04-01\nS-1,D1,V,2026-04-01\nS-1,D1,V,2026-04-01\n";
    let bad = shop.refuse("over", &[("hand_overs.csv", &format!("{head}{rows}"))]);
    let starts = [
        "hand_overs.csv row 2 column slip: \"A1\": the slips of these rows come from each other in a circle",
        "hand_overs.csv row 3 column slip: \"A2\": the slips of these rows come from each other in a circle",
        "hand_overs.csv row 5 column slip: \"X9\": neither issues.csv or hand_overs.csv nor the book has a slip",
        "hand_overs.csv row 7 column new_slip: \"C1\": the new slip has the number of the slip it comes from",
        "hand_overs.csv row 8 column new_slip: \"S-2\": the book has a slip of this number",
        "hand_overs.csv row 10 column new_slip: \"D1\": the number of this slip is given to an earlier row",
    ];
    assert_eq!(bad.len(), starts.len(), "{bad:#?}");
    for (bad, start) in bad.iter().zip(starts) {
        assert!(bad.starts_with(start), "{bad}\n{start}");
    }
}

/// An amount that is left out is all that was left on the slip; one that nobody knows leaves the slip open.
#[test]
fn scraps_close_a_slip_when_everything_is_gone() {
    let mut shop = Shop::new();
    shop.take("base", &[("people.csv", PEOPLE), ("lots.csv", LOTS), ("joints.csv", JOINTS)]);
    shop.take(
        "day",
        &[
            (
                "issues.csv",
                "slip,lot,welder,quantity,issued_at\nS-1,L-1,W,6 rods,2026-04-01 08:00\nS-2,L-1,W,6 rods,2026-04-01 08:00\n\
                 S-3,L-1,W,6 rods,2026-04-01 08:00\nS-4,L-1,W,6 rods,2026-04-01 08:00\n",
            ),
            (
                "scraps.csv",
                "slip,quantity,why,scrapped_at,by\nS-1,,fell into the pit,2026-04-01 09:00,A\nS-2,unknown,,2026-04-01 09:00,\n\
                 S-3,6 rods,\"bent\nand wet\",2026-04-01 09:00,A\nS-4,5 rods,n/a,2026-04-01 09:00,A\n",
            ),
        ],
    );
    let closed = |shop: &Shop, slip: &str| {
        shop.ledger.ask(|reading| Ok(reading.find_slip(slip)?.custody.to.is_some())).unwrap()
    };
    assert!(closed(&shop, "S-1") && !closed(&shop, "S-2") && closed(&shop, "S-3") && !closed(&shop, "S-4"));
    let scraps = shop.of_kind("rod.scrapped");
    assert_eq!((&scraps[0]["slip"]["closes"], &scraps[0]["quantity"]), (&Value::from(true), &Value::Null));
    assert_eq!(scraps[1]["quantity"]["no_value"], "unknown");
    assert_eq!((&scraps[2]["why"], &scraps[3]["why"]), (&Value::from("bent\nand wet"), &Value::from("n/a")));
    assert_eq!(scraps[0]["lot"]["lot"], shop.of_kind("lot.received")[0]["lot"]);
    assert_eq!(scraps[0]["slip"]["holder"], shop.of_kind("rod.issued")[0]["holder"]["person"]);
    shop.assert_sound();
}

/// A joint that was renumbered keeps its newest number when a file names it by the one before.
#[test]
fn a_renumbered_joint_keeps_its_newest_number() {
    let mut shop = Shop::new();
    base(&mut shop);
    let request = ledger::tell::declare::JointRequest {
        number: "J-1A".into(),
        renumbers: Some("J-1".into()),
        ..Default::default()
    };
    shop.ledger.declare_joint(&acting("A"), &request).unwrap();
    let before = shop.lines().len();
    let done = shop.take("same", &[("joints.csv", "joint,job\nJ-1,\nJ-2,J7\n")]);
    assert_eq!((count(&done, "joints.csv").already_there, count(&done, "joints.csv").entries), (1, 1));
    shop.take("new", &[("joints.csv", "joint,job\nJ-1,J9\n")]);
    // One entry each for the files, one for each joint that changed.
    assert_eq!(shop.lines().len(), before + 4);
    let joints = shop.of_kind("joint.declared");
    let last = joints.last().unwrap();
    assert_eq!((&last["number"], &last["job"]), (&Value::from("J-1A"), &Value::from("J9")));
    assert_eq!(last["joint"], joints[0]["joint"]);
    shop.assert_sound();
}

#[test]
fn every_bad_cell_of_every_file_is_reported() {
    let mut shop = Shop::new();
    let bad = shop.refuse(
        "all",
        &[
            ("people.csv", "badge,name,roles\nW,Wim Torrel,welder;boss\n,Vera Lund,\n"),
            ("qualifications.csv", "welder,backing,qualified_on\nW,half,2025-13-01\n"),
            ("joints.csv", "joint,wps,needed_g\nJ-1,WPS-1,-4\n"),
            ("lots.csv", "lot,maker,maker_lot,classification,size,form,piece_g,received_at\nL-1,T,M,E7018,3.2,stick,0,\n"),
            ("issues.csv", "slip,lot,welder,quantity,issued_at\nS-1,L-1,W,2.5 rods,\n"),
            ("returns.csv", "slip,stubs,condition,closes,returned_at\nS-1,-1,fine,perhaps,2026-04-01\n"),
            ("welds.csv", "joint,filler,welder,slip,from\nJ-9,no,X,S-1,yesterday\n"),
            ("spot_checks.csv", "joint,welder,at,legible\nJ-1,W,2026-04-01,\n"),
            ("scraps.csv", "slip,lot,quantity,why,scrapped_at\n,L-7,-1 rod,a\u{202E}b,soon\nS-7,,,,2026-04-01\n"),
            ("found_wire.csv", "found_at,place,by,welder,quantity,joints\n,,Z,Y,some,J-9\n"),
        ],
    );
    let places: Vec<_> = bad.iter().map(|b| b.split(':').next().unwrap()).collect();
    assert_eq!(
        places,
        [
            "people.csv row 2 column roles",
            "people.csv row 3 column badge",
            "qualifications.csv row 2 column backing",
            "qualifications.csv row 2 column qualified_on",
            "joints.csv row 2 column wps",
            "joints.csv row 2 column needed_g",
            "lots.csv row 2 column size",
            "lots.csv row 2 column form",
            "lots.csv row 2 column piece_g",
            "lots.csv row 2 column received_at",
            "issues.csv row 2 column quantity",
            "issues.csv row 2 column issued_at",
            "returns.csv row 2 column stubs",
            "returns.csv row 2 column condition",
            "returns.csv row 2 column closes",
            "scraps.csv row 2 column lot",
            "scraps.csv row 2 column quantity",
            "scraps.csv row 2 column why",
            "scraps.csv row 2 column scrapped_at",
            "scraps.csv row 3 column slip",
            "welds.csv row 2 column joint",
            "welds.csv row 2 column filler",
            "welds.csv row 2 column welder",
            "welds.csv row 2 column from",
            "spot_checks.csv row 2 column legible",
            "found_wire.csv row 2 column found_at",
            "found_wire.csv row 2 column place",
            "found_wire.csv row 2 column by",
            "found_wire.csv row 2 column welder",
            "found_wire.csv row 2 column quantity",
            "found_wire.csv row 2 column joints",
        ],
        "{bad:#?}"
    );
}

#[test]
fn near_labels_are_shown_and_a_broken_file_is_not_blamed_on_others() {
    let mut shop = Shop::new();
    base(&mut shop);
    let bad = shop.refuse("near", &[("issues.csv", "slip,lot,welder,issued_at\nS-3,L-l,W,2026-04-02\n")]);
    assert!(bad[0].contains("neither lots.csv nor the book has a lot \"L-l\"; near it: L-1"), "{bad:?}");
    let bad = shop.refuse(
        "broken",
        &[
            ("lots.csv", "lot,maker\nL-8,T\n"),
            ("issues.csv", "slip,lot,welder,issued_at\nS-3,L-8,W,2026-04-02\n"),
        ],
    );
    assert!(bad.iter().all(|b| b.starts_with("lots.csv row 1 column")), "{bad:?}");
}

#[test]
fn many_wrong_labels_are_refused_in_a_moment_and_cut_off() {
    let mut shop = Shop::new();
    base(&mut shop);
    let mut returns = String::from("slip,returned_at\n");
    for n in 0..50_000 {
        returns.push_str(&format!("X-{n},2026-04-02\n"));
    }
    let bad = shop.refuse("many", &[("returns.csv", &returns)]);
    assert_eq!(bad.len(), 1_001);
    assert!(bad[1_000].contains("and 49000 more"), "{}", bad[1_000]);
}

#[test]
fn a_large_history_makes_a_book_like_any_other() {
    let schema = |shop: &Shop| -> Vec<(String, Option<String>)> {
        let conn = rusqlite::Connection::open(shop.ledger.path()).unwrap();
        let sound: String = conn.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
        assert_eq!(sound, "ok");
        let mut statement = conn.prepare("SELECT name, sql FROM sqlite_schema ORDER BY name").unwrap();
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect()
    };
    let mut shop = Shop::new();
    let fresh = schema(&shop);
    let mut issues = String::from(ISSUES);
    let mut returns = String::from("slip,quantity,returned_at\n");
    for n in 0..12_000 {
        issues.push_str(&format!("T-{n},L-{},W,2026-04-01 08:00\n", n % 2 + 1));
        returns.push_str(&format!("T-{n},1 rod,2026-04-01 {:02}:{:02}\n", 9 + n % 7, n % 60));
    }
    let files = [
        ("people.csv", PEOPLE),
        ("lots.csv", LOTS),
        ("joints.csv", JOINTS),
        ("issues.csv", &issues),
        ("returns.csv", &returns),
    ];
    let done = shop.take("large", &files);
    assert_eq!((count(&done, "issues.csv").entries, count(&done, "returns.csv").entries), (12_002, 12_000));
    assert_eq!(schema(&shop), fresh);
    shop.assert_sound();
    let rows: Vec<u64> =
        shop.of_kind("rod.returned").iter().map(|r| r["imported"]["row"].as_u64().unwrap()).collect();
    assert!(rows.iter().copied().eq(2..12_002), "in row order");
    // One bad row at the very end, and all of it is as it was.
    let mut shop = Shop::new();
    let returns = returns.clone() + "T-1,1 rod,tomorrow\n";
    let files = [files[0], files[1], files[2], files[3], ("returns.csv", &returns)];
    assert_eq!(shop.refuse("large", &files).len(), 1);
    assert_eq!(schema(&shop), fresh);
}

#[test]
fn a_dry_run_counts_and_writes_nothing() {
    let mut shop = Shop::new();
    let before = shop.lines();
    let acting = Acting { dry_run: true, ..acting("A-1") };
    let folder = fixtures().join("csv/good/minimal");
    let done = shop.ledger.import(&acting, &folder, false, &mut |_| {}).unwrap();
    assert!(done.dry_run);
    assert_eq!(count(&done.value, "lots.csv").entries, 4);
    assert_eq!(shop.lines(), before);
    // Nothing is in the way of doing it.
    shop.import(&folder).unwrap();
}

#[test]
fn who_acts() {
    let folder = fixtures().join("csv/good/minimal");
    let mut shop = Shop::new();
    let Err(Error::NotUnderstood { message, next }) =
        shop.ledger.import(&acting(""), &folder, false, &mut |_| {})
    else {
        panic!("nobody acted")
    };
    assert!(message.contains("nobody") && next.contains("--by"), "{message} {next}");
    // A badge of the files is the person of the files; a badge of nobody is kept as typed.
    shop.ledger.import(&acting("A-1"), &folder, false, &mut |_| {}).unwrap();
    let entries = shop.entries();
    let a1 = entries.iter().find(|e| e["body"]["badge"] == "A-1").unwrap();
    let files = entries.iter().find(|e| e["kind"] == "files.imported").unwrap();
    assert_eq!((&files["by"], &files["person"]), (&Value::from("A-1"), &a1["body"]["person"]));
    let mut shop = Shop::new();
    shop.ledger.import(&acting("Z-9"), &folder, false, &mut |_| {}).unwrap();
    let last = shop.entries().pop().unwrap();
    assert_eq!((&last["by"], &last["person"]), (&Value::from("Z-9"), &Value::from("")));
}

#[test]
fn a_weld_date_lasts_to_the_end_of_the_last_shift() {
    let mut shop = Shop::new();
    base(&mut shop);
    let shifts = [record::time::Shift::parse("22:00-06:00").unwrap()];
    shop.ledger.declare_shifts(&acting("I-1"), &shifts).unwrap();
    shop.take("weld", &[("welds.csv", "joint,welder,from\nJ-1,W,2026-06-01\n")]);
    // 06:00 on 2 June in New Zealand, +12:00.
    assert_eq!(shop.of_kind("joint.welded")[0]["from"]["to"], "2026-06-01T18:00:00Z");
}

#[test]
fn one_file_by_its_name_and_files_without_rows() {
    let mut shop = Shop::new();
    let folder = shop.folder("f", &[("people.csv", PEOPLE), ("welds.csv", "joint,welder,from\n")]);
    let done = shop.import(&folder.join("people.csv")).unwrap().value;
    assert_eq!(done.files.len(), 1);
    // people.csv was imported; welds.csv has no rows, so it is not taken for an earlier import of itself.
    std::fs::remove_file(folder.join("people.csv")).unwrap();
    shop.import(&folder).unwrap();
    shop.import(&folder).unwrap();
}

const NAMES: [&str; 12] = [
    "people.csv",
    "qualifications.csv",
    "wps.csv",
    "joints.csv",
    "lots.csv",
    "issues.csv",
    "hand_overs.csv",
    "returns.csv",
    "welds.csv",
    "spot_checks.csv",
    "scraps.csv",
    "found_wire.csv",
];

/// Bytes that are anything, or a good file with some of its bytes changed.
fn hostile() -> impl Strategy<Value = Vec<(usize, Vec<u8>)>> {
    let anything = (0..NAMES.len(), prop::collection::vec(any::<u8>(), 0..200));
    let good = (0..NAMES.len(), prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..4))
        .prop_map(|(file, changes)| {
            let path = fixtures().join("csv/good/minimal").join(NAMES[file]);
            let mut bytes = std::fs::read(path).unwrap();
            for (at, byte) in changes {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
            (file, bytes)
        });
    prop::collection::vec(prop_oneof![1 => anything, 4 => good], 1..10)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]
    #[test]
    fn no_bytes_panic_and_an_error_writes_nothing(files in hostile()) {
        let mut shop = Shop::new();
        let before = shop.lines();
        let folder = shop.folder("hostile", &[]);
        for (file, bytes) in &files {
            std::fs::write(folder.join(NAMES[*file]), bytes).unwrap();
        }
        match shop.import(&folder) {
            Ok(done) => {
                let made: u64 = done.value.files.iter().map(|f| f.entries).sum();
                prop_assert_eq!(shop.lines().len() as u64, before.len() as u64 + made + 1);
                shop.assert_sound();
            }
            Err(_) => prop_assert_eq!(shop.lines(), before),
        }
    }
}
