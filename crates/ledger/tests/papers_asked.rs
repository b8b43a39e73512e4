//! Certificate type, lot class and test schedule against what an order or a job asks: three fields, three answers.

#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use filler::lot_class::{Papers, compare};
use ledger::tell::certificate_read::PaperAgainst;

fn against(asked: Papers<'_>, has: Papers<'_>) -> Vec<PaperAgainst> {
    compare(asked, has).into_iter().map(PaperAgainst::from).collect()
}

/// What each is: from memory of EN 10204:2004 and AWS A5.01.
#[test]
fn each_field_has_an_answer_of_its_own() {
    let compared = against(
        Papers { certificate_type: Some("3.1"), lot_class: Some("S5"), schedule: Some("J") },
        Papers { certificate_type: Some("EN 10204 type 2.2"), lot_class: Some("S3"), schedule: Some("5/J") },
    );
    let met: Vec<_> = compared.iter().map(|paper| (paper.field, paper.met)).collect();
    assert_eq!(
        met,
        [("certificate type", Some(false)), ("lot class", None), ("test schedule", Some(true))],
        "what S5 asks is not known, so no other class meets it"
    );
    for (paper, said) in compared.iter().zip([
        ["3.1 is asked for", "it is EN 10204 type 2.2:", "not, or not necessarily, of this lot"],
        ["S5 is asked for", "it is S3:", "what S5 asks is not known here"],
        ["J is asked for", "it is 5/J:", "as asked"],
    ]) {
        assert!(said.iter().all(|part| paper.why.contains(part)), "{}", paper.why);
    }
}

#[test]
fn what_is_not_said_is_not_met_and_what_is_not_asked_is_left_out() {
    let asked = Papers { lot_class: Some("C3"), ..Papers::default() };
    let compared = against(asked, Papers { schedule: Some("J"), ..Papers::default() });
    assert_eq!(compared.len(), 1);
    assert_eq!((compared[0].field, compared[0].met, compared[0].has.as_str()), ("lot class", None, ""));
    assert!(compared[0].why.contains("the papers do not say the lot class"), "{}", compared[0].why);
}
