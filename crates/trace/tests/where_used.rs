//! From a lot to the welds it can be in, one small shop each.

mod shop;

use std::collections::BTreeSet;

use filler::{Process, ProductForm};
use shop::{slip, weld};
use trace::where_used::{Link, flux_links_of_lots, links_of_lot, links_of_lots};
use trace::{Answer, Named, Slip, Weld, sources};

fn answered(welds: &[Weld], slips: &[Slip]) -> Vec<(Weld, Answer)> {
    welds.iter().map(|weld| (weld.clone(), sources(weld, slips, &[], &[]))).collect()
}

#[test]
fn each_way_of_being_linked() {
    let slips = [slip(101, 50, 1, 5), slip(102, 51, 1, 6), slip(103, 52, 2, 6)];
    let naming = |lot, slip| Weld { named: Named { lot, slip }, ..weld(1, 10, 20) };
    let answers = answered(
        &[
            naming(None, None),
            naming(Some(50), None),
            naming(Some(52), None),
            naming(None, Some(103)),
            weld(2, 10, 20),
        ],
        &slips,
    );
    let (source, named, other) = (Link::Source, Link::Named, Link::Other);
    assert_eq!(
        links_of_lot(50, &answers, &slips),
        [(0, source, 2), (1, source, 1), (2, source, 2), (3, source, 2)]
    );
    assert_eq!(
        links_of_lot(51, &answers, &slips),
        [(0, source, 2), (1, other, 1), (2, source, 2), (3, source, 2)]
    );
    assert_eq!(links_of_lot(52, &answers, &slips), [(2, named, 2), (3, named, 2), (4, source, 1)]);
    assert_eq!(links_of_lot(53, &answers, &slips), []);
}

#[test]
fn a_named_lot_with_nothing_held_is_listed_of_none() {
    let answers = answered(&[Weld { named: Named { lot: Some(50), slip: None }, ..weld(1, 10, 20) }], &[]);
    assert_eq!(links_of_lot(50, &answers, &[]), [(0, Link::Named, 0)]);
}

#[test]
fn several_lots_take_the_strongest_link() {
    let slips = [slip(101, 50, 1, 5), slip(102, 51, 1, 6)];
    let answers = answered(&[Weld { named: Named { lot: Some(50), slip: None }, ..weld(1, 10, 20) }], &slips);
    assert_eq!(links_of_lots(&BTreeSet::from([51]), &answers, &slips), [(0, Link::Other, 1)]);
    assert_eq!(links_of_lots(&BTreeSet::from([51, 50]), &answers, &slips), [(0, Link::Source, 1)]);
}

#[test]
fn flux_has_a_list_of_its_own() {
    let wire = Slip { form: Some(ProductForm::Spool), ..slip(101, 50, 1, 5) };
    let flux = |id, lot| Slip { form: Some(ProductForm::Flux), ..slip(id, lot, 1, 5) };
    let slips = [wire, flux(102, 60), flux(103, 61)];
    let answers =
        answered(&[weld(1, 10, 20), Weld { processes: vec![Process::Saw], ..weld(1, 10, 20) }], &slips);
    assert_eq!(links_of_lot(60, &answers, &slips), []);
    assert_eq!(flux_links_of_lots(&BTreeSet::from([60]), &answers, &slips), [(1, 2)]);
    assert_eq!(flux_links_of_lots(&BTreeSet::from([50]), &answers, &slips), []);
}

#[test]
fn the_words_are_stable() {
    let words = [Link::Source, Link::Named, Link::Other].map(|link| link.to_string());
    assert_eq!(words, ["source", "named", "other"]);
}
