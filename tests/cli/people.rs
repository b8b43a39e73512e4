//! Who may do what: badges, roles, overrides.

use crate::shop::{Shop, snapshot};
use serde_json::json;

/// Every verb that writes, with a badge, without one, and with one that nobody has.
#[test]
fn a_writing_verb_needs_an_enrolled_badge() {
    let shop = Shop::worked();
    for line in [
        "enroll W-15 --name 'Runa Kestwick' --role welder",
        "joint M-110",
        "shifts 07:00-15:30",
        "receive --lot R-1050 --maker X --maker-lot 1",
        "release R-1031",
        "hold R-1028 --why letter",
        "issue R-1028 W-12 6 rods",
        "return S-00002 4 rods --condition marked",
        "hand-over S-00002 W-12 4 rods",
        "clear W-14",
        "weld M-102 W-14 --from '2026-04-07 10:00'",
        "spot-check M-101 W-12 --legible yes --at '2026-04-07 08:30'",
    ] {
        let _ = shop.writes_nothing(line, 2).says(&["--by BADGE"]);
        let _ = shop.writes_nothing(&format!("{line} --by ''"), 2);
        let _ = shop.writes_nothing(&format!("{line} --by Z-77"), 4).says(&["Z-77"]);
    }
}

#[test]
fn the_badge_may_come_from_the_environment() {
    let shop = Shop::stocked();
    let done = shop
        .command()
        .env("RODBOOK_BY", "A-01")
        .args(["issue", "R-1028", "W-12", "6 rods"])
        .output()
        .unwrap();
    assert!(done.status.success());
    assert_eq!(shop.entries().pop().unwrap()["by"], "A-01");
    // What is typed wins.
    let done = shop
        .command()
        .env("RODBOOK_BY", "A-01")
        .args(["issue", "R-1028", "W-12", "6 rods", "--by", "I-21"])
        .output()
        .unwrap();
    assert!(done.status.success());
    assert_eq!(shop.entries().pop().unwrap()["by"], "I-21");
}

#[test]
fn releases_and_holds_take_an_inspector() {
    let shop = Shop::worked();
    for badge in ["A-01", "W-12"] {
        for line in ["release R-1031", "hold R-1028 --why letter"] {
            let _ = shop.writes_nothing(&format!("{line} --by {badge}"), 3).says(&["inspector", badge]);
        }
    }
    assert_eq!(shop.json_error("release R-1031 --by A-01", 3)["code"], "role-needed");
}

/// A person with several roles may do what any of them may.
#[test]
fn several_roles_add_up() {
    let shop = Shop::worked();
    let _ = shop
        .ok("enroll B-07 --name 'Hale Windermoor' --role welder --role attendant --role inspector --by I-21");
    for line in [
        "release R-1031 --by B-07",
        "issue R-1031 B-07 6 rods --at '2026-04-08 06:00' --by B-07",
        "weld M-102 B-07 --process GTAW --from '2026-04-08 06:30' --by B-07",
        "spot-check M-102 B-07 --legible yes --reads 70S-2 --at '2026-04-08 06:30' --by B-07",
        "return S-00003 6 rods --condition marked --at '2026-04-08 07:00' --by B-07",
        "hold R-1031 --why letter --by B-07",
    ] {
        let _ = shop.ok(line);
    }
    let enrolled = shop.entries().into_iter().find(|e| e["body"]["badge"] == "B-07").unwrap();
    assert_eq!(enrolled["body"]["roles"], json!(["attendant", "welder", "inspector"]));
    // A role that is taken away is gone from then on.
    let _ = shop.ok("enroll B-07 --name 'Hale Windermoor' --role welder --by I-21");
    let _ = shop.writes_nothing("release R-1031 --by B-07", 3);
}

#[test]
fn an_override_takes_an_inspector_and_a_reason_and_is_recorded() {
    let shop = Shop::worked();
    let line = "issue R-1031 W-12 6 rods --at '2026-04-07 15:00'";
    let _ = shop.writes_nothing(&format!("{line} --by A-01"), 3);
    let _ = shop.writes_nothing(&format!("{line} --override 'in a hurry' --by A-01"), 3).says(&["inspector"]);
    let _ = shop.writes_nothing(&format!("{line} --override '' --by I-21"), 2);
    let done = shop.ok(&format!("{line} --override 'label and certificate read at the window' --by I-21"));
    let _ = done.says(&["Warning: a rule was set aside; the reason is in the record"]);
    let entry = shop.entries().pop().unwrap();
    assert_eq!(
        entry["body"]["overridden"],
        json!({"rules": ["lot-not-released"], "why": "label and certificate read at the window"})
    );
    assert_eq!(entry["by"], "I-21");
    // Returns and hand-overs too.
    let _ = shop.ok("return S-00001 2 rods --condition marked --at '2026-04-07 15:10' --override 'found in the quiver' --by I-21");
    assert_eq!(shop.entries().pop().unwrap()["body"]["overridden"]["rules"], json!(["slip-closed"]));
    let _ = shop
        .ok("hand-over S-00002 W-12 50 rods --at '2026-04-07 15:10' --override 'counted twice' --by I-21");
    assert_eq!(shop.entries().pop().unwrap()["body"]["overridden"]["rules"], json!(["more-than-out"]));
    // What nobody may set aside stays refused.
    let _ = shop.writes_nothing("issue R-1028 W-12 6 rods --at '2199-01-01' --override 'soon' --by I-21", 3);
    let _ = shop.writes_nothing("issue R-1028 W-12 0 rods --override 'none' --by I-21", 3);
    shop.is_sound();
    snapshot!(
        "override",
        shop.session(&[
            "issue R-1031 W-12 6 rods --at '2026-04-07 16:00' --override 'in a hurry' --by A-01",
            "issue R-1031 W-12 6 rods --at '2026-04-07 16:00' --override 'label read at the window' --by I-21",
        ])
    );
}

/// A reason that was not needed sets nothing aside, and nothing says that a rule was set aside.
#[test]
fn an_override_that_was_not_needed_is_not_recorded() {
    let shop = Shop::worked();
    let done = shop.ok("issue R-1028 W-12 6 rods --at '2026-04-07 15:00' --override 'to be sure' --by I-21");
    assert_eq!(shop.entries().pop().unwrap()["body"]["overridden"], serde_json::Value::Null);
    assert_eq!(done.stderr, "", "no rule was set aside");
}
