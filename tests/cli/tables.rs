//! Tables of limits: the built-in ones, the shop's own, and who signs them off.

use crate::shop::{Shop, snapshot};

/// The built-in table of a specification, as the program writes it.
fn written(shop: &Shop, spec: &str) -> String {
    shop.ok(&format!("table show {spec} --built-in --format csv")).stdout
}

#[test]
fn list_and_show() {
    let shop = Shop::stocked();
    snapshot!(
        "table",
        shop.session(&[
            "table show A5.18 ER70S-7",
            "table show A5.4 E309L-16",
            "table show A5.18 ER70S-9",
            "table show A5.99",
        ])
    );
}

#[test]
fn what_is_written_out_is_read_back_as_it_was() {
    let shop = Shop::empty();
    let tables = filler::limits::Tables::built_in();
    let mut specs: Vec<&str> = tables.classes().iter().map(|class| class.spec.as_str()).collect();
    specs.sort_unstable();
    specs.dedup();
    assert_eq!(specs.len(), 11);
    for spec in specs {
        let read = filler::limits::Tables::from_csv(&written(&shop, spec), "built in").unwrap();
        let built_in: Vec<_> = tables.classes().iter().filter(|class| class.spec == spec).collect();
        assert_eq!(read.classes().iter().collect::<Vec<_>>(), built_in, "{spec}");
    }
}

#[test]
fn a_table_of_the_shop_decides_once_it_is_signed_off() {
    let shop = Shop::stocked();
    // A tighter carbon limit than the built-in 0.07, as a later edition or an order may have it.
    let own = written(&shop, "A5.18")
        .replace("ER70S-2,ER48S-2,K10726,wire,C,,0.07", "ER70S-2,ER48S-2,K10726,wire,C,,0.06");
    shop.write("own.csv", own.replace("2005 (= SFA-5.18 2007)", "2021"));
    let most = || {
        let shown = shop.json("table show A5.18 ER70S-2");
        let class = &shown["classes"][0];
        (class["limits"][0]["max"].as_str().unwrap().to_owned(), class["table"].as_str().unwrap().to_owned())
    };
    let built_in = ("0.07".to_owned(), "A5.18, edition 2005, built in".to_owned());
    assert_eq!(most(), built_in);
    let _ = shop.ok("table load own.csv --name 'our A5.18' --by A-01");
    assert_eq!(most(), built_in, "loaded, and nobody answers for it");
    let before = shop.state();
    let refused = shop.run("table sign-off A5.18 --against 'our copy, 2021' --by A-01");
    assert_eq!(refused.code, Some(3), "{}", refused.stderr);
    assert_eq!(shop.state(), before);
    let signed = shop.json("table sign-off A5.18 --against 'our copy, 2021' --by I-21");
    assert_eq!(signed["decides"], true);
    assert_eq!(most(), ("0.06".to_owned(), "A5.18, edition 2021, our A5.18".to_owned()));
    // The classes of other specifications stay as they are built in.
    let other = shop.json("table show A5.9 ER308L");
    assert_eq!(other["classes"][0]["table"], "A5.9, edition 2006, built in");
    // Voided, the sign-off never was, and the built-in table decides again.
    let _ = shop.ok(&format!(
        "void {} --why 'wrong edition' --by I-21",
        signed["entries"][0]["id"].as_str().unwrap()
    ));
    assert_eq!(most(), built_in);
    shop.is_sound();
}

#[test]
fn a_built_in_table_can_be_signed_off() {
    let shop = Shop::stocked();
    let _ = shop.ok("table sign-off SFA-5.9 --against 'our copy of A5.9:2006' --by I-21");
    let list = shop.json("table list");
    let signed: Vec<&str> = list["tables"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|table| !table["signed_off"].is_null())
        .map(|table| table["spec"].as_str().unwrap())
        .collect();
    assert_eq!(signed, ["A5.9"]);
}

#[test]
fn a_table_with_a_bad_cell_is_not_loaded() {
    let shop = Shop::stocked();
    let before = shop.count();
    let good = written(&shop, "A5.18");
    for (name, bad) in [
        ("number.csv", good.replacen("0.90,1.40", "0.90,1,40", 1)),
        ("above.csv", good.replacen("0.90,1.40", "0.90,140", 1)),
        ("turned.csv", good.replacen("0.90,1.40", "1.40,0.90", 1)),
        ("element.csv", good.replacen(",wire,Mn,", ",wire,Xx,", 1)),
        ("two.csv", format!("{good}{}", written(&shop, "A5.9").lines().nth(1).unwrap())),
        ("empty.csv", String::new()),
        ("heading.csv", good.lines().next().unwrap().to_owned()),
    ] {
        shop.write(name, &bad);
        let refused = shop.run(&format!("table load {name} --by I-21"));
        assert_eq!(refused.code, Some(2), "{name}: {}{}", refused.stdout, refused.stderr);
        assert!(refused.stderr.contains("not loaded"), "{name}: {}", refused.stderr);
    }
    assert_eq!(shop.count(), before);
}
