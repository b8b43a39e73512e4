//! More of the crib: scrap, a shift's end, slips printed again, notes, cycles that were cut out, joints renumbered.

use crate::shop::{Shop, keys, parse_one, snapshot};
use serde_json::{Value, json};

/// What is in the crib of a lot, in milligrams.
fn in_crib(shop: &Shop, lot: &str) -> Value {
    let stock = shop.json("stock");
    stock["lots"].as_array().unwrap().iter().find(|l| l["lot"] == lot).unwrap()["in_crib_mg"].clone()
}

/// Slips that are out, by number.
fn out(shop: &Shop) -> Vec<String> {
    let answer = shop.json("out");
    answer["slips"].as_array().unwrap().iter().map(|s| s["slip"].as_str().unwrap().to_owned()).collect()
}

/// The answer in JSON of a verb that warns.
fn json_with_warning(shop: &Shop, line: &str, warning: &str) -> Value {
    let output = shop.ok(&format!("{line} --format json"));
    assert!(output.stderr.contains(warning), "{}", output.shown());
    parse_one(&output.stdout, line)
}

#[test]
fn scrap() {
    let shop = Shop::worked();
    let _ = shop.ok("issue R-1040 W-14 12 rods --quiver Q-3 --at '2026-04-07 06:30' --by A-01");
    snapshot!(
        "scrap",
        shop.session(&[
            "scrap slip S-00002 2 rods --why bent --at '2026-04-07 09:00' --by A-01",
            "scrap quiver Q-3 --why 'lid open overnight' --at '2026-04-08 06:05' --by A-01",
            "scrap quiver Q-3 --why again --at '2026-04-08 06:10' --by A-01",
            "scrap lot R-1028 12 rods --why rusted --at '2026-04-08 07:00' --by A-01",
            "scrap lot R-1031 --why 'maker withdrew it' --at '2026-04-08 07:00' --by A-01",
            "slip S-00002",
            "out",
        ])
    );
    shop.is_sound();
}

#[test]
fn scrap_refused() {
    let shop = Shop::worked();
    let _ = shop.ok("receive --lot R-1090 --maker X --maker-lot 1 --at '2026-03-09 09:40' --by A-01");
    let before = shop.state();
    snapshot!(
        "scrap-refused",
        shop.session(&[
            "scrap slip S-00002 11 rods --why bent --at '2026-04-07 09:00' --by A-01",
            "scrap slip S-00002 0 rods --why bent --at '2026-04-07 09:00' --by A-01",
            "scrap slip S-00002 --why bent --at '2026-04-07 06:19' --by A-01",
            "scrap slip S-00002 --why bent --at '2199-04-07 06:19' --by A-01",
            "scrap slip S-00001 1 rod --why bent --at '2026-04-07 15:00' --by A-01",
            "scrap slip S-00001 --why bent --at '2026-04-07 15:00' --override 'found one' --by I-21",
            "scrap lot R-1082 '26 kg' --why rusted --at '2026-04-07 09:00' --by A-01",
            "scrap lot R-1082 --why rusted --at '2026-03-09 09:39' --by A-01",
            "scrap lot R-1090 --why rusted --by A-01",
            "scrap quiver Q-33 --why rusted --by A-01",
            "scrap slip S-00009 --why bent --by A-01",
            "scrap lot R-1O28 --why bent --by A-01",
            "scrap slip S-00002 --by A-01",
            "scrap slip S-00002 --why '' --by A-01",
            "scrap slip S-00002 --why bent",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn scrap_as_json() {
    let shop = Shop::worked();
    let answer = shop.json("scrap slip S-00002 --why bent --at '2026-04-07 09:00' --by A-01");
    assert_eq!(keys(&answer), ["crib", "dry_run", "entries", "schema", "slips", "verb"]);
    assert_eq!((&answer["verb"], &answer["crib"]), (&json!("scrap"), &Value::Null));
    let slip = &answer["slips"][0];
    let movement = &slip["movements"][0];
    assert_eq!(
        (&movement["way"], &movement["quantity"], &movement["closes"], &movement["why"]),
        (&json!("scrapped"), &json!("10 rods"), &json!(true), &json!("bent"))
    );
    assert_eq!(slip["closed_at"], "2026-04-06T21:00:00Z");
    assert_eq!(movement["entry"], answer["entries"][0]["id"]);
    let crib = shop.json("scrap lot R-1082 10 rods --why rusted --at '2026-04-07 09:00' --by A-01");
    assert_eq!(crib["slips"], json!([]));
    assert_eq!((&crib["crib"]["lot"], &crib["crib"]["quantity"]), (&json!("R-1082"), &json!("10 rods")));
    assert_eq!(crib["crib"]["in_crib_mg"], 25_000_000 - 20 * 31_967);
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!((&body["slip"], &body["by"]["badge"]), (&Value::Null, &json!("A-01")));
}

/// What is scrapped is neither out nor stock, whichever way it goes, and nothing brings it back.
#[test]
fn scrapped_is_neither_stock_nor_out() {
    let shop = Shop::worked();
    let stock = in_crib(&shop, "R-1082");
    // From a slip: the crib has what it had, the welder has less, in the end nothing.
    let _ = shop.ok("scrap slip S-00002 4 rods --why bent --at '2026-04-07 09:00' --by A-01");
    assert_eq!(shop.json("slip S-00002")["left"], "6 rods");
    assert_eq!(in_crib(&shop, "R-1082"), stock);
    let _ = shop
        .writes_nothing("return S-00002 7 rods --condition marked --at '2026-04-07 10:00' --by A-01", 3)
        .says(&["more than is out", "6 pieces are out"]);
    // Reaching what was issued closes it, as a return would.
    let _ = shop.ok("scrap slip S-00002 6 rods --why bent --at '2026-04-07 11:00' --by A-01");
    assert_eq!(out(&shop), Vec::<String>::new());
    assert_eq!(in_crib(&shop, "R-1082"), stock);
    // From the crib: all that is there as stock, to the milligram.
    let _ = shop.ok("scrap lot R-1082 --why rusted --at '2026-04-08 09:00' --by A-01");
    assert_eq!(in_crib(&shop, "R-1082"), 0);
    let _ = shop
        .writes_nothing("issue R-1082 W-12 1 rod --at '2026-04-08 10:00' --by A-01", 3)
        .says(&["there is not that much of it"]);
    let _ = shop
        .writes_nothing("scrap lot R-1082 --why rusted --at '2026-04-08 10:00' --by A-01", 3)
        .says(&["none of it is in the crib as stock"]);
    let trace = shop.json("trace lot R-1082");
    assert_eq!((&trace["out"], &trace["in_crib_mg"]), (&json!([]), &json!(0)));
    shop.is_sound();
}

/// Metal that came back unmarked is no stock, so "all that is there as stock" leaves it, and says so.
#[test]
fn what_was_put_aside_is_no_part_of_the_stock_that_is_scrapped() {
    let shop = Shop::worked();
    let stock = in_crib(&shop, "R-1082");
    let _ = shop.ok("return S-00002 3 rods --condition wet --at '2026-04-07 14:00' --by A-01");
    assert_eq!(in_crib(&shop, "R-1082"), stock);
    let done = shop.ok("scrap lot R-1082 --why rusted --at '2026-04-08 09:00' --by A-01");
    let page = done.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("came back unmarked, damaged or wet (3 pieces)"), "{}", done.shown());
    assert_eq!(in_crib(&shop, "R-1082"), 0, "never below nothing");
}

/// A quiver is emptied whole or not at all.
#[test]
fn a_quiver_is_scrapped_in_one_go() {
    let shop = Shop::worked();
    let _ = shop.ok("issue R-1040 W-12 12 rods --quiver Q-3 --at '2026-04-07 12:00' --by A-01");
    // Before the second issue: neither goes.
    let _ = shop.writes_nothing("scrap quiver Q-3 --why lid --at '2026-04-07 11:00' --by A-01", 3);
    let before = shop.count();
    let answer = shop.json("scrap quiver Q-3 --why lid --at '2026-04-07 13:00' --by A-01");
    let slips: Vec<&Value> = answer["slips"].as_array().unwrap().iter().map(|s| &s["slip"]).collect();
    assert_eq!(slips, ["S-00002", "S-00003"]);
    assert_eq!(answer["entries"].as_array().unwrap().len(), 2);
    assert_eq!(shop.count(), before + 2);
    assert_eq!(out(&shop), Vec::<String>::new());
    let near = shop.json_error("scrap quiver q3 --why lid --by A-01", 4);
    assert_eq!(near["code"], "not-found");
}

/// Scrapped without a count: what is left is gone, and how much that was stays unknown.
#[test]
fn a_slip_of_which_nobody_knows_what_is_left_is_scrapped_whole() {
    let shop = Shop::worked();
    let _ = shop.ok(
        "receive --lot R-70 --maker 'Tarvemire Wire' --maker-lot S-1 --spec A5.18 --class ER70S-6 --size '0.045 in' \
         --form spool --quantity '5 spools' --at '2026-04-01 08:00' --by A-01",
    );
    let _ = shop.ok("release R-70 --at '2026-04-01 09:00' --by I-21");
    let _ = shop.ok("issue R-70 W-12 2 spools --slip 26-9001 --at '2026-04-07 06:00' --by A-01");
    let _ = shop.ok("return 26-9001 2 rods --condition marked --more --at '2026-04-07 07:00' --by A-01");
    let answer = shop.json("scrap slip 26-9001 --why crushed --at '2026-04-07 08:00' --by A-01");
    let slip = &answer["slips"][0];
    assert_eq!((&slip["closed_at"], &slip["left"]), (&json!("2026-04-06T20:00:00Z"), &json!("not known")));
    assert_eq!(slip["movements"][1]["quantity"], "unknown");
}

fn shift() -> Shop {
    let shop = Shop::worked();
    let _ = shop.ok("issue R-1040 W-14 12 rods --at '2026-04-07 06:30' --by A-01");
    let _ = shop.ok("issue R-1028 W-14 4 rods --at '2026-04-07 06:40' --by A-01");
    let _ = shop.ok("issue R-1028 W-12 8 rods --at '2026-04-07 14:20' --by A-01");
    shop
}

#[test]
fn shift_end() {
    let shop = shift();
    snapshot!(
        "shift-end",
        shop.session(&[
            "shift-end W-14 --at '2026-04-07 14:30' --by A-01",
            "shift-end W-14 'S-00002: 6 rods, 4 stubs' --at '2026-04-07 14:30' --by A-01",
            "shift-end W-14 'S-00002: 6 rods, 4 stubs' 'S-00003: 2 rods, unmarked' 'S-00004: 1 rod, wet, 2 stubs, more' --at '2026-04-07 14:30' --by A-01",
            "out",
            "shift-end W-14 'S-00004: 0 rods' --at '2026-04-07 14:40' --by A-01",
            "shift-end W-14 --at '2026-04-07 14:50' --by A-01",
            "shift-end W-12 S-00005=8rods --at '2026-04-07 14:55' --format csv --by A-01",
        ])
    );
    shop.is_sound();
}

#[test]
fn shift_end_refused() {
    let shop = shift();
    let before = shop.state();
    snapshot!(
        "shift-end-refused",
        shop.session(&[
            // Another's slip; more than is out; both at once, and what is left out.
            "shift-end W-14 'S-00005: 1 rod' 'S-00002: 11 rods' --at '2026-04-07 14:30' --by A-01",
            "shift-end W-14 'S-00002: 1 rod' 'S-00002: 2 rods' --at '2026-04-07 14:30' --by A-01",
            "shift-end W-12 'S-00001: 1 rod' --only --at '2026-04-07 14:30' --by A-01",
            "shift-end W-14 'S-00002: 1 rod' --only --at '2026-04-07 06:00' --by A-01",
            "shift-end W-14 --only --by A-01",
            "shift-end W-14 S-00002 --by A-01",
            "shift-end W-14 'S-00002: 6 rods, rusty' --by A-01",
            "shift-end W-41 --by A-01",
            "shift-end W-14 'S-00020: 6 rods' --by A-01",
            "shift-end W-14 'S-00002: 6 rods' --override hurry --at '2026-04-07 14:30' --by I-21",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn shift_end_as_json() {
    let shop = shift();
    let answer = shop.json(
        "shift-end W-14 'S-00004: 1 rod, 3 stubs' 'S-00002: 2.5 g, damaged' --only --at '2026-04-07 14:30' --by A-01",
    );
    assert_eq!(keys(&answer), ["dry_run", "entries", "schema", "slips", "still_out", "verb", "welder"]);
    let slips = answer["slips"].as_array().unwrap();
    assert_eq!((&slips[0]["slip"], &slips[1]["slip"]), (&json!("S-00004"), &json!("S-00002")), "as typed");
    let movement = &slips[0]["movements"][0];
    assert_eq!(
        (&movement["way"], &movement["condition"], &movement["stubs"], &movement["closes"]),
        (&json!("returned"), &json!("marked"), &json!(3), &json!(true))
    );
    assert_eq!(answer["still_out"].as_array().unwrap().len(), 1);
    assert_eq!(answer["still_out"][0]["slip"], "S-00003");
    let ids: Vec<&Value> = answer["entries"].as_array().unwrap().iter().map(|e| &e["id"]).collect();
    assert_eq!(ids, [&slips[0]["movements"][0]["entry"], &slips[1]["movements"][0]["entry"]]);
    let nothing = shop.json("shift-end A-01 --by A-01");
    assert_eq!((&nothing["slips"], &nothing["entries"]), (&json!([]), &json!([])));
}

/// One slip that is refused, and none is taken back.
#[test]
fn a_shift_ends_whole_or_not_at_all() {
    let shop = shift();
    let line = "shift-end W-14 'S-00002: 1 rod' 'S-00003: 1 rod' 'S-00004: 5 rods' --at '2026-04-07 14:30' --by A-01";
    let refused = shop.writes_nothing(line, 3).says(&["S-00004", "5 rods typed, and 4 pieces are out"]);
    assert!(refused.stderr.contains("--override"), "as for one return: {}", refused.shown());
    assert_eq!(out(&shop).len(), 4);
    // An inspector sets it aside: only the entry that it speaks of says so.
    let before = shop.count();
    let _ = shop.ok(&format!("{} --override 'counted twice' --by I-21", line.replace(" --by A-01", "")));
    let written = shop.entries().split_off(before);
    let rules: Vec<&Value> = written.iter().map(|e| &e["body"]["overridden"]["rules"]).collect();
    assert_eq!(rules, [&Value::Null, &Value::Null, &json!(["more-than-out"])]);
    assert_eq!(out(&shop), ["S-00005"]);
}

/// What is offered can be typed: it closes the slips that were left out.
#[test]
fn the_command_that_a_shift_s_end_offers_works() {
    let shop = shift();
    let refused =
        shop.json_error("shift-end W-14 'S-00002: 6 rods, 4 stubs' --at '2026-04-07 14:30' --by A-01", 3);
    assert_eq!(refused["code"], "slips-left");
    let next = refused["next"][0].as_str().unwrap();
    let command = next.split_once("rodbook ").unwrap().1;
    let _ = shop.ok(&format!("{command} --at '2026-04-07 14:30' --by A-01"));
    assert_eq!(out(&shop), ["S-00005"]);
    assert_eq!(shop.json("slip S-00002")["movements"][0]["stubs"], 4);
}

/// A slip that was issued after the shift is no part of it.
#[test]
fn a_shift_s_end_told_later_does_not_ask_for_later_slips() {
    let shop = shift();
    let line = "shift-end W-12 'S-00005: 0 rods' --at '2026-04-07 14:30' --by A-01";
    let _ = shop.ok("issue R-1028 W-12 2 rods --at '2026-04-08 06:00' --by A-01");
    let answer = shop.json(line);
    assert_eq!(answer["still_out"][0]["slip"], "S-00006", "said all the same");
}

#[test]
fn reprint() {
    let shop = Shop::worked();
    snapshot!(
        "reprint",
        shop.session(&[
            "slip S-00002 --reprint --why 'got wet' --dry-run --by A-01",
            "slip S-00002 --reprint --why 'got wet' --by A-01",
            "slip S-00002 --reprint --by I-21",
            "slip S-00002",
            "slip S-00002 --reprint",
            "slip S-00002 --reprint --by A-99",
            "slip S-00020 --reprint --by A-01",
            "slip S-00002 --why because",
        ])
    );
    assert_eq!(shop.json("slip S-00001")["reprints"], json!([]));
    let answer = shop.json("slip S-00002 --reprint --by A-01");
    assert_eq!((&answer["schema"], &answer["reprint"]), (&json!("rodbook-receipt/1"), &json!(3)));
    assert_eq!(answer["slip"]["slip"], "S-00002");
    let again = shop.json("slip S-00002");
    let reprints = again["reprints"].as_array().unwrap();
    assert_eq!(reprints.len(), 3);
    assert_eq!((&reprints[0]["by"], &reprints[0]["why"]), (&json!("A-01"), &json!("got wet")));
    assert_eq!(reprints[2]["entry"], answer["entries"][0]["id"]);
    shop.is_sound();
}

/// The short id behind the last entry, as a person copies it from the receipt.
fn last_short(shop: &Shop, line: &str) -> String {
    let answer = shop.ok(&format!("{line} --format json"));
    parse_one(&answer.stdout, line)["entries"][0]["short"].as_str().unwrap().to_owned()
}

#[test]
fn note() {
    let shop = Shop::worked();
    snapshot!(
        "note",
        shop.session(&[
            "note joint M-101 'second pass stopped twice for rain' --at '2026-04-07 15:00' --by A-01",
            "note lot R-1028 'one box was open' --at '2026-04-07 15:00' --by A-01",
            "note slip S-00001 quiver lid does not close --at '2026-04-07 15:00' --by A-01",
            "note welder W-12 'first week on pipe' --at '2026-04-07 15:00' --by I-21",
            "note joint M-101 'not written' --dry-run --by A-01",
            "trace joint M-101",
            "trace lot R-1028",
            "slip S-00001",
            "trace welder W-12",
            "note joint M-110 'nothing' --by A-01",
            "note lot R-1O28 'nothing' --by A-01",
            "note entry 12345 'nothing' --by A-01",
            "note entry 00000000 'nothing' --by A-01",
            "note joint M-101 --by A-01",
            "note joint M-101 '' --by A-01",
            "note joint M-101 later --at '2199-01-01 10:00' --by A-01",
            "note joint M-101 'nobody'",
        ])
    );
    shop.is_sound();
}

#[test]
fn notes_as_json() {
    let shop = Shop::worked();
    for line in [
        "trace joint M-101",
        "trace lot R-1028",
        "trace heat 7K2214",
        "trace slip S-00001",
        "slip S-00001",
        "trace welder W-12",
    ] {
        assert_eq!(shop.json(line)["notes"], json!([]), "{line}");
    }
    let written = json_with_warning(
        &shop,
        "note joint M-101 'two\nlines' --at '2026-04-07 15:00' --by A-01",
        "names of people do not belong in it",
    );
    assert_eq!((&written["verb"], &written["about"]), (&json!("note"), &json!({"joint": "M-101"})));
    let notes = shop.json("trace joint M-101")["notes"].clone();
    assert_eq!(notes.as_array().unwrap().len(), 1);
    let note = &notes[0];
    assert_eq!(keys(note), ["about", "at", "by", "entry", "recorded_at", "short", "struck", "text"]);
    assert_eq!(
        (&note["text"], &note["by"], &note["at"], &note["struck"]),
        (&json!("two\nlines"), &json!("A-01"), &json!("2026-04-07T03:00:00Z"), &Value::Null)
    );
    assert_eq!(note["entry"], written["entries"][0]["id"]);
    assert_eq!(shop.json("trace joint M-102")["notes"], json!([]), "of this joint alone");
}

/// A note on an entry is seen where the entry is: by any way of writing its id.
#[test]
fn a_note_on_an_entry_is_seen_with_what_the_entry_is_about() {
    let shop = Shop::worked();
    let trace = shop.json("trace joint M-101");
    let weld = trace["welds"][0]["entry"].as_str().unwrap().to_owned();
    let short = trace["welds"][0]["short"].as_str().unwrap().to_owned();
    let issue = shop.json("slip S-00001")["entry"].as_str().unwrap().to_owned();
    for name in [weld.clone(), weld[..12].to_owned(), short.clone(), short.to_lowercase().replace('-', "")] {
        let _ = shop.ok(&format!("note entry {name} 'read from the paper' --by A-01"));
    }
    let notes = shop.json("trace joint M-101")["notes"].clone();
    assert_eq!(notes.as_array().unwrap().len(), 4);
    for note in notes.as_array().unwrap() {
        assert_eq!(note["about"], json!({ "entry": weld }));
    }
    assert!(shop.ok("trace joint M-101").stdout.contains(&format!("on entry {short}")));
    let _ = shop.ok(&format!("note entry {issue} 'slip written late' --by A-01"));
    assert_eq!(shop.json("slip S-00001")["notes"][0]["text"], "slip written late");
    assert_eq!(shop.json("slip S-00002")["notes"], json!([]));
    assert_eq!(shop.json("trace joint M-101")["notes"].as_array().unwrap().len(), 4);
}

#[test]
fn notes_fit_a_phone() {
    let shop = Shop::worked().columns(200);
    let _ = shop.ok(&format!("note joint M-101 '{}' --by A-01", "a long story ".repeat(40)));
    let _ = shop
        .ok("slip S-00002 --reprint --why 'the paper fell into the pit beside the second column' --by A-01");
    let done = shop.ok(
        "scrap slip S-00002 1 rod --why 'the paper fell into the pit beside the second column' --by A-01",
    );
    let end = shop.ok("shift-end W-14 'S-00002: 1 rod, 3 stubs, damaged' --by A-01");
    let pages =
        [shop.ok("trace joint M-101").stdout, shop.ok("slip S-00002").stdout, done.stdout, end.stdout];
    for line in pages.iter().flat_map(|page| page.lines()) {
        assert!(line.chars().count() <= 60, "{line:?}");
    }
}

#[test]
fn cycles_and_passes() {
    let shop = Shop::worked();
    snapshot!(
        "weld-words",
        shop.session(&[
            "weld M-102 W-14 --pass Root --cycle r1 --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01",
            "weld M-102 W-14 --pass overlay --process GTAW --from '2026-04-07 11:00' --to '2026-04-07 12:00' --by A-01",
            "weld M-102 W-14 --pass tack --cycle R12 --process GTAW --from '2026-04-07 12:00' --to '2026-04-07 12:10' --by A-01",
            "weld M-102 W-14 --cycle cutout --from '2026-04-08' --by A-01",
        ])
    );
    let welds = shop.json("trace joint M-102")["welds"].clone();
    assert_eq!((&welds[0]["cycle"], &welds[0]["pass"]), (&json!("r1"), &json!("Root")), "kept as typed");
    assert_eq!((&welds[1]["cycle"], &welds[1]["pass"]), (&json!("original"), &json!("overlay")));
}

fn cut_outs(shop: &Shop, joint: &str) -> Vec<(String, bool)> {
    let answer = shop.json(&format!("trace joint {joint}"));
    answer["welds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| (w["cycle"].as_str().unwrap().to_owned(), w["cut_out"].as_bool().unwrap()))
        .collect()
}

/// What was welded before a cut-out is marked, on every page that lists it; what came after it is not.
#[test]
fn what_was_cut_out_is_marked_and_kept() {
    let shop = Shop::worked();
    let _ = shop.ok("weld M-101 W-14 --cycle cut-out --no-filler --from '2026-04-08 09:00' --to '2026-04-08 10:00' --by A-01");
    let _ = shop.ok("weld M-101 W-14 --cycle R1 --pass root --process GTAW --from '2026-04-08 13:00' --to '2026-04-08 14:00' --by A-01");
    let _ = shop.ok("weld M-102 W-12 --pass root --process GTAW --from '2026-04-07 09:30' --to '2026-04-07 09:40' --by A-01");
    let expected = [("original", true), ("original", true), ("cut-out", false), ("R1", false)]
        .map(|(c, o)| (c.to_owned(), o));
    assert_eq!(cut_outs(&shop, "M-101"), expected);
    assert_eq!(cut_outs(&shop, "M-102"), [("original".to_owned(), false)], "another joint's cut-out");
    let trace = shop.json("trace joint M-101");
    assert_eq!(trace["welds"][0]["cut_out_by"], trace["welds"][2]["entry"]);
    assert_eq!(trace["welds"][3]["cut_out_by"], Value::Null);
    let used = shop.json("trace lot R-1028");
    let marked: Vec<(&Value, &Value)> =
        used["welds"].as_array().unwrap().iter().map(|w| (&w["joint"], &w["cut_out"])).collect();
    assert_eq!(
        marked,
        [("M-101", true), ("M-101", true), ("M-102", false)]
            .map(|(j, c)| (json!(j), json!(c)))
            .iter()
            .map(|(j, c)| (j, c))
            .collect::<Vec<_>>()
    );
    snapshot!(
        "cut-out",
        shop.session(&["trace joint M-101", "trace joint M-101 --format csv", "trace lot R-1028"])
    );
    // A second cut-out takes the repair with it.
    let _ = shop.ok("weld M-101 W-14 --cycle 'Cut out' --no-filler --from 2026-04-09 --by A-01");
    assert_eq!(
        cut_outs(&shop, "M-101").iter().filter(|(_, out)| *out).map(|(c, _)| c.as_str()).collect::<Vec<_>>(),
        ["original", "original", "R1"]
    );
}

/// Where the times overlap nobody wrote down which came first: still in the joint, and said.
#[test]
fn a_cut_out_of_the_same_time_removes_nothing() {
    let shop = Shop::worked();
    let _ = shop.ok("weld M-101 W-14 --cycle cut-out --no-filler --from 2026-04-07 --by A-01");
    assert!(cut_outs(&shop, "M-101").iter().all(|(_, out)| !out));
    let page = shop.ok("trace joint M-101").stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        page.contains("Which came first is not recorded, so this weld counts as still in the joint."),
        "{page}"
    );
    // A cut-out before a weld says nothing of it.
    let shop = Shop::worked();
    let _ = shop.ok("weld M-101 W-14 --cycle cut-out --no-filler --from '2026-04-06 09:00' --by A-01");
    assert!(cut_outs(&shop, "M-101").iter().all(|(_, out)| !out));
    assert!(!shop.ok("trace joint M-101").stdout.contains("still in the joint"));
    // At the second at which the weld ended it is cut out.
    let shop = Shop::worked();
    let _ = shop.ok("weld M-101 W-14 --cycle cut-out --no-filler --from '2026-04-07 08:05:00' --to '2026-04-07 08:10' --by A-01");
    assert_eq!(
        cut_outs(&shop, "M-101").iter().map(|(_, out)| *out).collect::<Vec<_>>(),
        [true, false, false]
    );
}

#[test]
fn renumber_a_joint() {
    let shop = Shop::worked();
    snapshot!(
        "joint-renumbered",
        shop.session(&[
            "joint M-101A --renumbers M-101 --dry-run --by A-01",
            "joint M-101A --renumbers M-101 --by A-01",
            "trace joint M-101",
            "joint M-102 --renumbers M-101 --by A-01",
            "joint M-101A --renumbers M-101 --by A-01",
            "joint M-7 --renumbers M-999 --by A-01",
            "joint M-101 --drawing WVM-07-201 --by A-01",
            "export lot-joint",
        ])
    );
    let answer = shop.json("trace joint M-101A");
    assert_eq!((&answer["joint"], &answer["aliases"]), (&json!("M-101A"), &json!(["M-101"])));
    assert_eq!(answer["welds"].as_array().unwrap().len(), 2, "the weld records came along");
    assert_eq!(
        (&answer["drawing"], &answer["level"]),
        (&json!("WVM-07-201"), &json!("lot")),
        "and what was said"
    );
    // A weld told by either number is of the one joint.
    let _ =
        shop.ok("weld M-101 W-14 --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01");
    assert_eq!(shop.json("trace joint M-101A")["welds"].as_array().unwrap().len(), 3);
    // Again, and back to the first.
    let receipt = shop.json("joint M-101B --renumbers M-101 --by A-01");
    assert_eq!((&receipt["joint"], &receipt["renumbers"]), (&json!("M-101B"), &json!("M-101A")));
    assert_eq!(shop.json("trace joint M-101")["aliases"], json!(["M-101", "M-101A"]));
    let _ = shop.ok("joint M-101 --renumbers M-101B --by A-01");
    let back = shop.json("trace joint M-101B");
    assert_eq!((&back["joint"], &back["aliases"]), (&json!("M-101"), &json!(["M-101A", "M-101B"])));
    shop.is_sound();
}

/// A dry run of each, and then the same for good.
#[test]
fn every_one_of_these_has_a_dry_run() {
    let shop = Shop::worked();
    for line in [
        "scrap slip S-00002 1 rod --why bent --by A-01",
        "scrap lot R-1028 1 rod --why bent --by A-01",
        "slip S-00002 --reprint --by A-01",
        "note joint M-101 'a word' --by A-01",
        "joint M-101A --renumbers M-101 --by A-01",
        "shift-end W-14 'S-00002: 1 rod, more' --by A-01",
        "scrap quiver Q-3 --why lid --by A-01",
    ] {
        let dry = shop.writes_nothing(&format!("{line} --dry-run"), 0);
        assert!(dry.stdout.ends_with("Dry run: nothing was written.\n"), "{}", dry.shown());
        let json = parse_one(&shop.ok(&format!("{line} --dry-run --format json")).stdout, line);
        assert_eq!((&json["dry_run"], &json["entries"]), (&json!(true), &json!([])), "{line}");
        assert!(!last_short(&shop, line).is_empty());
    }
    shop.is_sound();
}
