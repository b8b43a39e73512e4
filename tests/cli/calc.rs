//! `calc`: every row of the arithmetic cases that a command can reach, the misprints of public tables as negative tests,
//! and what is not understood.
//!
//! `fixtures/arithmetic-cases.csv` has for each row what it is, its inputs, the expected value with its tolerance, its source,
//! and whether that value is printed there (`published`), was evaluated apart from this program (`common-practice`), or is
//! recalled (`memory`).

#![allow(clippy::float_arithmetic, reason = "answers are compared within a tolerance")]

use crate::shop::{Shop, root, snapshot};
use serde_json::Value;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// Grams in a pound, and in millimetres a foot: exact (NIST SP 811 appendix B.8).
const G_PER_LB: f64 = 453.592_37;
const MM_PER_FT: f64 = 304.8;

/// A row of the arithmetic cases.
struct Case {
    id: String,
    quantity: String,
    inputs: Value,
    expected: String,
    tolerance: String,
    source: String,
}

/// What a command makes of a row.
enum Reached {
    /// A value in the unit of the row.
    Value(f64),
    /// The command refuses, and must.
    Refused(&'static str),
    /// No command of `calc` answers it, and why.
    Not(&'static str),
}

fn cases() -> Vec<Case> {
    let file = root().join("fixtures/arithmetic-cases.csv");
    let mut reader = csv::Reader::from_path(file).unwrap();
    let header = reader.headers().unwrap().clone();
    let at = |name: &str| header.iter().position(|h| h == name).unwrap();
    let [id, quantity, inputs, expected, tolerance, source] =
        ["id", "quantity", "inputs", "expected", "tolerance", "source"].map(at);
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            Case {
                id: record[id].to_owned(),
                quantity: record[quantity].to_owned(),
                inputs: serde_json::from_str(&record[inputs]).unwrap(),
                expected: record[expected].to_owned(),
                tolerance: record[tolerance].to_owned(),
                source: record[source].to_owned(),
            }
        })
        .collect()
}

impl Case {
    /// An input as it stands in the file.
    fn input(&self, name: &str) -> String {
        match &self.inputs[name] {
            Value::String(text) => text.clone(),
            Value::Number(number) => number.to_string(),
            other @ (Value::Null | Value::Bool(_) | Value::Array(_) | Value::Object(_)) => {
                panic!("{}: {name} is {other}", self.id)
            }
        }
    }

    fn input_f64(&self, name: &str) -> f64 {
        self.input(name).parse().unwrap_or_else(|_| panic!("{}: {name} is no number", self.id))
    }

    fn has(&self, name: &str) -> bool {
        !self.inputs[name].is_null()
    }
}

/// Runs a calculation and returns one field of the answer.
fn calc(shop: &Shop, line: &str, field: &str) -> f64 {
    let answer = shop.json(&format!("calc {line}"));
    answer[field].as_f64().unwrap_or_else(|| panic!("calc {line}: {field} is {} in {answer}", answer[field]))
}

/// What the program makes of a row.
fn reach(shop: &Shop, case: &Case) -> Reached {
    let group = case.id.split('-').next().unwrap();
    match group {
        "HI" => heat_input(shop, case),
        "GV" | "GF" | "GT" | "GR" | "GC" | "GU" | "GS" | "GP" => groove(shop, case),
        "RM" | "RN" | "RW" | "RC" => rods(shop, case),
        "CO" | "CS" | "CG" | "DE" => consumption(shop, case),
        "CH" => indices(shop, case),
        "LM" => Reached::Not("rounding and limits: cert check and identify"),
        "PM" => Reached::Not("readings of an instrument: identify"),
        "MB" => mass_balance(shop, case),
        other => panic!("{}: no group {other}", case.id),
    }
}

fn heat_input(shop: &Shop, case: &Case) -> Reached {
    let i = |name: &str| case.input(name);
    let (line, field) = match case.quantity.as_str() {
        "heat input QW-409.1(a)" | "heat input GTAW 227 A" => (
            format!("--volts {} --amps {} --travel '{} in/min'", i("volts"), i("amps"), i("speed_in_min")),
            "kj_per_in",
        ),
        "heat input from time and length" => (
            format!(
                "--convention d1.5 --volts {} --amps {} --length '{} in' --time '{} min'",
                i("volts"),
                i("amps"),
                i("length_in"),
                i("time_min")
            ),
            "kj_per_in",
        ),
        "arc energy in SI" => (
            format!(
                "--convention arc-energy-a --volts {} --amps {} --travel '{} mm/s'",
                i("volts"),
                i("amps"),
                i("speed_mm_s")
            ),
            "kj_per_mm",
        ),
        "heat input EN 1011-1 with k" => (
            format!(
                "--energy-per-length '{} kJ/mm' --process {} --with-k",
                i("arc_energy_kj_mm"),
                i("process")
            ),
            "kj_per_mm",
        ),
        "thermal efficiency k" => {
            (format!("--energy-per-length '1 kJ/mm' --process {} --with-k", i("process")), "k")
        }
        "heat input QW-409.1(c)(2) power*60/speed" => {
            (format!("--power '{} W' --travel '{} in/min'", i("power_j_s"), i("speed_in_min")), "kj_per_in")
        }
        "mean instantaneous power of a two-level pulse" => (
            format!(
                "--peak-volts {} --peak-amps {} --base-volts {} --base-amps {} --duty {} --travel '10 in/min'",
                i("peak_v"),
                i("peak_a"),
                i("base_v"),
                i("base_a"),
                i("duty")
            ),
            "power_w",
        ),
        "unit conversion" => {
            (format!("--convention arc-energy-a --energy-per-length '{} kJ/in'", i("kj_per_in")), "kj_per_mm")
        }
        "relative standard uncertainty of heat input" => (
            format!(
                "--volts 12 --amps 227 --travel '3 in/min' --u-volts {} --u-amps {} --u-travel {}",
                i("u_rel_volts"),
                i("u_rel_amps"),
                i("u_rel_speed")
            ),
            "u_rel",
        ),
        other => panic!("{}: {other}", case.id),
    };
    Reached::Value(calc(shop, &format!("heat-input {line}"), field))
}

fn groove(shop: &Shop, case: &Case) -> Reached {
    let i = |name: &str| case.input(name);
    let mm = |option: &str, name: &str| {
        if case.has(name) { format!(" --{option} '{} mm'", i(name)) } else { String::new() }
    };
    let density = || {
        if case.has("density_g_cm3") { format!(" --density {}", i("density_g_cm3")) } else { String::new() }
    };
    let area = |line: String| calc(shop, &format!("groove {line}"), "area_mm2");
    // Kilograms for a metre are grams for a millimetre.
    let mass = |line: String| calc(shop, &format!("groove {line}{}", density()), "kg_per_m");
    let cap = |width: &str, height: &str| {
        format!(
            "--kind square --thickness '1 mm' --gap '0 mm' --cap-width '{width} mm' --cap-height '{height} mm'"
        )
    };
    Reached::Value(match (case.id.as_str(), case.quantity.as_str()) {
        (_, "single-V joint volume per length" | "single-V with root face") => area(format!(
            "--kind single-v{}{}{} --included {}",
            mm("thickness", "t_mm"),
            mm("gap", "gap_mm"),
            mm("root-face", "root_face_mm"),
            i("included_deg")
        )),
        (_, "weld metal mass from reduced volume") => {
            let line = format!("deposit --volume '{} cm3'{}", i("volume_cm3_m"), density());
            calc(shop, &line, "deposit_g") / 1000.0
        }
        (_, "single bevel, equals half the V plus gap") => area(format!(
            "--kind single-bevel{}{}{} --bevel {}",
            mm("thickness", "t_mm"),
            mm("gap", "gap_mm"),
            mm("root-face", "root_face_mm"),
            i("bevel_deg")
        )),
        (_, "fillet deposit, equal legs, flat face") => {
            let line = format!(
                "groove --kind fillet --leg '{} in' --density '{} lb/in3'",
                i("leg_in"),
                i("density_lb_in3")
            );
            calc(shop, &line, "kg_per_m") * MM_PER_FT / G_PER_LB
        }
        (_, "fillet deposit with 10 % leg oversize") => {
            let leg = case.input_f64("leg_mm") * (1.0 + case.input_f64("leg_oversize"));
            mass(format!("--kind fillet --leg '{leg:.6} mm'"))
        }
        (_, "fillet, unequal legs") => {
            area(format!("--kind fillet{}{}", mm("leg", "leg1_mm"), mm("other-leg", "leg2_mm")))
        }
        (_, "right-triangle element") => mass(format!(
            "--kind single-bevel --gap '0 mm'{} --bevel {}",
            mm("thickness", "t_mm"),
            i("angle_deg")
        )),
        (_, "rectangle element (root opening)") => {
            mass(format!("--kind square{}{}", mm("thickness", "t_mm"), mm("gap", "gap_mm")))
        }
        (_, "reinforcement element, 2/3 w h" | "single-U element: cap 2/3 w h") => {
            mass(cap(&i("width_mm"), &i("height_mm")))
        }
        (_, "single-U element: side triangles") => mass(format!(
            "--kind single-v --gap '0 mm'{} --included {}",
            mm("thickness", "depth_mm"),
            i("included_deg")
        )),
        // Two quarter discs: a U as deep as its radius, with upright sides.
        (_, "single-U element: half disc") => mass(format!(
            "--kind single-u --gap '0 mm'{}{} --bevel 0",
            mm("thickness", "radius_mm"),
            mm("radius", "radius_mm")
        )),
        // Cap, triangles, the rectangle between them (12.7 by 25.4 mm, not a row of its own), half disc.
        ("GU-05", _) => {
            let elements = [
                cap("28.575", "3.175"),
                "--kind single-v --gap '0 mm' --thickness '25.4 mm' --included 14".to_owned(),
                "--kind square --thickness '25.4 mm' --gap '12.7 mm'".to_owned(),
                "--kind single-u --gap '0 mm' --thickness '6.35 mm' --radius '6.35 mm' --bevel 0".to_owned(),
            ];
            elements.iter().map(|e| calc(shop, &format!("groove {e} --density 7.84"), "kg_per_m")).sum()
        }
        // The shortcut of a data book, put together from its three elements: the program itself has only the exact form.
        ("GU-07", _) => {
            let (r, h) =
                (case.input_f64("radius_mm"), case.input_f64("t_mm") - case.input_f64("root_face_mm"));
            let above = h - r;
            let elements = [
                format!("--kind square --thickness '{above:.6} mm' --gap '{:.6} mm'", 2.0 * r),
                format!("--kind single-u --gap '0 mm' --thickness '{r} mm' --radius '{r} mm' --bevel 0"),
                format!("--kind single-v --gap '0 mm' --thickness '{above:.6} mm' --bevel {}", i("side_deg")),
            ];
            let exact = area(format!(
                "--kind single-u --gap '0 mm'{}{}{} --bevel {}",
                mm("thickness", "t_mm"),
                mm("root-face", "root_face_mm"),
                mm("radius", "radius_mm"),
                i("side_deg")
            ));
            let shortcut: f64 = elements.iter().map(|e| calc(shop, &format!("groove {e}"), "area_mm2")).sum();
            assert!(
                (0.994..0.996).contains(&(shortcut / exact)),
                "the shortcut is half a percent low: {shortcut} {exact}"
            );
            shortcut
        }
        (_, "single-J area, tangent arc (exact)") => area(format!(
            "--kind single-j{}{}{}{} --bevel {}",
            mm("thickness", "t_mm"),
            mm("gap", "gap_mm"),
            mm("root-face", "root_face_mm"),
            mm("radius", "radius_mm"),
            i("side_deg")
        )),
        (_, "square groove" | "square groove with cap and root bead") => area(format!(
            "--kind square{}{}{}{}{}{}",
            mm("thickness", "t_mm"),
            mm("gap", "gap_mm"),
            mm("cap-width", "cap_w_mm"),
            mm("cap-height", "cap_h_mm"),
            mm("root-width", "root_w_mm"),
            mm("root-height", "root_h_mm")
        )),
        (_, "pipe butt volume, centroid theorem") => {
            calc(shop, &format!("groove {}", pipe_butt()), "volume_cm3")
        }
        // The shortcut is not in the program; it bounds the volume from below.
        (_, "same, mean-diameter shortcut") => {
            let section = calc(shop, &format!("groove {}", pipe_butt()), "area_mm2");
            assert!((section - case.input_f64("area_mm2")).abs() < 0.0005, "{section}");
            PI * (case.input_f64("od_mm") - case.input_f64("t_mm")) * section / 1000.0
        }
        (id, other) => panic!("{id}: {other}"),
    })
}

/// The butt of GP-01 and of the mass balance.
fn pipe_butt() -> &'static str {
    "--kind single-v --thickness '6.02 mm' --gap '3.2 mm' --root-face '1.6 mm' --included 75 --cap-height '1.5 mm' \
     --cap-overlap '2 mm' --root-height '1.0 mm' --root-overlap '2 mm' --pipe-od '114.3 mm'"
}

fn rods(shop: &Shop, case: &Case) -> Reached {
    let i = |name: &str| case.input(name);
    let size = || match (case.has("d_mm"), case.has("length_mm") || case.has("length_in")) {
        (true, true) => format!("{} mm x {} mm", i("d_mm"), i("length_mm")),
        (true, false) => format!("{} mm", i("d_mm")),
        (false, true) => format!("{} in x {} in", i("d_in"), i("length_in")),
        (false, false) => format!("{} in", i("d_in")),
    };
    let run = |options: String, field: &str| {
        Reached::Value(calc(shop, &format!("rods --size '{}' {options}", size()), field))
    };
    match case.quantity.as_str() {
        "mass of 5 covered-electrode core wires" | "mass of 5 stub core wires" => {
            run(format!("--density {} --count {}", i("density_g_cm3"), i("n")), "total_g")
        }
        "deposition rate" => Reached::Value(calc(
            shop,
            &format!("deposit --deposit '{} g' --arc-time '{} s'", i("deposit_g"), i("time_s")),
            "rate_kg_per_h",
        )),
        "rod mass" => run(format!("--density {}", i("density_g_cm3")), "rod_g"),
        "relative standard uncertainty of rod mass from diameter tolerance" => {
            run(format!("--density 7.85 --diameter-tolerance '{} mm'", i("tol_mm")), "u_rel_from_diameter")
        }
        "bare rods per pound, 36 in" => {
            run(format!("--density '{} lb/in3'", i("density_lb_in3")), "rods_per_lb")
        }
        "solid steel wire length per pound" => {
            run(format!("--density '{} lb/in3'", i("density_lb_in3")), "in_per_lb")
        }
        "covered electrodes per pound (range)" => {
            let line = format!("calc rods --size '{}' --density 7.85 --form covered", size());
            let error = shop.json_error(&line, 2);
            assert!(error["why"].as_str().unwrap().contains("covering"), "{error}");
            // As weighed it is answered: the middle of the recalled range.
            let each = G_PER_LB / case.expected.parse::<f64>().unwrap();
            let weighed = format!("rods --size '{}' --form covered --piece-g {each:.3}", size());
            assert!(
                (calc(shop, &weighed, "rods_per_lb") - case.expected.parse::<f64>().unwrap()).abs() < 0.01
            );
            Reached::Refused("the mass of a covered electrode is not worked out from its core wire")
        }
        other => panic!("{}: {other}", case.id),
    }
}

fn consumption(shop: &Shop, case: &Case) -> Reached {
    let i = |name: &str| case.input(name);
    Reached::Value(match case.quantity.as_str() {
        "consumable per foot, W = D/(1-L)" => {
            let efficiency = 1.0 - case.input_f64("loss");
            let line = format!("deposit --deposit '{} lb' --efficiency {efficiency:.4}", i("deposit_lb_ft"));
            calc(shop, &line, "filler_g") / G_PER_LB
        }
        "SMAW efficiency at another stub length" => {
            let share = case.input_f64("eff_pct_at_2in") / 100.0;
            let line = format!(
                "efficiency --efficiency {share:.4} --includes-stub '2 in' --length '{} in' --stub '{} in'",
                i("length_in"),
                i("stub_in")
            );
            calc(shop, &line, "efficiency") * 100.0
        }
        "deposition efficiency (range)" | "average deposition efficiency" => typical(shop, case),
        "GTAW cut rods needed, ceil" => {
            let line = format!(
                "deposit --deposit '{} g' --efficiency {} --rod '2.381 mm x {} mm' --stub '{} mm' --piece-g {}",
                i("deposit_g"),
                i("eta"),
                i("rod_len_mm"),
                i("stub_mm"),
                i("rod_g")
            );
            calc(shop, &line, "rods")
        }
        "SMAW electrodes bought per deposit" => {
            let line = format!(
                "deposit --deposit '{} kg' --efficiency {} --rod '4 mm x {} mm' --stub '{} mm' --form covered",
                i("deposit_kg"),
                i("eta_excl_stub"),
                i("length_mm"),
                i("stub_mm")
            );
            calc(shop, &line, "filler_g") / 1000.0
        }
        other => panic!("{}: {other}", case.id),
    })
}

/// The row of the table of typical efficiencies that a case is about: the middle of a range, or an average.
fn typical(shop: &Shop, case: &Case) -> f64 {
    let process = case.input("process");
    let (letters, rest) = process.split_once(' ').unwrap_or((process.as_str(), ""));
    let variant = match rest {
        "14 in, 2 in stub" => "14 in electrode",
        "18 in, 2 in stub" => "18 in electrode",
        "75Ar-25CO2" => "75 Ar 25 CO2",
        "" if process == "SAW" => "wire only",
        rest => rest,
    };
    let range = case.quantity.contains("range");
    let answer = shop.json(&format!("calc efficiency --process {letters}"));
    let rows = answer["typical"].as_array().unwrap();
    let found: Vec<&Value> = rows
        .iter()
        .filter(|row| row["variant"] == variant && row["average_pct"].is_null() == range)
        .collect();
    assert_eq!(found.len(), 1, "{}: {process}: {answer}", case.id);
    let number = |name: &str| found[0][name].as_f64().unwrap();
    if range {
        let half = (number("max_pct") - number("min_pct")) / 2.0;
        assert_eq!(half, case.tolerance.parse::<f64>().unwrap(), "{}: the range itself", case.id);
        (number("max_pct") + number("min_pct")) / 2.0
    } else {
        number("average_pct")
    }
}

fn indices(shop: &Shop, case: &Case) -> Reached {
    const OUT_OF_SCOPE: &str = "carbon equivalents judge base metal and preheat: out of scope";
    let field = match case.quantity.as_str() {
        "CE of CSA Z662 form with f=1" | "CE IIW" | "Pcm" | "CEN" => return Reached::Not(OUT_OF_SCOPE),
        "FN, linear DeLong approximation" | "ferrite of castings, NUREG/CR-4513 form" => {
            return Reached::Not("no ferrite number from an equation; recalled, not confirmed in a source");
        }
        "X-bar factor, ppm form" => "x_bar",
        "J-factor" => "j_factor",
        "Mn/Si ratio" => "mn_si",
        "WRC-1992 Nieq" => "wrc_nieq",
        "DeLong Creq" => "delong_creq",
        other => panic!("{}: {other}", case.id),
    };
    let analysis: Vec<String> = case
        .inputs
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, value)| match name.strip_suffix("_ppm") {
            Some(element) => format!("{element}={value}ppm"),
            None => format!("{name}={value}"),
        })
        .collect();
    Reached::Value(calc(shop, &format!("indices --analysis {}", analysis.join(",")), field))
}

fn mass_balance(shop: &Shop, case: &Case) -> Reached {
    match case.quantity.as_str() {
        "rod mass" => Reached::Value(calc(
            shop,
            &format!(
                "rods --size '{} mm x {} mm' --density {}",
                case.input("d_mm"),
                case.input("len_mm"),
                case.input("rho")
            ),
            "rod_g",
        )),
        "consumable needed" => Reached::Value(calc(
            shop,
            &format!(
                "deposit {} --joints {} --density {} --efficiency {}",
                pipe_butt(),
                case.input("welds"),
                case.input("rho"),
                case.input("eta")
            ),
            "filler_g",
        )),
        _ => Reached::Not("balance of counts and masses: reconcile"),
    }
}

#[test]
fn every_arithmetic_case_that_a_command_reaches() {
    let shop = Shop::empty();
    let mut wrong = String::new();
    let mut reached: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    let cases = cases();
    for case in &cases {
        let what = match reach(&shop, case) {
            Reached::Value(found) => {
                let expected: f64 = case.expected.parse().unwrap();
                let tolerance: f64 = case.tolerance.parse().unwrap();
                // Decimal inputs are not exact in binary; nothing like a tolerance.
                let binary = 1e-12 * expected.abs();
                if found.is_nan() || (found - expected).abs() > tolerance + binary {
                    let _ = writeln!(
                        wrong,
                        "{}: {found}, expected {expected} within {tolerance} ({})",
                        case.id, case.source
                    );
                }
                "reached"
            }
            Reached::Refused(why) => why,
            Reached::Not(why) => why,
        };
        reached.entry(what).or_default().push(case.id.clone());
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert_eq!(cases.len(), 194, "rows of the file");
    // Nothing drops out of the list without this changing.
    let mut list = String::new();
    for (what, ids) in &reached {
        let _ = writeln!(list, "{what}: {}\n  {}", ids.len(), ids.join(" "));
    }
    snapshot!("arithmetic-cases", list);
}

/// Printed values that are wrong or hide something: the program gives the geometry, not the misprint.
#[test]
fn misprints_are_not_reproduced() {
    let shop = Shop::empty();
    let fillet = |leg: &str| {
        let line = format!("groove --kind fillet --leg '{leg} in' --density '0.283 lb/in3'");
        calc(&shop, &line, "kg_per_m") * MM_PER_FT / G_PER_LB
    };
    let v = |thickness: u32, angle: u32| {
        let line =
            format!("groove --kind single-v --thickness '{thickness} mm' --gap '2 mm' --included {angle}");
        calc(&shop, &line, "area_mm2")
    };
    let x_bar = |analysis: &str| calc(&shop, &format!("indices --analysis {analysis}"), "x_bar");
    let bought = |deposit_lb: &str, efficiency: &str| {
        let line = format!("deposit --deposit '{deposit_lb} lb' --efficiency {efficiency}");
        calc(&shop, &line, "filler_g") / G_PER_LB
    };
    let small = |printed_g_mm: f64, leg_mm: &str| {
        let plain =
            calc(&shop, &format!("groove --kind fillet --leg '{leg_mm} mm' --density 7.84"), "kg_per_m");
        (plain, printed_g_mm)
    };
    for (what, found, right, tolerance, printed) in [
        // A public welding-supply reference table of consumption per foot.
        ("fillet 3/16 in, lb/ft", fillet("3/16"), 0.0597, 0.0001, 0.063),
        ("fillet 1 in at 10 % loss, lb/ft", bought("1.698", "0.90"), 1.887, 0.0005, 1.890),
        ("0.239 lb/ft at 20 % loss, cut off in print", bought("0.239", "0.8"), 0.298_75, 0.000_01, 0.298),
        // A filler maker's metric table of single-V volumes.
        ("single V 18 mm 50 degrees, cm3/m", v(18, 50), 187.1, 0.05, 189.0),
        ("single V 25 mm 80 degrees, cm3/m", v(25, 80), 574.4, 0.05, 577.0),
        // A public worked example: P 30, Sb 20, Sn 10, As 5 ppm, printed 5.5.
        ("X-bar, ppm", x_bar("P=30ppm,Sb=20ppm,Sn=10ppm,As=5ppm"), 4.45, 0.000_1, 5.5),
        // A formulary prints 15 Sb in X-bar, and 10^-4 in J.
        ("X-bar of antimony alone", x_bar("P=0ppm,Sb=20ppm,Sn=0ppm,As=0ppm"), 1.0, 0.000_1, 3.0),
        (
            "J",
            calc(&shop, "indices --analysis Mn=0.55,Si=0.2,P=0.008,Sn=0.003", "j_factor"),
            82.5,
            0.05,
            0.000_000_825,
        ),
        // A note on duplex steel prints 65 to 100 "kJ/mm", which only kJ/in can be.
        (
            "65 kJ/in",
            calc(&shop, "heat-input --convention qw-409.1-a --energy-per-length '65 kJ/in'", "kj_per_mm"),
            2.559,
            0.0005,
            65.0,
        ),
    ] {
        assert!((found - right).abs() <= tolerance, "{what}: {found}, not {right}");
        assert!((found - printed).abs() > tolerance, "{what}: {found} is the misprint {printed}");
    }
    // A data book's fillet table is 1.21 times the geometry throughout: legs silently 10 % larger.
    for (plain, printed) in [small(0.048, "3.175"), small(0.107, "4.7625"), small(0.299, "7.9375")] {
        assert!((1.19..1.23).contains(&(printed / plain)), "{printed} / {plain}");
    }
    // 1 kJ/mm is 25.4 kJ/in exactly.
    assert_eq!(calc(&shop, "heat-input --convention d1.5 --energy-per-length '1 kJ/mm'", "kj_per_in"), 25.4);
}

/// Common practice, no source: 227 A on a 3/32 in rod at 3 to 4 in/min lands at 34 to 64 kJ/in for 10 to 14 V.
#[test]
fn a_gtaw_pass_lands_where_practice_has_it() {
    let shop = Shop::empty();
    for volts in 10..=14 {
        for travel in ["3", "3.25", "3.5", "3.75", "4"] {
            let found = calc(
                &shop,
                &format!("heat-input --volts {volts} --amps 227 --travel '{travel} in/min'"),
                "kj_per_in",
            );
            assert!((34.0..=64.0).contains(&found), "{volts} V, {travel} in/min: {found}");
        }
    }
}

#[test]
fn the_contract_s_fields() {
    let shop = Shop::empty();
    for (line, schema, fields) in [
        (
            "calc heat-input --volts 12 --amps 227 --travel '3.5 in/min' --process GTAW --with-k",
            "rodbook-calc-heat-input/1",
            &["kj_per_in", "kj_per_mm"][..],
        ),
        (
            "calc heat-input --energy '55200 J' --length '4 in'",
            "rodbook-calc-heat-input/1",
            &["kj_per_in", "kj_per_mm"],
        ),
        (
            "calc heat-input --power '2300 W' --travel '10 in/min'",
            "rodbook-calc-heat-input/1",
            &["kj_per_in", "kj_per_mm"],
        ),
        (
            "calc groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 60 --pipe-od '219.1 mm'",
            "rodbook-calc-groove/1",
            &["area_mm2", "volume_cm3_per_m", "volume_cm3"],
        ),
        (
            "calc deposit --kind square --thickness '6 mm' --gap '3 mm' --length '1 m' --density 7.85 --efficiency 0.98 \
             --stub '3 in' --rod '3/32 in x 36 in'",
            "rodbook-calc-deposit/1",
            &["deposit_g", "filler_g", "rods"],
        ),
        (
            "calc rods --size '3/32 in x 36 in' --density 7.85",
            "rodbook-calc-rods/1",
            &["rod_g", "rods_per_lb", "rods_per_kg"],
        ),
        ("calc exposure --spec A5.1 --class E7018", "rodbook-calc-exposure/1", &["hours"]),
        ("calc indices --analysis C=0.02,Mn=1.8,Si=0.4", "rodbook-calc-indices/1", &["mn_si"]),
    ] {
        let answer = shop.json(line);
        assert_eq!(answer["schema"], schema, "{line}");
        for field in fields {
            assert!(answer[field].is_number(), "{line}: {field} in {answer}");
        }
    }
    let heat = shop.json("calc heat-input --energy '55200 J' --length '4 in'");
    assert_eq!(heat["convention"], "qw-409.1-c1");
    let exposure = shop.json("calc exposure --spec A5.1 --class 'E7018-1 H4R'");
    assert_eq!(exposure["hours"], 9);
    assert_eq!(exposure["table"], "AWS D1.1/D1.1M:2015 Table 5.1, column A");
    assert_eq!(shop.json("calc exposure --spec A5.5 --class E11018M")["hours"], 0.5);
    let unknown = shop.json("calc exposure --spec A5.4 --class E308L-16");
    assert!(unknown["hours"].is_null() && unknown["limit"] == "no limit known", "{unknown}");
    // The same deposit told with an efficiency that includes its stubs takes the same filler.
    let deposit = "calc deposit --deposit '10 kg' --rod '4 mm x 350 mm' --stub '50 mm' --form covered";
    let without = shop.json(&format!("{deposit} --efficiency 0.744"))["filler_g"].as_f64().unwrap();
    let with = shop.json(&format!("{deposit} --efficiency 0.637714286 --efficiency-includes-stub '50 mm'"))["filler_g"]
        .as_f64()
        .unwrap();
    assert!((without - with).abs() < 0.01, "{without} {with}");
    assert!(std::fs::read_dir(shop.path()).unwrap().next().is_none(), "no book, and none made");
}

#[test]
fn a_limit_is_compared_in_its_own_convention_only() {
    let shop = Shop::empty();
    let pass = "calc heat-input --volts 25 --amps 200 --travel '6 in/min'";
    let u = "--u-volts 0.02 --u-amps 0.03 --u-travel 0.05";
    // 50 kJ/in; 2u is 6.164 kJ/in.
    for (limit, verdict, within) in [
        ("57 kJ/in", "below", false),
        ("56 kJ/in", "near-limit", true),
        ("50 kJ/in", "near-limit", true),
        ("49 kJ/in", "above", true),
        ("43 kJ/in", "above", false),
        ("2.2 kJ/mm", "near-limit", true),
    ] {
        let answer = shop.json(&format!("{pass} {u} --limit '{limit}'"));
        assert_eq!(answer["limit"]["verdict"], verdict, "{limit}");
        assert_eq!(answer["limit"]["within_2u"], within, "{limit}");
    }
    let error = shop.json_error(&format!("{pass} --limit '2.2 kJ/mm' --limit-convention en-1011-1"), 2);
    assert!(error["why"].as_str().unwrap().starts_with("not compared"), "{error}");
}

#[test]
fn what_is_not_understood_says_what_why_and_next() {
    let shop = Shop::empty();
    for (line, says) in [
        ("heat-input --volts 12 --amps 227 --travel '0 in/min'", "it is zero"),
        ("heat-input --volts 12 --amps 227 --length '0 in' --time '1 min'", "it is zero"),
        ("heat-input --volts 12 --amps 227 --length '4 in' --time '0 min'", "it is zero"),
        ("heat-input --energy '55200 J' --length '0 in'", "it is zero"),
        ("heat-input --volts 12 --amps 227 --travel '3,5 in/min'", "comma"),
        ("heat-input --volts 12,5 --amps 227 --travel '3 in/min'", "comma"),
        ("heat-input --volts 12 --amps 227 --travel 3.5", "has no unit"),
        ("heat-input --volts 12 --amps 227 --travel '3.5 in'", "not one of"),
        ("heat-input --volts 12 --amps 227 --travel '-3 in/min'", "below zero"),
        ("heat-input --volts 12 --amps 227", "travel speed is missing"),
        ("heat-input --volts 12 --travel '3 in/min'", "amperes are missing"),
        ("heat-input --amps 12 --travel '3 in/min'", "volts are missing"),
        ("heat-input", "nothing that was measured"),
        ("heat-input --energy '5 kJ'", "bead length is missing"),
        ("heat-input --energy '5 kJ' --length '4 in' --power '2 kW'", "more than one"),
        ("heat-input --volts 24 --amps 200 --travel '10 in/min' --waveform-controlled", "not the mean power"),
        ("heat-input --volts 24 --amps 200 --travel '10 in/min' --process GMAW-P", "not the mean power"),
        ("heat-input --volts 24 --amps 200 --travel '10 in/min' --with-k", "none is given"),
        (
            "heat-input --volts 24 --amps 200 --travel '10 in/min' --with-k --process OFW",
            "no thermal efficiency k for OFW",
        ),
        (
            "heat-input --volts 24 --amps 200 --travel '10 in/min' --convention qw-409.1-c1",
            "not worked out from volts",
        ),
        (
            "heat-input --volts 24 --amps 200 --travel '10 in/min' --convention iso",
            "not a heat-input convention",
        ),
        ("heat-input --energy-per-length '1.5 kJ/mm'", "says nothing without its convention"),
        ("heat-input --volts 24 --amps 200 --travel '10 in/min' --u-volts 0.02", "--u-amps is missing"),
        (
            "heat-input --volts 24 --amps 200 --travel '10 in/min' --u-volts 2 --u-amps 0 --u-travel 0",
            "from 0 to 1",
        ),
        ("heat-input --volts 9999999999999 --amps 1 --travel '3 in/min'", "more digits"),
        (
            "heat-input --volts 999999.999999 --amps 999999.999999 --travel '0.000000007 in/s' --limit '1 kJ/in' --u-volts 0.000000007 \
             --u-amps 0.000000003 --u-travel 0.000000001",
            "too many digits",
        ),
        ("groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 180", "less than 90"),
        (
            "groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 60 --root-face '10 mm'",
            "root face",
        ),
        ("groove --kind single-v --thickness '10 mm' --gap '2 mm'", "included"),
        ("groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 60,5", "comma"),
        ("groove --kind single-u --thickness '10 mm' --gap '2 mm' --radius '20 mm' --bevel 10", "radius"),
        ("groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 60 --pipe-od '20 mm'", "bore"),
        ("groove --kind fillet --leg '0 mm'", "above 0"),
        ("groove --kind fillet --leg 6", "no unit"),
        ("groove --kind v --thickness '10 mm'", "not a kind of groove"),
        ("groove --kind square --thickness '10 mm' --gap '2 mm' --cap-width '12 mm'", "cap-height"),
        ("deposit --density 7.85", "from one thing"),
        ("deposit --deposit '1 kg' --area '10 mm2'", "from one thing"),
        ("deposit --area '10 mm2' --density 7.85", "length of the weld is missing"),
        ("deposit --area '10 mm2' --length '1 m'", "density is missing"),
        ("deposit --deposit '1 kg' --efficiency 98", "above 0 and up to 1"),
        ("deposit --deposit '1 kg' --efficiency 0,98", "above 0 and up to 1"),
        (
            "deposit --deposit '1 kg' --efficiency 0.98 --rod '3/32 in x 36 in' --stub '36 in' --density 7.85",
            "leaves nothing",
        ),
        ("deposit --deposit '1 kg' --efficiency 0.98 --rod '3/32 in x 36 in'", "density is missing"),
        (
            "deposit --deposit '1 kg' --efficiency 0.98 --efficiency-includes-stub '2 in'",
            "length of the piece",
        ),
        ("deposit --deposit '1 kg' --efficiency 0.98 --rod '3/32 in' --density 7.85", "no length"),
        ("rods --size '3/32 in x 36 in'", "density is missing"),
        ("rods --size '3/32 x 36 in' --density 7.85", "no unit"),
        ("rods --size '3/32 in x 36 in' --density 78.5", "below 30"),
        ("rods --size '1/8 in x 14 in' --density 7.85 --form covered", "15 to 100 %"),
        ("rods --size '1/8 in x 14 in' --spec A5.99 --class X", "no density is tabled"),
        ("rods --size '1/8 in x 14 in' --class ER70S-2", "without --spec"),
        ("efficiency --efficiency 0.9 --includes-stub '2 in' --length '14 in'", "above 1"),
        ("indices --analysis C=0,05", "point, not a comma"),
        ("indices --analysis C=0.05,C=0.06", "given twice"),
        ("indices --analysis Xx=0.05", "not the symbol of an element"),
        ("indices --analysis C=tr", "not a mass percentage"),
        ("indices --analysis 'C=<0.005'", "not a mass percentage"),
        ("indices --analysis C=101", "above 100"),
        ("indices --analysis Cr=60,Ni=60", "more than 100 %"),
        ("indices --analysis C=-0.05", "below zero"),
        ("indices --analysis C", "not an element"),
    ] {
        let error = shop.json_error(&format!("calc {line}"), 2);
        assert_eq!(error["code"], "not-understood", "{line}");
        let why = error["why"].as_str().unwrap();
        assert!(why.contains(says), "calc {line}: {says:?} is not in {why:?}");
        assert!(
            error["next"].as_array().is_some_and(|next| !next.is_empty()),
            "calc {line}: what next? {error}"
        );
    }
    // The command line itself: what is missing or not an option.
    for line in
        ["calc", "calc volume", "calc groove", "calc exposure --spec A5.1", "calc indices", "calc rods"]
    {
        let _ = shop.run(line).expect_code(2);
    }
    assert!(std::fs::read_dir(shop.path()).unwrap().next().is_none(), "nothing was written");
}

#[test]
fn pages_are_narrow_and_end_with_the_caution() {
    let shop = Shop::empty();
    let lines = [
        "calc heat-input --volts 12 --amps 227 --travel '3.5 in/min' --u-volts 0.02 --u-amps 0.03 --u-travel 0.05 --limit '50 kJ/in'",
        "calc heat-input --volts 12 --amps 227 --travel '90 mm/min' --process GTAW --with-k --limit '1.5 kJ/mm'",
        "calc heat-input --peak-volts 24 --peak-amps 300 --base-volts 18 --base-amps 80 --duty 0.5 --travel '10 in/min'",
        "calc groove --kind single-v --thickness '10 mm' --gap '2 mm' --included 60 --density 7.85",
        "calc deposit --kind single-v --thickness '6.02 mm' --gap '3.2 mm' --root-face '1.6 mm' --included 75 --pipe-od '114.3 mm' \
         --joints 12 --density 7.93 --efficiency 0.98 --rod '3/32 in x 36 in' --stub '3 in'",
        "calc deposit --deposit '10 kg' --efficiency 0.744 --rod '4 mm x 350 mm' --stub '50 mm' --form covered",
        "calc rods --size '3/32 in x 36 in' --density 7.85 --count 12",
        "calc rods --size '0.045 in' --spec A5.18 --class ER70S-6",
        "calc efficiency --process SMAW",
        "calc efficiency --efficiency 0.638 --includes-stub '2 in' --length '14 in' --stub '3 in'",
        "calc exposure --spec A5.1 --class E7018",
        "calc exposure --spec A5.5 --class 'E9018-B3 H4R'",
        "calc exposure --spec A5.4 --class E308L-16",
        "calc indices --analysis C=0.02,Mn=1.8,Si=0.4,Cr=20.0,Ni=10.0,Mo=0.1,Nb=0,N=0.05,Cu=0.1",
        "calc indices --analysis P=10ppm,Sb=20ppm,Sn=15ppm,As=5ppm",
    ];
    for line in lines {
        let output = shop.ok(line);
        assert_eq!(output.stderr, "", "{line}");
        for printed in output.stdout.lines() {
            assert!(printed.chars().count() <= 60, "{line}: {printed:?}");
        }
        assert!(
            output.stdout.ends_with("rodbook informs; the procedure and the governing code\ndecide.\n"),
            "{line}"
        );
    }
    snapshot!("calc-pages", shop.session(&lines));
}

#[test]
fn what_cannot_be_a_weld_is_refused() {
    let shop = Shop::empty();
    let v = "calc groove --kind single-v --thickness 20mm --gap 2mm --included 60";
    for (line, part) in [
        (format!("{v} --cap-width 1mm --cap-height 2mm"), "cap-width"),
        (format!("{v} --cap-width 30mm --cap-height 400mm"), "cap-height"),
        ("calc groove --kind fillet --leg 10mm --convexity 20mm".to_owned(), "convexity"),
    ] {
        let refused = shop.run(&line);
        assert_eq!(refused.code, Some(2), "{line}: {}", refused.stdout);
        assert!(refused.stderr.contains(part), "{line}: {}", refused.stderr);
    }
    for process in ["GTAW pulsed", "P-GMAW", "pulsed GTAW", "GMAW-P"] {
        let refused = shop.run(&format!(
            "calc heat-input --volts 12 --amps 227 --travel '3.5 in/min' --process '{process}'"
        ));
        assert_eq!(refused.code, Some(2), "{process}: {}", refused.stdout);
    }
}
