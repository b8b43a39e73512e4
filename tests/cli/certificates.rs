//! What certificates say of lots: checked at receiving and later, and compared with what order and job ask.

use crate::shop::{Shop, snapshot};

/// A whole analysis of ER70S-2 wire within its limits (constructed).
const SOUND: &str =
    "C=0.05,Mn=1.15,Si=0.55,P=0.010,S=0.012,Ni=0.02,Cr=0.03,Mo=0.01,V=0.004,Cu=0.18,Ti=0.09,Zr=0.05,Al=0.08";

const RECEIVE: &str = "receive --maker 'Tarvemire Wire' --spec A5.18 --class ER70S-2 --size '3/32 in x 36 in' --form cut-length \
                       --quantity '50 lb' --by A-01";

#[test]
fn at_receiving() {
    let shop = Shop::stocked();
    snapshot!(
        "certificate-at-receiving",
        shop.session(&[
            &format!("{RECEIVE} --lot R-2001 --maker-lot 5001 --cert TW-1 --cert-type 3.1 --analysis {SOUND} --tensile '74 ksi' --lot-class S3 --asks-cert-type 3.1 --asks-lot-class S3"),
            &format!("{RECEIVE} --lot R-2002 --maker-lot 5002 --cert TW-2 --cert-type 2.2 --analysis {} --asks-cert-type 3.1", SOUND.replace("C=0.05", "C=0.09")),
            &format!("{RECEIVE} --lot R-2003 --maker-lot 5003 --cert TW-3 --analysis C=0.05,Mn=1.15,P=tr,Cu=<0.05"),
            &format!("{RECEIVE} --lot R-2004 --maker-lot 5004 --cert TW-4 --analysis {SOUND} --product weld-metal"),
            &format!("{RECEIVE} --lot R-2005 --maker-lot 5005 --cert TW-5 --analysis C=0,05"),
        ])
    );
    shop.is_sound();
}

#[test]
fn a_failing_or_incomplete_check_proposes_a_hold_and_decides_nothing() {
    let shop = Shop::stocked();
    for (lot, analysis, verdict, proposed) in [
        ("R-2001", SOUND.to_owned(), "pass", false),
        ("R-2002", SOUND.replace("C=0.05", "C=0.074"), "pass-by-rounding", false),
        ("R-2003", SOUND.replace("C=0.05", "C=0.076"), "fail", true),
        ("R-2004", SOUND.replace(",Zr=0.05", ""), "incomplete", true),
    ] {
        let received = shop.json(&format!("{RECEIVE} --lot {lot} --maker-lot {lot} --analysis {analysis}"));
        let checked = &received["certificate_check"];
        assert_eq!(checked["check"]["verdict"], verdict, "{checked}");
        assert_eq!(checked["proposed"]["verb"] == "hold", proposed, "{checked}");
        assert_eq!(received["status"], "unreleased", "it only proposes");
        assert!(checked["table_sign_off"].as_str().unwrap().contains("not signed off"));
    }
    let _ = shop.ok("table sign-off A5.18 --against 'our copy of A5.18:2005' --by I-21");
    let received = shop.json(&format!("{RECEIVE} --lot R-2009 --maker-lot R-2009 --analysis {SOUND}"));
    assert!(received["certificate_check"]["table_sign_off"].as_str().unwrap().contains("signed off by I-21"));
    shop.is_sound();
}

#[test]
fn one_certificate_for_several_lots_and_several_for_one() {
    let shop = Shop::stocked();
    let read = shop.json(&format!("cert values TW-9 --lot R-1028 --lot R-1031 --analysis {SOUND} --by A-01"));
    assert_eq!(read["checks"].as_array().unwrap().len(), 2);
    let _ = shop.ok(&format!("cert values TW-10 --lot R-1028 --analysis {SOUND} --by A-01"));
    // Read again, the newest of a number holds.
    let _ = shop.ok("cert values TW-10 --lot R-1028 --analysis C=0.06 --by A-01");
    let among = shop.json("identify --reading Mn=1.15/0.06 --k 2 --among R-1028 R-1031");
    let certificates = |lot: &str| {
        let found = among["among"].as_array().unwrap().iter().find(|a| a["lot"] == lot).unwrap();
        found["certificate_evidence"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| c["certificate"].clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(certificates("R-1028"), ["TW-9"], "TW-10 has no manganese any more");
    assert_eq!(certificates("R-1031"), ["TW-9"]);
    let traced = shop.json("trace cert TW-9");
    assert_eq!(traced["lots"].as_array().unwrap().len(), 2);
}

#[test]
fn what_the_job_asks_is_compared_at_the_window_and_in_the_trace() {
    let shop = Shop::stocked();
    let _ = shop.ok("joint M-105 --asks-cert-type 3.1 --asks-lot-class S3 --asks-schedule J --by A-01");
    // Nothing is known of class and schedule: not checked, and no reason to refuse.
    let issue = "issue R-1028 W-12 '6 rods' --joint M-105 --at '2026-04-07 06:10' --by A-01";
    let _ = shop.ok(&format!("{issue} --dry-run"));
    let _ = shop.ok("cert values TW-26-0388 --lot R-1028 --lot-class S1 --schedule F --by A-01");
    let refused = shop.run(issue);
    assert_eq!(refused.code, Some(3), "{}", refused.stdout);
    assert!(refused.stderr.contains("M-105") && refused.stderr.contains("lot class"), "{}", refused.stderr);
    let _ = shop.ok(&format!("{issue} --override 'the client agreed in writing' --by I-21").replacen(
        "--by A-01 ",
        "",
        1,
    ));
    let _ = shop.ok(
        "weld M-105 W-12 --pass root --process GTAW --from '2026-04-07 10:00' --to '2026-04-07 11:00' --by A-01",
    );
    let traced = shop.json("trace joint M-105");
    let compared = traced["papers"][0]["compared"].as_array().unwrap();
    let outcomes: Vec<&str> = compared.iter().map(|c| c["outcome"].as_str().unwrap()).collect();
    assert_eq!(outcomes, ["met", "not-met", "not-met"]);
    let page = shop.ok("trace joint M-105").stdout;
    assert!(page.contains("Papers that the job asks for") && page.contains("NOT AS ASKED"), "{page}");
    shop.is_sound();
}
