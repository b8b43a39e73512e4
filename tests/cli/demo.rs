//! The demo shop: built in seconds, every step as it should end, checked by an independent program; and what was planted
//! in its slips is found by the questions that people ask.

use crate::shop::{Kept, Shop, root, snapshot};
use serde_json::{Value, json};
use std::process::Command;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// The demo shop's book in a shop of its own; built once and copied.
fn demo() -> Shop {
    static BUILT: OnceLock<Kept> = OnceLock::new();
    let built = BUILT.get_or_init(|| {
        let shop = Shop::empty();
        let _ = shop.ok("demo demo");
        std::fs::rename(shop.file("demo/shop.rodbook"), shop.book()).unwrap();
        shop.keep()
    });
    Shop::from(built)
}

#[test]
fn demo_is_quick_and_every_step_ends_as_it_should() {
    let shop = Shop::empty();
    let started = Instant::now();
    let answer = shop.json("demo demo");
    let took = started.elapsed();
    eprintln!("rodbook demo took {:.2} s", took.as_secs_f64());
    assert!(took < Duration::from_secs(20), "{took:?}");
    assert_eq!(answer["schema"], "rodbook-demo/1");
    let steps: Vec<(String, i64)> = answer["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| (s["command"][0].as_str().unwrap().to_owned(), s["exit"].as_i64().unwrap()))
        .collect();
    let refused: Vec<&(String, i64)> = steps.iter().filter(|(_, exit)| *exit != 0).collect();
    assert_eq!(
        refused,
        [&("issue".to_owned(), 3)],
        "one issue is refused, for a lot on hold, and everything else is done"
    );
    for verb in ["init", "import", "stock", "issue", "hold", "trace", "export", "verify"] {
        assert!(steps.iter().any(|(v, _)| v == verb), "{verb} is not shown");
    }
    let _ = shop.ok("--book demo/shop.rodbook verify");
    assert!(shop.file("demo/lot-joint.csv").exists() && shop.file("demo/lot-joint.manifest.json").exists());
}

#[test]
fn demo_as_people_read_it() {
    let shop = Shop::empty();
    snapshot!("demo", shop.shown("demo demo"));
    snapshot!("demo-again", shop.shown("demo demo"));
    let shop = Shop::empty();
    let _ = shop.ok("demo");
    let _ = shop.ok("demo");
    assert!(
        shop.file("rodbook-demo/shop.rodbook").exists() && shop.file("rodbook-demo-2/shop.rodbook").exists()
    );
}

/// What the walk says to try next works, and says what it promises.
#[test]
fn demo_ends_with_commands_that_work() {
    let shop = Shop::empty();
    let text = shop.ok("demo demo").stdout;
    let next = text.split("TRY NEXT").nth(1).unwrap();
    let mut tried = 0;
    for line in next.lines().filter_map(|l| l.strip_prefix("  rodbook ")) {
        let command = line.split("   ").next().unwrap();
        let _ = shop.ok(&format!("--book demo/shop.rodbook {command}"));
        tried += 1;
    }
    assert!(tried >= 4, "{next}");
}

/// docs/verify.py knows nothing of this program; it reads the book and the export by docs/format.md.
#[test]
fn an_independent_verifier_accepts_the_demo() {
    let python = std::env::var_os("RODBOOK_TEST_PYTHON").unwrap_or_else(|| "python3".into());
    let library = Command::new(&python).args(["-c", "import cryptography"]).output();
    assert!(
        library.as_ref().is_ok_and(|o| o.status.success()),
        "this test needs Python 3.9 with the package cryptography: run `cargo xtask test`, or set RODBOOK_TEST_PYTHON to such a Python: {library:?}"
    );
    let shop = demo();
    let _ = shop.ok("export record --out record.jsonl --checkpoints notes.txt");
    let receipt = shop.json("issue R-1028 W-12 1 rod --by A-01");
    let station = shop.json("verify")["stations"][0]["station"].as_str().unwrap().to_owned();
    let (seq, short) = (
        receipt["entries"][0]["seq"].as_u64().unwrap(),
        receipt["entries"][0]["short"].as_str().unwrap().to_owned(),
    );
    let check = |words: &[&str]| {
        let done = Command::new(&python)
            .arg(root().join("docs/verify.py"))
            .args(words)
            .current_dir(shop.path())
            .output()
            .unwrap();
        let said =
            String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
        (done.status.code(), said)
    };
    for words in [
        &["shop.rodbook"][..],
        &["record.jsonl", "notes.txt"],
        &["shop.rodbook", &format!("{}:{seq}:{short}", &station[..16])],
    ] {
        let (code, said) = check(words);
        assert_eq!(code, Some(0), "{words:?}: {said}");
        assert!(said.contains("Sound"), "{said}");
    }
    // And it would have found a change.
    let text = shop.read("record.jsonl").replacen("R-1028", "R-1029", 1);
    shop.write("changed.jsonl", text);
    let (code, said) = check(&["changed.jsonl", "notes.txt"]);
    assert_eq!(code, Some(5), "{said}");
    let (code, said) = check(&["shop.rodbook", &format!("{}:{}:{short}", &station[..16], seq - 1)]);
    assert_eq!(code, Some(5), "{said}");
}

/// Certainty and lots of each weld record of a joint at a pass.
fn welds(shop: &Shop, joint: &str, pass: &str) -> Vec<(String, Vec<String>, Vec<String>)> {
    let answer = shop.json(&format!("trace joint {joint}"));
    let lots = |list: &Value| {
        let mut lots: Vec<String> =
            list.as_array().unwrap().iter().map(|s| s["lot"].as_str().unwrap().to_owned()).collect();
        lots.sort();
        lots.dedup();
        lots
    };
    answer["welds"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|w| w["pass"] == pass && w["cycle"] == "original")
        .map(|w| (w["certainty"].as_str().unwrap().to_owned(), lots(&w["sources"]), lots(&w["others"])))
        .collect()
}

/// fixtures/demo-shop/STORIES.md, told by the program.
#[test]
fn the_stories_of_the_demo_shop() {
    let shop = demo();
    for (joint, pass, expected) in [
        ("M-101", "root", vec![("recorded", vec!["R-1028"], vec![])]),
        ("M-102", "root", vec![("by-custody", vec!["R-1028"], vec![])]),
        ("M-102", "hot", vec![("by-custody", vec!["R-1028"], vec![])]),
        ("M-102", "fill", vec![("by-custody", vec!["R-1040"], vec![])]),
        ("M-102", "cap", vec![("by-custody", vec!["R-1040"], vec![])]),
        ("M-103", "root", vec![("one-of", vec!["R-1028", "R-1082"], vec![])]),
        ("M-103", "hot", vec![("recorded", vec!["R-1082"], vec!["R-1028"])]),
        ("M-104", "root", vec![("contradicted", vec!["R-1028"], vec![])]),
        ("M-104", "hot", vec![("recorded", vec!["R-1028"], vec![])]),
        ("M-105", "root", vec![("contradicted", vec!["R-1028"], vec![])]),
        ("M-105", "hot", vec![("by-custody", vec!["R-1028"], vec![])]),
        ("B-206", "root", vec![("unknown", vec![], vec![])]),
        ("M-107", "root", vec![("recorded", vec!["R-1082"], vec![])]),
        ("M-107", "hot", vec![("by-custody", vec!["R-1082"], vec![])]),
        ("M-108", "root", vec![("recorded", vec!["R-1082"], vec![])]),
        ("D-419", "root", vec![("one-of", vec!["R-1050", "R-1052"], vec![])]),
        ("D-419", "hot", vec![("recorded", vec!["R-1050"], vec!["R-1052"])]),
        (
            "M-109",
            "hot",
            vec![("one-of", vec!["R-1028", "R-1082"], vec![]), ("by-custody", vec!["R-1082"], vec![])],
        ),
        ("M-120", "root", vec![("one-of", vec!["R-1028", "R-1082"], vec![])]),
        ("M-120", "hot", vec![("by-custody", vec!["R-1082"], vec![])]),
    ] {
        let expected: Vec<(String, Vec<String>, Vec<String>)> = expected
            .into_iter()
            .map(|(c, s, o)| {
                (
                    c.to_owned(),
                    s.into_iter().map(str::to_owned).collect(),
                    o.into_iter().map(str::to_owned).collect(),
                )
            })
            .collect();
        assert_eq!(welds(&shop, joint, pass), expected, "{joint} {pass}");
    }
}

/// The bad lot, by its code, either of its heats, or its certificate.
#[test]
fn the_bad_lot_is_found_everywhere_it_went() {
    let shop = demo();
    let by_lot = shop.json("trace lot R-1031");
    let uses = |answer: &Value| -> Vec<Value> { answer["welds"].as_array().unwrap().clone() };
    for other in ["trace heat 51207", "trace heat 51211", "trace cert QE-7741"] {
        let answer = shop.json(other);
        let of_lot: Vec<Value> = uses(&by_lot);
        for used in &of_lot {
            assert!(uses(&answer).contains(used), "{other} has not {used}");
        }
    }
    let has =
        |joint: &str, link: &str, certainty: &str, of: u64| {
            by_lot["welds"].as_array().unwrap().iter().any(|w| {
                w["joint"] == joint && w["link"] == link && w["certainty"] == certainty && w["of"] == of
            })
        };
    assert!(has("M-110", "source", "recorded", 1));
    assert!(has("M-111", "source", "by-custody", 1));
    assert!(has("M-112", "source", "one-of", 2));
    assert!(has("M-113", "named", "contradicted", 1));
    assert!(has("M-114", "other", "recorded", 1));
    assert!(has("M-147", "source", "recorded", 1));
    let out = by_lot["out"].as_array().unwrap();
    assert!(out.iter().any(|o| o["slip"] == "26-0805" && o["welder"] == "W-14"), "{out:?}");
    assert_eq!(
        shop.json("trace cert PB-5533")["lots"],
        json!(["R-1063", "R-1065"]),
        "wire and flux under one certificate"
    );
    assert_eq!(shop.json_error("trace lot 62055", 2)["code"], "ambiguous");
}

/// Numbers come out as they went in, whatever a spreadsheet would make of them.
#[test]
fn numbers_come_out_as_they_went_in() {
    let shop = demo();
    let (header, rows) = shop.ok("export lot-joint").csv();
    let heats = header.iter().position(|c| c == "heats").unwrap();
    for heat in ["7E210", "004417"] {
        assert!(rows.iter().any(|row| row[heats].split(';').any(|h| h == heat)), "{heat}");
    }
}
