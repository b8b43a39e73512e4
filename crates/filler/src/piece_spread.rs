//! How uncertain the mass of one bare rod is, when it is computed from size and density: all rods of a lot share the error.

#![allow(clippy::float_arithmetic, reason = "an estimate; it is rounded once, to whole micrograms")]

use crate::MAX_INTEGER;
use crate::density::Density;
use crate::size::{Length, Size};
use crate::uncertainty::{Input, Sharing, propagate, rectangular};
use std::f64::consts::FRAC_PI_4;

/// How far the measures of a rod may be off, either way; anywhere within equally likely.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RodHalfWidths {
    /// Diameter, in micrometres.
    pub diameter_um: u32,
    /// Length, in micrometres.
    pub length_um: u32,
    /// Density, in mg/cm³.
    pub density_mg_per_cm3: u32,
}

/// Starting values, from memory, to be set by the shop: 0.05 mm, 6.35 mm, 0.05 g/cm³. A diameter that was gauged is known to
/// 0.01 mm.
impl Default for RodHalfWidths {
    fn default() -> Self {
        RodHalfWidths { diameter_um: 50, length_um: 6350, density_mg_per_cm3: 50 }
    }
}

/// What one standard uncertainty of an input does to the mass of one rod.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RodContribution {
    /// `diameter`, `length` or `density`.
    pub input: &'static str,
    /// Micrograms; positive.
    pub ug: i64,
}

/// What each input adds to the uncertainty of a bare rod's mass: the same error in every rod of the lot.
///
/// None without a length, or when a half-width is as large as its measure: the mass is not known then.
#[must_use]
pub fn rod_spread(
    size: &Size,
    density: &Density,
    half_widths: &RodHalfWidths,
) -> Option<Vec<RodContribution>> {
    let measures = [
        ("diameter", to_mm(size.diameter())?, f64::from(half_widths.diameter_um) / 1000.0),
        ("length", to_mm(size.length()?)?, f64::from(half_widths.length_um) / 1000.0),
        (
            "density",
            f64::from(i32::try_from(density.mg_per_cm3).ok()?) / 1000.0,
            f64::from(half_widths.density_mg_per_cm3) / 1000.0,
        ),
    ];
    if measures.iter().any(|(_, value, half_width)| half_width >= value) {
        return None;
    }
    let inputs = measures.map(|(name, value, half_width)| Input {
        name: name.to_owned(),
        value,
        u: rectangular(half_width),
        sharing: Sharing::Shared,
    });
    let mass = propagate(&inputs, |values| match values {
        // mm³ · g/cm³ is mg.
        [diameter, length, density] => Ok(FRAC_PI_4 * diameter * diameter * length * density * 1000.0),
        _ => Err(()),
    })
    .ok()?;
    measures
        .iter()
        .filter_map(|(name, _, _)| {
            let contribution = mass.contributions.iter().find(|contribution| contribution.name == *name)?;
            Some(whole(contribution.amount).map(|ug| RodContribution { input: name, ug }))
        })
        .collect()
}

/// In millimetres.
fn to_mm(length: Length) -> Option<f64> {
    // Both are below 2^53 for any measure kept, so that they are floating-point numbers exactly.
    length.millimetres().map(|(num, den)| num as f64 / den as f64)
}

/// Rounded half to even.
fn whole(ug: f64) -> Option<i64> {
    (ug.abs() <= MAX_INTEGER as f64).then(|| libm::rint(ug) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(size: &str, half_widths: &RodHalfWidths) -> Option<Vec<RodContribution>> {
        rod_spread(&Size::parse(size).unwrap(), &Density::given("7.93").unwrap(), half_widths)
    }

    /// Arithmetic cases MB-02 and RM-07, evaluated apart.
    #[test]
    fn the_rod_of_the_worked_example() {
        let parts = spread("2.381 mm x 914.4 mm", &RodHalfWidths::default()).unwrap();
        let g: Vec<f64> = parts.iter().map(|part| part.ug as f64 / 1e6).collect();
        let u = g.iter().map(|g| g * g).sum::<f64>().sqrt();
        assert!((u - 0.802).abs() <= 0.001, "{u}");
        assert!((g[0] / 32.29 - 0.0242).abs() <= 0.0001, "{}", g[0]);
        assert_eq!(
            parts.iter().map(|part| part.input).collect::<Vec<_>>(),
            ["diameter", "length", "density"]
        );
    }

    #[test]
    fn what_is_not_known_is_not_guessed() {
        assert_eq!(spread("2.4 mm", &RodHalfWidths::default()), None);
        assert_eq!(spread("0.05 mm x 100 mm", &RodHalfWidths::default()), None);
        let exact = RodHalfWidths { diameter_um: 0, length_um: 0, density_mg_per_cm3: 0 };
        assert_eq!(spread("2.4 mm x 1000 mm", &exact), Some(Vec::new()));
    }
}
