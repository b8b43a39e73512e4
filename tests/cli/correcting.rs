//! Saying an entry anew, and saying that it never was; what was struck stays to be seen.

use crate::shop::{Shop, keys, snapshot};
use serde_json::{Value, json};

/// Short id of the newest entry that is or says something of this kind and holds this text.
fn newest(shop: &Shop, kind: &str, holding: &str) -> String {
    let record = shop.record();
    let line = record
        .lines()
        .rev()
        .find(|line| line.contains(&format!("\"kind\":\"{kind}\"")) && line.contains(holding))
        .unwrap_or_else(|| panic!("no {kind} with {holding}"));
    let seq = serde_json::from_str::<Value>(line).unwrap()["seq"].as_u64().unwrap();
    seq.to_string()
}

fn list(shop: &Shop) -> Vec<std::collections::BTreeMap<String, String>> {
    let (header, rows) = shop.ok("export lot-joint").csv();
    rows.into_iter().map(|row| header.iter().cloned().zip(row).collect()).collect()
}

#[test]
fn correct() {
    let shop = Shop::worked();
    let issue = newest(&shop, "rod.issued", "\"number\":\"S-00001\"");
    let back = newest(&shop, "rod.returned", "S-00001");
    snapshot!(
        "correct",
        shop.session(&[
            &format!("correct {issue} --set 'quantity=20 rods' --why 'four stayed in the can' --dry-run --by A-01"),
            &format!("correct {issue} --set 'quantity=20 rods' --set quiver=Q-7 --why 'four stayed in the can' --by A-01"),
            &format!("correct {back} --set 'quantity=4 rods' --set stubs=unknown --why 'counted again' --by W-12"),
            "slip S-00001",
            "trace joint M-101",
            "trace slip S-00001",
        ])
    );
    shop.is_sound();
}

#[test]
fn correct_refused() {
    let shop = Shop::worked();
    let issue = newest(&shop, "rod.issued", "\"number\":\"S-00001\"");
    let back = newest(&shop, "rod.returned", "S-00001");
    let weld = newest(&shop, "joint.welded", "root");
    let _ = shop.ok(&format!("correct {weld} --set mark=not-looked --why 'he did not look' --by W-12"));
    let stands = newest(&shop, "entry.corrected", "did not look");
    let before = shop.state();
    snapshot!(
        "correct-refused",
        shop.session(&[
            &format!("correct {issue} --set 'quantity=24 rods' --why same --by A-01"),
            &format!("correct {issue} --set 'quantity=4 rods' --why 'less than came back' --by A-01"),
            &format!("correct {issue} --set 'issued_at=2026-04-07 15:00' --why 'after the return' --by A-01"),
            &format!("correct {issue} --set 'issued_at=2199-04-07 15:00' --why 'tomorrow' --by A-01"),
            &format!("correct {issue} --set lot=R-1031 --why 'unreleased' --by A-01"),
            &format!("correct {issue} --set slip=S-00002 --why 'taken' --by A-01"),
            &format!("correct {issue} --set quantitty='4 rods' --why 'no such field' --by A-01"),
            &format!("correct {issue} --set colour=red --why 'no such field' --by A-01"),
            &format!("correct {issue} --set quantity --why 'no value' --by A-01"),
            &format!("correct {issue} --set quantity='four' --why 'no quantity' --by A-01"),
            &format!("correct {issue} --set lot=R-9999 --why 'no lot' --by A-01"),
            &format!("correct {issue} --set lot= --why 'needed' --by A-01"),
            &format!("correct {issue} --set quiver=A --set quiver=B --why 'twice' --by A-01"),
            &format!("correct {back} --set condition=rusty --why 'no such word' --by A-01"),
            &format!("correct {weld} --set mark=read --why 'the struck one' --by A-01"),
            &format!("correct {stands} --set slip=S-00002 --why 'another lot' --by A-01"),
            &format!("correct {stands} --set filler=no --why 'a lot is named' --by A-01"),
            "correct 0 --set name=x --why 'the opening' --by I-21",
            "correct 99999 --set name=x --why 'no such entry' --by I-21",
            "correct XYZ --set name=x --why 'no id' --by I-21",
            &format!("correct {issue} --set quiver=A --why 'nobody' --by X-99"),
            &format!("correct {issue} --set quiver=A --why '' --by A-01"),
            &format!("correct {issue} --why 'nothing set' --by A-01"),
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn void() {
    let shop = Shop::worked();
    let back = newest(&shop, "rod.returned", "S-00001");
    let second = newest(&shop, "rod.issued", "\"number\":\"S-00002\"");
    let hot = newest(&shop, "joint.welded", "hot");
    snapshot!(
        "void",
        shop.session(&[
            &format!("void {back} --why 'it was another slip' --dry-run --by A-01"),
            &format!("void {back} --why 'it was another slip' --by A-01"),
            "slip S-00001",
            "void 21 --why 'it was this slip after all' --by A-01",
            "slip S-00001",
            &format!("void {second} --why 'the attendant typed it twice' --by A-01"),
            "slip S-00002",
            &format!("void {hot} --why 'of another joint' --by W-12"),
            "trace joint M-101",
            "out",
            "export lot-joint",
        ])
    );
    shop.is_sound();
}

#[test]
fn void_refused() {
    let shop = Shop::worked();
    let issue = newest(&shop, "rod.issued", "\"number\":\"S-00001\"");
    let _ = shop.ok("hand-over S-00002 W-12 4 rods --at '2026-04-07 10:00' --by A-01");
    let _ = shop.ok("return S-00003 2 rods --condition marked --more --at '2026-04-07 11:00' --by A-01");
    let second = newest(&shop, "rod.issued", "\"number\":\"S-00002\"");
    let over = newest(&shop, "rod.handed_over", "S-00003");
    let released = newest(&shop, "lot.released", "R-1028");
    let received = newest(&shop, "lot.received", "R-1028");
    let joint = newest(&shop, "joint.declared", "M-101");
    let person = newest(&shop, "person.enrolled", "W-12");
    let before = shop.state();
    snapshot!(
        "void-refused",
        shop.session(&[
            &format!("void {issue} --why 'metal came back' --by A-01"),
            &format!("void {second} --why 'metal went on' --by A-01"),
            &format!("void {over} --why 'metal came back from it' --by A-01"),
            &format!("void {released} --why 'no inspector' --by A-01"),
            &format!("void {received} --why 'in use' --by A-01"),
            &format!("void {joint} --why 'in use' --by A-01"),
            &format!("void {person} --why 'in use' --by A-01"),
            "void 0 --why 'the opening' --by I-21",
            "void 99999 --why 'no such entry' --by I-21",
        ])
    );
    assert_eq!(shop.state(), before);
    // From the end, in the order that was named, everything can be voided.
    let back = newest(&shop, "rod.returned", "S-00003");
    for entry in [back, over, second] {
        let _ = shop.ok(&format!("void {entry} --why 'one after the other' --by A-01"));
    }
    shop.is_sound();
}

/// The lot of a slip that was handed on: everything that carries it follows, and the joint's answer with it.
#[test]
fn what_follows_from_another_lot_or_holder() {
    let shop = Shop::worked();
    let _ = shop.ok("hand-over S-00002 W-12 4 rods --at '2026-04-07 10:00' --by A-01");
    let _ = shop.ok("return S-00003 2 rods --condition marked --at '2026-04-07 11:00' --by A-01");
    let _ = shop.ok("weld M-102 W-12 --pass root --process GTAW --slip S-00003 --from '2026-04-07 10:10' --to '2026-04-07 10:50' --by A-01");
    let second = newest(&shop, "rod.issued", "\"number\":\"S-00002\"");
    let before = shop.json("stock");
    snapshot!(
        "correct-follows",
        shop.session(&[
            &format!("correct {second} --set lot=R-1028 --set welder=W-12 --why 'the wrong can' --by A-01"),
            &format!("correct {second} --set lot=R-1028 --why 'the wrong can' --by A-01"),
            "slip S-00003",
            "trace joint M-102",
            "trace lot R-1082",
            "trace welder W-14",
        ])
    );
    let mg = |stock: &Value, lot: &str| {
        let lots = stock["lots"].as_array().unwrap();
        lots.iter().find(|l| l["lot"] == lot).unwrap()["in_crib_mg"].as_i64().unwrap()
    };
    let after = shop.json("stock");
    // Ten rods out and two back, of the other lot now; both are of one size and density.
    assert_eq!(mg(&before, "R-1082") + 8 * 31_967, mg(&after, "R-1082"));
    assert_eq!(mg(&before, "R-1028") - 8 * 31_967, mg(&after, "R-1028"));
    let trace = shop.json("trace joint M-102");
    assert_eq!(trace["welds"][0]["certainty"], "recorded");
    assert_eq!(trace["welds"][0]["sources"][0]["lot"], "R-1028");
    // What stands is taken back: the slips say again what they said.
    let corrected = newest(&shop, "entry.corrected", "the wrong can");
    let answer = shop.json(&format!("void {corrected} --why 'it was the right can' --by A-01"));
    assert_eq!(answer["stands"]["entry"], shop.json("slip S-00002")["entry"]);
    assert_eq!(answer["followed"].as_array().map(Vec::len), Some(2), "the hand-over and the return from it");
    assert_eq!(shop.json("stock"), before);
    assert_eq!(shop.json("slip S-00003")["lot"], "R-1082");
    shop.is_sound();
}

#[test]
fn correct_as_json() {
    let shop = Shop::worked();
    let issue = newest(&shop, "rod.issued", "\"number\":\"S-00001\"");
    let was = shop.json("slip S-00001")["entry"].clone();
    let dry =
        shop.json(&format!("correct {issue} --set 'quantity=20 rods' --why counted --dry-run --by A-01"));
    assert_eq!(
        (&dry["dry_run"], &dry["entries"], &dry["stands"]["entry"]),
        (&json!(true), &json!([]), &Value::Null)
    );
    let answer = shop.json(&format!("correct {issue} --set 'quantity=20 rods' --why counted --by A-01"));
    assert_eq!(
        keys(&answer),
        [
            "changes", "dry_run", "entries", "followed", "kind", "said", "schema", "stands", "struck",
            "verb", "why"
        ]
    );
    assert_eq!((&answer["schema"], &answer["verb"]), (&json!("rodbook-receipt/1"), &json!("correct")));
    assert_eq!(answer["struck"], was);
    assert_eq!(answer["changes"], json!([{"field": "quantity", "from": "24 rods", "to": "20 rods"}]));
    assert_eq!(answer["stands"]["entry"], answer["entries"][0]["id"]);
    let slip = shop.json("slip S-00001");
    assert_eq!((&slip["quantity"], &slip["void"]), (&json!("20 rods"), &json!(false)));
    let struck = &slip["struck"][0];
    assert_eq!(
        keys(struck),
        ["at", "by", "by_entry", "changes", "entry", "kind", "said", "short", "void", "why"]
    );
    assert_eq!((&struck["entry"], &struck["by_entry"]), (&was, &slip["entry"]));
    assert_eq!(
        (&struck["by"], &struck["why"], &struck["void"]),
        (&json!("A-01"), &json!("counted"), &json!(false))
    );
    let trace = shop.json("trace joint M-101");
    assert_eq!(trace["welds"][0]["sources"][0]["struck"], slip["struck"]);
    assert_eq!((&trace["struck"], &trace["void"]), (&json!([]), &json!(false)));
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(body["replacement"]["kind"], "rod.issued");
    assert_eq!(body["replacement"]["body"]["quantity"], json!({"unit": "rods", "value": 20, "scale": 0}));
    let error = shop.json_error(&format!("correct {issue} --set quiver=Q-1 --why again --by A-01"), 3);
    assert_eq!(error["code"], "already-struck");
    let short = slip["short"].as_str().unwrap();
    assert!(error["next"][0].as_str().unwrap().contains(short), "{error}");
}

/// An entry is found by everything that people have of it.
#[test]
fn an_entry_by_what_people_call_it() {
    let shop = Shop::worked();
    let weld = shop.json("trace joint M-101")["welds"][1].clone();
    let (id, short) = (weld["entry"].as_str().unwrap(), weld["short"].as_str().unwrap());
    let seq = newest(&shop, "joint.welded", "hot");
    let undashed = short.replace('-', "");
    for typed in [
        id,
        &id.to_uppercase(),
        &id[..8],
        &id[..13],
        short,
        &short[..9],
        &short.to_lowercase(),
        &undashed,
        &undashed[..8],
        &seq,
    ] {
        let answer = shop.json(&format!("void '{typed}' --why look --dry-run --by W-12"));
        assert_eq!(answer["struck"], id, "{typed}");
    }
}

/// What was struck is in the auditor's list, on the line that it is about, and the counts are of what stands.
#[test]
fn the_list_of_the_auditor() {
    let shop = Shop::worked();
    for (entry, set) in [
        (newest(&shop, "rod.issued", "\"number\":\"S-00001\""), "--set 'quantity=20 rods'"),
        (newest(&shop, "lot.received", "R-1028"), "--set heats=7K2215"),
        (newest(&shop, "joint.welded", "root"), "--set 'used=5 rods'"),
        (newest(&shop, "joint.declared", "M-101"), "--set drawing_revision=B"),
    ] {
        let _ = shop.ok(&format!("correct {entry} {set} --why '=1+1; counted again' --by A-01"));
    }
    let hot = newest(&shop, "joint.welded", "hot");
    let _ = shop.ok(&format!("void {hot} --why 'never welded' --by A-01"));
    let (header, _) = shop.ok("export lot-joint --names").csv();
    assert_eq!(header[header.len() - 2..], ["struck", "welder_name"]);
    let lines = list(&shop);
    assert_eq!(lines.len(), 2, "the weld record that stands, and the joint without one");
    let line = lines.iter().find(|l| l["joint"] == "M-101").unwrap();
    let struck = &line["struck"];
    let day = chrono::Utc::now().format("%Y").to_string();
    for part in [
        "weld record of W-12 at M-101, root used: 6 rods -> 5 rods (",
        "slip S-00001 quantity: 24 rods -> 20 rods (",
        "lot R-1028 heats: 7K2214 -> 7K2215 (",
        "joint M-101 drawing_revision: A -> B (",
        "weld record of W-12 at M-101, hot: void (",
        ", A-01: =1+1; counted again)",
        ", A-01: never welded)",
        &format!("({day}-"),
    ] {
        assert!(struck.contains(part), "{part} is missing in {struck}");
    }
    assert_eq!(line["heats"], "7K2215");
    let sheet = shop.ok("export lot-joint --for spreadsheet").stdout;
    assert!(sheet.contains("A-01: =1+1; counted"), "an equals sign inside a text is no formula");
    let _ = shop.ok("export lot-joint --out list.csv --manifest list.json");
    let manifest: Value = serde_json::from_str(&shop.read("list.json")).unwrap();
    assert_eq!(
        (&manifest["joints"], &manifest["weld_records"], &manifest["struck"]),
        (&json!(2), &json!(1), &json!(5))
    );
    shop.is_sound();
}

/// Every kind that has fields, with every one of them: a cell set to what it is changes nothing, and each field is one
/// that the entry knows.
#[test]
fn every_field_of_every_kind() {
    let shop = Shop::worked();
    let _ = shop.ok("hand-over S-00002 W-12 4 rods --at '2026-04-07 10:00' --by A-01");
    let _ = shop.ok("clear W-14 --at '2026-04-07 14:40' --by A-01");
    let _ = shop.ok("hold R-1040 --why 'damp can' --at '2026-04-07 15:00' --by I-21");
    let _ = shop.ok("reject R-1031 --why 'wrong metal' --at '2026-04-07 15:00' --by I-21");
    let _ = shop.ok("scrap slip S-00003 1 rod --why bent --at '2026-04-07 11:00' --by A-01");
    let _ = shop.ok("scrap lot R-1082 3 rods --why rusty --at '2026-04-07 12:00' --by A-01");
    let _ = shop.ok("unmarked --at-place 'bench 4' --welder W-12 --joint M-101 --quantity '2 rods' --at '2026-04-07 13:00' --by A-01");
    shop.write("files/wps.csv", "wps,process\nWPS-7,GTAW\n");
    shop.write("files/qualifications.csv", "welder,process,qualified_on\nW-12,GTAW,2026-01-05\n");
    let _ = shop.ok("import files --by A-01");
    for (kind, holding, set, shown) in [
        (
            "joint.declared",
            "M-102",
            "joint=M-103;job=WVM-08;drawing=D-1;drawing_revision=n/a;level=lot;needed_g=12.5;needed_u_g=0.5;finished_at=2026-04-08",
            "trace joint M-103",
        ),
        (
            "lot.received",
            "R-1040",
            "lot=R-1041;maker=Tarvemire Wire;maker_lot=0418;heats=illegible;spec=A5.1;classification=E7016;size=1/8 in x 12 in;surface=n/a;marking=stamped;quantity=19 kg;piece_g=30;certificate=QE-7766;certificate_type=2.2;received_at=2026-03-10",
            "trace lot R-1041",
        ),
        ("lot.held", "R-1040", "at=2026-04-07 15:30;why=wet can", "stock"),
        (
            "rod.issued",
            "S-00002",
            "slip=S-00022;quantity=12 rods;issued_at=2026-04-07 06:21;issued_by=I-21;joints=M-101;quiver=unknown;due_at=2026-04-07 15:00",
            "slip S-00022",
        ),
        (
            "rod.handed_over",
            "S-00003",
            "new_slip=S-00033;quantity=5 rods;closes=yes;at=2026-04-07 10:05;by=W-14",
            "slip S-00033",
        ),
        (
            "rod.returned",
            "S-00001",
            "quantity=5 rods;stubs=19;condition=unmarked;closes=no;returned_at=2026-04-07 14:15;received_by=I-21",
            "slip S-00001",
        ),
        ("welder.cleared", "W-14", "at=2026-04-07 14:45", "trace welder W-14"),
        (
            "joint.welded",
            "root",
            "joint=M-101/M-103;cycle=R1;pass=cap;process=GMAW;welder=W-14;lot=;used=7 rods;from=2026-04-07 06:41;to=2026-04-07 08:06;mark=illegible;recorded_by=W-14;finished=yes",
            "trace joint M-101",
        ),
        (
            "mark.spot_checked",
            "70S-2",
            "joint=M-103;welder=W-14;at=2026-04-07 08:31;by=unknown;legible=no;reads=",
            "trace joint M-101",
        ),
        ("lot.rejected", "R-1031", "at=2026-04-07 15:31;why=another metal", "trace lot R-1031"),
        (
            "rod.scrapped",
            "bent",
            "quantity=2 rods;why=broken;scrapped_at=2026-04-07 11:30;by=unknown;closes=yes",
            "slip S-00033",
        ),
        (
            "rod.scrapped",
            "rusty",
            "lot=R-1028;quantity=4 rods;why=wet;scrapped_at=2026-04-07 12:30;by=W-14",
            "trace lot R-1028",
        ),
        (
            "wire.found_unmarked",
            "bench 4",
            "found_at=2026-04-07 13:30;place=bench 5;by=illegible;welder=;quantity=1 rod;joints=M-101/M-103",
            "findings",
        ),
        (
            "wps.declared",
            "WPS-7",
            "wps=WPS-8;revision=2;process=SMAW;spec=A5.1;classifications=E7018;sizes=1/8 in x 14 in;f_number=4;backing=with",
            "findings",
        ),
        (
            "welder.qualified",
            "W-12",
            "welder=W-14;process=SMAW;f_number=4;backing=without;qualified_on=2026-01-06",
            "trace welder W-14",
        ),
    ] {
        let entry = newest(&shop, kind, holding);
        let mut words = vec!["correct".to_owned(), entry];
        for field in set.split(';') {
            // A list is written with a slash here, because semicolons part the fields.
            words.extend(["--set".to_owned(), field.replace("M-101/M-103", "M-101;M-103")]);
        }
        words.extend(["--why", "all of it was wrong", "--by", "I-21"].map(str::to_owned));
        let output = shop.run_words(&words).expect_code(0);
        let entry = shop.entries().into_iter().rfind(|e| e["body"]["why"] == "all of it was wrong").unwrap();
        let changed: Vec<String> = entry["body"]["changes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| c["field"].as_str().unwrap().to_owned())
            .collect();
        for field in set.split(';') {
            let (field, _) = field.split_once('=').unwrap();
            assert_eq!(
                changed.contains(&field.to_owned()),
                (kind, field) != ("lot.received", "spec"),
                "{field} of {kind}: {}",
                output.shown()
            );
        }
        assert_eq!(entry["body"]["replacement"]["kind"], kind);
        let _ = shop.ok(shown);
        // The same again, of what stands now.
        words[1] = entry["seq"].to_string();
        let again = shop.run_words(&words).expect_code(3);
        assert!(again.stderr.contains("says that already"), "{}", again.shown());
    }
    shop.is_sound();
}

/// Metal scrapped from a slip, and then from the crib: exactly one of the two is named.
#[test]
fn scrapped_from_the_slip_or_from_the_crib() {
    let shop = Shop::worked();
    let _ = shop.ok("scrap slip S-00002 2 rods --why bent --at '2026-04-07 11:00' --by A-01");
    let entry = newest(&shop, "rod.scrapped", "bent");
    let both =
        shop.writes_nothing(&format!("correct {entry} --set lot=R-1028 --why 'from the can' --by A-01"), 2);
    assert!(both.stderr.contains("exactly one of the two"), "{}", both.shown());
    let _ = shop.ok(&format!("correct {entry} --set slip= --set lot=R-1028 --why 'from the can' --by A-01"));
    let slip = shop.json("slip S-00002");
    assert_eq!((&slip["left"], &slip["movements"]), (&json!("10 rods"), &json!([])));
    assert_eq!(
        slip["struck"][0]["changes"],
        json!([
            {"field": "slip", "from": "S-00002", "to": ""}, {"field": "lot", "from": "", "to": "R-1028"},
        ])
    );
    let entry = newest(&shop, "entry.corrected", "from the can");
    let _ =
        shop.ok(&format!("correct {entry} --set slip=S-00002 --set lot= --why 'from the slip' --by A-01"));
    assert_eq!(shop.json("slip S-00002")["left"], "8 rods");
    shop.is_sound();
}

/// What is only said to be void: a note, a slip printed again; and what stands again when that is taken back.
#[test]
fn what_is_not_said_anew() {
    let shop = Shop::worked();
    let _ = shop.ok("note slip S-00001 'the can was open' --by A-01");
    let _ = shop.ok("slip S-00001 --reprint --why 'lost' --by A-01");
    for kind in ["note.written", "slip.reprinted", "person.enrolled", "shop.shifts_declared"] {
        let entry = newest(&shop, kind, "");
        let error = shop.json_error(&format!("correct {entry} --set text=x --why other --by I-21"), 3);
        assert_eq!(error["code"], "cannot-be-corrected", "{kind}");
    }
    for kind in ["note.written", "slip.reprinted", "shop.shifts_declared"] {
        let entry = newest(&shop, kind, "");
        let void = shop.json(&format!("void {entry} --why 'never was' --by A-01"));
        assert_eq!((&void["kind"], &void["stands"]), (&json!(kind), &Value::Null));
        let undo = void["entries"][0]["seq"].clone();
        let again = shop.json(&format!("void {undo} --why 'it was' --by A-01"));
        assert_eq!(again["stands"]["entry"], void["struck"], "{kind}");
        let error = shop.json_error(&format!("correct {undo} --set why=x --why other --by I-21"), 3);
        assert_eq!(error["code"], "cannot-be-corrected", "a void is not said anew");
    }
    shop.is_sound();
}

/// Rules that may be set aside at the window may be set aside in a correction, and the record says so.
#[test]
fn a_rule_set_aside() {
    let shop = Shop::worked();
    let issue = newest(&shop, "rod.issued", "\"number\":\"S-00001\"");
    let line = format!("correct {issue} --set 'quantity=4 rods' --why 'the slip says 4'");
    let refused = shop.writes_nothing(&format!("{line} --by A-01"), 3);
    assert!(refused.stderr.contains("--override"), "{}", refused.shown());
    let _ = shop.writes_nothing(&format!("{line} --override 'so says the paper' --by A-01"), 3);
    let output = shop.ok(&format!("{line} --override 'so says the paper' --by I-21"));
    assert!(output.stderr.contains("a rule was set aside"), "{}", output.shown());
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(
        body["replacement"]["body"]["overridden"],
        json!({"rules": ["more-than-out"], "why": "so says the paper"})
    );
    // Where the entry has no place for it, the reason of the void has.
    let back = newest(&shop, "rod.returned", "S-00001");
    let _ = shop.ok("issue R-1040 W-12 590 rods --at '2026-04-08 06:10' --by A-01");
    let _ = shop.ok("return S-00003 200 rods --condition marked --at '2026-04-08 07:10' --by A-01");
    let _ = shop.ok("issue R-1040 W-12 200 rods --at '2026-04-08 08:10' --by A-01");
    let returned = newest(&shop, "rod.returned", "S-00003");
    let refused = shop.writes_nothing(&format!("void {returned} --why 'of another slip' --by A-01"), 3);
    assert!(refused.stderr.contains("more of lot R-1040"), "{}", refused.shown());
    let _ = shop.ok(&format!("void {returned} --why 'of another slip' --override 'to be counted' --by I-21"));
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(body["why"], "of another slip [set aside more-than-in-crib: to be counted]");
    // It is as bad as it is: what makes it no worse is not refused.
    let _ = shop.ok(&format!("correct {back} --set stubs=17 --why 'counted again' --by A-01"));
    shop.is_sound();
}

/// The identity of a lot: its deliveries are described alike, and it cannot become another lot of the book.
#[test]
fn the_identity_of_a_lot() {
    let shop = Shop::stocked();
    let again = "receive --lot R-1028 --maker 'Tarvemire Wire' --maker-lot 4117-B --heat 7K2214 --spec A5.18 --class ER70S-2 \
         --size '3/32 in x 36 in' --form cut-length --quantity '10 kg' --at '2026-03-12 09:20' --by A-01";
    let _ = shop.ok(again);
    let (second, first) =
        (newest(&shop, "lot.received", "2026-03-12"), newest(&shop, "lot.received", "2026-03-09 09:20"));
    let answer = shop.json(&format!(
        "correct {second} --set maker_lot=4117-C --set 'size=1/8 in x 36 in' --why 'a letter' --by A-01"
    ));
    assert_eq!(
        answer["followed"][0]["changes"],
        json!([
            {"field": "maker_lot", "from": "4117-B", "to": "4117-C"},
            {"field": "size", "from": "3/32 in x 36 in", "to": "1/8 in x 36 in"},
        ])
    );
    let pieces: Vec<Value> =
        answer["changes"].as_array().unwrap().iter().filter(|c| c["field"] == "piece_g").cloned().collect();
    // Rod of 1/8 in by 36 in: pi/4 * (3.175 mm)^2 * 914.4 mm = 7.23959 cm3, times 7.85 g/cm3 = 56.831 g.
    assert_eq!(pieces, [json!({"field": "piece_g", "from": "31.967 (computed)", "to": "56.831 (computed)"})]);
    let trace = shop.ok("trace lot R-1028").stdout;
    assert!(trace.contains("1/8 in x 36 in, Tarvemire Wire lot\n  4117-C"), "{trace}");
    // A third one, booked in under the number that was wrong, is another lot now; it cannot become this one again.
    let _ = shop.ok(&again.replace("--lot R-1028", "--lot R-1029"));
    let third = newest(&shop, "lot.received", "R-1029");
    let error = shop.json_error(
        &format!("correct {third} --set maker_lot=4117-C --set 'size=1/8 in x 36 in' --why 'the same letter' --by A-01"), 3);
    assert_eq!(error["code"], "is-another-lot");
    // A receipt may be voided while another describes the lot; the last one not, once there is a slip.
    let _ = shop.ok("issue R-1028 W-12 6 rods --at '2026-04-07 06:10' --by A-01");
    // What corrected the receipt since never was either: both are struck.
    let void = shop.json(&format!("void {second} --why 'typed twice' --by A-01"));
    assert_eq!((&void["stands"], void["entries"].as_array().map(Vec::len)), (&Value::Null, Some(2)));
    assert_eq!(
        shop.json_error(&format!("void {first} --why 'typed twice' --by A-01"), 3)["code"],
        "is-in-use"
    );
    shop.is_sound();
}

/// A slip that is void takes nothing back, hands nothing on, and its number is not given again.
#[test]
fn a_void_slip() {
    let shop = Shop::worked();
    let second = newest(&shop, "rod.issued", "\"number\":\"S-00002\"");
    let _ = shop.ok(&format!("void {second} --why 'typed twice' --by A-01"));
    let undo = newest(&shop, "entry.voided", "typed twice");
    for line in [
        "return S-00002 2 rods --condition marked --at '2026-04-07 14:10' --by A-01",
        "hand-over S-00002 W-12 2 rods --at '2026-04-07 14:10' --by A-01",
        "issue R-1028 W-12 6 rods --slip S-00002 --at '2026-04-08 06:10' --by A-01",
    ] {
        let refused = shop.writes_nothing(line, 3);
        assert!(refused.stderr.contains("S-00002 is"), "{}", refused.shown());
    }
    assert_eq!(shop.json("slip S-00002")["void"], true);
    assert!(!shop.ok("out").stdout.contains("S-00002"));
    let issued = shop.json("issue R-1028 W-12 6 rods --at '2026-04-08 06:10' --by A-01");
    assert_eq!(issued["slip"]["slip"], "S-00003");
    let _ = shop.ok(&format!("void {undo} --why 'it was not' --by A-01"));
    assert_eq!(shop.json("slip S-00002")["void"], false);
    assert!(shop.ok("out").stdout.contains("S-00002"));
    shop.is_sound();
}
