//! Booking in, releasing and holding lots; what is in the crib.

use crate::shop::{Shop, snapshot};

#[test]
fn receive() {
    let shop = Shop::stocked();
    snapshot!(
        "receive",
        shop.session(&[
            "receive --lot R-1050 --maker 'Tarvemire Wire' --maker-lot 3308-C --heat 8L1190 --spec A5.9 --class ER316L --size '2.4 mm x 1000 mm' \
             --form cut-length --surface bare --marking flag-tag --quantity '120 rods' --cert TW-26-0402 --cert-type 3.1 --at '2026-03-12 07:45' --by A-01",
            // A further delivery of the same lot.
            "receive --lot R-1050 --maker 'Tarvemire Wire' --maker-lot 3308-C --heat 8L1190 --spec A5.9 --class ER316L --size '2.4 mm x 1000 mm' \
             --form cut-length --quantity '5 kg' --cert TW-26-0402 --cert-type 3.1 --at '2026-03-19 07:45' --by A-01",
            // The same lot under another code.
            "receive --lot R-1051 --maker 'Tarvemire Wire' --maker-lot 3308-C --spec A5.9 --class ER316L --size '2.4 mm x 1000 mm' \
             --form cut-length --quantity '5 kg' --by A-01",
            // Nothing but a code; nothing else was on the box.
            "receive --lot R-1060 --heat n/a --maker illegible --maker-lot unknown --by A-01",
            // A number that looks like one in the book: 88416 of R-1031.
            "receive --lot R-1061 --maker 'Ostrabeck Metals' --maker-lot 8B416 --spec A5.18 --class ER70S-2 --size 3/32in --form spool --quantity '1 spool' --by A-01",
            "stock",
        ])
    );
    shop.is_sound();
    let received = shop.json("receive --lot R-1070 --maker 'Quennisford Electrodes' --maker-lot 77 --spec A5.18 --class ER70S-2 --size '3/32 in x 36 in' --form cut-length --quantity '10 kg' --at '2026-03-20 08:00' --by A-01");
    assert_eq!(received["lot"], "R-1070");
    assert_eq!(received["further_delivery"], false);
    assert_eq!(received["dry_run"], false);
    // Rod of 3/32 in by 36 in: pi/4 * (2.38125 mm)^2 * 914.4 mm = 4.07227 cm3, times 7.85 g/cm3 (mild steel) = 31.9673 g.
    assert_eq!(received["piece_mg"], 31_967);
}

#[test]
fn receive_not_understood() {
    let shop = Shop::stocked();
    let before = shop.state();
    snapshot!(
        "receive-not-understood",
        shop.session(&[
            "receive --maker 'Tarvemire Wire' --by A-01",
            "receive --lot R-1 --size '3/32' --by A-01",
            "receive --lot R-1 --size '2.4 mm x minus 3 mm' --by A-01",
            "receive --lot R-1 --quantity '50 pounds-ish' --by A-01",
            "receive --lot R-1 --form wire --by A-01",
            "receive --lot R-1 --surface shiny --by A-01",
            "receive --lot R-1 --marking laser --by A-01",
            "receive --lot R-1 --piece-g heavy --by A-01",
            "receive --lot '' --by A-01",
            "receive --lot R-1 --at '2026-03-09 25:00' --by A-01",
        ])
    );
    assert_eq!(shop.state(), before);
}

#[test]
fn release_and_hold() {
    let shop = Shop::stocked();
    snapshot!(
        "release-and-hold",
        shop.session(&[
            "release R-1031 --why 'certificate accepted' --at '2026-03-12 08:30' --by I-21",
            "hold R-1031 --why \"maker's letter: heat 7E210 under question\" --at '2026-04-08 10:00' --by I-21",
            "issue R-1031 W-12 6 rods --at '2026-04-08 11:00' --by A-01",
            "release 88416 --at '2026-04-09 09:00' --by I-21",
            "hold R-1031 --by I-21",
            "hold R-1031 --why '' --by I-21",
            "hold R-1031 --why 'before it came' --at '2026-03-01 10:00' --by I-21",
            "release R-1031 --by A-01",
        ])
    );
    let held = shop.json("hold R-1031 --why 'second letter' --by I-21");
    assert_eq!((&held["before"], &held["after"]), (&"released".into(), &"on-hold".into()));
    assert_eq!(held["verb"], "hold");
    shop.is_sound();
}

/// A rejection stands whatever is said of the lot later, until the rejection itself is voided.
#[test]
fn a_rejection_is_for_good() {
    let shop = Shop::stocked();
    let rejected = shop.json("reject R-1040 --why 'deposit out of limits' --by I-21");
    for line in [
        "hold R-1040 --why 'letter of the maker' --by I-21",
        "recall R-1040 --why 'letter of the maker' --by I-21",
    ] {
        let _ = shop.ok(line);
        let error = shop.json_error("release R-1040 --by I-21", 3);
        assert_eq!(error["code"], "lot-rejected", "after {line}");
        let error = shop.json_error("issue R-1040 W-12 6 rods --override 'I know better' --by I-21", 3);
        assert_eq!(error["code"], "lot-rejected", "after {line}");
    }
    let entry = rejected["entries"][0]["short"].as_str().unwrap();
    let _ = shop.ok(&format!("void {entry} --why 'another lot was tested' --by I-21"));
    let _ = shop.ok("release R-1040 --by I-21");
    let _ = shop.ok("issue R-1040 W-12 6 rods --by A-01");
    shop.is_sound();
}

/// What is said about the status of a lot is its status.
#[test]
fn a_further_delivery_says_the_lot_s_status() {
    let shop = Shop::stocked();
    let line = "receive --lot R-1028 --maker 'Tarvemire Wire' --maker-lot 4117-B --heat 7K2214 --spec A5.18 --class ER70S-2 \
        --size '3/32 in x 36 in' --form cut-length --quantity '50 lb' --cert TW-26-0388 --cert-type 3.1 --by A-01";
    let further = shop.ok(line);
    assert!(further.stdout.starts_with("Further delivery of lot R-1028"), "{}", further.shown());
    let stock = shop.json("stock");
    let status =
        stock["lots"].as_array().unwrap().iter().find(|l| l["lot"] == "R-1028").unwrap()["status"].clone();
    assert_eq!(
        further.stdout.contains("Not released yet"),
        status != "released",
        "the lot is {status}:\n{}",
        further.shown()
    );
}

/// Lots are booked in, and none is of that class: two different answers.
#[test]
fn stock_of_a_class_that_is_not_there() {
    let shop = Shop::stocked();
    let none = shop.ok("stock --class ER308L");
    assert!(!none.stdout.contains("No lot is booked in."), "{}", none.shown());
    assert!(none.stdout.contains("ER308L"), "{}", none.shown());
}

#[test]
fn stock() {
    let shop = Shop::worked();
    snapshot!(
        "stock",
        shop.session(&[
            "stock",
            "stock --class 7018",
            "stock --class ER70S",
            "stock --class ER308L",
            "stock --format csv"
        ])
    );
    snapshot!("stock-empty", Shop::new().session(&["stock", "stock --format csv", "stock --format json"]));
    let answer = shop.json("stock");
    assert_eq!(answer["schema"], "rodbook-stock/1");
    let lots = answer["lots"].as_array().unwrap();
    assert_eq!(lots.len(), 4);
    for lot in lots {
        assert!(lot["heats"].is_array() && lot["status"].is_string() && lot["in_crib"].is_string(), "{lot}");
    }
    let r1028 = lots.iter().find(|l| l["lot"] == "R-1028").unwrap();
    // 50 lb = 22 679 618.5 mg (1 lb = 453 592.37 mg by definition), half to even; 24 - 6 rods of 31 968 mg are out or used.
    assert_eq!(r1028["in_crib_mg"], 22_679_618 - 18 * 31_967);
    let (header, rows) = shop.ok("stock --format csv").csv();
    assert_eq!(header[..3], ["lot", "spec", "classification"]);
    assert_eq!(rows.len(), 4);
}

/// A page for a phone-wide terminal and one for a wide one: words are wrapped, none is lost.
#[test]
fn tables_keep_every_word_at_any_width() {
    let wide = Shop::worked().columns(200);
    let narrow = Shop::worked().columns(40);
    for line in ["stock", "out"] {
        let words = |text: &str| {
            let mut letters: Vec<char> = text.chars().filter(|c| !c.is_whitespace()).collect();
            letters.sort_unstable();
            letters
        };
        let (wide, narrow) = (wide.ok(line).stdout, narrow.ok(line).stdout);
        assert!(narrow.lines().all(|l| l.chars().count() <= 40), "{narrow}");
        assert_eq!(words(&wide), words(&narrow), "{line}\n{wide}\n{narrow}");
    }
}
