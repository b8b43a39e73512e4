//! `calc`: heat input, weld metal, rods, exposure, composition indices and A-numbers, without a book

pub(crate) mod a_number;
mod deposit;
mod efficiency;
mod exposure;
pub(crate) mod groove;
mod heat_input;
mod indices;
mod rods;

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use clap::{Args, Subcommand};
use filler::Density;
use filler::exact::Exact;
use filler::measure::{Dimension, Measure};
use serde_json::{Number, Value};

/// What stands under every answer.
const CAUTION: &str = "rodbook informs; the procedure and the governing code decide.";

/// Arguments of `calc`.
#[derive(Debug, Args)]
pub struct CalcArgs {
    /// What to work out.
    #[command(subcommand)]
    pub what: What,
}

/// What can be worked out.
#[derive(Debug, Subcommand)]
pub enum What {
    /// Heat input or arc energy of a pass, by the convention of a code
    HeatInput(Box<heat_input::HeatInputArgs>),
    /// Area and volume of weld metal in a groove or fillet
    Groove(Box<groove::GrooveArgs>),
    /// Weld metal of a joint in grams, and the filler and rods it takes
    Deposit(Box<deposit::DepositArgs>),
    /// Mass of a bare rod or wire, and how many make a pound or a kilogram
    Rods(rods::RodsArgs),
    /// Deposition efficiency with and without stubs, and typical values
    Efficiency(efficiency::EfficiencyArgs),
    /// Hours a low-hydrogen electrode may be out of the oven
    Exposure(exposure::ExposureArgs),
    /// X-bar, J, Mn/Si, Mn + Ni, and the equivalents of an analysis
    Indices(indices::IndicesArgs),
    /// A-numbers that the analysis of a deposit fits
    ANumber(a_number::ANumberArgs),
}

/// Works it out.
pub fn run(_context: &Context, args: &CalcArgs) -> Result<Answer, Failure> {
    match &args.what {
        What::HeatInput(args) => heat_input::run(args),
        What::Groove(args) => groove::run(args),
        What::Deposit(args) => deposit::run(args),
        What::Rods(args) => rods::run(args),
        What::Efficiency(args) => efficiency::run(args),
        What::Exposure(args) => exposure::run(args),
        What::Indices(args) => indices::run(args),
        What::ANumber(args) => a_number::run(args),
    }
}

/// An option whose value was not understood: what is said of it is why.
fn wrong(option: &str, why: impl std::fmt::Display, next: &str) -> Failure {
    let mut failure = Failure::not_understood(format!("{option} was not understood.")).next(next);
    failure.why.push(why.to_string());
    failure
}

/// Something that cannot be worked out from what was given.
fn not_worked_out(what: &str, why: impl std::fmt::Display, next: &str) -> Failure {
    let mut failure = Failure::not_understood(format!("{what} was not worked out.")).next(next);
    failure.why.push(why.to_string());
    failure
}

/// Numbers that do not fit the exact arithmetic.
fn too_large(what: &str) -> Failure {
    not_worked_out(
        what,
        "the numbers have too many digits to be worked out exactly.",
        "write shorter numbers",
    )
}

/// The measure of an option, above zero.
fn measure(option: &str, text: &str, dimension: Dimension) -> Result<Measure, Failure> {
    Measure::above_zero(text, dimension)
        .map_err(|e| wrong(option, e, &format!("write a number with its unit behind {option}")))
}

/// The measure of an option that may be left out.
fn measure_if(option: &str, text: Option<&String>, dimension: Dimension) -> Result<Option<Measure>, Failure> {
    text.map(|text| measure(option, text, dimension)).transpose()
}

/// Decimal text as a JSON number; null for none.
fn number(decimal: Option<String>) -> Value {
    decimal.and_then(|text| text.parse::<f64>().ok()).and_then(Number::from_f64).map_or(
        Value::Null,
        |number| {
            // Whole numbers without a point, as people write them.
            number
                .as_f64()
                .map(|n| format!("{n}"))
                .and_then(|text| text.parse::<i64>().ok())
                .map_or(Value::Number(number), Value::from)
        },
    )
}

/// An exact value as a JSON number of at most so many places; null for none.
fn exact_number(value: Option<Exact>, places: u32) -> Value {
    number(value.and_then(|value| value.decimal(places)))
}

/// Decimal text for people; a dash for none.
fn shown(value: Option<Exact>, places: u32) -> String {
    value.and_then(|value| value.decimal(places)).unwrap_or_else(|| "-".to_owned())
}

/// A page with its heading.
fn page(heading: &str, right: &str) -> Page {
    let mut page = Page::narrow();
    if right.is_empty() { page.line(0, heading) } else { page.split(heading, right) }.rule();
    page
}

/// The page with the caution under it.
fn finish(mut page: Page) -> String {
    page.rule().line(0, CAUTION);
    page.finish()
}

/// A density, with where it comes from.
struct Dense {
    g_per_cm3: Exact,
    density: Density,
    /// For people.
    shown: String,
}

/// The density of `--density`, else of `--spec` and `--class`; None when neither is given.
fn density(
    density: Option<&String>,
    spec: Option<&String>,
    class: Option<&String>,
) -> Result<Option<Dense>, Failure> {
    if let Some(text) = density {
        let measure = measure("--density", text, Dimension::Density)?;
        let g_per_cm3 = measure.base();
        let rounded = g_per_cm3.decimal(3).ok_or_else(|| too_large("the density"))?;
        let density = Density::given(&rounded).map_err(|e| {
            wrong("--density", e, "write g/cm3, such as 7.85, or lb/in3, such as 0.283 lb/in3")
        })?;
        return Ok(Some(Dense { g_per_cm3, density, shown: format!("{measure}, as given") }));
    }
    let (Some(spec), Some(class)) = (spec, class) else {
        return match (spec, class) {
            (None, None) => Ok(None),
            (Some(_), _) => Err(wrong("--spec", "it is given without --class.", "give both, or --density")),
            (None, Some(_)) => {
                Err(wrong("--class", "it is given without --spec.", "give both, or --density"))
            }
        };
    };
    let density = filler::density_for(spec, class).ok_or_else(|| {
        not_worked_out(
            "the mass",
            format!("no density is tabled for {} {}.", spec.trim(), class.trim()),
            "give the density with --density, in g/cm3",
        )
    })?;
    let g_per_cm3 = Exact::parse(&density.g_per_cm3).map_err(|_| too_large("the density"))?;
    let shown = format!("{} g/cm3, {} ({})", density.g_per_cm3, density.source, density.confidence);
    Ok(Some(Dense { g_per_cm3, density, shown }))
}
