//! What leaves the shop: the auditor's list, its manifest, the record.

use crate::shop::{Shop, root, snapshot};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

/// The columns that other programs rely on, in their order.
const COLUMNS: &str = "job,joint,cycle,pass,drawing,drawing_revision,wps,wps_revision,process,welder,welded_from,welded_to,spec,\
classification,size,form,maker,maker_lot,heats,lot,certificate,certificate_type,slip,issued_at,returned_at,certainty,of,\
named_lot,named_slip,least_g,most_g,mark,late_entry,entry,findings,finding_codes,struck";

#[test]
fn lot_joint() {
    let shop = Shop::worked();
    snapshot!(
        "export-lot-joint",
        shop.session(&[
            "export lot-joint",
            "export lot-joint --names --out names.csv --manifest manifest.json",
            "export lot-joint --for spreadsheet",
            "export lot-joint --out nowhere/list.csv",
            "export lot-joint --for printing",
        ])
    );
    snapshot!("export-manifest", shop.mask(&shop.read("manifest.json")));
    let list = shop.ok("export lot-joint");
    assert_eq!(list.stdout.lines().next(), Some(COLUMNS));
    let (header, rows) = list.csv();
    // M-101 has two weld records of one source each, M-102 has none and a line of its own.
    assert_eq!(rows.len(), 3);
    let at = |column: &str| header.iter().position(|c| c == column).unwrap();
    assert_eq!(rows[0][at("lot")], "R-1028");
    assert_eq!(rows[0][at("late_entry")], "yes", "written months after it happened");
    assert_eq!((rows[2][at("joint")].as_str(), rows[2][at("entry")].as_str()), ("M-102", ""));
    let manifest: Value = serde_json::from_str(&shop.read("manifest.json")).unwrap();
    assert_eq!(manifest["rows"], 3);
    assert_eq!(manifest["sha256"], hex::encode(Sha256::digest(shop.read("names.csv"))));
    assert_eq!(manifest["stations"][0]["entries"], shop.count());
}

#[test]
fn lot_joint_of_an_empty_book() {
    let shop = Shop::new();
    assert_eq!(shop.ok("export lot-joint").stdout, format!("{COLUMNS}\r\n"));
    let answer = shop.json("export lot-joint --out list.csv");
    assert_eq!((&answer["schema"], &answer["rows"]), (&"rodbook-export/1".into(), &0.into()));
    assert_eq!(answer["sha256"], hex::encode(Sha256::digest(shop.read("list.csv"))));
}

/// The same bytes on any machine: whatever zone and language it has, and however often it is asked.
#[test]
fn the_list_is_the_same_bytes_anywhere() {
    let shop = Shop::new();
    shop.fixture("demo-shop", "slips");
    let _ = shop.ok("import slips --by A-01");
    let first = shop.ok("export lot-joint --names").stdout;
    assert!(first.lines().count() > 500);
    for (zone, language) in
        [("UTC", "C"), ("Pacific/Chatham", "de_DE.UTF-8"), ("America/St_Johns", "tr_TR.UTF-8")]
    {
        let done = shop
            .command()
            .envs([("TZ", zone), ("LC_ALL", language), ("LANG", language), ("COLUMNS", "40")])
            .args(["export", "lot-joint", "--names"])
            .output()
            .unwrap();
        assert_eq!(String::from_utf8(done.stdout).unwrap(), first, "{zone} {language}");
    }
    let _ = shop.ok("rebuild");
    assert_eq!(shop.ok("export lot-joint --names").stdout, first, "rebuilt");
}

/// Numbers that a spreadsheet would turn into other things are marked as text, and only in the form made for it.
#[test]
fn numbers_that_a_spreadsheet_would_change() {
    let shop = Shop::new();
    shop.write("slips/people.csv", "badge,name,roles\nW-1,=1+1,welder\n");
    shop.write("slips/joints.csv", "joint,job\n2-3,@SUM(A1)\n");
    shop.write(
        "slips/lots.csv",
        "lot,maker,maker_lot,heats,classification,size,form,quantity,certificate,received_at\n\
         004417,+Maker,7E210,12-5;7E2,ER70S-2,3/32 in x 36 in,cut-length,1 lb,-9,2026-03-02 09:00\n",
    );
    shop.write(
        "slips/issues.csv",
        "slip,lot,welder,quantity,issued_at\n0001,004417,W-1,5 rods,2026-03-04 06:10\n",
    );
    shop.write("slips/welds.csv", "joint,welder,process,from\n2-3,W-1,GTAW,2026-03-04 06:40\n");
    let _ = shop.ok("import slips --by A-1");
    let (header, rows) = shop.ok("export lot-joint --names").csv();
    let cell = |column: &str| rows[0][header.iter().position(|c| c == column).unwrap()].clone();
    assert_eq!(
        [cell("joint"), cell("lot"), cell("maker_lot"), cell("slip"), cell("job"), cell("maker")],
        ["2-3", "004417", "7E210", "0001", "@SUM(A1)", "+Maker"],
        "the exchange form is exact"
    );
    let sheet = shop.ok("export lot-joint --names --for spreadsheet").stdout;
    let sheet = sheet.trim_start_matches('\u{FEFF}');
    let mut reader = csv::Reader::from_reader(sheet.as_bytes());
    let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let row: Vec<String> = reader.records().next().unwrap().unwrap().iter().map(str::to_owned).collect();
    assert!(header[0].starts_with("spreadsheet_form"), "{header:?}");
    for column in ["joint", "lot", "maker_lot", "slip", "job", "maker", "certificate", "welder_name"] {
        let at = header.iter().position(|c| c == column).unwrap();
        assert!(row[at].starts_with('\''), "{column}: {:?}", row[at]);
        assert!(row[0].contains(column), "{column} is named in {:?}", row[0]);
    }
}

#[test]
fn record() {
    let shop = Shop::worked();
    snapshot!(
        "export-record",
        shop.session(&[
            "export record --out record.jsonl --checkpoints notes.txt",
            "export record --out nowhere/record.jsonl"
        ])
    );
    let text = shop.read("record.jsonl");
    assert_eq!(text, shop.ok("export record").stdout, "standard output has the same bytes");
    assert!(text.ends_with('\n'));
    for (n, entry) in shop.entries().iter().enumerate() {
        assert_eq!(entry["seq"], n);
    }
    let notes = shop.read("notes.txt");
    assert!(notes.starts_with("rodbook/"), "{notes}");
    assert!(!text.contains("Oldervane"), "no name of a person is in the record");
    assert!(!root().join("record.jsonl").exists());
}

/// `-` is standard output, for every file that is written.
#[test]
fn a_dash_is_standard_output() {
    let shop = Shop::worked();
    assert!(shop.ok("export record --out record.jsonl --checkpoints -").stdout.contains("\u{2014} rodbook/"));
    assert!(shop.ok("export lot-joint --out list.csv --manifest -").stdout.contains("rodbook-manifest/1"));
}
