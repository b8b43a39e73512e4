//! Findings: what is seen, what is said about it, how it ends.

use crate::shop::{Shop, snapshot};
use serde_json::Value;

/// A day on which much goes wrong, told within the hour so that nothing is a late entry but what should be.
fn troubled() -> Shop {
    let shop = Shop::stocked();
    for step in [
        // Two lots in W-12's hands; M-101 must be traced to the lot.
        "issue R-1028 W-12 10 rods --at '2026-04-07 06:10' --by A-01",
        "issue R-1082 W-12 10 rods --at '2026-04-07 06:12' --by A-01",
        "weld M-101 W-12 --pass root --process GTAW --from '2026-04-07 06:40' --to '2026-04-07 08:05' --by A-01",
        // Nothing in W-14's hands.
        "weld M-102 W-14 --pass hot --process GTAW --from '2026-04-07 08:20' --to '2026-04-07 09:00' --by A-01",
        // A mark that could not be read, and one that no source has.
        "weld M-102 W-12 --pass root --process GTAW --lot R-1028 --mark unreadable --from '2026-04-07 09:20' --to '2026-04-07 10:00' --by A-01",
        "weld M-102 W-12 --pass fill --process GTAW --lot R-1028 --from '2026-04-07 11:20' --to '2026-04-07 12:00' --by A-01",
        "spot-check M-102 W-12 --legible yes --reads ER316L --at '2026-04-07 11:30' --by I-21",
        "spot-check M-101 W-12 --legible no --at '2026-04-07 12:30' --by I-21",
        // One rod short, one too many, one unmarked.
        "return S-00001 2 rods --stubs 7 --condition marked --at '2026-04-07 14:10' --by A-01",
        "return S-00002 3 rods --stubs 8 --condition unmarked --at '2026-04-07 14:12' --by A-01",
        // A lot that is not released, set aside by an inspector.
        "issue R-1031 W-14 5 rods --due '2026-04-07 14:30' --at '2026-04-07 13:00' --override 'trial piece' --by I-21",
    ] {
        let _ = shop.ok(step);
    }
    shop
}

/// (code, joint, slip) of the open findings, without the late entries that a test in the past always has.
fn open(shop: &Shop) -> Vec<String> {
    let answer = shop.json("findings");
    let mut found: Vec<String> = answer["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|f| f["code"] != "late-entry")
        .map(|f| {
            let text = |key: &str| f[key].as_str().unwrap_or("-").to_owned();
            format!(
                "{} {} {} {} {} {}",
                text("severity"),
                text("code"),
                text("joint"),
                text("lot"),
                text("slip"),
                text("welder")
            )
        })
        .collect();
    found.sort();
    found
}

fn id_of(shop: &Shop, code: &str, pick: impl Fn(&Value) -> bool) -> String {
    let answer = shop.json("findings --all");
    let found: Vec<&Value> =
        answer["findings"].as_array().unwrap().iter().filter(|f| f["code"] == code && pick(f)).collect();
    assert_eq!(found.len(), 1, "{code}: {found:?}");
    found[0]["id"].as_str().unwrap().to_owned()
}

#[test]
fn what_goes_wrong_is_found_and_nothing_else() {
    let shop = troubled();
    assert_eq!(
        open(&shop),
        [
            "act count-over - R-1082 S-00002 W-12",
            "act count-short - R-1028 S-00001 W-12",
            "act several-sources M-101 - - W-12",
            "act unmarked-wire - R-1082 S-00002 W-12",
            "note slip-overdue - R-1031 S-00003 W-14",
            "stop contradicted-source M-102 R-1028 - W-12",
            "stop lot-not-released - R-1031 S-00003 W-14",
            "stop no-source M-102 - - W-14",
            "stop unmarked-wire M-101 - - W-12",
            "stop unmarked-wire M-102 R-1028 - W-12",
        ]
    );
    shop.is_sound();
}

#[test]
fn the_list_as_people_read_it() {
    let shop = troubled();
    snapshot!(
        "findings",
        shop.session(&[
            "findings",
            "findings --severity stop --joint M-102",
            "findings --code late-entry --welder W-14"
        ])
    );
    let page = shop.ok("findings").stdout;
    assert!(page.lines().all(|l| l.chars().count() <= 60), "{page}");
}

#[test]
fn an_empty_list_says_so() {
    let shop = Shop::new();
    snapshot!("findings-empty", shop.session(&["findings", "findings --all --format csv"]));
    assert_eq!(shop.json("findings")["findings"], serde_json::json!([]));
}

#[test]
fn what_cannot_be_asked() {
    let shop = troubled();
    snapshot!(
        "findings-refused",
        shop.session(&[
            "findings --code no-sauce",
            "findings --joint M-1O1",
            "findings --at-risk 00000000",
            "findings --at-risk M-101",
        ])
    );
}

#[test]
fn a_finding_is_closed_and_opened_again() {
    let shop = troubled();
    let id = id_of(&shop, "several-sources", |_| true);
    let before = open(&shop);
    let short = &id[..12];
    let _ =
        shop.run(&format!("dispose {short} --as accepted --why 'client agrees' --by A-01")).expect_code(3);
    let _ = shop
        .run(&format!("dispose {short} --as re-marked --why 'client agrees' --class ER70S-2 --by I-21"))
        .expect_code(3);
    let closed = shop
        .json(&format!("dispose {short} --as accepted --why 'client agrees, letter of 9 April' --by I-21"));
    assert_eq!(closed["finding"]["disposed"]["as"], "accepted");
    assert_eq!(open(&shop).len(), before.len() - 1);
    let all = shop.json("findings --all");
    let kept = all["findings"].as_array().unwrap().iter().find(|f| f["id"] == id.as_str()).unwrap();
    assert_eq!(kept["disposed"]["by"], "I-21");
    assert_eq!(kept["disposed"]["why"], "client agrees, letter of 9 April");
    let _ = shop.run(&format!("dispose {short} --as accepted --why again --by I-21")).expect_code(3);
    // The trace counts it as closed, and shows it.
    assert!(
        !shop.json("trace joint M-101")["findings"].as_array().unwrap().contains(&Value::from(id.as_str()))
    );
    assert!(shop.ok("trace joint M-101").stdout.contains("CLOSED"));
    shop.is_sound();
}

#[test]
fn trace_shows_the_findings_that_touch_its_answer() {
    let shop = troubled();
    let all = shop.json("findings");
    let ids = |pick: &dyn Fn(&Value) -> bool| -> Vec<String> {
        all["findings"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|f| pick(f))
            .map(|f| f["id"].as_str().unwrap().to_owned())
            .collect()
    };
    let shown = |command: &str| -> Vec<String> {
        shop.json(command)["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|i| i.as_str().unwrap().to_owned())
            .collect()
    };
    let joint = shown("trace joint M-102");
    for id in ids(&|f| f["joint"] == "M-102") {
        assert!(joint.contains(&id));
    }
    // In the order of the list: severity, code, id.
    let order: Vec<String> = ids(&|_| true).into_iter().filter(|id| joint.contains(id)).collect();
    assert_eq!(order, joint);
    // The slip that fed it is short: that touches its answer, another slip's does not.
    assert!(ids(&|f| f["code"] == "count-short").iter().all(|id| joint.contains(id)));
    assert!(ids(&|f| f["slip"] == "S-00003").iter().all(|id| !joint.contains(id)));
    for (command, key, value) in [
        ("trace slip S-00003", "slip", "S-00003"),
        ("trace lot R-1031", "lot", "R-1031"),
        ("trace welder W-14", "welder", "W-14"),
    ] {
        let shown = shown(command);
        let of = ids(&|f| f[key] == value);
        assert!(!of.is_empty() && of.iter().all(|id| shown.contains(id)), "{command}: {of:?} in {shown:?}");
    }
}

#[test]
fn found_wire_puts_welds_at_risk() {
    let shop = Shop::stocked();
    for step in [
        "issue R-1028 W-12 20 rods --at '2026-04-06 06:10' --by A-01",
        "weld M-101 W-12 --pass root --process GTAW --from '2026-04-06 07:00' --to '2026-04-06 08:00' --by A-01",
        "spot-check M-101 W-12 --legible yes --reads 70S-2 --at '2026-04-06 08:30' --by I-21",
        "weld M-101 W-12 --pass hot --process GTAW --from '2026-04-06 09:00' --to '2026-04-06 10:00' --by A-01",
        "hand-over S-00001 W-14 4 rods --at '2026-04-06 10:30' --by A-01",
        "weld M-102 W-14 --pass root --process GTAW --from '2026-04-06 11:00' --to '2026-04-06 12:00' --by A-01",
    ] {
        let _ = shop.ok(step);
    }
    snapshot!(
        "unmarked",
        shop.session(&[
            "unmarked --at-place 'bay 3, bench 2' --welder W-12 --quantity '2 rods' --joint M-101 --at '2026-04-06 13:00' --by I-21 --dry-run",
            "unmarked --at-place 'bay 3, bench 2' --welder W-12 --quantity '2 rods' --joint M-101 --at '2026-04-06 13:00' --by I-21",
            "unmarked --at-place 'floor of bay 1' --at '2026-04-06 13:10' --by I-21",
            "unmarked --at-place '' --by I-21",
            "unmarked --at-place bay --welder W-13 --by I-21",
            "unmarked --at-place bay --at 2199-01-01 --by I-21",
        ])
    );
    let id = id_of(&shop, "unmarked-wire", |f| f["welder"] == "W-12");
    let risk = shop.json(&format!("findings --at-risk {id}"));
    let at_risk: Vec<(&str, &str)> = risk["welds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| (w["joint"].as_str().unwrap(), w["pass"].as_str().unwrap()))
        .collect();
    assert_eq!(
        at_risk,
        [("M-101", "hot"), ("M-102", "root")],
        "since the clean spot check, and whoever borrowed"
    );
    assert_eq!(risk["welds"][1]["through"], serde_json::json!(["S-00001", "S-00002"]));
    assert!(shop.json("trace joint M-102")["findings"].as_array().unwrap().iter().any(|f| f == id.as_str()));
}

#[test]
fn re_marking_takes_proof() {
    let shop = Shop::stocked();
    for step in [
        "issue R-1028 W-12 20 rods --at '2026-04-06 06:10' --by A-01",
        "return S-00001 6 rods --condition unmarked --at '2026-04-06 14:10' --by A-01",
        "issue R-1028 W-14 20 rods --at '2026-04-06 06:10' --by A-01",
        "issue R-1082 W-14 20 rods --at '2026-04-06 06:20' --by A-01",
        "unmarked --at-place bay --welder W-14 --quantity '2 rods' --at '2026-04-06 13:00' --by I-21",
    ] {
        let _ = shop.ok(step);
    }
    let of_return = id_of(&shop, "unmarked-wire", |f| f["welder"] == "W-12");
    let of_find = id_of(&shop, "unmarked-wire", |f| f["welder"] == "W-14");
    let in_crib = || shop.json("trace lot R-1028")["in_crib_mg"].as_i64().unwrap();
    let before = in_crib();
    snapshot!(
        "re-marked-refused",
        shop.session(&[
            &format!("dispose {of_find} --as re-marked --lot R-1028 --why 'looks like it' --by I-21"),
            &format!("dispose {of_find} --as re-marked --why 'looks like it' --by I-21"),
            &format!("dispose {of_find} --as cut-out --why 'no joint' --by I-21"),
            &format!("dispose {of_find} --as scrapped --lot R-1028 --why 'scrap' --by I-21"),
            &format!("dispose {of_return} --as re-marked --lot R-1082 --why 'looks like it' --by I-21"),
        ])
    );
    assert_eq!(in_crib(), before);
    let _ = shop
        .ok(&format!("dispose {of_find} --as re-marked --class ER70S-6 --why 'reading 26-114' --by I-21"));
    let done =
        shop.json(&format!("dispose {of_return} --as re-marked --lot R-1028 --why 'one lot held' --by I-21"));
    assert_eq!(done["finding"]["disposed"]["lot"], "R-1028");
    let piece = 31_954;
    assert!((in_crib() - before - 6 * piece).abs() < 1_000, "{} {before}", in_crib());
    shop.is_sound();
}

#[test]
fn unmarked_stock_is_never_issued() {
    let shop = Shop::stocked();
    let _ = shop.ok("receive --lot T-1 --maker M --maker-lot 1 --class ER70S-2 --spec A5.18 --form cut-length --quantity '10 rods' --cert C --at '2026-04-01' --by A-01");
    let _ = shop.ok("release T-1 --by I-21");
    let _ = shop.ok("issue T-1 W-12 10 rods --by A-01");
    let _ = shop.ok("return S-00001 4 rods --condition unmarked --by A-01");
    let refused = shop.run("issue T-1 W-14 2 rods --override 'I know them' --by I-21").expect_code(3);
    assert!(refused.stderr.contains("not stock any more"), "{}", refused.stderr);
    snapshot!(
        "unmarked-never-issued",
        shop.session(&["issue T-1 W-14 2 rods --override 'I know them' --by I-21"])
    );
}
