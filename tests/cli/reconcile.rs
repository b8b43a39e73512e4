//! `reconcile`: the count of slips.

use crate::shop::{Shop, keys, snapshot};
use serde_json::{Value, json};

/// The worked shop, in which S-00001 came out even, with one slip short, one over, one without stubs, one weighed, and
/// one of which the units cannot be compared.
fn shop() -> Shop {
    let shop = Shop::worked();
    for step in [
        "issue R-1028 W-12 10 rods --at '2026-04-08 06:00' --by A-01",
        "weld M-102 W-12 --pass root --process GTAW --slip S-00003 --used '6 rods' --from '2026-04-08 06:30' --to '2026-04-08 08:00' --by A-01",
        "weld M-101 W-12 --pass cap --process GTAW --lot R-1028 --from '2026-04-08 09:00' --to '2026-04-08 09:30' --by A-01",
        "return S-00003 2 rods --stubs 6 --condition marked --at '2026-04-08 14:00' --by A-01",
        "issue R-1028 W-14 10 rods --at '2026-04-08 06:05' --by A-01",
        "hand-over S-00004 W-12 3 rods --at '2026-04-08 14:10' --by A-01",
        "return S-00004 1 rod --stubs 9 --condition unmarked --at '2026-04-08 14:20' --by A-01",
        "return S-00005 1 rod --condition marked --at '2026-04-08 14:30' --by A-01",
        "issue R-1082 W-12 '2 kg' --at '2026-04-09 06:00' --by A-01",
        "return S-00006 '500 g' --condition marked --at '2026-04-09 14:00' --by A-01",
        "receive --lot R-70 --maker 'Tarvemire Wire' --maker-lot S-1 --spec A5.18 --class ER70S-6 --size '0.045 in' \
         --form spool --quantity '5 spools' --at '2026-04-01 08:00' --by A-01",
        "release R-70 --at '2026-04-01 09:00' --by I-21",
        "issue R-70 W-14 2 spools --at '2026-04-09 06:00' --by A-01",
        "return S-00007 2 rods --condition marked --at '2026-04-09 07:00' --by A-01",
    ] {
        let _ = shop.ok(step);
    }
    shop
}

fn rows(answer: &Value) -> &Vec<Value> {
    answer["slips"].as_array().unwrap()
}

fn row<'a>(answer: &'a Value, slip: &str) -> &'a Value {
    rows(answer).iter().find(|r| r["slip"] == slip).unwrap_or_else(|| panic!("{slip} is missing in {answer}"))
}

#[test]
fn reconcile() {
    let shop = shop();
    snapshot!(
        "reconcile",
        shop.session(&[
            "reconcile",
            "reconcile --slip S-00001",
            "reconcile --welder W-12",
            "reconcile --lot R-1028",
            "reconcile --joint M-101",
            "reconcile --job 'WVM-07 wing-valve manifold'",
            "reconcile --welder W-14 --format csv",
        ])
    );
}

#[test]
fn reconcile_empty_and_not_found() {
    snapshot!(
        "reconcile-empty",
        Shop::stocked().session(&[
            "reconcile",
            "reconcile --welder W-12",
            "reconcile --joint M-101",
            "reconcile --format csv",
            "reconcile --format json",
            "reconcile --slip S-1",
            "reconcile --welder W-99",
            "reconcile --job 'wing-valve'",
            "reconcile --lot R-1028 --welder W-12",
        ])
    );
}

/// Each verdict, by hand: issued - handed over - returned - scrapped - stubs.
#[test]
fn verdicts() {
    let shop = shop();
    let answer = shop.json("reconcile --welder W-12");
    assert_eq!(answer["schema"], "rodbook-reconcile/1");
    let verdict = |row: &Value| (row["verdict"].clone(), row["by"].clone(), row["why"].clone());
    // 24 - 6 - 18 = 0
    assert_eq!(verdict(row(&answer, "S-00001")), (json!("within"), Value::Null, Value::Null));
    // 10 - 2 - 6 = 2
    assert_eq!(verdict(row(&answer, "S-00003")), (json!("short"), json!(2), Value::Null));
    assert_eq!(verdict(row(&answer, "S-00005")).2, "stubs-not-counted");
    assert_eq!(verdict(row(&answer, "S-00006")).2, "weighed");
    let answer = shop.json("reconcile --welder W-14");
    // 10 - 3 - 1 - 9 = -3
    assert_eq!(verdict(row(&answer, "S-00004")), (json!("over"), json!(3), Value::Null));
    assert_eq!(verdict(row(&answer, "S-00002")).2, "open");
    assert_eq!(verdict(row(&answer, "S-00007")).2, "not-comparable");
    assert_eq!(row(&answer, "S-00004")["returned_otherwise"], 1);
    assert_eq!(row(&answer, "S-00004")["handed_over"], 3);
    // Without a question about some of them: those that do not come out even, and nothing else.
    let uneven = shop.json("reconcile");
    let slips: Vec<&str> = rows(&uneven).iter().map(|r| r["slip"].as_str().unwrap()).collect();
    assert_eq!(slips, ["S-00003", "S-00004"]);
    assert_eq!(uneven["all"]["slips"], 7);
    assert_eq!(
        uneven["not_checked"],
        json!({"open": 1, "stubs-not-counted": 1, "weighed": 1, "not-comparable": 1})
    );
}

/// A record that names a slip counts for that slip alone; one that names the lot counts for what was held of it.
#[test]
fn what_weld_records_say() {
    let shop = shop();
    let answer = shop.json("reconcile --lot R-1028");
    // The root of M-101 names R-1028 while S-00001 was held, with 6 rods; the hot pass names nothing.
    assert_eq!(
        row(&answer, "S-00001")["recorded"],
        json!({"weld_records": 1, "used": 6, "not_said": 0, "shared": 0})
    );
    // The root of M-102 names S-00003, with 6 rods; the cap of M-101 names the lot and says no amount.
    assert_eq!(
        row(&answer, "S-00003")["recorded"],
        json!({"weld_records": 2, "used": 6, "not_said": 1, "shared": 0})
    );
    // Another slip of the lot in the same hands: the record that names the lot may mean either.
    let _ = shop
        .ok("issue R-1028 W-12 5 rods --at '2026-04-08 06:00' --override 'two slips, to try it' --by I-21");
    let answer = shop.json("reconcile --lot R-1028");
    assert_eq!(row(&answer, "S-00003")["recorded"]["shared"], 1);
    assert_eq!(row(&answer, "S-00008")["recorded"]["shared"], 1);
}

/// The slips of a joint are its sources, and each says where else it can have gone.
#[test]
fn slips_of_a_joint_are_shared() {
    let shop = shop();
    let answer = shop.json("reconcile --joint M-101");
    let slips: Vec<&str> = rows(&answer).iter().map(|r| r["slip"].as_str().unwrap()).collect();
    assert_eq!(slips, ["S-00001", "S-00003"]);
    assert_eq!(row(&answer, "S-00003")["joints"], json!(["M-101", "M-102"]));
    assert_eq!(answer["shared_with_other_joints"], true);
    let trace = shop.json("trace joint M-101");
    for weld in trace["welds"].as_array().unwrap() {
        for source in weld["sources"].as_array().unwrap() {
            assert!(slips.contains(&source["slip"].as_str().unwrap()), "{source}");
        }
    }
}

/// The identity in every row and every sum, as programs see them.
#[test]
fn every_row_and_sum_balances() {
    let shop = shop();
    let n = |row: &Value, field: &str| row[field].as_i64().unwrap_or_else(|| panic!("{field} of {row}"));
    let balances = |row: &Value| {
        let out = n(row, "handed_over") + n(row, "returned") + n(row, "scrapped");
        assert_eq!(n(row, "issued") + n(row, "over_out"), out + n(row, "rest"), "{row}");
        let parts = ["used", "unaccounted", "used_or_unaccounted", "still_out"];
        assert_eq!(n(row, "rest"), parts.iter().map(|part| n(row, part)).sum::<i64>(), "{row}");
    };
    let mut seen = 0;
    for line in ["reconcile --welder W-12", "reconcile --welder W-14", "reconcile --lot R-1028", "reconcile"]
    {
        let answer = shop.json(line);
        for row in rows(&answer).iter().filter(|r| !r["measure"].is_null()) {
            balances(row);
            assert_eq!(n(row, "returned"), n(row, "returned_marked") + n(row, "returned_otherwise"), "{row}");
            seen += 1;
        }
        let sums = ["lots", "welders"].iter().flat_map(|list| answer[*list].as_array().unwrap().clone());
        for sums in sums.chain([answer["all"].clone()]) {
            for measure in ["pieces", "mg"].iter().filter(|m| !sums[**m].is_null()) {
                balances(&sums[*measure]);
            }
        }
    }
    assert!(seen >= 10, "{seen} rows");
}

#[test]
fn the_table_has_the_rows_of_the_answer() {
    let shop = shop();
    let answer = shop.json("reconcile --lot R-1028");
    let (header, table) = shop.ok("reconcile --lot R-1028 --format csv").csv();
    assert_eq!(table.len(), rows(&answer).len());
    let at = |name: &str| header.iter().position(|h| h == name).unwrap();
    for (cells, row) in table.iter().zip(rows(&answer)) {
        for field in ["slip", "verdict", "issued", "rest", "unaccounted"] {
            let value = &row[field];
            let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
            assert_eq!(cells[at(field)], text, "{field}");
        }
    }
    assert_eq!(
        keys(&answer),
        [
            "all",
            "asked",
            "lots",
            "mass",
            "not_checked",
            "perhaps",
            "schema",
            "shared_with_other_joints",
            "slips",
            "welders"
        ]
    );
}

#[test]
fn the_page_is_sixty_columns_wide() {
    let shop = shop();
    for line in ["reconcile", "reconcile --welder W-12", "reconcile --joint M-101"] {
        let page = shop.ok(line).stdout;
        for line in page.lines() {
            assert!(line.chars().count() <= 60, "{line:?}\n{page}");
        }
    }
}
