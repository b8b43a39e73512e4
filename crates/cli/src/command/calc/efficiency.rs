//! `calc efficiency`

use super::{exact_number, finish, measure, measure_if, not_worked_out, page, shown};
use crate::answer::{Answer, Table};
use crate::failure::Failure;
use clap::Args;
use filler::consumption::{ConsumptionError, Efficiency, StubBasis, TypicalEfficiency, typical_efficiencies};
use filler::exact::Exact;
use filler::measure::Dimension;
use serde_json::{Value, json};

const WHAT: &str = "the efficiency";

/// Arguments of `calc efficiency`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc efficiency\n  rodbook calc efficiency --process SMAW\n  rodbook calc efficiency --efficiency 0.638 --includes-stub \"2 in\" --length \"14 in\" --stub \"3 in\"\n\nOne convention leaves stubs out, the other includes a stub of a stated length. Typical values are not those of\nyour product: weigh."
)]
pub struct EfficiencyArgs {
    /// Only typical values of this process
    #[arg(long, value_name = "PROCESS", conflicts_with = "efficiency")]
    pub process: Option<String>,
    /// A deposition efficiency, say 0.638
    #[arg(long, value_name = "SHARE", requires = "length")]
    pub efficiency: Option<String>,
    /// The stub that it includes; without this it leaves stubs out
    #[arg(long, value_name = "LENGTH", requires = "efficiency")]
    pub includes_stub: Option<String>,
    /// Length of a whole piece
    #[arg(long, value_name = "LENGTH", requires = "efficiency")]
    pub length: Option<String>,
    /// The stub to tell the efficiency with
    #[arg(long, value_name = "LENGTH", requires = "efficiency")]
    pub stub: Option<String>,
}

/// Works it out.
pub(super) fn run(args: &EfficiencyArgs) -> Result<Answer, Failure> {
    match (&args.efficiency, &args.length) {
        (Some(efficiency), Some(length)) => converted(args, efficiency, length),
        (Some(_), None) => Err(not_worked_out(WHAT, "the length of a piece is missing.", "give --length")),
        (None, _) => typical(args.process.as_deref()),
    }
}

/// An efficiency, as typed, with its convention.
pub(super) fn read(text: &str, includes_stub: Option<&String>) -> Result<Efficiency, Failure> {
    let stubs = match measure_if("the stub that the efficiency includes", includes_stub, Dimension::Length)? {
        None => StubBasis::Excluded,
        Some(stub) => StubBasis::Included(stub),
    };
    Efficiency::parse(text, stubs).map_err(failure)
}

/// Why the filler cannot be told.
pub(super) fn failure(error: ConsumptionError) -> Failure {
    let next = match &error {
        ConsumptionError::NotAnEfficiency(_) => "write 0.98 for 98 %",
        ConsumptionError::StubTooLong { .. } => "check the stub, the length and their units",
        ConsumptionError::LengthMissing(_) => "give the length of a whole piece",
        ConsumptionError::AboveOne | ConsumptionError::TooLarge => "check the numbers",
    };
    not_worked_out(WHAT, error, next)
}

fn converted(args: &EfficiencyArgs, text: &str, length: &str) -> Result<Answer, Failure> {
    let length = measure("--length", length, Dimension::Length)?;
    let stub = measure_if("--stub", args.stub.as_ref(), Dimension::Length)?;
    let efficiency = read(text, args.includes_stub.as_ref())?;
    let excluding = efficiency.excluding_stubs(Some(&length)).map_err(failure)?;
    let including =
        stub.as_ref().map(|stub| efficiency.including(&length, stub).map_err(failure)).transpose()?;
    let basis = match efficiency.stubs() {
        StubBasis::Excluded => "stubs left out".to_owned(),
        StubBasis::Included(stub) => format!("a stub of {stub} included"),
    };
    let percent = |share: Exact| share.times(Exact::whole(100));
    let mut page = page("DEPOSITION EFFICIENCY", &length.to_string());
    page.line(0, format!("given {} %, {basis}", shown(percent(efficiency.value()), 1)));
    page.line(0, format!("{} % with stubs left out", shown(percent(excluding), 1)));
    if let (Some(stub), Some(including)) = (&stub, including) {
        page.line(0, format!("{} % with a stub of {stub}", shown(percent(including), 1)));
    }
    page.hanging(2, 4, "with a stub of s on a length of L: x (L - s) / L");
    page.hanging(
        2,
        4,
        "source: the conventions of ISO 2401 and of estimating tables; a distributor's published row agrees",
    );
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-efficiency/1",
            "given": exact_number(Some(efficiency.value()), 6),
            "given_stubs": basis,
            "excluding_stubs": exact_number(Some(excluding), 6),
            "efficiency": exact_number(including.or(Some(excluding)), 6),
            "stub": stub.map(|s| s.to_string()),
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}

fn typical(process: Option<&str>) -> Result<Answer, Failure> {
    let rows: Vec<&TypicalEfficiency> = typical_efficiencies()
        .iter()
        .filter(|row| process.is_none_or(|p| row.process.eq_ignore_ascii_case(p.trim())))
        .collect();
    let mut table = Table::new(&[
        "process",
        "variant",
        "min_pct",
        "max_pct",
        "average_pct",
        "stubs",
        "source",
        "confidence",
    ]);
    let mut page = page("TYPICAL DEPOSITION EFFICIENCIES", process.unwrap_or("").trim());
    if rows.is_empty() {
        page.line(0, "No value is tabled for this process.");
    }
    for row in &rows {
        table.rows.push(vec![
            row.process.clone(),
            row.variant.clone(),
            row.min_pct.clone(),
            row.max_pct.clone(),
            row.average_pct.clone(),
            row.stubs.clone(),
            row.source.clone(),
            row.confidence.clone(),
        ]);
        let value = match (row.average_pct.as_str(), row.min_pct == row.max_pct) {
            ("", true) => format!("{} %", row.min_pct),
            ("", false) => format!("{} to {} %", row.min_pct, row.max_pct),
            (average, _) => format!("{average} % average"),
        };
        let stubs = if row.stubs.is_empty() { String::new() } else { format!(", stubs {}", row.stubs) };
        page.split(format!("{} {}", row.process, row.variant).trim(), &format!("{value}{stubs}"));
        page.hanging(2, 4, format!("{} ({})", row.source, row.confidence));
    }
    page.hanging(0, 2, "Typical values are not those of your product: weigh.");
    let json_rows: Vec<Value> = rows
        .iter()
        .map(|row| {
            let percent = |text: &str| exact_number(Exact::parse(text).ok(), 3);
            json!({
                "process": row.process,
                "variant": row.variant,
                "min_pct": percent(&row.min_pct),
                "max_pct": percent(&row.max_pct),
                "average_pct": percent(&row.average_pct),
                "stubs": row.stubs,
                "source": row.source,
                "confidence": row.confidence,
            })
        })
        .collect();
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-efficiency/1",
            "typical": json_rows,
            "caution": super::CAUTION,
        }),
        table: Some(table),
        ..Answer::default()
    })
}
