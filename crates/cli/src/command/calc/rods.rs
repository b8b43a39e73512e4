//! `calc rods`

use super::{
    density, exact_number, finish, measure_if, not_worked_out, number, page, shown, too_large, wrong,
};
use crate::answer::Answer;
use crate::failure::Failure;
use clap::Args;
use filler::consumption::{mass_uncertainty_squared, per_kilogram, per_pound};
use filler::exact::Exact;
use filler::measure::Dimension;
use filler::{Length, LengthUnit, ProductForm, Size, piece_mass_mg};
use serde_json::json;

/// Length of wire that is weighed for a mass per length, in millimetres: the longest size there is, to round least.
const WIRE_MM: u64 = 10_000;

/// Arguments of `calc rods`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc rods --size \"3/32 in x 36 in\" --density 7.85\n  rodbook calc rods --size \"2.4 mm x 1000 mm\" --spec A5.9 --class ER308L --count 25\n  rodbook calc rods --size \"0.035 in\" --density \"0.283 lb/in3\"\n\nFrom the nominal size. A covered electrode is not worked out from its core wire: weigh ten, and give --piece-g."
)]
pub struct RodsArgs {
    /// Diameter and length, say "3/32 in x 36 in"; the diameter alone for wire
    #[arg(long, value_name = "SIZE")]
    pub size: String,
    /// Density in g/cm3, or with lb/in3 behind it
    #[arg(long, value_name = "DENSITY", allow_hyphen_values = true)]
    pub density: Option<String>,
    /// Specification, to look the density up, with --class
    #[arg(long, value_name = "SPEC")]
    pub spec: Option<String>,
    /// Classification as printed, to look the density up, with --spec
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: Option<String>,
    /// Product form [default: cut-length with a length, else spool]
    #[arg(long, value_name = "FORM")]
    pub form: Option<String>,
    /// Mass of one piece in grams, as weighed or declared, in place of a density
    #[arg(long, value_name = "GRAMS")]
    pub piece_g: Option<String>,
    /// How many pieces
    #[arg(long, value_name = "N")]
    pub count: Option<u32>,
    /// How far the diameter can be off either way, say "0.05 mm"
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub diameter_tolerance: Option<String>,
}

/// Works it out.
pub(super) fn run(args: &RodsArgs) -> Result<Answer, Failure> {
    let size = Size::parse(&args.size)
        .map_err(|e| wrong("--size", e, "write the diameter and the length, such as \"3/32 in x 36 in\""))?;
    let tolerance = measure_if("--diameter-tolerance", args.diameter_tolerance.as_ref(), Dimension::Length)?;
    let form = form(args.form.as_deref())?;
    let dense = density(args.density.as_ref(), args.spec.as_ref(), args.classification.as_ref())?;
    let declared = piece_g(args.piece_g.as_deref())?;
    let (piece_mg, wire_mg, from) = match (declared, &dense) {
        (Some(_), Some(_)) => {
            return Err(not_worked_out(
                "the mass",
                "a piece has one mass.",
                "give --piece-g or a density, not both",
            ));
        }
        (Some(mg), None) => (Some(mg), None, "mass of one piece as declared".to_owned()),
        (None, None) => {
            return Err(not_worked_out(
                "the mass",
                "the density is missing.",
                "give --density in g/cm3, or --spec and --class to look it up",
            ));
        }
        (None, Some(dense)) => {
            refuse_covering(form)?;
            let wire = Length::new(WIRE_MM, 1, LengthUnit::Millimetre).ok();
            let wire_mg = wire
                .and_then(|wire| piece_mass_mg(&Size::new(size.diameter(), Some(wire)), &dense.density))
                .ok_or_else(|| too_large("the mass"))?;
            let piece_mg = match size.length() {
                None => None,
                Some(_) => Some(piece_mass_mg(&size, &dense.density).ok_or_else(|| too_large("the mass"))?),
            };
            (piece_mg, Some(wire_mg), format!("density {}", dense.shown))
        }
    };
    if piece_mg == Some(0) || wire_mg == Some(0) {
        return Err(not_worked_out(
            "the mass",
            "it is below half a milligram.",
            "check the size and its units",
        ));
    }
    let grams = piece_mg.and_then(|mg| Exact::fraction(mg, 1000));
    let (per_lb, per_kg) = (piece_mg.and_then(per_pound), piece_mg.and_then(per_kilogram));
    let total = args.count.and_then(|count| grams?.times(Exact::whole(count.into())));
    // Wire of 10 m: inches in a pound, metres in a kilogram.
    let in_per_lb = wire_mg
        .and_then(per_pound)
        .and_then(|n| n.times(Exact::whole(i64::try_from(WIRE_MM).ok()?))?.over(Exact::fraction(127, 5)?));
    let m_per_kg = wire_mg
        .and_then(per_kilogram)
        .and_then(|n| n.times(Exact::fraction(i64::try_from(WIRE_MM).ok()?, 1000)?));
    let u_rel = tolerance
        .map(|t| mass_uncertainty_squared(&size, &t).ok_or_else(|| too_large("the uncertainty")))
        .transpose()?
        .map(|squared| format!("{:.6}", squared.root_f64()));

    let mut page = page("RODS AND WIRE", &size.to_string());
    if grams.is_some() {
        page.line(0, format!("{} g each", shown(grams, 2)));
        page.line(0, format!("{} to the pound, {} to the kilogram", shown(per_lb, 1), shown(per_kg, 1)));
    }
    if let (Some(count), Some(_)) = (args.count, total) {
        page.line(0, format!("{count} weigh {} g", shown(total, 1)));
    }
    if wire_mg.is_some() {
        page.line(
            0,
            format!(
                "as wire {} in to the pound, {} m to the kilogram",
                shown(in_per_lb, 0),
                shown(m_per_kg, 1)
            ),
        );
    }
    page.hanging(2, 4, from.clone());
    if wire_mg.is_some() {
        page.hanging(2, 4, "pi/4 x diameter^2 x length x density, from the nominal size");
    }
    if let Some(u) = &u_rel {
        page.hanging(
            2,
            4,
            format!(
                "relative standard uncertainty of the mass {u}, from the diameter, the same for every rod of a lot (GUM 4.3.7)"
            ),
        );
    }
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-rods/1",
            "size": size.to_string(),
            "rod_g": exact_number(grams, 3),
            "rods_per_lb": exact_number(per_lb, 4),
            "rods_per_kg": exact_number(per_kg, 4),
            "count": args.count,
            "total_g": exact_number(total, 3),
            "in_per_lb": exact_number(in_per_lb, 3),
            "m_per_kg": exact_number(m_per_kg, 4),
            "u_rel_from_diameter": number(u_rel),
            "density_g_per_cm3": exact_number(dense.as_ref().map(|d| d.g_per_cm3), 6),
            "mass_from": from,
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}

/// The form of `--form`.
pub(super) fn form(text: Option<&str>) -> Result<Option<ProductForm>, Failure> {
    text.map(|text| ProductForm::parse(text).map_err(|e| wrong("--form", e, "write one of these words")))
        .transpose()
}

/// Whole milligrams of `--piece-g`, above zero.
pub(super) fn piece_g(text: Option<&str>) -> Result<Option<i64>, Failure> {
    let next = "write grams, such as 33.6";
    let read =
        text.map(|text| filler::grams_to_mg(text).map_err(|e| wrong("--piece-g", e, next))).transpose()?;
    match read {
        Some(0) => Err(wrong("--piece-g", "a piece has a mass.", next)),
        read => Ok(read),
    }
}

/// Refuses what has no mass by size and density alone.
pub(super) fn refuse_covering(form: Option<ProductForm>) -> Result<(), Failure> {
    let refuse = |why: &str| Err(not_worked_out("the mass of a piece", why, "weigh ten, and give --piece-g"));
    match form {
        None | Some(ProductForm::CutLength | ProductForm::Spool) => Ok(()),
        Some(ProductForm::Covered) => refuse(
            "the covering of an electrode adds 15 to 100 % of the core wire's mass, by type (common practice, no source).",
        ),
        Some(ProductForm::Flux | ProductForm::Insert | ProductForm::Strip) => {
            refuse("it is no round rod or wire.")
        }
    }
}
