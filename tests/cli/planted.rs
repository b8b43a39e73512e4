//! What was planted in the demo shop is found, exactly; in the quiet shop nothing is.
//!
//! `fixtures/demo-shop/planted.csv` is made by the generator of the shop, which works out all findings by itself, in
//! another way, and knows nothing of the program.

use crate::shop::{Shop, root};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// A book with the files of a fixture shop.
pub(crate) fn imported(folder: &str) -> Shop {
    let shop = Shop::empty();
    shop.init();
    let _ = shop.ok(&format!("import {} --by I-21", root().join("fixtures").join(folder).display()));
    shop
}

/// Where each entry came from, `file.csv:row`, by its id.
fn rows(shop: &Shop) -> BTreeMap<String, String> {
    let _ = shop.ok("export record --out record.jsonl");
    let ids = shop.ok("findings --all --format csv").stdout;
    assert!(ids.starts_with("id,code,"));
    let mut rows = BTreeMap::new();
    for line in shop.read("record.jsonl").lines() {
        let entry: Value = serde_json::from_str(line).unwrap();
        let from = &entry["body"]["imported"];
        if from.is_object() {
            let id = record::entry::id(line.as_bytes()).to_string();
            rows.insert(id, format!("{}:{}", from["file"].as_str().unwrap(), from["row"]));
        }
    }
    rows
}

type Told = (String, String, String, String, String, String, String);

fn found(shop: &Shop) -> BTreeSet<Told> {
    let rows = rows(shop);
    let answer = shop.json("findings");
    let mut found = BTreeSet::new();
    for finding in answer["findings"].as_array().unwrap() {
        let mut causes: Vec<&str> = finding["entries"]
            .as_array()
            .unwrap()
            .iter()
            .map(|id| rows.get(id.as_str().unwrap()).map_or("not imported", String::as_str))
            .collect();
        // `lots.csv:9` before `lots.csv:10`, as the rows stand.
        causes.sort_by_key(|c| c.split_once(':').map(|(file, row)| (file, row.parse::<u32>().unwrap_or(0))));
        let text = |key: &str| finding[key].as_str().unwrap_or_default().to_owned();
        let told = (
            text("code"),
            text("severity"),
            causes.join(";"),
            text("joint"),
            text("lot"),
            text("slip"),
            text("welder"),
        );
        assert!(found.insert(told.clone()), "twice: {told:?}");
    }
    found
}

fn planted() -> BTreeSet<Told> {
    let path = root().join("fixtures/demo-shop/planted.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader
        .records()
        .map(|r| {
            let r = r.unwrap();
            let cell = |i: usize| r[i].to_owned();
            (cell(0), cell(1), cell(2), cell(3), cell(4), cell(5), cell(6))
        })
        .collect()
}

#[test]
fn planted_is_found_exactly() {
    let shop = imported("demo-shop");
    let (planted, found) = (planted(), found(&shop));
    let missed: Vec<&Told> = planted.difference(&found).collect();
    let invented: Vec<&Told> = found.difference(&planted).collect();
    assert!(missed.is_empty() && invented.is_empty(), "missed: {missed:#?}\ninvented: {invented:#?}");
    assert!(planted.len() >= 50, "{}", planted.len());
    let mishaps: BTreeSet<String> = csv::Reader::from_path(root().join("fixtures/demo-shop/planted.csv"))
        .unwrap()
        .records()
        .map(|r| r.unwrap()[7].to_owned())
        .collect();
    assert!(mishaps.len() >= 15, "{mishaps:?}");
}

#[test]
fn the_quiet_shop_has_no_finding() {
    let shop = imported("quiet-shop");
    assert_eq!(found(&shop), BTreeSet::new());
    assert!(shop.ok("findings").stdout.starts_with("No open findings."));
    shop.is_sound();
}
