//! Readings of metal in the record: what they contradict, what they never narrow, and the lots they are compared among.

use crate::shop::{Shop, snapshot};
use serde_json::{Value, json};

/// A rod of ER70S-2, and one of ER70S-6, as an instrument that prints two sigma reads them (constructed).
const S2: &str = "--reading Mn=1.15/0.06,Si=0.55/0.10,Ti=0.09/0.02,Zr=0.05/0.02,Cu=0.18/0.04 --k 2 --method xrf --surface abraded";
const S6: &str = "--reading Mn=1.75/0.06,Si=0.95/0.10,Ti=0.01/0.01,Zr=0.00/0.01,Cu=0.14/0.04 --k 2 --method xrf --surface abraded";

/// W-12 welded the root of M-102 with ER70S-2 in hand.
fn shop() -> Shop {
    let shop = Shop::worked();
    let _ = shop.ok(
        "weld M-102 W-12 --pass root --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --mark read --by A-01",
    );
    shop
}

fn root(shop: &Shop) -> Value {
    shop.json("trace joint M-102")["welds"][0].clone()
}

#[test]
fn on_the_page() {
    let shop = shop();
    snapshot!(
        "reading",
        shop.session(&[
            &format!("reading --joint M-102 --welder W-12 {S6} --at '2026-04-07 10:30' --by I-21"),
            &format!("reading --joint M-102 --welder W-12 {S2} --at '2026-04-07 12:30' --by I-21"),
            &format!("reading --lot R-1028 {S2} --by A-01"),
            &format!("reading --slip S-00001 {S6} --by A-01"),
            "reading --weld-metal M-102 --reading Cr=0.9/0.1 --k 2 --by I-21",
            &format!("reading --lot R-1040 {S2} --by A-01"),
            "trace joint M-102",
        ])
    );
    shop.is_sound();
}

#[test]
fn a_reading_that_rejects_every_source_contradicts() {
    let shop = shop();
    assert_eq!(root(&shop)["certainty"], "by-custody");
    let before = root(&shop);
    // One that fits changes nothing but the list of readings.
    let _ = shop.ok(&format!("reading --joint M-102 --welder W-12 {S2} --at '2026-04-07 10:20' --by I-21"));
    assert_eq!(root(&shop)["certainty"], "by-custody");
    let read =
        shop.json(&format!("reading --joint M-102 --welder W-12 {S6} --at '2026-04-07 10:30' --by I-21"));
    assert!(read["rejected"].as_array().unwrap().contains(&json!("A5.18 ER70S-2")));
    let after = root(&shop);
    assert_eq!(after["certainty"], "contradicted");
    assert_eq!(after["sources"], before["sources"], "no source goes");
    assert_eq!(after["readings"].as_array().unwrap().len(), 2);
    assert_eq!(after["readings"][1]["contradicts"], json!(["S-00001"]));
    let findings = shop.json("findings");
    let codes: Vec<&str> =
        findings["findings"].as_array().unwrap().iter().map(|f| f["code"].as_str().unwrap()).collect();
    assert!(codes.contains(&"contradicted-source"), "{codes:?}");
    let (heading, rows) = shop.ok("export lot-joint --format csv").csv();
    let certainty = heading.iter().position(|h| h == "certainty").unwrap();
    let joint = heading.iter().position(|h| h == "joint").unwrap();
    assert!(rows.iter().any(|row| row[joint] == "M-102" && row[certainty] == "contradicted"));
    // Voided, it was never read.
    let _ =
        shop.ok(&format!("void {} --why 'wrong rod' --by I-21", read["entries"][0]["id"].as_str().unwrap()));
    assert_eq!(root(&shop)["certainty"], "by-custody");
    shop.is_sound();
}

#[test]
fn a_reading_of_a_slip_or_lot_speaks_of_that_source_alone() {
    let shop = shop();
    let _ = shop.ok("issue R-1082 W-12 '10 rods' --at '2026-04-07 09:30' --by A-01");
    let lots = |weld: &Value| weld["lots"].as_array().unwrap().len();
    let weld = root(&shop);
    assert_eq!((weld["certainty"].as_str().unwrap(), lots(&weld)), ("one-of", 2));
    let _ = shop.ok(&format!("reading --lot R-1028 {S6} --by A-01"));
    let weld = root(&shop);
    assert_eq!((weld["certainty"].as_str().unwrap(), lots(&weld)), ("one-of", 2), "never narrow");
    let slip = weld["sources"][1]["slip"].as_str().unwrap().to_owned();
    let _ = shop.ok(&format!("reading --slip {slip} {S2} --by A-01"));
    assert_eq!(root(&shop)["certainty"], "contradicted", "each source is rejected by a reading of its own");
    shop.is_sound();
}

#[test]
fn weld_metal_is_held_against_no_class() {
    let shop = shop();
    let read = shop.json("reading --weld-metal M-102 --reading Cr=18.0/0.2 --k 2 --by I-21");
    assert_eq!(read["rejected"], json!([]));
    assert_eq!(root(&shop)["certainty"], "by-custody");
    assert_eq!(shop.json("trace joint M-102")["weld_metal"].as_array().unwrap().len(), 1);
}

#[test]
fn coating_on_a_rod_contradicts_nothing() {
    let shop = shop();
    let read = shop.json(
        "reading --joint M-102 --welder W-12 --reading Mn=1.15/0.1,Cu=1.9/0.2 --k 2 --surface as-received \
         --at '2026-04-07 10:30' --by I-21",
    );
    assert!(!read["rejected"].as_array().unwrap().contains(&json!("A5.18 ER70S-2")));
    assert_eq!(root(&shop)["certainty"], "by-custody");
}

#[test]
fn found_wire_is_looked_for_among_the_lots_that_its_welder_held() {
    let shop = shop();
    let found = shop.json(
        "unmarked --at-place 'bay 3, bench 2' --welder W-12 --quantity '2 rods' --at '2026-04-07 12:00' --by I-21",
    );
    let find = found["entries"][0]["id"].as_str().unwrap().to_owned();
    let _ = shop.ok(&format!("reading --found {find} {S2} --by I-21"));
    let answer = shop.json(&format!("identify {S2} --among-found {find}"));
    let among = answer["among"].as_array().unwrap();
    assert_eq!(among.len(), 1);
    assert_eq!(among[0]["lot"], "R-1028");
    assert_eq!(among[0]["class_evidence"]["verdict"], "consistent");
    assert_eq!(among[0]["custody_evidence"].as_array().unwrap().len(), 1);
    let not_a_find = shop
        .run(&format!("reading --found {} {S2} --by I-21", shop.entries()[0]["id"].as_str().unwrap_or("0")));
    assert_ne!(not_a_find.code, Some(0));
}

#[test]
fn two_lots_of_one_class_are_told_apart_by_their_certificates_or_not_at_all() {
    let shop = shop();
    let tie = shop.json(&format!("identify {S2} --among R-1028 R-1031"));
    assert!(tie["conclusion"].as_str().unwrap().starts_with("A tie"), "{}", tie["conclusion"]);
    let full = "P=0.010,S=0.012,Ni=0.02,Cr=0.03,Mo=0.01,V=0.004,Al=0.08,C=0.05";
    for (lot, number, values) in [
        ("R-1028", "TW-26-0388", "Mn=1.15,Si=0.55,Ti=0.09,Zr=0.05,Cu=0.18"),
        ("R-1031", "OM-118", "Mn=1.35,Si=0.66,Ti=0.13,Zr=0.09,Cu=0.35"),
    ] {
        let _ = shop.ok(&format!("cert values {number} --lot {lot} --analysis {values},{full} --by A-01"));
    }
    let told = shop.json(&format!("identify {S2} --among R-1031 R-1028"));
    assert_eq!(told["among"][0]["lot"], "R-1028", "the nearest certificate first");
    assert!(told["conclusion"].as_str().unwrap().contains("R-1028 is ahead"), "{}", told["conclusion"]);
    snapshot!("identify-among", shop.shown(&format!("identify {S2} --among R-1031 R-1028 R-1082 R-1040")));
}

#[test]
fn a_reading_without_its_coverage_factor_is_refused() {
    let shop = shop();
    let before = shop.state();
    let refused = shop.run("reading --lot R-1028 --reading Mn=1.15/0.06 --by A-01");
    assert_eq!(refused.code, Some(2));
    assert!(refused.stderr.contains("--k"), "{}", refused.stderr);
    for bad in [
        "Mn=1.15",
        "Mn=1,15/0.1",
        "Mn=101/0.1",
        "Mn=-1/0.1",
        "Xx=1/0.1",
        "Mn=1/0.1,Mn=1/0.1",
        "Mn=tr/0.1",
        "Mn=1/0",
    ] {
        let refused = shop.run(&format!("reading --lot R-1028 --reading {bad} --k 2 --by A-01"));
        assert_eq!(refused.code, Some(2), "{bad}: {}", refused.stdout);
    }
    assert_eq!(shop.state(), before);
}

#[test]
fn readings_stand_on_the_pages_of_what_was_read() {
    let shop = shop();
    let found = shop.json(
        "unmarked --at-place 'bay 3, bench 2' --welder W-12 --quantity '2 rods' --at '2026-04-07 12:00' --by I-21",
    );
    let find = found["entries"][0]["id"].as_str().unwrap().to_owned();
    let _ = shop.ok(&format!("reading --found {find} {S6} --by I-21"));
    let finding = found["finding"]["id"].as_str().unwrap();
    let at_risk = shop.ok(&format!("findings --at-risk {finding}")).stdout;
    assert!(at_risk.contains("Readings of the wire") && at_risk.contains("Mn 1.75"), "{at_risk}");
    let _ = shop.ok(&format!("reading --lot R-1028 {S2} --by A-01"));
    let _ = shop.ok("cert values TW-26-0388 --lot R-1028 --analysis C=0.05,Mn=1.15 --by A-01");
    let lot = shop.ok("trace lot R-1028").stdout;
    assert!(lot.contains("reading of its metal") && lot.contains("Mn 1.15"), "{lot}");
    assert!(lot.contains("certificate TW-26-0388 checked: incomplete"), "{lot}");
    let _ = shop.ok(&format!("reading --slip S-00001 {S2} --by A-01"));
    let slip = shop.ok("slip S-00001").stdout;
    assert!(slip.contains("Readings of its metal"), "{slip}");
}
