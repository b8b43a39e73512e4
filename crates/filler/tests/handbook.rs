//! Piece mass against figures from outside: worked examples, handbook tables, an independent computation.

use filler::{Density, Size, piece_mass_mg};

/// Milligrams in a pound times 100: 1 lb = 0.453 592 37 kg exactly (NIST SP 811, appendix B.8).
const HUNDREDTH_MG_PER_LB: i64 = 45_359_237;

fn mass(size: &str, density: &str) -> Option<i64> {
    piece_mass_mg(&Size::parse(size).ok()?, &Density::given(density).ok()?)
}

/// Five core wires of 4 mm, in grams: 188 ± 0.8 for 380 mm, and 24.7 ± 0.05 for stubs of 50 mm.
/// Source: a filler maker's data sheet, worked example for ISO 2401 (deposition efficiency of covered electrodes).
#[test]
fn core_wires_of_a_published_worked_example() {
    let wires = mass("4 mm x 380 mm", "7.85").unwrap() * 5;
    assert!((187_200..=188_800).contains(&wires), "{wires} mg");
    let stubs = mass("4 mm x 50 mm", "7.85").unwrap() * 5;
    assert!((24_650..=24_750).contains(&stubs), "{stubs} mg");
}

/// Inches of solid steel wire per pound, within the table's own rounding (about 1 %).
/// Source: the widely reprinted handbook table for steel at 0.283 lb/in3 (7.833 g/cm3), from memory.
#[test]
fn wire_length_per_pound_of_the_handbook_table() {
    for (diameter, inches, tolerance) in
        [("0.035 in", 3650, 40), ("0.045 in", 2220, 25), ("3/32 in", 510, 6), ("1/8 in", 288, 3)]
    {
        let hundred_inches = mass(&format!("{diameter} x 100 in"), "7.833").unwrap();
        let found = HUNDREDTH_MG_PER_LB / hundred_inches;
        assert!((inches - tolerance..=inches + tolerance).contains(&found), "{diameter}: {found} in/lb");
    }
}

/// Bare 36 in rods per pound, in tenths, from the nominal size and the handbook's pounds per cubic inch:
/// steel 0.283, austenitic stainless 0.290, nickel alloy 625 0.305, aluminium 4043 0.097, titanium 0.163.
/// The counts were worked out apart from this program, from the formula; the densities are a filler maker's data book's.
#[test]
fn rods_per_pound() {
    // lb/in3 to g/cm3, rounded to 3 places: times 453.59237 / 16.387064.
    let (steel, stainless, alloy_625, aluminium, titanium) = ("7.833", "8.027", "8.442", "2.685", "4.512");
    for (density, diameter, tenths) in [
        (steel, "1/16 in", 320),
        (steel, "3/32 in", 142),
        (steel, "5/32 in", 51),
        (steel, "3/16 in", 36),
        (stainless, "3/32 in", 139),
        (stainless, "1/8 in", 78),
        (stainless, "3/16 in", 35),
        (alloy_625, "1/16 in", 297),
        (alloy_625, "1/8 in", 74),
        (alloy_625, "5/32 in", 47),
        (aluminium, "1/16 in", 933),
        (aluminium, "3/32 in", 415),
        (aluminium, "5/32 in", 149),
        (aluminium, "3/16 in", 104),
        (titanium, "3/32 in", 247),
        (titanium, "1/8 in", 139),
        (titanium, "3/16 in", 62),
    ] {
        let rod = mass(&format!("{diameter} x 36 in"), density).unwrap();
        // Hundredths of a rod per pound, so that a tenth has room for its rounding.
        let hundredths = HUNDREDTH_MG_PER_LB / rod;
        assert!(
            (tenths * 10 - 5..=tenths * 10 + 5).contains(&hundredths),
            "{density} {diameter}: {hundredths}"
        );
    }
}

/// Every common size against the formula in binary floating point, to within 1 mg.
#[test]
#[allow(clippy::float_arithmetic, reason = "an independent computation to compare with")]
fn floating_point_agrees_within_a_milligram() {
    let mut compared = 0;
    for (diameter, mm) in [
        ("0.035 in", 0.889),
        ("0.045 in", 1.143),
        ("1/16 in", 1.5875),
        ("3/32 in", 2.38125),
        ("1/8 in", 3.175),
        ("5/32 in", 3.96875),
        ("3/16 in", 4.7625),
        ("1/4 in", 6.35),
        ("1.6 mm", 1.6),
        ("2.4 mm", 2.4),
        ("3.2 mm", 3.2),
    ] {
        for (length, length_mm) in
            [("36 in", 914.4), ("18 in", 457.2), ("1000 mm", 1000.0), ("1-1/2 in", 38.1)]
        {
            for density in ["2.65", "4.43", "7.85", "8.94"] {
                let exact = mass(&format!("{diameter} x {length}"), density).unwrap();
                let grams_per_cm3: f64 = density.parse().unwrap();
                let float = std::f64::consts::FRAC_PI_4 * mm * mm * length_mm * grams_per_cm3;
                let exact = f64::from(i32::try_from(exact).unwrap());
                assert!((exact - float).abs() <= 0.5 + 1e-6, "{diameter} x {length}: {exact} {float}");
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 176);
}
