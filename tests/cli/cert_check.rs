//! `cert check`: verdicts, what is not understood, a table of the shop's own.

use crate::shop::{Shop, root, snapshot};
use serde_json::json;

/// Analyses of an ER70S-2, an ER309L and an E7018 (constructed).
const S2: &str =
    "C=0.05,Mn=1.15,Si=0.55,P=0.010,S=0.012,Ni=0.02,Cr=0.03,Mo=0.01,V=0.003,Cu=0.15,Ti=0.09,Zr=0.05,Al=0.08";
const L309: &str = "C=0.034,Cr=23.6,Ni=13.5,Mo=0.12,Mn=1.80,Si=0.45,P=0.020,S=0.008,Cu=0.12";
const E7018: &str = "C=0.06,Mn=1.15,Si=0.45,P=0.012,S=0.008,Ni=0.03,Cr=0.04,Mo=0.01,V=0.01";

#[test]
fn on_the_page() {
    let shop = Shop::empty();
    snapshot!(
        "cert-check",
        shop.session(&[
            &format!("cert check --spec A5.18 --class ER70S-2 --analysis {S2}"),
            &format!("cert check --spec SFA-5.9 --class ER309L --analysis {L309}"),
            "cert check --spec A5.18 --class ER70S-7 --analysis C=0.14,Mn=2.06,Si=0.65,P=0.012,S=<0.005,Cu=tr",
            &format!("cert check --spec A5.1 --class 'E7018-1 H4R' --analysis {E7018} --tensile '69.6 ksi' --yield '60 ksi' --elongation 21 --impact '40 J at -30 C' --product weld-metal"),
            &format!("cert check --spec A5.4 --class E309L-16 --analysis {L309} --product wire"),
            &format!("cert check --spec A5.18 --class ER70S-G --analysis {S2}"),
        ])
    );
    assert_eq!(std::fs::read_dir(shop.path()).unwrap().count(), 0, "nothing is written, no book is made");
}

#[test]
fn the_answer_for_programs() {
    let shop = Shop::empty();
    let answer = shop.json(&format!("cert check --spec A5.9 --class ER309L --analysis {L309}"));
    assert_eq!(answer["schema"], "rodbook-cert-check/1");
    assert_eq!(answer["verdict"], "pass-by-rounding");
    assert_eq!(answer["table"], "A5.9, edition 2006, built in");
    let carbon = answer["elements"].as_array().unwrap().iter().find(|e| e["element"] == "C").unwrap();
    for (field, want) in [
        ("value", json!("0.034")),
        ("min", json!(null)),
        ("max", json!("0.03")),
        ("rounded", json!("0.03")),
        ("verdict", json!("pass-by-rounding")),
    ] {
        assert_eq!(carbon[field], want, "{field}");
    }
    assert_eq!(answer["groups"][0]["f_number"], 6);
    assert_eq!(answer["reason_to_hold"], json!(null));
    let failing = shop.json("cert check --spec A5.18 --class ER70S-2 --analysis C=0.09");
    assert_eq!(failing["verdict"], "fail");
    assert_eq!(
        failing["reason_to_hold"],
        "C 0.09 is not at most 0.07 (ER70S-2, A5.18, edition 2005, built in)"
    );
    // The table for spreadsheets has a row for each limit and each strength.
    let output = shop.ok(&format!(
        "cert check --spec A5.1 --class E7018 --analysis {E7018} --tensile '78 ksi' --format csv"
    ));
    let (columns, rows) = output.csv();
    assert_eq!(columns.len(), 10);
    assert_eq!(rows.len(), 11);
}

/// Each row of the analyses, through the command.
#[test]
fn analyses_have_their_verdicts_on_the_command_line() {
    let shop = Shop::empty();
    let mut reader = csv::Reader::from_path(root().join("fixtures/analyses.csv")).unwrap();
    let mut count = 0;
    for row in reader.records().map(Result::unwrap) {
        let cell = |n: usize| row.get(n).unwrap().to_owned();
        let mut words: Vec<String> =
            ["cert", "check", "--format", "json", "--spec"].map(str::to_owned).into();
        words.extend([cell(1), "--class".into(), cell(2), "--analysis".into(), cell(5)]);
        for (option, value) in [("--product", cell(3)), ("--surface", cell(4))] {
            if !value.is_empty() {
                words.extend([option.to_owned(), value]);
            }
        }
        let output = shop.run_words(&words).expect_code(0);
        let answer: serde_json::Value = serde_json::from_str(&output.stdout).unwrap();
        assert_eq!(answer["verdict"], cell(6), "{}: {}", cell(0), output.shown());
        count += 1;
    }
    assert!(count >= 40, "{count}");
}

#[test]
fn bad_input_is_not_understood() {
    let shop = Shop::empty();
    for (option, value, part) in [
        ("--analysis", "C=101", "above 100"),
        ("--analysis", "C=-0.05", "below zero"),
        ("--analysis", "C=0,05", "a comma separates the elements"),
        ("--analysis", "N=120ppm", "divided by 10000"),
        ("--analysis", "Xx=1", "not the symbol of an element"),
        ("--analysis", "C=0.05,C=0.06", "C is there twice"),
        ("--analysis", "Fe=80,Cr=60", "add up to 140"),
        ("--analysis", "Mn=0.90-1.40", "limits, not what was found"),
        ("--tensile", "74", "without a unit"),
        ("--yield", "-60 ksi", "below zero"),
        ("--elongation", "120", "above 100"),
        ("--impact", "cold", "no impact energy"),
        ("--product", "powder", "wire"),
        ("--surface", "shiny", "abraded"),
    ] {
        let mut words = vec!["cert", "check", "--spec", "A5.18", "--class", "ER70S-2"];
        if option != "--analysis" {
            words.extend(["--analysis", "C=0.05"]);
        }
        let argument = format!("{option}={value}");
        words.push(&argument);
        let output = shop.run_words(&words).expect_code(2);
        assert!(output.stderr.contains(part), "{}", output.shown());
    }
    let _ = shop
        .run("cert check --spec A5.18 --class ER70S-2")
        .expect_code(2)
        .says(&["nothing of the certificate"]);
}

#[test]
fn words_and_bounds_are_never_numbers() {
    let shop = Shop::empty();
    for (analysis, carbon) in [
        ("C=tr", "not-reported"),
        ("C=-", "not-reported"),
        ("C=bal.", "not-reported"),
        ("C=<0.005", "pass"),
        ("C=<0.20", "not-checked"),
        ("Mn=1.15", "not-reported"),
    ] {
        let answer = shop.json(&format!("cert check --spec A5.18 --class ER70S-2 --analysis '{analysis}'"));
        assert_eq!(answer["elements"][0]["element"], "C");
        assert_eq!(answer["elements"][0]["verdict"], carbon, "{analysis}");
        assert_eq!(answer["verdict"], "incomplete", "{analysis}");
    }
}

#[test]
fn a_table_of_the_shops_own_decides_and_is_named() {
    let shop = Shop::empty();
    let heading = "spec,edition,classification,applies_to,element,min_pct,max_pct,source,confidence\n";
    shop.write("own.csv", format!("{heading}A5.18,2021,ER70S-2,wire,C,,0.04,our copy,own-copy\n"));
    let line = "cert check --spec A5.18 --class ER70S-2 --analysis C=0.05";
    let answer = shop.json(&format!("{line} --table own.csv"));
    assert_eq!(
        (&answer["verdict"], &answer["table"]),
        (&json!("fail"), &json!("A5.18, edition 2021, own.csv"))
    );
    assert_eq!(answer["unverified"], json!(false));
    shop.write("bad.csv", format!("{heading}A5.18,2021,ER70S-2,wire,C,,4%,our copy,own-copy\nX,,,,,,,,\n"));
    let _ = shop.run(&format!("{line} --table bad.csv")).expect_code(2).says(&[
        "line 2, max_pct: \"4%\"",
        "line 3, spec: \"X\"",
        "line 3, edition: it is empty",
    ]);
    let _ = shop.run(&format!("{line} --table none.csv")).expect_code(1).says(&["none.csv was not read"]);
}
