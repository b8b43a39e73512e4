//! `cert check`: verdicts, what is not understood, a table of the shop's own.

use crate::shop::{Shop, root, snapshot};
use serde_json::json;

/// Analyses of an ER70S-2, an ER309L, an ER308 whose carbon rounds above that of 308L, and an E7018 (constructed).
const S2: &str =
    "C=0.05,Mn=1.15,Si=0.55,P=0.010,S=0.012,Ni=0.02,Cr=0.03,Mo=0.01,V=0.003,Cu=0.15,Ti=0.09,Zr=0.05,Al=0.08";
const L309: &str = "C=0.034,Cr=23.6,Ni=13.5,Mo=0.12,Mn=1.80,Si=0.45,P=0.020,S=0.008,Cu=0.12";
const L308: &str = "C=0.035,Cr=19.9,Ni=9.9,Mo=0.10,Mn=1.75,Si=0.45,P=0.020,S=0.008,Cu=0.12";
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
            &format!("cert check --spec A5.9 --class ER308/308L --analysis {L308} --type 2.2 --lot-class S3 --asks-cert-type 3.1 --asks-lot-class S5 --asks-schedule J"),
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
    assert_eq!(columns[..6], ["element", "value", "min", "max", "rounded", "verdict"]);
    assert_eq!(rows.len(), 11);
    assert_eq!(rows[10][..6], ["tensile", "78 ksi", "70 ksi", "", "78 ksi", "pass"]);
}

/// The page is 60 columns wide whatever is on it.
#[test]
fn the_page_is_narrow() {
    let shop = Shop::empty();
    for line in [
        format!("--spec A5.1 --class E7018 --analysis {E7018} --tensile '78 ksi' --impact '40 J at -30 C'"),
        format!("--spec A5.9 --class ER308/308L --analysis {L308}"),
        "--spec A5.16 --class ERTi-2 --analysis C=0.011111111111,O=0.12,Fe=<0.06666666666,Ti=bal.".to_owned(),
        "--spec A5.28 --class ER90S-B9 --analysis Mn=1.00,Ni=0.60,W=0.30,Co=0.21,Nb=0.06".to_owned(),
    ] {
        let page = shop.ok(&format!("cert check {line}")).stdout;
        assert!(page.lines().all(|line| line.chars().count() <= 60), "{page}");
    }
}

/// The shape that other programs rely on.
#[test]
fn every_element_has_the_fields_of_the_contract() {
    let shop = Shop::empty();
    let words = ["pass", "pass-by-rounding", "fail", "not-reported", "not-limited"];
    for (spec, class, analysis) in [
        ("A5.18", "ER70S-2", "C=0.074,Mn=<0.01,Si=tr,P=0.9,V=<0.05,W=0.1"),
        ("A5.9", "ER308/308L", L308),
        ("A5.9", "ER347", "C=<0.05,Nb=0.45"),
        ("A5.1", "E6010", "C=0.12,Mn=1.59"),
        ("A5.28", "ER90S-B9", "Mn=1.00,Ni=0.60,W=<0.60"),
        ("A5.10", "ER4043", "Si=5.2,Al=bal."),
    ] {
        let answer = shop.json(&format!("cert check --spec {spec} --class {class} --analysis '{analysis}'"));
        let elements = answer["elements"].as_array().unwrap();
        assert!(!elements.is_empty());
        for element in elements {
            assert!(words.contains(&element["verdict"].as_str().unwrap()), "{element}");
            assert!(element["element"].is_string() && element["confidence"] != "", "{element}");
            for end in ["min", "max"] {
                let end = &element[end];
                let decimal = end.as_str().is_none_or(|text| filler::Percent::parse(text).is_ok());
                assert!(decimal && (end.is_string() || end.is_null()), "{element}");
            }
        }
    }
}

#[test]
fn a_mark_as_printed_and_as_the_table_has_it_are_one_class() {
    let shop = Shop::empty();
    let of = |class: &str| {
        shop.json(&format!("cert check --spec A5.4 --class {class} --analysis {L309} --product weld-metal"))
    };
    let (printed, tabled) = (of("E309L-16"), of("E309L-XX"));
    for field in ["verdict", "table", "elements", "classes"] {
        assert_eq!(printed[field], tabled[field], "{field}");
    }
    assert_eq!(printed["classes"], json!(["E309L-XX"]));
    // A dual mark is held against both classes.
    let dual = shop.json(&format!("cert check --spec A5.9 --class ER308/308L --analysis {L308}"));
    assert_eq!((&dual["verdict"], &dual["classes"]), (&json!("fail"), &json!(["ER308", "ER308L"])));
    let carbon: Vec<&str> = dual["elements"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|e| e["element"] == "C")
        .map(|e| e["verdict"].as_str().unwrap())
        .collect();
    assert_eq!(carbon, ["pass", "fail"]);
}

/// Without a book nobody answers for the built-in table; with one, whoever signed it off.
#[test]
fn who_answers_for_the_table_is_said() {
    let line = format!("cert check --spec A5.18 --class ER70S-2 --analysis {S2}");
    let sign_off = |shop: &Shop| shop.json(&line)["table_sign_off"].as_str().unwrap().to_owned();
    assert!(sign_off(&Shop::empty()).contains("not signed off"));
    let shop = Shop::stocked();
    assert!(sign_off(&shop).contains("not signed off"));
    let _ = shop.ok("table sign-off A5.18 --against 'our copy of A5.18:2005' --by I-21");
    assert!(sign_off(&shop).contains("signed off by I-21"));
    assert!(shop.ok(&line).stdout.contains("signed off by I-21"));
    // The shop's own table, once it decides, decides here too; a check writes nothing.
    let own = shop.ok("table show A5.18 --built-in --format csv").stdout;
    shop.write(
        "own.csv",
        own.replace("ER70S-2,ER48S-2,K10726,wire,C,,0.07", "ER70S-2,ER48S-2,K10726,wire,C,,0.04")
            .replace("2005 (= SFA-5.18 2007)", "2021"),
    );
    let _ = shop.ok("table load own.csv --name 'our A5.18' --by A-01");
    assert_eq!(shop.json(&line)["verdict"], "pass");
    let _ = shop.ok("table sign-off A5.18 --against 'our copy, 2021' --by I-21");
    let before = shop.state();
    let answer = shop.json(&line);
    assert_eq!(answer["verdict"], "fail");
    assert!(answer["table"].as_str().unwrap().contains("our A5.18"), "{}", answer["table"]);
    assert_eq!(shop.state(), before);
}

#[test]
fn the_papers_are_compared_with_what_is_asked() {
    let shop = Shop::empty();
    let answer = shop.json(&format!(
        "cert check --spec A5.18 --class ER70S-2 --analysis {S2} --type 3.2 --lot-class S5 --asks-cert-type 3.1 \
         --asks-lot-class S3 --asks-schedule J"
    ));
    let met: Vec<&serde_json::Value> =
        answer["papers"].as_array().unwrap().iter().map(|paper| &paper["met"]).collect();
    assert_eq!(met, [&json!(true), &json!(null), &json!(null)]);
    assert_eq!(answer["verdict"], "pass", "the papers are questions of their own");
}

/// F-number and A-number: ASME IX tables QW-432 and QW-442 as tabulated, with their confidence.
#[test]
fn the_groups_of_the_class_and_the_a_number_of_the_deposit() {
    let shop = Shop::empty();
    let deposit = shop.json(&format!("cert check --spec A5.1 --class E7018 --analysis {E7018}"));
    let group = &deposit["groups"][0];
    assert_eq!(
        (&group["f_number"], &group["a_number"], &group["sfa"]),
        (&json!(4), &json!(1), &json!("SFA-5.1"))
    );
    assert_eq!((&group["f_confidence"], &group["a_confidence"]), (&json!("two-sources"), &json!("memory")));
    assert_eq!(deposit["a_number_of_analysis"]["fits"][0]["a_number"], 1);
    // The analysis of a wire is none of its deposit.
    let wire = shop.json(&format!("cert check --spec A5.18 --class ER70S-2 --analysis {S2}"));
    assert_eq!(wire["a_number_of_analysis"], json!(null));
}

#[test]
fn a_number_of_an_analysis() {
    let shop = Shop::empty();
    snapshot!(
        "calc-a-number",
        shop.session(&[
            "calc a-number --analysis C=0.08,Cr=2.00,Mo=0.50,Ni=0.02,Mn=0.70,Si=0.50",
            "calc a-number --analysis C=0.08,Cr=0.03,Mo=tr,Ni=0.02,Mn=1.30,Si=0.60",
            "calc a-number --analysis C=0.08,Cr=0.03,Mo=0.01,Ni=0.02,Mn=1.65,Si=0.90",
            "calc a-number --analysis C=0,08",
        ])
    );
    let answer = shop.json("calc a-number --analysis C=0.02,Cr=24.0,Mo=2.00,Ni=15.0,Mn=1.70,Si=0.40");
    assert_eq!(answer["schema"], "rodbook-calc-a-number/1");
    let fits: Vec<u64> =
        answer["fits"].as_array().unwrap().iter().map(|n| n["a_number"].as_u64().unwrap()).collect();
    assert_eq!(fits, [8, 9], "they overlap");
    assert_eq!(answer["unverified"], true);
    let missing = shop.json("calc a-number --analysis C=0.08,Cr=0.03,Ni=0.02,Mn=1.30,Si=0.60");
    assert_eq!(missing["fits"], json!([]), "never taken as zero");
    assert_eq!(missing["not_computable"][0]["missing"], json!(["Mo"]));
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
        for strength in cell(6).split_terminator(';') {
            words.push(format!("--{strength}"));
        }
        let output = shop.run_words(&words).expect_code(0);
        let answer: serde_json::Value = serde_json::from_str(&output.stdout).unwrap();
        assert_eq!(answer["verdict"], cell(7), "{}: {}", cell(0), output.shown());
        count += 1;
    }
    assert!(count >= 80, "{count}");
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
        // The value that is limited is not reported: only that it is below something higher.
        ("C=<0.20", "not-reported"),
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
