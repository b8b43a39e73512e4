//! The mass check: in `reconcile`, and as findings.

use crate::shop::{Shop, keys, snapshot};
use serde_json::json;

/// Twelve butts on 114.3 x 6.02 mm pipe (arithmetic cases MB-01 to MB-16) from one slip of `rods` rods of R-1028, every
/// stub counted; and M-102, of which nobody says what it needs, from another slip.
fn shop(rods: u32) -> Shop {
    let shop = Shop::stocked();
    for joint in 1..=12 {
        let _ = shop.ok(&format!(
            "joint P-{joint:02} --job 'PIP-1 pipe butts' --groove single-v --thickness '6.02 mm' --gap '3.2 mm' --included 75 \
             --root-face '1.6 mm' --cap-height '1.5 mm' --cap-overlap '2 mm' --root-height '1 mm' --root-overlap '2 mm' \
             --pipe-od '114.3 mm' --density 7.85 --efficiency 0.98 --process GTAW --by A-01"
        ));
    }
    let _ = shop.ok(&format!("issue R-1028 W-12 {rods} rods --at '2026-04-07 06:10' --by A-01"));
    for joint in 1..=12 {
        let _ = shop.ok(&format!(
            "weld P-{joint:02} W-12 --pass root --process GTAW --from '2026-04-07 07:{joint:02}' \
             --to '2026-04-07 08:{joint:02}' --finished --by A-01"
        ));
    }
    let _ = shop.ok(&format!(
        "return S-00001 0 rods --stubs {rods} --condition marked --at '2026-04-07 14:10' --by A-01"
    ));
    for step in [
        "issue R-1082 W-14 10 rods --at '2026-04-07 15:00' --by A-01",
        "weld M-102 W-14 --pass root --process GTAW --from '2026-04-07 15:30' --to '2026-04-07 16:00' --by A-01",
    ] {
        let _ = shop.ok(step);
    }
    shop
}

#[test]
fn mass() {
    let shop = shop(80);
    snapshot!(
        "mass",
        shop.session(&[
            "reconcile --slip S-00001",
            "reconcile --joint P-07",
            "reconcile --lot R-1028",
            "reconcile --shift '2026-04-07 06:00'",
            "reconcile --shift '2026-04-07 14:30'",
            "reconcile --shift '2026-04-07 07:00'",
            "reconcile --slip S-00002",
            "reconcile",
            "findings --code mass-short",
        ])
    );
    shop.is_sound();
}

#[test]
fn within_is_not_proof() {
    let shop = shop(60);
    snapshot!("mass-within", shop.session(&["reconcile --job 'PIP-1 pipe butts'"]));
    assert!(!shop.ok("findings").stdout.contains("mass-"));
}

#[test]
fn metal_of_unknown_origin() {
    let shop = shop(25);
    snapshot!("mass-over", shop.session(&["reconcile --welder W-12", "trace joint P-07"]));
    let finding = shop.json("findings")["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|f| f["code"] == "mass-over")
        .cloned()
        .unwrap();
    assert_eq!(finding["severity"], "act");
    assert_eq!((&finding["slip"], &finding["joint"]), (&json!("S-00001"), &json!(null)));
    assert_eq!(finding["entries"].as_array().unwrap().len(), 13);
    // Disposed of like any other.
    let id = &finding["id"].as_str().unwrap()[..12];
    let _ =
        shop.ok(&format!("dispose {id} --as accepted --why 'rods of an old box; read as ER70S-2' --by I-21"));
    assert!(!shop.ok("findings").stdout.contains("mass-over"));
}

/// Every figure is an integer, and the difference is what the sides come to.
#[test]
fn for_programs() {
    let shop = shop(80);
    let answer = shop.json("reconcile --slip S-00001");
    let mass = &answer["mass"];
    assert_eq!(
        keys(mass),
        ["by_mg", "checks", "left_out", "one_balance", "over", "short", "slips", "systems", "verdict"]
    );
    assert_eq!(
        (&mass["verdict"], &mass["one_balance"], &mass["systems"]),
        (&json!("short"), &json!(true), &json!(null))
    );
    let of = |name: &str| mass["short"][name].as_i64().unwrap();
    let sides =
        of("issued_mg") - of("handed_over_mg") - of("returned_mg") - of("stubs_mg") - of("scrapped_mg");
    assert_eq!(of("difference_mg"), sides - of("needed_mg"));
    assert_eq!(mass["by_mg"], of("difference_mg"));
    assert!(of("threshold_mg") < of("detectable_mg") && of("difference_mg") > of("threshold_mg"));
    let shares: i64 =
        mass["short"]["shares"].as_array().unwrap().iter().map(|s| s["per_mille"].as_i64().unwrap()).sum();
    assert!((985..=1000).contains(&shares), "{shares}: each is rounded down");
    // What is not complete has no figures.
    let open = &shop.json("reconcile --slip S-00002")["mass"];
    assert_eq!(open["verdict"], "not-checked");
    assert_eq!(open["short"]["why"], json!(["open", "needed-not-known", "stubs-not-known"]));
    assert_eq!(open["short"]["needed_mg"], json!(null));
    let all = &shop.json("reconcile")["mass"];
    assert_eq!((&all["systems"]["checked"], &all["systems"]["checks"]), (&json!(1), &json!(12)));
    assert_eq!(all["systems"]["findings"][0]["code"], "mass-short");
}
