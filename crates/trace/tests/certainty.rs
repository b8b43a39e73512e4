//! Every rule of certainty, one small shop each. Common practice, no source, unless said otherwise.

mod shop;

use filler::{Process, ProductForm};
use shop::{check, returned, slip, weld};
use trace::{Answer, Certainty, Clear, Interval, Named, Reason, Slip, SpotCheck, Weld, sources};

const W: u128 = 1;
const OTHER_WELDER: u128 = 2;

fn ask(weld: &Weld, slips: &[Slip]) -> Answer {
    sources(weld, slips, &[], &[])
}

fn naming(lot: Option<u128>, slip: Option<u128>) -> Weld {
    Weld { named: Named { lot, slip }, ..weld(W, 10, 20) }
}

#[test]
fn one_lot_held_is_by_custody_however_many_slips() {
    let answer = ask(&weld(W, 10, 20), &[slip(101, 50, W, 5), slip(102, 50, W, 6)]);
    assert_eq!(answer.certainty, Certainty::ByCustody);
    assert_eq!(answer.sources, [101, 102]);
    assert_eq!(answer.reasons, [Reason::OnlyLotHeld]);
}

#[test]
fn several_lots_held_is_one_of_them() {
    let answer = ask(&weld(W, 10, 20), &[slip(101, 50, W, 5), slip(102, 51, W, 6), slip(103, 51, W, 7)]);
    assert_eq!(answer.certainty, Certainty::OneOf);
    assert_eq!(answer.sources, [101, 102, 103]);
    assert_eq!(answer.reasons, [Reason::SeveralLotsHeld(2)]);
}

#[test]
fn nothing_held_is_unknown() {
    let answer = ask(&weld(W, 10, 20), &[slip(101, 50, OTHER_WELDER, 5), slip(102, 50, W, 21)]);
    assert_eq!(answer.certainty, Certainty::Unknown);
    assert!(answer.sources.is_empty() && answer.others.is_empty());
    assert_eq!(answer.reasons, [Reason::NothingHeld]);
}

#[test]
fn touching_a_custody_at_either_end_is_enough() {
    let mut held = slip(101, 50, W, 10);
    held.outs.push(returned(20, 200));
    for (from, to, certainty) in [
        (5, 9, Certainty::Unknown),
        (5, 10, Certainty::ByCustody),
        (20, 25, Certainty::ByCustody),
        (21, 25, Certainty::Unknown),
        (12, 13, Certainty::ByCustody),
        (0, 99, Certainty::ByCustody),
    ] {
        assert_eq!(ask(&weld(W, from, to), std::slice::from_ref(&held)).certainty, certainty, "{from}–{to}");
    }
}

#[test]
fn a_clear_takes_the_slips_away_from_later_welds() {
    let slips = [slip(101, 50, W, 5)];
    let clear = [Clear { holder: W, at: Interval::at(9), order: 300 }];
    assert_eq!(sources(&weld(W, 9, 9), &slips, &clear, &[]).certainty, Certainty::ByCustody);
    assert_eq!(sources(&weld(W, 10, 20), &slips, &clear, &[]).certainty, Certainty::Unknown);
}

#[test]
fn a_named_slip_that_was_held_is_recorded_and_the_rest_stay_as_others() {
    let slips = [slip(101, 50, W, 5), slip(102, 50, W, 6), slip(103, 51, W, 7)];
    let answer = ask(&naming(None, Some(102)), &slips);
    assert_eq!(answer.certainty, Certainty::Recorded);
    assert_eq!(answer.sources, [102]);
    assert_eq!(answer.others, [101, 103]);
    assert_eq!(answer.reasons, [Reason::NamedSlipHeld]);
}

#[test]
fn a_named_lot_that_was_held_takes_all_its_slips() {
    let slips = [slip(101, 50, W, 5), slip(102, 50, W, 6), slip(103, 51, W, 7)];
    let answer = ask(&naming(Some(50), None), &slips);
    assert_eq!(answer.certainty, Certainty::Recorded);
    assert_eq!(answer.sources, [101, 102]);
    assert_eq!(answer.others, [103]);
    assert_eq!(answer.reasons, [Reason::NamedLotHeld]);
}

#[test]
fn a_named_lot_or_slip_that_was_not_held_is_contradicted_with_all_candidates() {
    let slips = [slip(101, 50, W, 5), slip(102, 51, W, 6), slip(103, 52, OTHER_WELDER, 6)];
    for (named, reason) in [
        (naming(Some(52), None), Reason::NamedLotNotHeld),
        (naming(None, Some(103)), Reason::NamedSlipNotHeld),
        (naming(Some(50), Some(103)), Reason::NamedSlipNotHeld),
    ] {
        let answer = ask(&named, &slips);
        assert_eq!(answer.certainty, Certainty::Contradicted);
        assert_eq!(answer.sources, [101, 102]);
        assert!(answer.others.is_empty());
        assert_eq!(answer.reasons, [reason]);
    }
}

#[test]
fn a_name_with_nothing_held_is_contradicted_without_sources() {
    let answer = ask(&naming(Some(50), None), &[]);
    assert_eq!(answer.certainty, Certainty::Contradicted);
    assert!(answer.sources.is_empty());
    assert_eq!(answer.reasons, [Reason::NamedLotNotHeld, Reason::NothingHeld]);
}

#[test]
fn lot_and_slip_both_named_must_both_match() {
    let slips = [slip(101, 50, W, 5), slip(102, 51, W, 6)];
    let agree = ask(&naming(Some(50), Some(101)), &slips);
    assert_eq!((agree.certainty, agree.sources), (Certainty::Recorded, vec![101]));
    let disagree = ask(&naming(Some(50), Some(102)), &slips);
    assert_eq!((disagree.certainty, disagree.sources), (Certainty::Contradicted, vec![101, 102]));
    assert_eq!(disagree.reasons, [Reason::NamedSlipOfAnotherLot]);
}

#[test]
fn the_product_form_must_suit_the_process() {
    let covered = Slip { form: Some(ProductForm::Covered), ..slip(102, 51, W, 6) };
    let unknown = Slip { form: None, ..slip(103, 50, W, 7) };
    let slips = [slip(101, 50, W, 5), covered, unknown];
    let gtaw = ask(&weld(W, 10, 20), &slips);
    assert_eq!((gtaw.certainty, gtaw.sources), (Certainty::ByCustody, vec![101, 103]));
    assert_eq!(gtaw.reasons, [Reason::OnlyLotHeld, Reason::FormFilter(1), Reason::FormUnknown(1)]);
    let no_process = ask(&Weld { processes: vec![], ..weld(W, 10, 20) }, &slips);
    assert_eq!((no_process.certainty, no_process.sources), (Certainty::OneOf, vec![101, 102, 103]));
    assert_eq!(no_process.reasons, [Reason::SeveralLotsHeld(2), Reason::ProcessUnknown]);
    let named = ask(&Weld { named: Named { lot: Some(51), slip: None }, ..weld(W, 10, 20) }, &slips);
    assert_eq!((named.certainty, named.sources), (Certainty::Contradicted, vec![101, 103]));
    assert_eq!(named.reasons, [Reason::NamedFormUnsuited, Reason::FormFilter(1), Reason::FormUnknown(1)]);
}

#[test]
fn flux_of_a_submerged_arc_weld_is_listed_apart() {
    let wire = Slip { form: Some(ProductForm::Spool), ..slip(101, 50, W, 5) };
    let flux = Slip { form: Some(ProductForm::Flux), ..slip(102, 60, W, 4) };
    let later = Slip { form: Some(ProductForm::Flux), ..slip(103, 60, W, 30) };
    let slips = [wire, flux, later];
    let saw = Weld { processes: vec![Process::Saw], ..weld(W, 10, 20) };
    let answer = ask(&saw, &slips);
    assert_eq!((answer.certainty, answer.sources, answer.flux), (Certainty::ByCustody, vec![101], vec![102]));
    assert_eq!(answer.reasons, [Reason::OnlyLotHeld]);
    for named in [Named { lot: Some(60), slip: None }, Named { lot: None, slip: Some(102) }] {
        let answer = ask(&Weld { named, ..saw.clone() }, &slips);
        assert_eq!((answer.certainty, answer.sources), (Certainty::Contradicted, vec![101]));
        assert_eq!(answer.reasons, [Reason::NamedIsFlux]);
    }
    let unknown = ask(&Weld { processes: vec![], ..saw }, &slips);
    assert_eq!((unknown.sources, unknown.flux), (vec![102, 101], vec![]));
}

#[test]
fn lists_are_sorted_by_issue_then_number_in_byte_order() {
    let numbered = |id, number: &str, issued| Slip { number: number.to_owned(), ..slip(id, 50, W, issued) };
    let slips = [
        numbered(101, "a", 5),
        numbered(102, "B", 5),
        numbered(103, "é", 5),
        numbered(104, "z", 4),
        numbered(105, "S-10", 5),
        numbered(106, "S-9", 5),
    ];
    assert_eq!(ask(&weld(W, 10, 20), &slips).sources, [104, 102, 105, 106, 101, 103]);
}

#[test]
fn without_filler_there_are_no_sources_whatever_is_named_or_read() {
    let slips = [slip(101, 50, W, 5), Slip { form: Some(ProductForm::Flux), ..slip(102, 60, W, 5) }];
    let autogenous = Weld { filler: false, processes: vec![Process::Saw], ..naming(Some(50), None) };
    let answer = sources(&autogenous, &slips, &[], &[check(W, 15, "70S-6")]);
    assert_eq!(
        answer,
        Answer {
            certainty: Certainty::NoFiller,
            sources: vec![],
            others: vec![],
            flux: vec![],
            checks: vec![0],
            contradicting: vec![],
            readings: vec![],
            refuted: vec![],
            reasons: vec![Reason::Autogenous],
        }
    );
}

#[test]
fn a_mark_that_no_source_has_contradicts_and_moves_no_slip() {
    let slips = [slip(101, 50, W, 5), slip(102, 51, W, 6)];
    for (named, sources_then, others_then) in
        [(naming(None, None), vec![101, 102], vec![]), (naming(Some(50), None), vec![101], vec![102])]
    {
        let answer = sources(&named, &slips, &[], &[check(W, 15, "70S-6")]);
        assert_eq!(answer.certainty, Certainty::Contradicted);
        assert_eq!((answer.sources, answer.others), (sources_then, others_then));
        assert_eq!((answer.checks, answer.contradicting), (vec![0], vec![0]));
        assert_eq!(answer.reasons.first(), Some(&Reason::MarkReadNoSourceHas(0)));
        assert_eq!(answer.reasons.len(), 2);
    }
}

#[test]
fn a_mark_that_some_source_has_contradicts_nothing_and_narrows_nothing() {
    let other = Slip { classification: Some("ER308L".to_owned()), ..slip(102, 51, W, 6) };
    let answer = sources(&weld(W, 10, 20), &[slip(101, 50, W, 5), other], &[], &[check(W, 15, "308L")]);
    assert_eq!(answer.certainty, Certainty::OneOf);
    assert_eq!(answer.sources, [101, 102]);
    assert_eq!((answer.checks, answer.contradicting), (vec![0], vec![]));
}

#[test]
fn a_mark_that_only_an_other_has_contradicts() {
    let other = Slip { classification: Some("ER308L".to_owned()), ..slip(102, 51, W, 6) };
    let answer =
        sources(&naming(Some(50), None), &[slip(101, 50, W, 5), other], &[], &[check(W, 15, "308L")]);
    assert_eq!(answer.certainty, Certainty::Contradicted);
    assert_eq!((answer.sources, answer.others), (vec![101], vec![102]));
}

#[test]
fn a_source_of_unknown_classification_may_have_the_mark() {
    for classification in [None, Some(String::new()), Some(" ".to_owned())] {
        let unknown = Slip { classification, ..slip(101, 50, W, 5) };
        let answer = sources(&weld(W, 10, 20), &[unknown], &[], &[check(W, 15, "308L")]);
        assert_eq!(answer.certainty, Certainty::ByCustody);
    }
}

#[test]
fn checks_that_say_nothing_contradict_nothing() {
    let slips = [slip(101, 50, W, 5)];
    let wrong = check(W, 15, "308L");
    let silent = [
        SpotCheck { legible: false, ..wrong.clone() },
        SpotCheck { reads: None, ..wrong.clone() },
        SpotCheck { reads: Some("  ".to_owned()), ..wrong.clone() },
    ];
    let answer = sources(&weld(W, 10, 20), &slips, &[], &silent);
    assert_eq!((answer.certainty, answer.checks), (Certainty::ByCustody, vec![0, 1, 2]));
    let elsewhere = [
        SpotCheck { joint: 501, ..wrong.clone() },
        SpotCheck { welder: OTHER_WELDER, ..wrong.clone() },
        SpotCheck { at: Interval::at(9), ..wrong.clone() },
        SpotCheck { at: Interval::at(21), ..wrong.clone() },
    ];
    let answer = sources(&weld(W, 10, 20), &slips, &[], &elsewhere);
    assert_eq!((answer.certainty, answer.checks), (Certainty::ByCustody, vec![]));
    for touching in [10, 20] {
        let touching = [SpotCheck { at: Interval::at(touching), ..wrong.clone() }];
        assert_eq!(sources(&weld(W, 10, 20), &slips, &[], &touching).certainty, Certainty::Contradicted);
    }
}

#[test]
fn unknown_stays_unknown_whatever_was_read() {
    let answer = sources(&weld(W, 10, 20), &[], &[], &[check(W, 15, "308L")]);
    assert_eq!(
        (answer.certainty, answer.checks, answer.contradicting),
        (Certainty::Unknown, vec![0], vec![])
    );
}

#[test]
fn checks_are_listed_in_order_of_time_then_record() {
    let at = |at, order| SpotCheck { order, ..check(W, at, "70S-2") };
    let checks = [at(15, 3), at(12, 9), at(15, 2), at(18, 1)];
    assert_eq!(sources(&weld(W, 10, 20), &[slip(101, 50, W, 5)], &[], &checks).checks, [1, 2, 0, 3]);
}
