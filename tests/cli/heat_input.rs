//! Volts, amperes and travel on a weld record: the heat input of the pass, against the limit of its procedure.

use crate::shop::{Shop, snapshot};
use serde_json::Value;

const WPS: &str = "wps,revision,process,spec,classifications,heat_input_most,heat_input_convention\n\
                   WPS-A,1,GTAW,A5.18,ER70S-2,55 kJ/in,qw-409.1-a\n\
                   WPS-K,1,GTAW,A5.18,ER70S-2,1.0 kJ/mm,en-1011-1\n\
                   WPS-N,1,GTAW,A5.18,ER70S-2,,\n";

fn shop() -> Shop {
    let shop = Shop::worked();
    shop.write("in/wps.csv", WPS);
    let _ = shop.ok("import in --by A-01");
    for (joint, wps) in [("H-1", "WPS-A"), ("H-2", "WPS-K"), ("H-3", "WPS-N")] {
        let _ = shop.ok(&format!("joint {joint} --wps {wps} --by A-01"));
    }
    shop
}

/// A weld record of a pass at a joint, and its heat input.
fn heat_input(shop: &Shop, joint: &str, arc: &str) -> Value {
    let welded = shop.json(&format!(
        "weld {joint} W-12 --pass fill --process GTAW {arc} --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01"
    ));
    welded["welds"][0]["heat_input"].clone()
}

#[test]
fn a_pass_lies_below_near_or_above_its_limit() {
    let shop = shop();
    // 60 V I / v with 227 A at 3 in/min and 4 in/min (common practice, no source): 34 to 64 kJ/in for 10 to 14 V. The
    // limit is 55; twice the uncertainty of 2, 3 and 5 % is 12.3 %.
    for (volts, travel, kj_per_in, verdict) in [
        ("10", "4 in/min", "34.0500", "below"),
        ("12", "4 in/min", "40.8600", "below"),
        ("12", "3 in/min", "54.4800", "near-limit"),
        ("14", "3 in/min", "63.5600", "above"),
    ] {
        let heat = heat_input(&shop, "H-1", &format!("--volts {volts} --amps 227 --travel '{travel}'"));
        assert_eq!(heat["kj_per_in"], kj_per_in);
        assert_eq!(heat["limits"][0]["verdict"], verdict, "{heat}");
        assert_eq!(heat["limits"][0]["wps"], "WPS-A");
    }
}

#[test]
fn each_limit_is_held_against_a_value_of_its_own_convention() {
    let shop = shop();
    // EN 1011-1: k = 0.6 for GTAW. 40.86 kJ/in is 1.6087 kJ/mm of arc energy, 0.9652 with k.
    let heat = heat_input(&shop, "H-2", "--volts 12 --amps 227 --travel '4 in/min'");
    assert_eq!(heat["convention"], "qw-409.1-a");
    assert_eq!(heat["limits"][0]["value"]["kj_per_mm"], "0.965197");
    assert_eq!(heat["limits"][0]["verdict"], "near-limit");
    // A limit by volts and amperes says nothing of a measured power.
    let power = heat_input(&shop, "H-1", "--power '2300 W' --travel '10 in/min'");
    assert_eq!(power["kj_per_in"], "13.8000");
    assert_eq!(power["limits"][0]["verdict"], "not-compared");
    // Without a limit nothing passes.
    let none = heat_input(&shop, "H-3", "--volts 12 --amps 227 --travel '4 in/min'");
    assert_eq!(none["limits"], serde_json::json!([]));
}

#[test]
fn on_the_page() {
    let shop = shop();
    snapshot!(
        "heat-input",
        shop.session(&[
            "weld H-1 W-12 --pass root --process GTAW --volts 12 --amps 227 --travel '3 in/min' --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01",
            "weld H-1 W-12 --pass cap --process GTAW --volts 12 --amps 227 --from '2026-04-07 11:10' --to '2026-04-07 11:30' --by A-01",
            "weld H-3 W-12 --pass root --process GTAW --volts 12 --amps 227 --travel '3 in/min' --from '2026-04-07 12:00' --to '2026-04-07 12:30' --by A-01",
            "trace joint H-1",
        ])
    );
    shop.is_sound();
}

#[test]
fn what_cannot_be_is_refused() {
    let shop = shop();
    let before = shop.state();
    for (arc, part) in [
        ("--volts 12 --amps 227 --travel '0 in/min'", "zero"),
        ("--volts 12,5 --amps 227 --travel '3 in/min'", "comma"),
        ("--volts 12 --amps -227 --travel '3 in/min'", "below zero"),
        ("--volts 12 --amps 227 --travel 3", "unit"),
        ("--volts 24 --amps 300 --travel '3 in/min' --waveform-controlled", "waveform"),
    ] {
        let refused = shop.run(&format!(
            "weld H-1 W-12 --process GTAW {} --from '2026-04-07 10:00' --by A-01",
            arc.replace("--amps -227", "--amps=-227")
        ));
        assert_eq!(refused.code, Some(2), "{arc}: {}{}", refused.stdout, refused.stderr);
        assert!(refused.stderr.contains(part), "{arc}: {}", refused.stderr);
    }
    assert_eq!(shop.state(), before);
}

#[test]
fn imported_and_corrected() {
    let shop = shop();
    shop.write(
        "more/welds.csv",
        "joint,welder,process,from,to,volts,amps,travel\nH-1,W-12,GTAW,2026-04-07 10:00,2026-04-07 11:00,12,227,3 in/min\n",
    );
    let _ = shop.ok("import more --by A-01");
    let traced = shop.json("trace joint H-1");
    assert_eq!(traced["welds"][0]["heat_input"]["kj_per_in"], "54.4800");
    let entry = traced["welds"][0]["entry"].as_str().unwrap().to_owned();
    let _ = shop.ok(&format!("correct {entry} --set 'travel=4 in/min' --why 'misread' --by A-01"));
    let traced = shop.json("trace joint H-1");
    assert_eq!(traced["welds"][0]["heat_input"]["kj_per_in"], "40.8600");
    shop.write(
        "bad/welds.csv",
        "joint,welder,process,from,travel,volts,amps\nH-1,W-12,GTAW,2026-04-07 10:00,0 in/min,12,227\n",
    );
    let bad = shop.run("import bad --by A-01");
    assert_eq!(bad.code, Some(2));
    assert!(bad.stderr.contains("travel"), "{}", bad.stderr);
    shop.is_sound();
}
