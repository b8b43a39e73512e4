//! Identification of one reading against every class of the built-in tables; the aim is below 1 ms a call.

#![allow(clippy::unwrap_used, missing_docs)]

use filler::Tables;
use filler::identify::{Alpha, Candidate, candidate, identify};
use filler::reading::{Reading, ReadingMethod, SurfaceState};

fn main() {
    divan::main();
}

fn all_classes() -> Vec<Candidate> {
    Tables::built_in().classes().iter().map(candidate).collect()
}

fn reading(text: &str) -> Reading {
    Reading::parse(text, Some("2"), Some("1 %"), ReadingMethod::Oes, SurfaceState::AsReceived).unwrap()
}

/// Stainless steel, of seven elements.
const SEVEN: &str =
    "Cr=20.4/0.15,Ni=9.9/0.15,Mo=0.15/0.02,Mn=1.7/0.08,C=0.052/0.004,Si=0.45/0.05,Cu=0.2/0.03";

/// The same with five more.
const TWELVE: &str = "Cr=20.4/0.15,Ni=9.9/0.15,Mo=0.15/0.02,Mn=1.7/0.08,C=0.052/0.004,Si=0.45/0.05,Cu=0.2/0.03,\
                      Nb=0.02/0.005,V=0.05/0.01,Ti=0.01/0.005,P=0.02/0.004,Fe=67/0.3";

#[divan::bench(args = [7, 12])]
fn over_all_classes(bencher: divan::Bencher<'_, '_>, elements: usize) {
    let (reading, classes) = (reading(if elements == 7 { SEVEN } else { TWELVE }), all_classes());
    bencher.bench(|| identify(&reading, &classes, Alpha::default()));
}

#[divan::bench]
fn candidates_of_all_classes(bencher: divan::Bencher<'_, '_>) {
    bencher.bench(all_classes);
}

#[divan::bench]
fn read_the_text(bencher: divan::Bencher<'_, '_>) {
    bencher.bench(|| reading(divan::black_box(TWELVE)));
}
