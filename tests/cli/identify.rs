//! `identify`: which classes a reading of an unmarked rod fits. The numbers themselves are checked in the filler crate.

use crate::shop::{Shop, keys, snapshot};
use serde_json::{Value, json};

/// ER308L as hand-held X-ray reads it: no carbon.
const STAINLESS: &str = "--reading Cr=20.4/0.30,Ni=9.9/0.30,Mo=0.15/0.04,Mn=1.7/0.16 --k 2 --surface abraded";

/// A copper-coated rod as it came.
const COATED: &str =
    "--reading Cu=1.9/0.10,Mn=1.45/0.12,Cr=0.03/0.02,Mo=0.01/0.01,Ni=0.03/0.02 --k 2 --method xrf";

fn named<'a>(answer: &'a Value, class: &str) -> &'a Value {
    let candidates = answer["candidates"].as_array().unwrap();
    candidates
        .iter()
        .find(|c| c["classification"] == class)
        .unwrap_or_else(|| panic!("no {class} in {answer}"))
}

#[test]
fn pages() {
    let shop = Shop::empty();
    snapshot!(
        "identify",
        shop.session(&[
            &format!("identify {STAINLESS} --method xrf --family stainless"),
            &format!("identify {COATED} --surface as-received --family carbon"),
            "identify --reading Cr=9.05/0.2,Mo=0.95/0.04,V=0.21/0.02,Nb=0.065/0.012,Ni=0.35/0.06,Mn=0.55/0.08 --k 2 \
             --floor '1 %' --method xrf --surface abraded --family low-alloy",
            "identify --reading Fe=60/1 --k 2 --family titanium",
            "identify --reading Cr=20.4/0.3,Cu=<0.05 --k 2 --class ER308/308L --class ER316L --format csv",
        ])
    );
    for line in shop.ok(&format!("identify {STAINLESS} --method xrf")).stdout.lines() {
        assert!(line.chars().count() <= 60, "{line}");
    }
}

#[test]
fn refused() {
    snapshot!(
        "identify-refused",
        Shop::empty().session(&[
            "identify --reading Cr=18.9/0.15",
            "identify --reading Cr=18.9/0.15 --k 0",
            "identify --reading Cr=18,9/0.15 --k 2",
            "identify --reading Cr=118.9/0.15 --k 2",
            "identify --reading Cr=18.9 --k 2",
            "identify --reading Cr=18.9/0 --k 2",
            "identify --reading Cr=tr/0.1 --k 2",
            "identify --reading N=120ppm/10ppm --k 2",
            "identify --reading Xx=1/0.1 --k 2",
            "identify --reading Cr=1/0.1,cr=2/0.1 --k 2",
            "identify --reading C=0.05/0.01 --k 2 --method xrf",
            "identify --reading Cr=18.9/0.15 --k 2 --method eyes",
            "identify --reading Cr=18.9/0.15 --k 2 --surface shiny",
            "identify --reading Cr=18.9/0.15 --k 2 --floor 1",
            "identify --reading Cr=18.9/0.15 --k 2 --alpha 1",
            "identify --reading Cr=18.9/0.15 --k 2 --family bronze",
            "identify --reading Cr=18.9/0.15 --k 2 --class E7018",
            "identify --reading Cr=18.9/0.15 --k 2 --class ER999",
        ])
    );
}

#[test]
fn the_308_grades_tie_without_carbon_and_split_with_it() {
    let shop = Shop::empty();
    let answer =
        shop.json(&format!("identify {STAINLESS} --method xrf --class ER308 --class ER308L --class ER308H"));
    assert_eq!(answer["schema"], "rodbook-identify/1");
    assert_eq!(answer["tie"], json!(["ER308H", "ER308", "ER308L"]));
    assert_eq!(answer["would_split"], json!(["C"]));
    for candidate in answer["candidates"].as_array().unwrap() {
        for key in ["spec", "classification", "verdict", "d2", "p", "worst", "log_likelihood"] {
            assert!(keys(candidate).contains(&key), "{key} in {candidate}");
        }
        assert_eq!((&candidate["verdict"], &candidate["d2"]), (&json!("consistent"), &json!(0.0)));
    }
    let typed = STAINLESS.replace("Mn=", "C=0.052/0.008,Mn=");
    let answer =
        shop.json(&format!("identify {typed} --method oes --class ER308 --class ER308L --class ER308H"));
    assert_eq!(named(&answer, "ER308L")["verdict"], "rejected");
    assert_eq!(named(&answer, "ER308L")["worst"]["element"], "C");
    assert_eq!(answer["tie"], json!(["ER308H", "ER308"]));
}

#[test]
fn a_coated_rod_is_abraded_and_read_again() {
    let shop = Shop::empty();
    for surface in ["", "--surface as-received"] {
        let answer = shop.json(&format!("identify {COATED} {surface}"));
        assert_eq!(answer["notes"][0], "coating suspected: abrade and repeat", "{surface}");
        let one = named(&answer, "ER70S-6");
        assert_eq!(one["verdict"], "inconclusive");
        assert_eq!(one["without_copper"]["verdict"], "consistent");
        assert!((one["d2"].as_f64().unwrap() - 784.0).abs() < 1e-6, "as read: {one}");
        // Stainless wire is not copper coated, and chromium speaks against it anyway.
        assert_eq!(named(&answer, "ER308L")["verdict"], "rejected");
    }
    let answer = shop.json(&format!("identify {COATED} --surface abraded"));
    assert_eq!(named(&answer, "ER70S-6")["verdict"], "rejected");
    assert_ne!(answer["notes"][0], "coating suspected: abrade and repeat");
}

#[test]
fn products_are_not_mixed() {
    let shop = Shop::empty();
    let specs = |line: &str| {
        let answer = shop.json(&format!("identify {STAINLESS} --method xrf {line}"));
        let mut specs: Vec<String> = answer["candidates"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| c["spec"].as_str().unwrap().to_owned())
            .collect();
        specs.sort();
        specs.dedup();
        specs
    };
    assert_eq!(specs(""), ["A5.10", "A5.14", "A5.16", "A5.18", "A5.28", "A5.7", "A5.9"]);
    assert_eq!(specs("--product covered"), ["A5.1", "A5.4", "A5.5"]);
    assert_eq!(specs("--product tubular"), ["A5.20"]);
    assert_eq!(specs("--product any --family stainless"), ["A5.4", "A5.9"]);
    assert_eq!(specs("--product any --class E308L-16 --class ER308L"), ["A5.4", "A5.9"]);
}

#[test]
fn nothing_is_written_and_no_book_is_needed() {
    let shop = Shop::empty();
    let _ = shop.ok(&format!("identify {STAINLESS}"));
    assert_eq!(std::fs::read_dir(shop.path()).unwrap().count(), 0);
}

/// Examples 2a and 2b of the method, with the built-in limits: chromium a little below its least, niobium as no 347 has.
#[test]
fn a_value_near_its_limit_is_inconclusive_and_one_far_below_it_rejected() {
    let shop = Shop::empty();
    for (chromium, of_308l) in [("19.3", "inconclusive"), ("18.9", "rejected")] {
        let answer = shop.json(&format!(
            "identify --reading Cr={chromium}/0.15,Ni=9.6/0.15,Mo=0.12/0.02,Mn=1.8/0.08,Cu=0.20/0.03,Nb=0.02/0.01 --k 1 \
             --method xrf"
        ));
        assert_eq!(named(&answer, "ER308L")["verdict"], of_308l, "{chromium}");
        assert_eq!(named(&answer, "ER347")["verdict"], "rejected", "{chromium}");
    }
}
