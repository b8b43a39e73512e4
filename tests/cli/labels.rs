//! What people type: labels that mean nothing, several things, or the wrong thing.

use crate::shop::{Output, Shop, snapshot};

/// The labels that an answer about an ambiguous one lists.
fn listed(output: &Output) -> Vec<String> {
    output
        .stderr
        .lines()
        .filter_map(|line| line.strip_prefix("          "))
        .filter_map(|line| line.split("   ").next())
        .map(str::to_owned)
        .collect()
}

#[test]
fn an_unknown_label_lists_near_ones() {
    let shop = Shop::worked();
    for (line, near) in [
        // Digits swapped, look-alikes, a dash left out, lower case.
        ("trace lot R-1082X", "R-1082"),
        ("trace lot R-1O28", "R-1028"),
        ("trace lot R1028", "R-1028"),
        ("trace lot r-1028", "R-1028"),
        ("trace lot R-1208", "R-1028"),
        ("trace lot 4117B", "4117-B"),
        ("trace joint M-1O1", "M-101"),
        ("trace joint m101", "M-101"),
        ("trace slip S-0001", "S-00001"),
        ("trace heat 7K2241", "7K2214"),
        ("trace cert QE-7714", "QE-7741"),
        ("trace welder W12", "W-12"),
        ("slip S-OOOO1", "S-00001"),
        ("issue R-1O28 W-12 6 rods --by A-01", "R-1028"),
        ("issue R-1028 W-21 6 rods --by A-01", "W-12"),
        ("issue R-1028 W-12 6 rods --by A-10", "A-01"),
        ("issue R-1028 W-12 6 rods --joint M-11 --by A-01", "M-101"),
        ("return S-00020 6 rods --condition marked --by A-01", "S-00002"),
        ("hold R-1O28 --why because --by I-21", "R-1028"),
        ("weld M-101 W-12 --lot R-1O28 --from '2026-04-07 10:00' --by A-01", "R-1028"),
    ] {
        let output = shop.writes_nothing(line, 4);
        let next = output.stderr.lines().find(|l| l.starts_with("  Next: did you mean "));
        assert!(next.is_some_and(|l| l.contains(near)), "{near} is not offered:\n{}", output.shown());
    }
    let error = shop.json_error("trace lot R-1O28", 4);
    assert_eq!(error["code"], "not-found");
}

/// Two makers who gave the same number: the book asks, and each label that it offers works.
#[test]
fn a_maker_s_number_of_two_makers_asks() {
    let shop = Shop::stocked();
    let _ = shop.ok("receive --lot R-1035 --maker 'Ostrabeck Metals' --maker-lot 62055 --spec A5.18 --class ER70S-6 --size '2.4 mm x 1000 mm' \
        --form cut-length --quantity '25 kg' --at '2026-03-16 13:40' --by A-01");
    let _ = shop.ok("release R-1035 --by I-21");
    for line in [
        "trace lot 62055",
        "issue 62055 W-12 1 rod --by A-01",
        "hold 62055 --why letter --by I-21",
        "weld M-101 W-12 --lot 62055 --from '2026-04-07 10:00' --by A-01",
    ] {
        let asked = shop.writes_nothing(line, 2);
        let mut labels = listed(&asked);
        labels.sort();
        assert_eq!(labels, ["R-1035", "R-1082"], "{}", asked.shown());
        for label in labels {
            let _ = shop.ok(&line.replace("62055", &label));
        }
        // A hold stands in the way of the next issue.
        let _ = shop.ok("release R-1035 --by I-21");
        let _ = shop.ok("release R-1082 --by I-21");
    }
    assert_eq!(shop.json_error("trace lot 62055", 2)["code"], "ambiguous");
    snapshot!(
        "label-of-two-makers",
        shop.session(&["trace lot 62055", "trace lot 'Ostrabeck Metals:62055'"])
    );
    let by_maker = shop.json("trace lot 'Ostrabeck Metals:62055'");
    assert_eq!(by_maker["lots"], serde_json::json!(["R-1035"]));
}

/// One control code on two lots: said when it happens, asked from then on, and each label that is offered works.
#[test]
fn a_control_code_of_two_lots_asks() {
    let shop = Shop::stocked();
    let receipt = shop.ok("receive --lot R-1028 --maker 'Ostrabeck Metals' --maker-lot 9-K --spec A5.18 --class ER70S-6 --size '2.4 mm x 1000 mm' \
        --form cut-length --quantity '25 kg' --at '2026-03-16 13:40' --by A-01");
    let _ = receipt.says(&["Warning: R-1028 now means another lot too", "Tarvemire Wire:R-1028"]);
    let asked = shop.writes_nothing("issue R-1028 W-12 1 rod --by A-01", 2);
    let mut labels = listed(&asked);
    labels.sort();
    assert_eq!(labels, ["Ostrabeck Metals:R-1028", "Tarvemire Wire:R-1028"]);
    for label in labels {
        let _ = shop.ok(&format!("release '{label}' --by I-21"));
        let _ = shop.ok(&format!("issue '{label}' W-12 1 rod --by A-01"));
        assert_eq!(shop.json(&format!("trace lot '{label}'"))["out"].as_array().unwrap().len(), 1);
    }
}

/// One code, one maker, two lots: only the identity tells them apart, and it works.
#[test]
fn a_control_code_of_two_lots_of_one_maker_asks() {
    let shop = Shop::stocked();
    let _ = shop.ok("receive --lot R-1028 --maker 'Tarvemire Wire' --maker-lot 4118-B --spec A5.18 --class ER70S-2 --size '3/32 in x 36 in' \
        --form cut-length --quantity '50 lb' --at '2026-03-16 13:40' --by A-01");
    let asked = shop.writes_nothing("trace lot R-1028", 2);
    let labels = listed(&asked);
    assert_eq!(labels.len(), 2, "{}", asked.shown());
    assert_ne!(labels[0], labels[1]);
    for label in labels {
        let answer = shop.json(&format!("trace lot {label}"));
        assert_eq!(answer["lots"], serde_json::json!(["R-1028"]));
        let _ = shop.ok(&format!("release {label} --by I-21"));
        let _ = shop.ok(&format!("issue {label} W-12 1 rod --by A-01"));
    }
}

/// An identity that nothing in the book has is unknown, like any other label. It is no damage.
#[test]
fn an_unknown_identity_is_unknown() {
    let shop = Shop::worked();
    let id = "01a211ef-7720-78c3-a731-c6cf134e7f36";
    for line in [
        format!("trace lot {id}"),
        format!("slip {id}"),
        format!("trace slip {id}"),
        format!("return {id} 1 rod --condition marked --by A-01"),
        format!("weld M-101 W-12 --slip {id} --from '2026-04-07 10:00' --by A-01"),
        format!("trace joint {id}"),
        format!("trace welder {id}"),
    ] {
        let _ = shop.writes_nothing(&line, 4);
    }
}

/// Blanks around a label are not part of it: not of the one that is kept, and who types them later is told what to type.
#[test]
fn blanks_around_a_label_do_not_count() {
    let shop = Shop::worked();
    let _ = shop.ok("receive --lot '  R-1050 ' --maker X --maker-lot 1 --by A-01");
    let _ = shop.ok("trace lot R-1050");
    let typed = shop.run_words(&["trace", "lot", " R-1050 "]);
    assert!(typed.code == Some(0) || typed.stderr.contains("did you mean R-1050"), "{}", typed.shown());
}

/// What a screen does not show, or shows elsewhere, is refused with its name.
#[test]
fn hidden_characters_are_refused_by_name() {
    let shop = Shop::stocked();
    let before = shop.state();
    for (hidden, name) in [
        ("\u{202E}", "U+202E RIGHT-TO-LEFT OVERRIDE"),
        ("\u{2066}", "U+2066 LEFT-TO-RIGHT ISOLATE"),
        ("\u{200B}", "U+200B ZERO WIDTH SPACE"),
        ("\u{200D}", "U+200D ZERO WIDTH JOINER"),
        ("\u{FEFF}", "U+FEFF"),
        ("\u{7}", "U+0007"),
        ("\u{1B}", "U+001B ESCAPE"),
        ("\u{85}", "U+0085"),
        ("\n", "U+000A"),
        ("\t", "U+0009"),
        ("\u{2028}", "U+2028"),
    ] {
        let text = format!("Ma{hidden}rit");
        for words in [
            vec!["enroll", "X-1", "--name", &text, "--by", "I-21"],
            vec!["enroll", &text, "--name", "Marit", "--by", "I-21"],
            vec!["joint", &text, "--by", "A-01"],
            vec!["joint", "M-110", "--job", &text, "--by", "A-01"],
            vec!["receive", "--lot", &text, "--by", "A-01"],
            vec!["receive", "--lot", "R-1", "--maker", &text, "--by", "A-01"],
            vec!["receive", "--lot", "R-1", "--heat", &text, "--by", "A-01"],
            vec!["issue", "R-1028", "W-12", "1 rod", "--slip", &text, "--by", "A-01"],
            vec!["issue", "R-1028", "W-12", "1 rod", "--quiver", &text, "--by", "A-01"],
            vec!["weld", "M-101", "W-12", "--pass", &text, "--by", "A-01"],
            vec!["spot-check", "M-101", "W-12", "--legible", "yes", "--reads", &text, "--by", "I-21"],
        ] {
            let output = shop.run_words(&words).expect_code(2).says(&[name, "Nothing was written."]);
            assert!(
                !output.stderr.contains(hidden) || hidden == "\n",
                "the character itself is not sent to the terminal: {:?}",
                output.stderr
            );
        }
    }
    // A reason may have several lines, and nothing else that is hidden.
    let _ = shop
        .run_words(&["hold", "R-1028", "--why", "a\u{202E}b", "--by", "I-21"])
        .expect_code(2)
        .says(&["U+202E"]);
    assert_eq!(shop.state(), before);
    let _ = shop
        .run_words(&["hold", "R-1028", "--why", "first line\nsecond line", "--by", "I-21"])
        .expect_code(0);
}

/// A label that nobody knows is shown without its hidden characters doing anything to the terminal.
#[test]
fn an_unknown_label_does_not_drive_the_terminal() {
    let shop = Shop::stocked();
    for hidden in ["\u{1B}[2J", "\u{202E}", "\u{7}"] {
        let output = shop.run_words(&["trace", "lot", &format!("R{hidden}1028")]);
        assert!(matches!(output.code, Some(2 | 4)), "{}", output.shown());
        assert!(!output.stderr.contains(hidden), "{:?}", output.stderr);
    }
}

/// Bytes that are not UTF-8 on the command line.
#[cfg(unix)]
#[test]
fn words_that_are_not_utf_8() {
    use std::os::unix::ffi::OsStrExt as _;
    let shop = Shop::stocked();
    let word = std::ffi::OsStr::from_bytes(b"R-\xff28");
    let output = shop.run_words(&["trace".as_ref(), "lot".as_ref(), word]).expect_code(2);
    assert!(!output.stderr.is_empty());
}

/// Names of people in any script are kept as they are.
#[test]
fn names_in_any_script() {
    let shop = Shop::stocked();
    for name in ["Åsa Þórsdóttir", "王小明", "محمد", "Jose\u{301}"] {
        let _ = shop
            .run_words(&["enroll", "W-30", "--name", name, "--role", "welder", "--by", "I-21"])
            .expect_code(0);
        let composed = name.replace("e\u{301}", "é");
        let page = shop.ok("trace welder W-30");
        assert!(page.stdout.contains(&composed), "{}", page.shown());
    }
}
