//! Filler metal that a joint needs, with its uncertainty: the worked example of twelve pipe butts (arithmetic cases MB-03
//! to MB-05), evaluated apart and confirmed with a propagation library and random draws (oracle_propagation.rs).

#![allow(clippy::unwrap_used, clippy::float_arithmetic, clippy::indexing_slicing, missing_docs)]

use filler::groove::{Feature, Kind};
use filler::needed::{DEFAULT_NOTE, Estimated, JointDrawing, Needed, NeededError, Source};
use proptest::prelude::*;

fn texts(pairs: &[(&str, &str)]) -> std::collections::BTreeMap<String, String> {
    pairs.iter().map(|(word, text)| ((*word).to_owned(), (*text).to_owned())).collect()
}

/// A butt on 114.3 x 6.02 mm pipe in ER308L by GTAW. The example takes the root's extra width as known.
fn butt() -> JointDrawing {
    JointDrawing {
        density: "7.93".into(),
        efficiency: "0.98".into(),
        features: texts(&[
            ("thickness", "6.02 mm"),
            ("gap", "3.2 mm"),
            ("included", "75"),
            ("root-face", "1.6 mm"),
            ("cap-height", "1.5 mm"),
            ("cap-overlap", "2 mm"),
            ("root-height", "1 mm"),
            ("root-overlap", "2 mm"),
        ]),
        groove: "single-v".into(),
        half_widths: texts(&[("root-overlap", "0 mm")]),
        pipe_od: Some("114.3 mm".into()),
        process: Some("GTAW".into()),
        ..JointDrawing::default()
    }
}

/// Needed in grams and its uncertainty, over so many equal joints.
fn over_joints(needed: &Needed, joints: f64) -> (f64, f64) {
    let shared: f64 = needed.shared.iter().map(|part| (joints * part.mg as f64).powi(2)).sum();
    let own = joints * (needed.independent_mg as f64).powi(2);
    (joints * needed.needed_mg as f64 / 1000.0, (shared + own).sqrt() / 1000.0)
}

#[test]
fn twelve_butts_of_the_worked_example() {
    let needed = butt().needed().unwrap();
    assert!((12.0 * needed.deposit_mg as f64 / 1000.0 - 1641.5).abs() <= 0.1, "MB-03");
    let (g, u) = over_joints(&needed, 12.0);
    assert!((g - 1675.0).abs() <= 0.1, "MB-04: {g}");
    assert!((u - 167.9).abs() <= 0.2, "MB-05: {u}");
    // One joint: the root of the sum of squares of what it says it consists of.
    assert!((over_joints(&needed, 1.0).1 * 1000.0 - needed.u_mg as f64).abs() <= 2.0);
    let largest = needed.shared.iter().max_by_key(|part| part.mg.abs()).unwrap();
    assert_eq!(largest.input, "cap-height");
    let root_face = needed.shared.iter().find(|part| part.input == "root-face").unwrap();
    assert!(root_face.mg < 0, "a larger root face needs less metal");
    assert!(!needed.shared.iter().any(|part| part.input == "gap"), "the gap is each joint's own");
}

/// With caps, wall and rods measured: the second case of the example, whose uncertainty of the whole balance is 71 g.
#[test]
fn measured_joints_are_known_better() {
    let mut drawing = butt();
    drawing.half_widths = texts(&[
        ("cap-height", "0.25 mm"),
        ("thickness", "0.1 mm"),
        ("root-face", "0.2 mm"),
        ("included", "2"),
        ("root-height", "0.3 mm"),
        ("cap-overlap", "0.5 mm"),
        ("gap", "0.4 mm"),
        ("root-overlap", "0 mm"),
    ]);
    let (g, u) = over_joints(&drawing.needed().unwrap(), 12.0);
    assert!((g - 1675.0).abs() <= 0.1);
    assert!((60.0..71.0).contains(&u), "less than the balance's 71 g: {u}");
}

#[test]
fn what_was_used_is_recorded() {
    let drawing = butt();
    let needed = drawing.needed().unwrap();
    assert_eq!(needed.half_widths.len(), 12);
    let recorded = drawing.recorded(&needed);
    let has = |name: &str, value: &str| recorded.contains(&(name.to_owned(), value.to_owned()));
    assert!(has("groove", "single-v") && has("gap", "3.2 mm") && has("pipe-od", "114.3 mm"));
    assert!(has("half-width gap", &format!("0.8 mm ({DEFAULT_NOTE})")));
    assert!(has("half-width root-overlap", "0 mm"));
    assert!(has("half-width efficiency", &format!("0.02 ({DEFAULT_NOTE})")));
    let json = serde_json::to_string(&(&drawing, &needed)).unwrap();
    assert!(json.contains("\"source\":\"default\""), "{json}");
    assert_eq!(serde_json::from_str::<(JointDrawing, Needed)>(&json).unwrap(), (drawing, needed));
}

#[test]
fn starting_values_by_process_and_kind() {
    let width = |edit: &dyn Fn(&mut JointDrawing), input: &str| {
        let mut drawing = butt();
        edit(&mut drawing);
        let needed = drawing.needed().unwrap();
        let used = needed.half_widths.iter().find(|used| used.input == input).unwrap().clone();
        assert_eq!(used.source, Source::Default);
        used.half_width
    };
    assert_eq!(width(&|d| d.process = Some("SMAW".into()), "efficiency"), "0.05");
    assert_eq!(width(&|d| d.process = Some("FCAW".into()), "efficiency"), "0.03");
    assert_eq!(width(&|d| d.process = None, "efficiency"), "0.05");
    let half = |d: &mut JointDrawing| {
        d.features.remove("included");
        d.features.insert("bevel".into(), "37.5".into());
    };
    assert_eq!(width(&half, "bevel"), "2.5");
    // Half of the angle with half of its half-width: the same joint.
    let mut by_bevel = butt();
    half(&mut by_bevel);
    assert_eq!(by_bevel.needed().unwrap().u_mg, butt().needed().unwrap().u_mg);
    for feature in Feature::ALL {
        for kind in Kind::ALL {
            assert!(!Estimated::Feature(feature).default_half_width(kind, None).is_empty());
        }
        assert_eq!(Estimated::of_word(feature.word()), Some(Estimated::Feature(feature)));
    }
}

#[test]
fn plate_percent_and_fill() {
    let fillet = |half: &[(&str, &str)], fill: Option<&str>| {
        JointDrawing {
            density: "0.283 lb/in3".into(),
            efficiency: "1".into(),
            features: texts(&[("leg", "1/2 in")]),
            fill: fill.map(str::to_owned),
            groove: "fillet".into(),
            half_widths: texts(half),
            length: Some("12 in".into()),
            ..JointDrawing::default()
        }
        .needed()
        .unwrap()
    };
    let plain = fillet(&[], None);
    // GF-05, a public welding-supply reference table: 0.425 lb/ft.
    assert!((plain.needed_mg as f64 / 453_592.37 - 0.425).abs() <= 0.0006);
    assert_eq!(plain.needed_mg, plain.deposit_mg);
    // Ten per cent more leg is 21 % more metal; a tenth more fill is a tenth more.
    assert!((fillet(&[], Some("1.1")).needed_mg as f64 / plain.needed_mg as f64 - 1.1).abs() < 1e-5);
    // Half-widths in per cent of the value: of the leg 10 %/√3 twice over.
    let leg = plain.shared.iter().find(|part| part.input == "leg").unwrap();
    let relative = leg.mg as f64 / plain.needed_mg as f64;
    assert!((relative - 0.2 / 3.0_f64.sqrt()).abs() < 1e-4, "{relative}");
    let narrow = fillet(&[("leg", "1 %"), ("efficiency", "0"), ("density", "0 g/cm3")], None);
    assert!((narrow.u_mg as f64 / narrow.needed_mg as f64 - 0.02 / 3.0_f64.sqrt()).abs() < 1e-4);
    assert_eq!(narrow.independent_mg, 0);
}

#[test]
fn what_cannot_be_said_is_refused() {
    let refused = |edit: &dyn Fn(&mut JointDrawing)| {
        let mut drawing = butt();
        edit(&mut drawing);
        drawing.needed().unwrap_err().to_string()
    };
    let cases = [
        (refused(&|d| d.pipe_od = None), "either the outside diameter of its pipe or a length"),
        (refused(&|d| d.length = Some("1 m".into())), "give one of the two"),
        (refused(&|d| d.density = "0".into()), "a density of 0 g/cm3"),
        (refused(&|d| d.density = "steel".into()), "not a density"),
        (refused(&|d| d.efficiency = "98".into()), "an efficiency of 98 is not above 0 and up to 1"),
        (refused(&|d| d.efficiency = "0".into()), "an efficiency of 0"),
        (refused(&|d| d.efficiency = "0,98".into()), "efficiency \"0,98\" was not read"),
        (refused(&|d| d.fill = Some("3".into())), "a fill of 3"),
        (refused(&|d| d.groove = "v".into()), "\"v\" is not a kind of groove"),
        (
            refused(&|d| _ = d.features.insert("angle".into(), "60".into())),
            "\"angle\" is no measure of a groove",
        ),
        (
            refused(&|d| _ = d.features.insert("root-face".into(), "7 mm".into())),
            "root face of 7 mm leaves nothing",
        ),
        (refused(&|d| _ = d.features.insert("gap".into(), "3.2".into())), "gap: \"3.2\" is not a length"),
        (
            refused(&|d| _ = d.half_widths.insert("leg".into(), "1 mm".into())),
            "half-width of \"leg\" has nothing",
        ),
        (
            refused(&|d| _ = d.half_widths.insert("density".into(), "100 %".into())),
            "density is 7.93 with a half-width of 7.93",
        ),
        (refused(&|d| d.pipe_od = Some("10 mm".into())), "leaves no bore"),
        (refused(&|d| d.process = Some(" ".into())), "not a welding process"),
    ];
    for (message, part) in cases {
        assert!(message.contains(part), "{message:?} does not say {part:?}");
    }
    assert!(matches!(
        JointDrawing { pipe_od: None, length: Some("0 mm".into()), ..butt() }.needed(),
        Err(NeededError::Groove(_))
    ));
}

proptest! {
    /// Less certain inputs never make a more certain result, and what is said to add up does.
    #[test]
    fn wider_inputs_are_never_a_narrower_result(
        gap in 0..400_u32, cap in 0..70_u32, face in 0..150_u32, wider in 1..50_u32, which in 0..3_usize,
    ) {
        let mm = |hundredths: u32| format!("{}.{:02} mm", hundredths / 100, hundredths % 100);
        let mut widths = [("gap", gap.min(300)), ("cap-height", cap), ("root-face", face)];
        let needed = |widths: &[(&str, u32)]| {
            let mut drawing = butt();
            for (word, hundredths) in widths {
                drawing.half_widths.insert((*word).to_owned(), mm(*hundredths));
            }
            drawing.needed().unwrap()
        };
        let before = needed(&widths);
        widths[which].1 += wider;
        let after = needed(&widths);
        prop_assert!(after.u_mg >= before.u_mg);
        prop_assert_eq!(after.needed_mg, before.needed_mg);
        prop_assert!((over_joints(&after, 1.0).1 * 1000.0 - after.u_mg as f64).abs() <= 3.0);
    }
}
