//! Weld records, spot checks, and the traces in both directions.

use crate::shop::{Output, Shop, keys, snapshot};
use serde_json::{Value, json};

#[test]
fn weld() {
    let shop = Shop::worked();
    snapshot!(
        "weld",
        shop.session(&[
            "weld M-102 W-12 --pass root --process GTAW --slip S-00001 --used '4 rods' --from '2026-04-07 10:00' --to '2026-04-07 11:00' --mark read --by A-01",
            "weld M-102 W-14 --pass hot --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --mark not-looked --by A-01",
            "weld M-102 W-14 --pass fill --lot R-1028 --from '2026-04-07 11:10' --to '2026-04-07 12:00' --by A-01",
            "weld M-102 W-12 --also M-101 --pass cap --process SMAW --from 2026-04-08 --mark unreadable --finished --by A-01",
            "weld M-102 W-12 --pass root --process GTAW --no-filler --from '2026-04-07 06:00' --to '2026-04-07 06:05' --by A-01",
            "trace joint M-102",
        ])
    );
    shop.is_sound();
}

#[test]
fn weld_refused() {
    let shop = Shop::worked();
    let before = shop.state();
    snapshot!(
        "weld-refused",
        shop.session(&[
            "weld M-101 W-12 --from '2199-04-07 10:00' --by A-01",
            "weld M-101 W-12 --from '2026-04-07 10:00' --to '2026-04-07 09:00' --by A-01",
            "weld M-101 W-12 --lot R-1082 --slip S-00001 --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-12 --lot R-1028 --no-filler --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-12 --process '' --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-12 --used '3.5 rods' --from '2026-04-07 10:00' --by A-01",
            "weld M-110 W-12 --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-21 --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-12 --slip S-00009 --from '2026-04-07 10:00' --by A-01",
            "weld M-101 W-12 --lot R-1029 --from '2026-04-07 10:00' --by A-01",
            "weld M-101 --by A-01",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn weld_as_json() {
    let shop = Shop::worked();
    let answer = shop.json("weld M-102 W-12 --also M-101 --pass root --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01");
    assert_eq!(answer["verb"], "weld");
    let welds = answer["welds"].as_array().unwrap();
    assert_eq!(welds.len(), 2, "one for each joint");
    for weld in welds {
        assert_eq!(weld["certainty"], "by-custody");
        is_a_traced_weld(weld);
    }
}

#[test]
fn spot_check() {
    let shop = Shop::worked();
    snapshot!(
        "spot-check",
        shop.session(&[
            "spot-check M-101 W-12 --legible yes --reads ER70S-2 --at '2026-04-07 07:30' --by I-21",
            "spot-check M-101 W-12 --legible yes --reads 70S-6 --at '2026-04-07 08:45' --by I-21",
            "spot-check M-101 W-12 --legible no --at '2026-04-07 07:45' --by I-21",
            "spot-check M-101 W-12 --legible yes --at '2026-04-07 13:00' --by I-21",
            "trace joint M-101",
            "spot-check M-101 W-12 --at '2026-04-07 07:30' --by I-21",
            "spot-check M-101 W-12 --legible maybe --at '2026-04-07 07:30' --by I-21",
            "spot-check M-101 W-12 --legible yes --at '2199-04-07 07:30' --by I-21",
            "spot-check M-111 W-12 --legible yes --at '2026-04-07 07:30' --by I-21",
        ])
    );
    let answer =
        shop.json("spot-check M-101 W-12 --legible yes --reads 70S-2 --at '2026-04-07 07:50' --by I-21");
    assert_eq!(answer["joint"], "M-101");
    assert_eq!(answer["welds"].as_array().unwrap().len(), 2);
    shop.is_sound();
}

/// A source as the contract has it.
fn is_a_source(source: &Value) {
    for field in ["slip", "lot", "issued_at"] {
        assert!(source[field].is_string(), "{field} of {source}");
    }
    for field in ["maker", "maker_lot", "spec", "classification", "certificate", "certificate_type"] {
        assert!(source.get(field).is_some_and(|f| f.is_string() || f.is_null()), "{field} of {source}");
    }
    assert!(source["heats"].as_array().unwrap().iter().all(Value::is_string), "{source}");
    is_utc(&source["issued_at"]);
}

fn is_utc(time: &Value) {
    let time = time.as_str().unwrap();
    assert!(chrono::NaiveDateTime::parse_from_str(time, "%Y-%m-%dT%H:%M:%SZ").is_ok(), "{time}");
}

/// A weld of `rodbook-trace-joint/1`: every field of the contract is there, with its type.
fn is_a_traced_weld(weld: &Value) {
    assert_eq!(weld["entry"].as_str().unwrap().len(), 64);
    for field in ["cycle", "welder", "certainty"] {
        assert!(weld[field].is_string(), "{field} of {weld}");
    }
    for field in ["pass", "process", "mark"] {
        assert!(weld.get(field).is_some_and(|f| f.is_string() || f.is_null()), "{field} of {weld}");
    }
    is_utc(&weld["from"]);
    is_utc(&weld["to"]);
    let words = ["recorded", "by-custody", "one-of", "contradicted", "unknown", "no-filler"];
    assert!(words.contains(&weld["certainty"].as_str().unwrap()), "{weld}");
    assert_eq!(keys(&weld["named"]), ["lot", "slip"]);
    for list in ["sources", "others", "flux"] {
        weld[list].as_array().unwrap().iter().for_each(is_a_source);
    }
    for lot in weld["lots"].as_array().unwrap() {
        assert_eq!(keys(lot), ["least_mg", "lot", "most_mg"]);
        assert!(lot["lot"].is_string());
    }
    assert!(weld.get("unrecorded_mg").is_some());
    assert!(weld["checks"].is_array());
}

#[test]
fn trace_joint() {
    let shop = Shop::worked();
    snapshot!(
        "trace-joint",
        shop.session(&[
            "trace joint M-101",
            "trace joint M-102",
            "trace joint M-101 --format csv",
            "trace joint M-102 --format csv",
            "trace joint m101"
        ])
    );
    let answer = shop.json("trace joint M-101");
    assert_eq!(answer["schema"], "rodbook-trace-joint/1");
    assert_eq!(answer["joint"], "M-101");
    assert_eq!(answer["aliases"], json!([]));
    assert!(answer["findings"].is_array());
    let welds = answer["welds"].as_array().unwrap();
    assert_eq!(welds.len(), 2);
    welds.iter().for_each(is_a_traced_weld);
    let root = &welds[0];
    assert_eq!(
        (&root["pass"], &root["certainty"], &root["mark"]),
        (&json!("root"), &json!("recorded"), &json!("read"))
    );
    assert_eq!(root["named"], json!({"lot": "R-1028", "slip": null}));
    let source = &root["sources"][0];
    assert_eq!(
        (&source["slip"], &source["lot"], &source["maker"], &source["maker_lot"], &source["heats"]),
        (&json!("S-00001"), &json!("R-1028"), &json!("Tarvemire Wire"), &json!("4117-B"), &json!(["7K2214"]))
    );
    assert_eq!(
        (&source["spec"], &source["classification"], &source["certificate"], &source["certificate_type"]),
        (&json!("A5.18"), &json!("ER70S-2"), &json!("TW-26-0388"), &json!("3.1"))
    );
    assert_eq!(source["issued_at"], "2026-04-06T18:10:00Z");
    let hot = &welds[1];
    assert_eq!(
        (&hot["certainty"], &hot["named"]),
        (&json!("by-custody"), &json!({"lot": null, "slip": null}))
    );
    assert_eq!(hot["checks"][0]["reads"], "70S-2");
    let (header, rows) = shop.ok("trace joint M-101 --format csv").csv();
    assert_eq!(header[0], "joint");
    assert_eq!(rows.len(), 2);
    let empty = shop.json("trace joint M-102");
    assert_eq!(empty["welds"], json!([]), "no weld record is an empty answer, not an error");
}

/// `trace lot`, `trace heat`, `trace cert`: the same welds, by another number.
#[test]
fn where_used() {
    let shop = Shop::worked();
    let _ = shop.ok("weld M-102 W-14 --pass root --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01");
    snapshot!(
        "trace-lot",
        shop.session(&[
            "trace lot R-1028",
            "trace lot 62055",
            "trace heat 51211",
            "trace cert QE-7741",
            "trace lot R-1040",
            "trace lot R-1028 --format csv",
            "trace lot R-1040 --format csv",
            "trace lot R-1O28",
            "trace heat 7E21O",
            "trace cert QE-7742",
            "trace heat zzz",
        ])
    );
    for (kind, label) in
        [("lot", "R-1082"), ("lot", "62055"), ("heat", "51207"), ("heat", "51211"), ("cert", "QE-7741")]
    {
        let answer = shop.json(&format!("trace {kind} {label}"));
        assert_eq!(answer["schema"], "rodbook-where-used/1");
        assert_eq!(answer["asked"], json!({ kind: label }));
        assert_eq!(answer["lots"], json!(["R-1082"]));
        let welds = answer["welds"].as_array().unwrap();
        assert_eq!(welds.len(), 1, "{answer}");
        for field in ["joint", "cycle", "pass", "welder", "entry", "link", "certainty"] {
            assert!(welds[0][field].is_string(), "{field} of {}", welds[0]);
        }
        assert_eq!(
            (&welds[0]["joint"], &welds[0]["link"], &welds[0]["of"]),
            (&json!("M-102"), &json!("source"), &json!(1))
        );
        assert!(welds[0].get("least_mg").is_some() && welds[0].get("most_mg").is_some());
        assert_eq!(answer["out"], json!([{"slip": "S-00002", "welder": "W-14", "left": "10 rods"}]));
        assert_eq!(answer["in_crib_mg"], 25_000_000 - 10 * 31_967);
    }
    let nothing = shop.json("trace lot R-1040");
    assert_eq!((&nothing["welds"], &nothing["out"]), (&json!([]), &json!([])));
    let (header, rows) = shop.ok("trace lot R-1028 --format csv").csv();
    assert_eq!(
        header,
        ["joint", "cycle", "pass", "welder", "welded_from", "welded_to", "link", "certainty", "of", "entry"]
    );
    assert_eq!(rows.len(), 2);
}

#[test]
fn trace_slip() {
    let shop = Shop::worked();
    snapshot!(
        "trace-slip",
        shop.session(&[
            "trace slip S-00001",
            "trace slip S-00002",
            "trace slip S-00001 --format csv",
            "trace slip S-00007"
        ])
    );
    let answer = shop.json("trace slip S-00001");
    assert_eq!(answer["schema"], "rodbook-trace-slip/1");
    assert_eq!(answer["slip"]["slip"], "S-00001");
    assert_eq!(answer["welds"].as_array().unwrap().len(), 2);
}

#[test]
fn trace_welder() {
    let shop = Shop::worked();
    snapshot!(
        "trace-welder",
        shop.session(&[
            "trace welder W-12",
            "trace welder W-14",
            "trace welder A-01",
            "trace welder W-12 --format csv",
            "trace welder W-13"
        ])
    );
    let answer = shop.json("trace welder W-12");
    assert_eq!(answer["schema"], "rodbook-trace-welder/1");
    assert_eq!(
        (answer["slips"].as_array().unwrap().len(), answer["welds"].as_array().unwrap().len()),
        (1, 2)
    );
}

/// A contradiction names what was read, whichever of the joint's checks it was.
#[test]
fn a_contradicting_check_is_named() {
    let shop = Shop::worked();
    let _ = shop.ok("spot-check M-101 W-12 --legible yes --reads ER70S-2 --at '2026-04-07 07:30' --by I-21");
    let _ = shop.ok("spot-check M-101 W-12 --legible yes --reads 70S-6 --at '2026-04-07 08:45' --by I-21");
    let said = "A spot check during the weld read 70S-6, which no source is.";
    let hot = shop.json("trace joint M-101")["welds"][1].clone();
    assert_eq!((&hot["pass"], &hot["certainty"]), (&json!("hot"), &json!("contradicted")));
    assert!(hot["why"].as_array().unwrap().contains(&json!(said)), "{}", hot["why"]);
    let page = shop.ok("trace joint M-101").stdout;
    assert!(page.split_whitespace().collect::<Vec<_>>().join(" ").contains(said), "{page}");
}

/// Every certainty by the command line, each for the reason that the word has.
#[test]
fn every_certainty() {
    let shop = Shop::stocked();
    for step in [
        "issue R-1028 W-12 24 rods --at '2026-04-07 06:00' --by A-01",
        "weld M-101 W-12 --pass by-custody --process GTAW --from '2026-04-07 06:10' --by A-01",
        "weld M-101 W-12 --pass recorded --process GTAW --slip S-00001 --from '2026-04-07 06:20' --by A-01",
        "weld M-101 W-12 --pass contradicted --process GTAW --lot R-1082 --from '2026-04-07 06:30' --by A-01",
        "weld M-101 W-12 --pass no-filler --process GTAW --no-filler --from '2026-04-07 06:40' --by A-01",
        "weld M-101 W-14 --pass unknown --process GTAW --from '2026-04-07 06:50' --by A-01",
        "issue R-1082 W-12 10 rods --at '2026-04-07 07:00' --by A-01",
        "weld M-101 W-12 --pass one-of --process GTAW --from '2026-04-07 07:10' --by A-01",
    ] {
        let _ = shop.ok(step);
    }
    let answer = shop.json("trace joint M-101");
    for weld in answer["welds"].as_array().unwrap() {
        assert_eq!(weld["certainty"], weld["pass"], "the pass was named for the certainty it must have");
    }
    assert_eq!(answer["welds"].as_array().unwrap().len(), 6);
    snapshot!("trace-joint-every-certainty", shop.shown("trace joint M-101"));
}

/// The page is read on a phone: no line is longer than 60 characters, however wide the terminal.
#[test]
fn pages_fit_a_phone() {
    let shop = Shop::worked().columns(200);
    for line in [
        "trace joint M-101",
        "trace lot R-1028",
        "trace slip S-00001",
        "trace welder W-12",
        "slip S-00001",
        "verify",
    ] {
        let Output { stdout, .. } = shop.ok(line);
        for text in stdout.lines() {
            assert!(text.chars().count() <= 60, "{line}: {text:?}");
        }
    }
}
