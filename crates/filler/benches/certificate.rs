//! One certificate against its class. To stay below 100 µs a check.

#![allow(missing_docs)]

use divan::{Bencher, black_box};
use filler::certificate_check::{Question, check};
use filler::reading::SurfaceState;
use filler::{Analysis, Strengths, Tables};

fn main() {
    let _ = Tables::built_in();
    divan::main();
}

const CASES: [(&str, &str, &str); 4] = [
    ("A5.18", "ER70S-7", "C=0.12,Mn=2.11,Si=0.65,P=0.012,S=0.010,Ni=0.02,Cr=0.03,Mo=0.01,V=0.002,Cu=0.18"),
    ("A5.9", "ER308/308L", "C=0.015,Cr=19.9,Ni=9.9,Mo=0.10,Mn=1.75,Si=0.45,P=0.020,S=0.008,Cu=0.12"),
    ("A5.1", "E7018-1 H4R", "C=0.06,Mn=1.60,Si=0.45,P=0.012,S=0.008,Ni=0.10,Cr=0.04,Mo=0.01,V=0.004"),
    ("A5.10", "ER4043", "Si=5.2,Fe=0.20,Cu=0.02,Mn=0.01,Mg=0.01,Zn=0.01,Ti=0.01,Be=0.0001,Al=bal.,Ni=0.04"),
];

#[divan::bench(args = 0..CASES.len())]
fn check_one(bencher: Bencher<'_, '_>, case: usize) {
    let Some((spec, classification, analysis)) = CASES.get(case) else { return };
    let Ok(analysis) = Analysis::parse(analysis) else { return };
    let Ok(strengths) =
        Strengths::from_pairs([("tensile", "78 ksi"), ("yield", "66 ksi"), ("elongation", "27")])
    else {
        return;
    };
    bencher.bench(|| {
        let question = Question {
            spec,
            classification,
            analysis: &analysis,
            strengths: &strengths,
            product: None,
            surface: SurfaceState::Unknown,
        };
        check(Tables::built_in(), black_box(&question))
    });
}

/// Text in, verdict out: what a command does.
#[divan::bench(args = 0..CASES.len())]
fn read_and_check_one(bencher: Bencher<'_, '_>, case: usize) {
    let Some((spec, classification, analysis)) = CASES.get(case) else { return };
    bencher.bench(|| {
        let analysis = Analysis::parse(black_box(analysis)).unwrap_or_default();
        let question = Question {
            spec,
            classification,
            analysis: &analysis,
            strengths: &Strengths::default(),
            product: None,
            surface: SurfaceState::Unknown,
        };
        check(Tables::built_in(), &question)
    });
}
