//! The uncertainty of what a joint needs against `uncertainties` (exact derivatives) and NumPy (200 000 seeded draws), both
//! from the Python package index: tests/oracles/propagation.py, which has volumes from integrals of its own.

#![allow(clippy::unwrap_used, clippy::float_arithmetic, missing_docs)]

#[path = "support/oracle.rs"]
mod oracle;

use filler::needed::{JointDrawing, Needed};
use oracle::oracle;
use serde_json::{Map, Value, json};

/// A butt's inputs, each with its half-width, and the pipe.
struct Butt {
    inputs: Vec<(&'static str, f64, f64)>,
    od: f64,
    joints: u32,
}

fn butts() -> Vec<Butt> {
    let butt = |od: f64, wall: f64, widths: f64, joints: u32| Butt {
        inputs: vec![
            ("thickness", wall, 0.3 * widths),
            ("gap", 3.2, 0.8 * widths),
            ("included", 75.0, 5.0 * widths),
            ("root-face", 1.6, 0.4 * widths),
            ("cap-height", 1.5, 0.75 * widths),
            ("cap-overlap", 2.0, widths),
            ("root-height", 1.0, 0.5 * widths),
            ("root-overlap", 2.0, 0.25 * widths),
            ("density", 7.93, 0.05 * widths),
            ("efficiency", 0.98, 0.02 * widths),
        ],
        od,
        joints,
    };
    vec![
        butt(114.3, 6.02, 1.0, 1),
        butt(114.3, 6.02, 1.0, 12),
        butt(60.3, 5.54, 0.5, 40),
        butt(273.05, 12.7, 1.0, 3),
        butt(508.0, 25.4, 0.25, 2),
    ]
}

fn needed(butt: &Butt) -> Needed {
    let unit = |name: &str, value: f64| match name {
        "included" | "density" | "efficiency" => format!("{value}"),
        _ => format!("{value} mm"),
    };
    let value = |wanted: &str| {
        let (name, value, _) = butt.inputs.iter().find(|(name, _, _)| *name == wanted).unwrap();
        unit(name, *value)
    };
    let own = ["density", "efficiency"];
    JointDrawing {
        density: value("density"),
        efficiency: value("efficiency"),
        features: butt
            .inputs
            .iter()
            .filter(|(name, _, _)| !own.contains(name))
            .map(|(name, value, _)| ((*name).to_owned(), unit(name, *value)))
            .collect(),
        groove: "single-v".into(),
        half_widths: butt
            .inputs
            .iter()
            // Halves and quarters of two decimal places.
            .map(|(name, _, half)| ((*name).to_owned(), unit(name, (half * 1e6).round() / 1e6)))
            .collect(),
        pipe_od: Some(format!("{} mm", butt.od)),
        ..JointDrawing::default()
    }
    .needed()
    .unwrap()
}

#[test]
fn the_reference_knows_the_product_rule() {
    oracle("propagation.py", &["--selftest"], "");
}

#[test]
fn needed_and_its_uncertainty_agree() {
    let butts = butts();
    let input: String = butts
        .iter()
        .map(|butt| {
            let inputs: Map<String, Value> = butt
                .inputs
                .iter()
                .map(|(name, value, half)| ((*name).to_owned(), json!([value, half])))
                .collect();
            json!({"f": "needed", "inputs": inputs, "od": butt.od, "joints": butt.joints}).to_string() + "\n"
        })
        .collect();
    let answers = oracle("propagation.py", &[], &input);
    let mut compared = 0;
    for (butt, answer) in butts.iter().zip(answers.lines()) {
        let theirs: Value = serde_json::from_str(answer).unwrap();
        let number = |name: &str| theirs[name].as_f64().unwrap();
        let ours = needed(butt);
        let joints = f64::from(butt.joints);
        let value = joints * ours.needed_mg as f64 / 1000.0;
        // Each joint is rounded to a milligram.
        let rounding = joints / 1000.0;
        assert!((value - number("value")).abs() <= rounding, "{value} here, {theirs} there");
        let shared: f64 = ours.shared.iter().map(|part| (joints * part.mg as f64 / 1000.0).powi(2)).sum();
        let own = joints * (ours.independent_mg as f64 / 1000.0).powi(2);
        let u = (shared + own).sqrt();
        assert!((u - number("u")).abs() <= 1e-3 * number("u"), "{u} here, {theirs} there");
        for part in &ours.shared {
            let one = theirs["parts"][&part.input].as_f64().unwrap();
            let mine = joints * part.mg.abs() as f64 / 1000.0;
            // A difference quotient over ± one standard uncertainty against the derivative.
            assert!((mine - one).abs() <= 2e-3 * one + rounding, "{}: {mine} here, {one} there", part.input);
            compared += 1;
        }
        // First order against what the draws really spread: within 3 %, and the mean moves by less than a tenth of it.
        assert!((u - number("sd")).abs() <= 0.03 * u, "{u} here, {theirs} there");
        assert!((value - number("mean")).abs() <= 0.1 * u, "{value} here, {theirs} there");
    }
    // Density, efficiency and seven measures of each; the gap is not shared, the fill is certain.
    assert_eq!(compared, butts.len() * 9);
}
