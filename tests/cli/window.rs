//! At the window: issue, return, hand-over, clear, slip, out.

use crate::shop::{Shop, keys, snapshot};
use serde_json::{Value, json};

#[test]
fn issue() {
    let shop = Shop::stocked();
    snapshot!(
        "issue",
        shop.session(&[
            "issue R-1028 W-12 24 rods --joint M-101 --joint M-102 --quiver Q-3 --due '2026-04-07 14:30' --at '2026-04-07 06:10' --by A-01",
            // By the maker's number, by mass, on a slip that is written already.
            "issue 62055 W-14 '2 lb' --slip 26-0311 --at '2026-04-07 06:12' --by A-01",
            "issue R-1040 W-14 30 rods --at 2026-04-07T06:15:00+12:00 --by A-01",
        ])
    );
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(
        body["at"],
        json!({"from": "2026-04-06T18:15:00Z", "text": "2026-04-07T06:15:00+12:00", "to": "2026-04-06T18:15:00Z"})
    );
    shop.is_sound();
}

#[test]
fn issue_refused() {
    let shop = Shop::stocked();
    let _ = shop.ok("issue R-1028 W-12 6 rods --slip S-1 --at '2026-04-07 06:10' --by A-01");
    let before = shop.state();
    snapshot!(
        "issue-refused",
        shop.session(&[
            "issue R-1031 W-12 24 rods --at '2026-04-07 06:10' --by A-01",
            "issue R-1028 W-12 2000 rods --at '2026-04-07 06:10' --by A-01",
            "issue R-1028 W-12 0 rods --at '2026-04-07 06:10' --by A-01",
            "issue R-1028 W-12 6 rods --slip S-1 --at '2026-04-07 06:20' --by A-01",
            "issue R-1028 W-12 6 rods --at '2199-04-07 06:10' --by A-01",
            "issue R-1028 W-12 6 rods --at '2026-03-09 09:19' --by A-01",
            // Everything that speaks against it is said at once.
            "issue R-1031 W-12 9000 rods --slip S-1 --at '2026-03-01 06:10' --by A-01",
            "issue R-1028 W-21 6 rods --at '2026-04-07 06:10' --by A-01",
            "issue R-1028 W-12 6 rods --joint M-999 --at '2026-04-07 06:10' --by A-01",
            "issue R-1028 W-12 --by A-01",
            "issue R-1028 W-12 6 rods --due tonight --by A-01",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn issue_as_json() {
    let shop = Shop::stocked();
    let answer = shop.json(
        "issue R-1028 W-12 24 rods --joint M-101 --due '2026-04-07 14:30' --at '2026-04-07 06:10' --by A-01",
    );
    assert_eq!(answer["schema"], "rodbook-receipt/1");
    assert_eq!(answer["verb"], "issue");
    let slip = &answer["slip"];
    assert_eq!(slip["slip"], "S-00001");
    assert_eq!(
        (&slip["lot"], &slip["welder"], &slip["quantity"]),
        (&json!("R-1028"), &json!("W-12"), &json!("24 rods"))
    );
    assert_eq!(slip["issued_at"], "2026-04-06T18:10:00Z", "NZST is UTC+12 from 5 April 2026");
    assert_eq!(slip["due_at"], "2026-04-07T02:30:00Z");
    assert_eq!(slip["closed_at"], Value::Null);
    assert_eq!(slip["joints"], json!(["M-101"]));
    let entry = &answer["entries"][0];
    assert_eq!(entry["id"], slip["entry"]);
    assert_eq!(entry["short"], slip["short"]);
    // The same slip again is the same slip, with the name of its schema.
    let mut again = shop.json("slip S-00001");
    assert_eq!(again["schema"], "rodbook-slip/1");
    for more in ["schema", "notes", "readings", "reprints"] {
        again.as_object_mut().unwrap().remove(more);
    }
    assert_eq!(&again, slip);
}

#[test]
fn give_back() {
    let shop = Shop::stocked();
    let _ = shop.ok("issue R-1028 W-12 24 rods --at '2026-04-07 06:10' --by A-01");
    let _ = shop.ok("issue R-1082 W-14 10 rods --at '2026-04-07 06:20' --by A-01");
    snapshot!(
        "return",
        shop.session(&[
            "return S-00001 4 rods --stubs 5 --condition marked --more --at '2026-04-07 09:00' --by A-01",
            "return S-00001 3 rods --condition unmarked --more --at '2026-04-07 10:00' --by A-01",
            "return S-00001 2 rods --condition wet --more --at '2026-04-07 11:00' --by A-01",
            "return S-00001 0 rods --stubs 10 --condition marked --at '2026-04-07 14:10' --by A-01",
            "slip S-00001",
            "return S-00002 1 rod --condition damaged --at 2026-04-07 --by A-01",
        ])
    );
    shop.is_sound();
}

#[test]
fn give_back_refused() {
    let shop = Shop::worked();
    let before = shop.state();
    snapshot!(
        "return-refused",
        shop.session(&[
            "return S-00002 11 rods --condition marked --at '2026-04-07 14:10' --by A-01",
            "return S-00002 2 rods --condition marked --at '2026-04-07 06:19' --by A-01",
            "return S-00001 1 rod --condition marked --at '2026-04-07 15:00' --by A-01",
            "return S-00002 2 rods --condition marked --at '2199-04-07 06:19' --by A-01",
            "return S-00003 2 rods --condition marked --by A-01",
            "return S-00002 2 rods --by A-01",
            "return S-00002 2 rods --condition rusty --by A-01",
            "return S-00002 2 rods --stubs -1 --condition marked --by A-01",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn give_back_as_json() {
    let shop = Shop::worked();
    let answer = shop.json(
        "return S-00002 4 rods --stubs 5 --condition unmarked --more --at '2026-04-07 09:00' --by A-01",
    );
    let slip = &answer["slip"];
    assert_eq!(answer["verb"], "return");
    assert_eq!(slip["closed_at"], Value::Null, "more is to come");
    let movement = &slip["movements"][0];
    assert_eq!(
        (&movement["way"], &movement["condition"], &movement["stubs"], &movement["closes"]),
        (&json!("returned"), &json!("unmarked"), &json!(5), &json!(false))
    );
    assert_eq!(movement["from"], "2026-04-06T21:00:00Z");
    // Unmarked rods are no stock: the crib has what it had.
    let stock = shop.json("stock");
    let lot = stock["lots"].as_array().unwrap().iter().find(|l| l["lot"] == "R-1082").unwrap();
    assert_eq!(lot["in_crib_mg"], 25_000_000 - 10 * 31_967);
}

#[test]
fn hand_over() {
    let shop = Shop::worked();
    snapshot!(
        "hand-over",
        shop.session(&[
            "hand-over S-00002 W-12 4 rods --at '2026-04-07 10:00' --by A-01",
            "hand-over S-00002 W-12 6 rods --closes --new-slip 26-0360 --at '2026-04-07 14:26' --by A-01",
            "slip S-00002",
            "hand-over S-00003 W-12 1 rod --at '2026-04-07 15:00' --by A-01",
            "hand-over S-00003 W-14 0 rods --at '2026-04-07 15:00' --by A-01",
            "hand-over S-00003 W-14 5 rods --at '2026-04-07 15:00' --by A-01",
            "hand-over S-00003 W-14 1 rod --new-slip 26-0360 --at '2026-04-07 15:00' --by A-01",
            "hand-over S-00003 W-99 1 rod --at '2026-04-07 15:00' --by A-01",
            "hand-over S-09999 W-14 1 rod --at '2026-04-07 15:00' --by A-01",
        ])
    );
    shop.is_sound();
    let answer = shop.json("hand-over S-00003 W-14 1 rod --at '2026-04-07 15:00' --by A-01");
    assert_eq!(keys(&answer), ["dry_run", "entries", "from", "schema", "to", "verb"]);
    assert_eq!(answer["from"]["slip"], "S-00003");
    assert_eq!(answer["to"]["handed_over_from"], "S-00003");
    assert_eq!(answer["to"]["welder"], "W-14");
}

/// What is offered next can be typed: every option that a message names is one of the verb's.
#[test]
fn a_refused_hand_over_names_its_own_options() {
    let shop = Shop::worked();
    let refused = shop.writes_nothing("hand-over S-00002 W-12 1 rod --new-slip S-00001 --by A-01", 3);
    assert!(!refused.stderr.contains("leave --slip out"), "hand-over has no --slip: {}", refused.shown());
    let hidden = shop
        .run_words(&["hand-over", "S-00002", "W-12", "1 rod", "--new-slip", "S\u{200B}1", "--by", "A-01"])
        .expect_code(2);
    assert!(hidden.stderr.contains("--new-slip"), "{}", hidden.shown());
}

#[test]
fn clear() {
    let shop = Shop::worked();
    snapshot!(
        "clear",
        shop.session(&[
            "clear W-14 --at '2026-04-07 14:40' --by A-01",
            "clear W-14 --at '2026-04-07 14:45' --by A-01",
            "clear W-99 --by A-01",
            "clear W-14 --at '2199-04-07 14:45' --by A-01",
            "slip S-00002",
            "out",
        ])
    );
    let shop = Shop::worked();
    let answer = shop.json("clear W-14 --at '2026-04-07 14:40' --by A-01");
    assert_eq!(answer["welder"], "W-14");
    assert_eq!(answer["closed"][0]["slip"], "S-00002");
    shop.is_sound();
}

/// A word that is older than the slip says nothing about it.
#[test]
fn clear_before_the_issue_closes_nothing() {
    let shop = Shop::worked();
    let answer = shop.json("clear W-14 --at '2026-04-07 06:00' --by A-01");
    assert_eq!(answer["closed"], json!([]));
    assert_eq!(shop.json("out")["slips"].as_array().unwrap().len(), 1);
}

#[test]
fn out() {
    let shop = Shop::worked();
    let _ = shop.ok("issue R-1040 W-12 30 rods --due '2199-01-01' --at '2026-04-08 06:10' --by A-01");
    let _ = shop.ok("issue R-1028 W-12 '1.5 kg' --at '2026-04-08 06:15' --by A-01");
    snapshot!("out", shop.session(&["out", "out --welder W-14", "out --format csv"]));
    snapshot!("out-empty", Shop::stocked().session(&["out", "out --format csv", "out --format json"]));
    let answer = shop.json("out --welder W-14");
    assert_eq!(answer["schema"], "rodbook-out/1");
    assert_eq!(answer["slips"].as_array().unwrap().len(), 1);
    assert_eq!(
        (&answer["slips"][0]["slip"], &answer["slips"][0]["overdue"]),
        (&json!("S-00002"), &json!(true))
    );
}

/// "Nothing is out" about somebody who does not exist would be a wrong answer to a mistyped badge.
#[test]
fn out_of_an_unknown_badge_is_not_an_empty_answer() {
    let shop = Shop::worked();
    let _ = shop.run("out --welder W-41").expect_code(4).says(&["W-41", "did you mean W-14"]);
}

#[test]
fn slip() {
    let shop = Shop::worked();
    snapshot!(
        "slip",
        shop.session(&["slip S-00001", "slip s-1", "slip S-00003", "slip S-00001 --format csv"])
    );
    assert_eq!(
        keys(&shop.json("slip S-00001")),
        [
            "closed_at",
            "closed_by",
            "due_at",
            "entry",
            "handed_over_from",
            "imported",
            "issued_at",
            "joints",
            "left",
            "lot",
            "movements",
            "notes",
            "quantity",
            "quiver",
            "readings",
            "reprints",
            "schema",
            "short",
            "slip",
            "struck",
            "void",
            "welder"
        ]
    );
}

/// A rod cut from a spool is not a spool less: the slip stays open, and what is left of it is not a number.
#[test]
fn rods_do_not_count_as_spools() {
    let shop = Shop::worked();
    let _ = shop.ok(
        "receive --lot R-70 --maker 'Tarvemire Wire' --maker-lot S-1 --spec A5.18 --class ER70S-6 --size '0.045 in' \
         --form spool --quantity '5 spools' --at '2026-04-01 08:00' --by A-01",
    );
    let _ = shop.ok("release R-70 --at '2026-04-01 09:00' --by I-21");
    let _ = shop.ok("issue R-70 W-12 2 spools --slip 26-9001 --at '2026-04-07 06:00' --by A-01");
    let _ = shop.ok("return 26-9001 2 rods --condition marked --more --at '2026-04-07 07:00' --by A-01");
    let slip = shop.json("slip 26-9001");
    assert_eq!(slip["closed_at"], serde_json::Value::Null, "{slip}");
    assert_eq!(slip["left"], "not known", "{slip}");
    let _ = shop.ok("return 26-9001 2 spools --condition marked --at '2026-04-07 14:00' --by A-01");
    assert_eq!(shop.json("slip 26-9001")["closed_at"], "2026-04-07T02:00:00Z");
}
