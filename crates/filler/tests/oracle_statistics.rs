//! The distributions against SciPy and mpmath, and against printed chi-square points.

#![allow(clippy::unwrap_used, clippy::float_arithmetic, missing_docs)]

#[path = "support/oracle.rs"]
mod oracle;

use filler::statistics::{chi_square_tail, ln_normal_interval, ln_normal_tail, normal_tail_quantile};
use oracle::oracle;
use serde_json::{Value, json};

/// A question to the reference, our answer, and the relative difference that is allowed.
struct Case {
    question: Value,
    ours: f64,
    relative: f64,
}

fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    let ends: Vec<f64> = [
        -200.0, -120.0, -90.5, -83.0, -40.0, -26.7, -14.9, -7.1, -5.0, -3.3, -1.0, -0.2, 0.0, 0.04, 0.9, 1.0,
        2.33, 4.99, 5.0, 5.01, 6.9, 7.0, 12.25, 15.0, 28.0, 62.0, 83.0, 83.001, 150.0, 400.0,
    ]
    .to_vec();
    for x in &ends {
        cases.push(Case {
            question: json!({"f": "ln_tail", "x": x}),
            ours: ln_normal_tail(*x),
            relative: 1e-13,
        });
        for y in ends.iter().filter(|y| *y > x).copied().chain([x + 1e-6, x + 0.01]) {
            // Of an interval 1e-6 wide, ten digits are what the difference of its ends leaves.
            let relative = if y - x < 1e-5 { 1e-8 } else { 1e-11 };
            cases.push(Case {
                question: json!({"f": "ln_interval", "x": x, "y": y}),
                ours: ln_normal_interval(*x, y),
                relative,
            });
        }
    }
    for p in [0.5, 0.4, 0.16, 0.05, 0.01, 0.005, 0.0025, 1e-3, 1e-4, 1e-9, 1e-30, 1e-300, 0.6, 0.99] {
        cases.push(Case {
            question: json!({"f": "quantile", "x": p}),
            ours: normal_tail_quantile(p),
            relative: 1e-12,
        });
    }
    for dof in (1..=20).chain([30, 59, 118]) {
        for x in [1e-6, 0.01, 0.3, 1.0, 3.0, 6.63, 10.25, 13.28, 18.48, 50.0, 185.0, 784.0, 1300.0] {
            cases.push(Case {
                question: json!({"f": "chi_square", "x": x, "dof": dof}),
                ours: chi_square_tail(x, dof),
                relative: 1e-11,
            });
        }
    }
    cases
}

#[test]
fn the_references_agree_with_one_another_and_the_printed_table() {
    oracle("distributions.py", &["--selftest"], "");
}

#[test]
fn tails_and_intervals_agree() {
    let cases = cases();
    let input: String = cases.iter().map(|case| case.question.to_string() + "\n").collect();
    let answers = oracle("distributions.py", &[], &input);
    let mut compared = 0;
    for (case, answer) in cases.iter().zip(answers.lines()) {
        let theirs: f64 = answer.parse().unwrap();
        // A logarithm or a quantile can be zero; a tail is small and still has all its digits.
        let near_zero = if case.question["f"] == "chi_square" { 0.0 } else { 1e-15 };
        assert!(
            (case.ours - theirs).abs() <= case.relative * theirs.abs() + near_zero,
            "{}: {} here, {theirs} there",
            case.question,
            case.ours
        );
        compared += 1;
    }
    assert_eq!(compared, cases.len());
    assert!(compared > 700, "{compared}");
}

#[test]
fn printed_upper_points_of_chi_square() {
    // Standard chi-square table, alpha 0.01 (arithmetic cases PM-X-1, PM-X-4, PM-X-7): right to the last printed digit.
    for (dof, printed) in [(1, 6.63), (4, 13.28), (7, 18.48)] {
        assert!(chi_square_tail(printed - 0.01, dof) > 0.01, "{dof}");
        assert!(chi_square_tail(printed + 0.01, dof) < 0.01, "{dof}");
    }
}

#[test]
fn probability_of_conformity() {
    // Arithmetic case LM-10: 19.7, u 0.15, limits 19.5 to 22.0; JCGM 106:2012 clause 7, normal case, evaluated there.
    let conforms = ln_normal_interval((19.5 - 19.7) / 0.15, (22.0 - 19.7) / 0.15);
    assert!((libm::exp(conforms) - 0.9088).abs() <= 0.0001, "{conforms}");
}
