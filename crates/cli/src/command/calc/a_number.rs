//! `calc a-number`

use super::{finish, page, wrong};
use crate::answer::{Answer, Table};
use crate::failure::Failure;
use clap::Args;
use filler::Analysis;
use filler::a_number::{ANumber, ANumbers, TABLE_NAME, a_numbers};
use serde_json::{Map, Value, json};

/// Said of every answer that rests on a limit that no document was read for.
const UNVERIFIED: &str = "The limits are from an unverified table.";

/// Which analysis counts.
const OF_THE_DEPOSIT: &str =
    "An A-number is that of the deposit: the analysis of a wire gives it only where the deposit is the same.";

/// Arguments of `calc a-number`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook calc a-number --analysis C=0.08,Cr=0.03,Mo=0.01,Ni=0.02,Mn=1.30,Si=0.60\n\nAn element that is not given makes the A-numbers that it would decide not computable; it is never taken as zero."
)]
pub struct ANumberArgs {
    /// Analysis of the deposit as printed: C=0.05,Mn=1.15,Mo=<0.01
    #[arg(long, value_name = "ELEMENT=VALUE,...")]
    pub analysis: String,
}

/// Works them out.
pub(super) fn run(args: &ANumberArgs) -> Result<Answer, Failure> {
    let analysis = Analysis::parse(&args.analysis).map_err(|e| {
        wrong("--analysis", format!("{e}."), "write each element once, as printed: C=0.05,Mn=1.15,Mo=<0.01")
    })?;
    let found = a_numbers(&analysis);
    let mut page = page("A-NUMBER BY ANALYSIS", &said(&found));
    for number in &found.fits {
        page.hanging(2, 4, format!("A-number {}: {}", number.number, number.deposit));
    }
    for (number, missing) in &found.not_computable {
        page.hanging(2, 4, format!("A-number {}: not computable without {}", number.number, listed(missing)));
    }
    if found.fits.is_empty() && found.not_computable.is_empty() {
        page.hanging(2, 4, "the analysis is within the limits of none");
    }
    page.gap().hanging(0, 2, format!("By {TABLE_NAME}."));
    if found.unverified {
        page.hanging(0, 2, UNVERIFIED);
    }
    page.hanging(0, 2, OF_THE_DEPOSIT);
    let mut table = Table::new(&["a_number", "deposit", "fits", "missing"]);
    for number in &found.fits {
        table.rows.push(row(number, "yes", String::new()));
    }
    for (number, missing) in &found.not_computable {
        table.rows.push(row(number, "not computable", listed(missing)));
    }
    let mut json = Map::new();
    json.insert("schema".into(), json!("rodbook-calc-a-number/1"));
    json.extend(fields(&found));
    json.insert("notes".into(), json!([OF_THE_DEPOSIT]));
    json.insert("caution".into(), json!(super::CAUTION));
    Ok(Answer { text: finish(page), json: Value::Object(json), table: Some(table), ..Answer::default() })
}

fn row(number: &ANumber, fits: &str, missing: String) -> Vec<String> {
    vec![number.number.to_string(), number.deposit.clone(), fits.to_owned(), missing]
}

/// `8`, `8 and 9`, `none`: what stands behind "A-number by the analysis".
pub(crate) fn said(found: &ANumbers) -> String {
    let fits: Vec<String> = found.fits.iter().map(|n| n.number.to_string()).collect();
    match (fits.is_empty(), found.not_computable.is_empty()) {
        (true, true) => "none".into(),
        (true, false) => "not computable".into(),
        (false, true) => fits.join(" and "),
        (false, false) => format!("{}; others not computable", fits.join(" and ")),
    }
}

/// The same for programs.
pub(crate) fn fields(found: &ANumbers) -> Map<String, Value> {
    let fits: Vec<Value> =
        found.fits.iter().map(|n| json!({ "a_number": n.number, "deposit": n.deposit })).collect();
    let not_computable: Vec<Value> = found
        .not_computable
        .iter()
        .map(|(n, missing)| {
            let missing: Vec<&str> = missing.iter().map(|e| e.symbol()).collect();
            json!({ "a_number": n.number, "deposit": n.deposit, "missing": missing })
        })
        .collect();
    [
        ("fits", json!(fits)),
        ("not_computable", json!(not_computable)),
        ("table", json!(TABLE_NAME)),
        ("unverified", json!(found.unverified)),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_owned(), value))
    .collect()
}

fn listed(elements: &[filler::Element]) -> String {
    elements.iter().map(|e| e.symbol()).collect::<Vec<_>>().join(", ")
}
