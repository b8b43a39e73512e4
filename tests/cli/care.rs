//! Care of the book: verify, rebuild, backup, restore.

use crate::shop::{Shop, snapshot};
use serde_json::json;

#[test]
fn verify() {
    let shop = Shop::worked();
    snapshot!("verify", shop.session(&["verify"]));
    let answer = shop.json("verify");
    assert_eq!(answer["schema"], "rodbook-verify/1");
    assert_eq!((&answer["sound"], &answer["problems"]), (&json!(true), &json!([])));
    assert_eq!(answer["stations"][0]["entries"], shop.count());
    assert!(
        !answer["shown"].as_array().unwrap().is_empty()
            && !answer["not_shown"].as_array().unwrap().is_empty()
    );
}

/// A receipt in somebody's pocket is compared with the record; one of another book is damage.
#[test]
fn verify_compares_pins() {
    let shop = Shop::worked();
    let (seq, short) = shop.ok("clear W-14 --by A-01").receipt().unwrap();
    let found = shop.ok(&format!("verify --pin {short}"));
    assert!(
        found.stdout.contains(&format!("pin {short}: ok. It is entry {seq} of station")),
        "{}",
        found.shown()
    );
    let typed_by_hand = short.to_lowercase().replace('-', " ").replace('0', "o");
    let found = shop.json(&format!("verify --pin '{typed_by_hand}'"));
    assert_eq!(found["pins"][0]["seq"], seq);
    let foreign = shop.run("verify --pin 0123-4567-89AB-CDEF").expect_code(5);
    assert!(foreign.stdout.starts_with("DAMAGE FOUND"), "{}", foreign.shown());
    snapshot!(
        "verify-pin-missing",
        shop.session(&["verify --pin 0123-4567-89AB-CDEF", "verify --pin 0123-4567", "verify --pin S-00001"])
    );
}

#[test]
fn rebuild() {
    let shop = Shop::worked();
    let before = shop.state();
    let list = shop.ok("trace joint M-101").stdout;
    snapshot!("rebuild", shop.shown("rebuild"));
    assert_eq!(shop.json("rebuild")["entries"], shop.count());
    let after = shop.state();
    assert_eq!(shop.ok("trace joint M-101").stdout, list);
    assert_eq!((before.record, before.list), (after.record, after.list));
    shop.is_sound();
}

#[test]
fn backup() {
    let shop = Shop::worked();
    snapshot!(
        "backup",
        shop.session(&[
            "backup copy.rodbook",
            "backup copy.rodbook",
            "backup nowhere/copy.rodbook",
            "--book copy.rodbook verify --copy"
        ])
    );
    let copy = shop.ok("--book copy.rodbook export record").stdout;
    assert_eq!(copy, shop.record(), "the copy has the record byte for byte");
    let answer = shop.json("backup second.rodbook");
    assert_eq!(answer["schema"], "rodbook-backup/1");
    assert_eq!(answer["stations"][0]["entries"], shop.count());
}

/// A copy that cannot be made there is not a book that cannot be opened.
#[test]
fn a_copy_into_a_folder_that_is_not_there() {
    let shop = Shop::worked();
    let refused = shop.writes_nothing("backup nowhere/copy.rodbook", 1);
    assert!(!refused.stderr.contains("the book cannot be opened"), "the book is open: {}", refused.shown());
    assert!(refused.stderr.contains("nowhere"), "{}", refused.shown());
}

/// A copy on another machine: read and checked without a key, written only after a restore.
#[test]
fn a_copy_elsewhere_is_read_and_not_written() {
    let shop = Shop::worked();
    let _ = shop.ok("backup copy.rodbook");
    let elsewhere = Shop::empty();
    std::fs::copy(shop.file("copy.rodbook"), elsewhere.book()).unwrap();
    elsewhere.is_sound();
    assert_eq!(elsewhere.record(), shop.record());
    snapshot!("no-key", elsewhere.session(&["verify", "issue R-1028 W-12 6 rods --by A-01"]));
    assert_eq!(elsewhere.run("issue R-1028 W-12 6 rods --by A-01").code, Some(1));
    assert_eq!(elsewhere.record(), shop.record());
}

#[test]
fn restore() {
    let shop = Shop::worked();
    let _ = shop.ok("backup copy.rodbook");
    snapshot!(
        "restore",
        shop.session(&[
            "--book new.rodbook --by A-01 restore copy.rodbook --station 'crib 1, second'",
            "--book new.rodbook --by A-01 restore copy.rodbook",
            "--book newer.rodbook --by X-1 restore copy.rodbook",
            "--book newer.rodbook restore copy.rodbook",
            "--book newer.rodbook --by A-01 restore nothing.rodbook",
            "--book new.rodbook verify",
        ])
    );
    assert!(!shop.file("newer.rodbook").exists(), "a refused restore leaves no book");
    let old = shop.record();
    let new = shop.ok("--book new.rodbook export record").stdout;
    assert!(new.starts_with(&old), "the old chain is in the new book byte for byte");
    assert_eq!(new.lines().count(), old.lines().count() + 1);
    let opening: serde_json::Value = serde_json::from_str(new.lines().last().unwrap()).unwrap();
    assert_eq!((&opening["kind"], &opening["seq"]), (&json!("station.opened"), &json!(0)));
    assert_eq!(opening["body"]["predecessor"]["seq"], old.lines().count() - 1);
    // The new station goes on: the slip that is out comes back there.
    let _ = shop
        .ok("--book new.rodbook return S-00002 10 rods --condition marked --at '2026-04-08 08:00' --by A-01");
    let _ = shop.ok("--book new.rodbook verify");
    assert_eq!(shop.record(), old, "the old book is as it was");
}

/// Entries that were written after the copy was made are counted, so that they can be entered again.
#[test]
fn restore_says_what_the_copy_has_not_got() {
    let shop = Shop::worked();
    let _ = shop.ok("backup copy.rodbook");
    let _ = shop.ok("issue R-1028 W-12 6 rods --by A-01");
    let _ = shop.ok("clear W-12 --by A-01");
    let restored = shop.ok("--book new.rodbook --by A-01 restore copy.rodbook");
    let _ = restored.says(&["Warning: this machine wrote 2 more entries"]);
}
