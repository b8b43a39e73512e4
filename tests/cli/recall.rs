//! `recall`: the status, and the list of what it hits.

use crate::shop::{Shop, keys, snapshot};
use serde_json::{Value, json};
use std::collections::BTreeSet;

const LETTER: &str = "--why \"maker's letter: wrong wire in some tubes\" --at '2026-04-09 09:00' --by I-21";

/// The worked shop with a second slip of R-1028 still out, a lot of the same heat, and one on the same certificate.
fn shop() -> Shop {
    let shop = Shop::worked();
    for step in [
        "issue R-1028 W-14 12 rods --due '2026-04-08 14:30' --at '2026-04-08 06:10' --by A-01",
        "weld M-102 W-14 --pass root --process GTAW --slip S-00002 --used '4 rods' --from '2026-04-08 07:00' --to '2026-04-08 08:00' --by A-01",
        "weld M-102 W-12 --pass cap --process GTAW --lot R-1028 --from '2026-04-08 09:00' --to '2026-04-08 10:00' --by A-01",
        "return S-00003 2 rods --condition unmarked --more --at '2026-04-08 12:00' --by A-01",
        "receive --lot R-1090 --maker 'Tarvemire Wire' --maker-lot 4118-A --heat 7K2214 --spec A5.18 --class ER70S-2 \
         --size '1/8 in x 36 in' --form cut-length --quantity '10 lb' --cert TW-26-0390 --at '2026-03-20 09:20' --by A-01",
        "receive --lot R-1091 --maker 'Tarvemire Wire' --maker-lot 4119-A --heat 7K9999 --spec A5.18 --class ER70S-2 \
         --size '1/16 in x 36 in' --form cut-length --quantity '10 lb' --cert TW-26-0388 --at '2026-03-20 09:30' --by A-01",
    ] {
        let _ = shop.ok(step);
    }
    shop
}

#[test]
fn recall() {
    let shop = shop();
    snapshot!(
        "recall",
        shop.session(&[
            &format!("recall R-1028 --dry-run {LETTER}"),
            &format!("recall R-1028 {LETTER}"),
            "issue R-1028 W-12 6 rods --at '2026-04-09 10:00' --by A-01",
            &format!("recall 4117-B {LETTER}"),
            &format!("recall R-1028 --format csv {LETTER}"),
        ])
    );
    shop.is_sound();
}

#[test]
fn recall_refused() {
    let shop = shop();
    let before = shop.state();
    snapshot!(
        "recall-refused",
        shop.session(&[
            "recall R-1028 --why letter --at '2026-04-09 09:00' --by A-01",
            "recall R-1028 --why letter --at '2199-04-09 09:00' --by I-21",
            "recall R-1028 --why letter --at '2026-03-09 09:00' --by I-21",
            "recall R-1028 R-1029 --why letter --at '2026-04-09 09:00' --by I-21",
            "recall R-1028 --by I-21",
            "recall R-1028 --why '' --by I-21",
            "recall --why letter --by I-21",
        ])
    );
    assert_eq!(shop.state(), before, "one lot that is not there: none is recalled");
}

/// A lot that went nowhere.
#[test]
fn recall_of_an_untouched_lot() {
    let shop = Shop::stocked();
    snapshot!(
        "recall-untouched",
        shop.session(&[
            "recall R-1031 --why letter --at '2026-04-09 09:00' --by I-21",
            "recall R-1031 --why letter --at '2026-04-09 09:05' --format csv --by I-21",
        ])
    );
}

#[test]
fn recall_as_json() {
    let shop = shop();
    let used = shop.json("trace lot R-1028");
    let answer = shop.json(&format!("recall R-1028 {LETTER}"));
    assert_eq!(answer["schema"], "rodbook-recall/1");
    for field in keys(&used) {
        assert!(answer.get(field).is_some(), "{field} of where-used is missing");
    }
    assert_eq!(answer["in_crib_mg"], used["in_crib_mg"]);
    let named = |list: &Value| -> Vec<(Value, Value)> {
        list.as_array().unwrap().iter().map(|w| (w["entry"].clone(), w["link"].clone())).collect()
    };
    assert_eq!(named(&answer["welds"]), named(&used["welds"]));
    assert_eq!(answer["entries"].as_array().unwrap().len(), 1);
    assert_eq!(answer["recalled"][0]["before"], "released");
    assert_eq!(answer["recalled"][0]["put_aside_mg"], 2 * 31_967, "two rods came back unmarked");
    // S-00003 of R-1028 is out with 12 - 2 rods, and late.
    assert_eq!(answer["out"].as_array().unwrap().len(), 1);
    let out = &answer["out"][0];
    assert_eq!(
        (&out["slip"], &out["left"], &out["overdue"]),
        (&json!("S-00003"), &json!("10 rods"), &json!(true))
    );
    let joints: Vec<(&str, &str)> = answer["joints"]
        .as_array()
        .unwrap()
        .iter()
        .map(|j| (j["joint"].as_str().unwrap(), j["link"].as_str().unwrap()))
        .collect();
    // M-101 was welded from it; at M-102 W-12 named it without holding it, which is stronger than W-14's having it
    // beside the slip that was named.
    assert_eq!(joints, [("M-101", "source"), ("M-102", "named")]);
    let related: Vec<(&str, usize, usize)> = answer["related"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| {
            let n = |list: &str| r[list].as_array().unwrap().len();
            (r["lot"].as_str().unwrap(), n("heats"), n("certificates"))
        })
        .collect();
    assert_eq!(related, [("R-1090", 1, 0), ("R-1091", 0, 1)]);
    let stock = shop.json("stock");
    let status = |lot: &str| {
        stock["lots"].as_array().unwrap().iter().find(|l| l["lot"] == lot).unwrap()["status"].clone()
    };
    assert_eq!(status("R-1028"), "recalled");
    assert_ne!(status("R-1090"), "recalled", "a hint recalls nothing");
    // A second recall says that the lot was recalled already.
    let again = shop.json("recall R-1028 --why 'second letter' --at '2026-04-10 09:00' --by I-21");
    assert_eq!(again["recalled"][0]["before"], "recalled");
    assert_eq!(again["recalled"][0]["before_since"], "2026-04-08T21:00:00Z");
}

/// Several lots at once: one entry each, a lot named twice once, the lists those of all of them together.
#[test]
fn several_lots_at_once() {
    let shop = shop();
    let before = shop.count();
    let answer = shop.json(&format!("recall R-1028 R-1082 4117-B {LETTER}"));
    assert_eq!(shop.count(), before + 2);
    assert_eq!(answer["lots"], json!(["R-1028", "R-1082"]));
    let welds = |answer: &Value| -> BTreeSet<String> {
        let all = ["welds", "flux_welds"].iter().flat_map(|l| answer[*l].as_array().unwrap().clone());
        all.map(|w| format!("{} {}", w["entry"], w["joint"])).collect()
    };
    let one_by_one: BTreeSet<String> =
        ["R-1028", "R-1082"].iter().flat_map(|lot| welds(&shop.json(&format!("trace lot {lot}")))).collect();
    assert_eq!(welds(&answer), one_by_one);
    // W-14's root of M-102 names a slip of R-1082 and had R-1028 beside it: both lots hang on it.
    let both = answer["welds"].as_array().unwrap().iter().find(|w| w["welder"] == "W-14").unwrap();
    assert_eq!((&both["link"], &both["lots"]), (&json!("source"), &json!(["R-1028", "R-1082"])));
    shop.is_sound();
}

/// Every line of the table is a crib, a slip that is out, or a weld record at a joint.
#[test]
fn one_csv_line_per_crib_slip_and_weld() {
    let shop = shop();
    let answer = shop.json(&format!("recall R-1028 {LETTER}"));
    let (header, rows) = shop.ok(&format!("recall R-1028 --format csv {LETTER}")).csv();
    assert_eq!(header[0], "what");
    let of = |what: &str| rows.iter().filter(|r| r[0] == what).count();
    assert_eq!(of("slip"), answer["out"].as_array().unwrap().len());
    let welds = answer["welds"].as_array().unwrap().len() + answer["flux_welds"].as_array().unwrap().len();
    assert_eq!(of("weld"), welds);
    assert_eq!((of("crib"), of("put-aside")), (1, 1));
    assert_eq!(rows.len(), of("slip") + of("weld") + 2);
}

#[test]
fn the_page_is_sixty_columns_wide() {
    let page = shop().ok(&format!("recall R-1028 R-1082 {LETTER}")).stdout;
    for line in page.lines() {
        assert!(line.chars().count() <= 60, "{line:?}\n{page}");
    }
}

#[test]
fn a_dry_run_writes_nothing() {
    let shop = shop();
    let done = shop.writes_nothing(&format!("recall R-1028 --dry-run {LETTER}"), 0);
    assert!(done.stdout.contains("Dry run: nothing was written."), "{}", done.shown());
    let dry = shop.json(&format!("recall R-1028 --dry-run {LETTER}"));
    assert_eq!((&dry["dry_run"], &dry["entries"]), (&json!(true), &json!([])));
    let real = shop.json(&format!("recall R-1028 {LETTER}"));
    for field in ["welds", "out", "joints", "related", "recalled"] {
        assert_eq!(dry[field], real[field], "{field}");
    }
}
