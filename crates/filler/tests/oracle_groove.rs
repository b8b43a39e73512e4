//! Areas and pipe volumes against polygons drawn point by point and revolved in slices (tests/oracles/groove.py, by
//! Shapely, a reference library from the Python package index).

#![allow(clippy::unwrap_used, clippy::float_arithmetic, missing_docs)]

#[path = "support/oracle.rs"]
mod oracle;

use filler::groove::{Feature, Features, Groove, Kind};
use oracle::oracle;
use serde_json::{Map, Value, json};

/// A groove by the words of its features, on pipe of this outside diameter.
type Case = (Kind, Vec<(Feature, f64)>, f64);

fn cases() -> Vec<Case> {
    use Feature::{
        Bevel, CapHeight, CapOverlap, CapWidth, Convexity, Gap, Included, InnerIncluded, Leg, OtherLeg,
        OuterDepth, Radius, RootFace, RootHeight, RootOverlap, RootWidth, Thickness, Throat,
    };
    let mut cases: Vec<Case> = Vec::new();
    let reinforced = [(CapHeight, 1.5), (CapOverlap, 2.0), (RootHeight, 1.0), (RootOverlap, 2.0)];
    for (thickness, od) in [(6.02, 114.3), (12.7, 60.3), (25.0, 273.05), (38.1, 508.0)] {
        for gap in [0.0, 3.2] {
            let plate = [(Thickness, thickness), (Gap, gap)];
            let face = [(RootFace, thickness / 5.0)];
            let mut with = |kind, more: &[(Feature, f64)], reinforcement: &[(Feature, f64)]| {
                cases.push((kind, [&plate[..], more, reinforcement].concat(), od));
            };
            if gap > 0.0 {
                with(Kind::Square, &[], &reinforced);
            }
            for included in [30.0, 60.0, 75.0, 110.0] {
                with(Kind::SingleV, &[&face[..], &[(Included, included)]].concat(), &reinforced);
                with(Kind::SingleBevel, &[&face[..], &[(Bevel, included / 2.0)]].concat(), &reinforced);
                with(Kind::DoubleV, &[&face[..], &[(Included, included)]].concat(), &[]);
            }
            let uneven = [(Included, 60.0), (InnerIncluded, 90.0), (OuterDepth, thickness / 2.0)];
            with(Kind::DoubleV, &[&face[..], &uneven].concat(), &reinforced);
            for (side, share) in [(0.0, 1.0), (7.0, 0.3), (20.0, 0.5), (45.0, 0.9)] {
                // Up to a radius of which the arc takes the whole depth.
                let depth = thickness * 0.8;
                let radius = share * depth;
                let u = [(Radius, radius), (Included, 2.0 * side)];
                with(Kind::SingleU, &[&face[..], &u].concat(), &reinforced);
                with(Kind::SingleJ, &[&face[..], &[(Radius, radius), (Bevel, side)]].concat(), &reinforced);
            }
            with(
                Kind::SingleV,
                &[(Included, 60.0)],
                &[
                    // Wider than the groove is at its mouth.
                    (CapWidth, gap + thickness * 1.2 + 3.0),
                    (CapHeight, 2.0),
                    (RootWidth, gap + 8.0),
                    (RootHeight, 2.0),
                ],
            );
        }
        cases.push((Kind::Fillet, vec![(Leg, thickness)], od));
        cases.push((Kind::Fillet, vec![(Throat, thickness / 2.0), (Convexity, 1.0)], od));
        cases.push((Kind::Fillet, vec![(Leg, 8.0), (OtherLeg, 12.0), (Convexity, 2.0)], od));
    }
    cases
}

#[test]
fn the_reference_gives_a_disc_and_a_torus() {
    oracle("groove.py", &["--selftest"], "");
}

#[test]
fn areas_and_volumes_agree() {
    let cases = cases();
    let input: String = cases
        .iter()
        .map(|(kind, features, od)| {
            let features: Map<String, Value> =
                features.iter().map(|(feature, value)| (feature.word().to_owned(), json!(value))).collect();
            json!({"kind": kind.word(), "features": features, "od": od}).to_string() + "\n"
        })
        .collect();
    let answers = oracle("groove.py", &[], &input);
    let mut compared = 0;
    for ((kind, values, od), answer) in cases.iter().zip(answers.lines()) {
        let answer: Value = serde_json::from_str(answer).unwrap();
        let features = values.iter().fold(Features::new(), |f, (feature, value)| f.with(*feature, *value));
        let groove = Groove::new(*kind, &features).unwrap();
        for (what, ours, theirs) in [
            ("area", groove.area_mm2(), &answer["area"]),
            ("volume", groove.volume_mm3_on_pipe(*od).unwrap(), &answer["volume"]),
        ] {
            let theirs = theirs.as_f64().unwrap();
            assert!(
                (ours - theirs).abs() <= 2e-6 * theirs,
                "{what} of {kind} {values:?} on {od} mm: {ours} here, {theirs} there"
            );
        }
        compared += 1;
    }
    assert_eq!(compared, cases.len());
    assert!(compared > 150, "{compared}");
}
