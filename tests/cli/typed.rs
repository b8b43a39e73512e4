//! Values as typed: quantities, sizes and times that are not understood, and the largest that are.

use crate::shop::{Shop, snapshot};

#[test]
fn quantities_that_are_not_understood_are_shown() {
    let shop = Shop::stocked();
    let before = shop.state();
    for text in [
        "ten rods",
        "10",
        "rods",
        "10 rds",
        "10.5 rods",
        "1e3 rods",
        "1,000 rods",
        "-6 rods",
        "- 6 rods",
        "+6 rods",
        "0x10 rods",
        "9007199254740992 rods",
        "9007199254740993 rods",
        "99999999999999999999999999 rods",
        "9007199254740993 kg",
        "0.00000000000000001 kg",
        "١٠ rods",
        "10 rods 5",
        "",
        " ",
        "NaN kg",
        "inf kg",
        "½ lb",
        "10 rods; DROP TABLE entry",
    ] {
        let output = shop
            .run_words(&["issue", "R-1028", "W-12", text, "--at", "2026-04-07 06:10", "--by", "A-01"])
            .expect_code(2);
        // A word that begins with a dash is taken for an option, and shown as one.
        let shown = if text.starts_with('-') { text.split(' ').next().unwrap() } else { text.trim() };
        assert!(output.stderr.contains(shown), "the text is shown: {}", output.shown());
    }
    assert_eq!(shop.state(), before);
    snapshot!(
        "quantity-not-understood",
        shop.session(&[
            "issue R-1028 W-12 ten rods --by A-01",
            "issue R-1028 W-12 10 --by A-01",
            "issue R-1028 W-12 10.5 rods --by A-01",
            "issue R-1028 W-12 -6 rods --by A-01",
            "issue R-1028 W-12 1,000 rods --by A-01",
            "issue R-1028 W-12 9007199254740992 rods --by A-01",
            "issue R-1028 W-12 9007199254740993 rods --by A-01",
            "issue R-1028 W-12 0.00000000000000001 kg --by A-01",
            "return S-00001 -2 rods --condition marked --by A-01",
            "issue R-1028 W-12 6 rods extra --by A-01",
        ])
    );
}

/// 2^53 - 1 is the largest number that every JSON reader keeps (RFC 8259, section 6); it is taken, and what it overflows
/// into is not known rather than wrong.
#[test]
fn the_largest_quantity_is_kept() {
    let shop = Shop::stocked();
    let _ = shop.ok("receive --lot R-1099 --maker X --maker-lot 1 --class ER70S-2 --size 3/32in --form cut-length --piece-g 33.1 --quantity '9007199254740991 rods' --by A-01");
    let _ = shop.ok("receive --lot R-1099 --maker X --maker-lot 1 --class ER70S-2 --size 3/32in --form cut-length --piece-g 33.1 --quantity '9007199254740991 rods' --by A-01");
    let _ = shop.ok("release R-1099 --by I-21");
    let _ = shop.ok("issue R-1099 W-12 9007199254740991 rods --by A-01");
    for line in [
        "stock",
        "stock --format csv",
        "out",
        "trace lot R-1099",
        "slip S-00001",
        "export lot-joint",
        "verify",
        "rebuild",
    ] {
        let _ = shop.ok(line);
    }
    assert_eq!(shop.json("stock")["lots"].as_array().unwrap().len(), 5);
    shop.is_sound();
}

#[test]
fn sizes_that_are_not_understood_are_shown() {
    let shop = Shop::stocked();
    let before = shop.state();
    for text in [
        "3/32",
        "3/0 in",
        "big",
        "-2.4 mm",
        "2.4 mm x",
        "2.4 mm x -1000 mm",
        "9007199254740993/2 in",
        "2,4 mm",
        "2.4 mm x 1000 mm x 3 mm",
    ] {
        let size = format!("--size={text}");
        let output = shop.run_words(&["receive", "--lot", "R-1", &size, "--by", "A-01"]).expect_code(2);
        let _ = output.says(&[&format!("{text:?}"), "Nothing was written."]);
    }
    assert_eq!(shop.state(), before);
}

#[test]
fn times_that_are_not_understood_are_shown() {
    let shop = Shop::stocked();
    let before = shop.state();
    for text in [
        "now",
        "tomorrow",
        "07:10",
        "2026-04-31 06:10",
        "2026-02-29",
        "2026-04-07 24:30",
        "2026-04-07 06:60",
        "07/04/2026",
        "2026-4-7",
        "2026-04-07 06:10 NZST",
        "1899-04-07",
        "99999-04-07",
        "2026-04-07T06:10:00+25:00",
        "",
    ] {
        let output = shop
            .run_words(&["issue", "R-1028", "W-12", "6 rods", "--at", text, "--by", "A-01"])
            .expect_code(2);
        assert!(output.stderr.contains(&format!("{text:?}")), "the text is shown: {}", output.shown());
        let _ = output.says(&["--at", "Nothing was written."]);
    }
    assert_eq!(shop.state(), before);
}

/// A fraction of a second is widened outward, an offset is kept, and the text as typed stands beside the interval.
#[test]
fn claimed_times_are_kept_as_typed_and_resolved() {
    let shop = Shop::stocked();
    for (text, from, to) in [
        ("2026-04-07 06:10", "2026-04-06T18:10:00Z", "2026-04-06T18:10:00Z"),
        ("2026-04-07T06:10:00", "2026-04-06T18:10:00Z", "2026-04-06T18:10:00Z"),
        ("2026-04-07T06:10:00.25+12:00", "2026-04-06T18:10:00Z", "2026-04-06T18:10:01Z"),
        ("2026-04-06T18:10:00Z", "2026-04-06T18:10:00Z", "2026-04-06T18:10:00Z"),
        ("2026-04-07", "2026-04-06T12:00:00Z", "2026-04-07T11:59:59Z"),
    ] {
        let _ = shop
            .run_words(&["issue", "R-1028", "W-12", "1 rod", "--at", text, "--by", "A-01"])
            .expect_code(0);
        let at = shop.entries().pop().unwrap()["body"]["at"].clone();
        assert_eq!(at, serde_json::json!({"from": from, "text": text, "to": to}));
    }
}

/// Nothing sets the recorded-at time: it is this machine's clock, whatever was claimed.
#[test]
fn the_recorded_time_is_the_clock_s() {
    let shop = Shop::stocked();
    let before = chrono::Utc::now().timestamp();
    let _ = shop.ok("issue R-1028 W-12 1 rod --at '2026-04-07 06:10' --by A-01");
    let recorded = shop.entries().pop().unwrap()["time"].as_str().unwrap().to_owned();
    let recorded = chrono::DateTime::parse_from_rfc3339(&recorded).unwrap().timestamp();
    assert!((before..=chrono::Utc::now().timestamp()).contains(&recorded));
}

/// Texts up to the limit are kept, one character more is refused, and the limit is said.
#[test]
fn texts_that_are_too_long() {
    let shop = Shop::stocked();
    let long = "x".repeat(201);
    let _ = shop.run_words(&["joint", &long[..200], "--by", "A-01"]).expect_code(0);
    let _ = shop.run_words(&["joint", &long, "--by", "A-01"]).expect_code(2).says(&["201", "200"]);
    let reason = "y".repeat(100_000);
    let _ = shop
        .run_words(&["hold", "R-1028", "--why", &reason, "--by", "I-21"])
        .expect_code(2)
        .says(&["100000"]);
    shop.is_sound();
}
