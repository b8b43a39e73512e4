//! The mass check's uncertainty against `uncertainties` and NumPy draws, its k against SciPy: packages of the Python package
//! index, tests/oracles/propagation.py.

#![allow(clippy::unwrap_used, clippy::float_arithmetic, missing_docs)]

#[path = "../../filler/tests/support/oracle.rs"]
mod oracle;

use filler::needed::JointDrawing;
use filler::piece_spread::{RodHalfWidths, rod_spread};
use filler::{Density, Size, piece_mass_mg};
use oracle::oracle;
use serde_json::{Map, Value, json};
use trace::mass_check::{Mass, MassBalance, SharedError, Side, family_k_milli};

fn error(input: &str) -> SharedError {
    SharedError { input: input.to_owned(), of: 1 }
}

/// The measures of the worked example of twelve butts, with their half-widths; millimetres and degrees.
const MEASURES: [(&str, &str, &str); 8] = [
    ("thickness", "6.02 mm", "0.3 mm"),
    ("gap", "3.2 mm", "0.8 mm"),
    ("included", "75", "5"),
    ("root-face", "1.6 mm", "0.4 mm"),
    ("cap-height", "1.5 mm", "0.75 mm"),
    ("cap-overlap", "2 mm", "1 mm"),
    ("root-height", "1 mm", "0.5 mm"),
    ("root-overlap", "2 mm", "0 mm"),
];

fn number(text: &str) -> f64 {
    text.trim_end_matches(" mm").parse().unwrap()
}

#[test]
fn the_balance_of_twelve_butts_agrees() {
    let texts = |of: fn(&(&str, &str, &str)) -> String| {
        MEASURES.iter().map(|measure| (measure.0.to_owned(), of(measure))).collect()
    };
    let needed = JointDrawing {
        density: "7.93".into(),
        efficiency: "0.98".into(),
        features: texts(|(_, value, _)| (*value).to_owned()),
        groove: "single-v".into(),
        half_widths: texts(|(_, _, half)| (*half).to_owned()),
        pipe_od: Some("114.3 mm".into()),
        process: Some("GTAW".into()),
        ..JointDrawing::default()
    }
    .needed()
    .unwrap();
    let (size, density) = (Size::parse("2.381 mm x 914.4 mm").unwrap(), Density::given("7.93").unwrap());
    let spread: Vec<_> = rod_spread(&size, &density, &RodHalfWidths::default())
        .unwrap()
        .into_iter()
        .map(|part| (error(part.input), part.ug))
        .collect();
    let shared: Vec<_> = needed.shared.iter().map(|part| (error(&part.input), part.mg)).collect();
    let piece_mg = piece_mass_mg(&size, &density).unwrap();

    let mut inputs: Map<String, Value> = MEASURES
        .iter()
        .map(|(name, value, half)| ((*name).to_owned(), json!([number(value), number(half)])))
        .collect();
    inputs.insert("density".into(), json!([7.93, 0.05]));
    inputs.insert("efficiency".into(), json!([0.98, 0.02]));
    let rod = json!({"diameter": [2.381, 0.05], "length": [914.4, 6.35]});
    let cases = [60, 70, 74];
    let input: String = cases
        .iter()
        .map(|rods| {
            json!({"f": "balance", "inputs": inputs, "od": 114.3, "joints": 12, "rods": rods, "rod": rod,
                "count_u": 0.5, "stubs": [210, 2]})
            .to_string()
                + "\n"
        })
        .collect();
    let answers = oracle("propagation.py", &[], &input);
    let mut compared = 0;
    for (rods, answer) in cases.iter().zip(answers.lines()) {
        let mut balance = MassBalance::new();
        balance.add(Side::Issued, &Mass::of_pieces(rods + 20, piece_mg, &spread, 500));
        balance.add(Side::Returned, &Mass::of_pieces(20, piece_mg, &spread, 0));
        balance.add(Side::Stubs, &Mass::weighed(210_000, 2000));
        for _ in 0..12 {
            balance.add(Side::Needed, &Mass::needed(needed.needed_mg, &shared, needed.independent_mg));
        }
        let theirs: Value = serde_json::from_str(answer).unwrap();
        let theirs = |name: &str| theirs[name].as_f64().unwrap();
        let checked = balance.check(1);
        let (difference, u) = (checked.difference_mg as f64 / 1000.0, checked.u_mg as f64 / 1000.0);
        // Rods and joints are each rounded to a milligram.
        assert!((difference - theirs("value")).abs() <= 0.06, "{rods}: {difference} here, {answer} there");
        assert!((u - theirs("u")).abs() <= 1e-3 * u, "{rods}: {u} here, {answer} there");
        assert!((u - theirs("sd")).abs() <= 0.01 * u, "{rods}: {u} here, {answer} there");
        assert!((difference - theirs("mean")).abs() <= 0.05 * u, "{rods}: {difference} here, {answer} there");
        compared += 1;
    }
    assert_eq!(compared, cases.len());
}

#[test]
fn the_limit_for_several_checks_agrees() {
    let checks = [1_u32, 2, 3, 5, 10, 12, 50, 100, 1000, 100_000];
    let input: String =
        checks.iter().map(|n| json!({"f": "sidak", "checks": n}).to_string() + "\n").collect();
    let answers = oracle("propagation.py", &[], &input);
    let mut compared = 0;
    for (checks, answer) in checks.iter().zip(answers.lines()) {
        let theirs = serde_json::from_str::<Value>(answer).unwrap()["k"].as_f64().unwrap();
        // Thousandths, rounded up, and never below 2.
        let want = (theirs * 1000.0).ceil().max(2000.0);
        assert_eq!(family_k_milli(*checks) as f64, want, "{checks} checks");
        compared += 1;
    }
    assert_eq!(compared, checks.len());
}
