//! `calc indices`

use super::{finish, not_worked_out, number, page, too_large, wrong};
use crate::answer::{Answer, Table};
use crate::failure::Failure;
use clap::Args;
use filler::exact::Exact;
use filler::indices::{Computed, Index, inside_wrc_axes};
use filler::{Element, Percent};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

const WHAT: &str = "the indices";

/// What is said of ferrite.
const NO_FERRITE_NUMBER: &str =
    "No ferrite number from an equation: record the measured one (AWS A4.2, ISO 8249).";

/// Arguments of `calc indices`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc indices --analysis C=0.02,Mn=1.8,Si=0.4,Cr=20.0,Ni=10.0,Mo=0.1,Nb=0,N=0.05,Cu=0.1\n  rodbook calc indices --analysis P=10ppm,Sb=20ppm,Sn=15ppm,As=5ppm\n\nAn element that is not given makes an index not computable; it is never taken as zero."
)]
pub struct IndicesArgs {
    /// Elements in mass percent, or with ppm behind the number: C=0.05,Mn=1.15,P=80ppm
    #[arg(long, value_name = "ANALYSIS")]
    pub analysis: String,
}

/// Works them out.
pub(super) fn run(args: &IndicesArgs) -> Result<Answer, Failure> {
    let analysis = read(&args.analysis)?;
    let mut json = Map::new();
    json.insert("schema".into(), json!("rodbook-calc-indices/1"));
    let mut table = Table::new(&["index", "value", "missing", "formula", "source"]);
    let mut rows = Vec::new();
    let mut page = page("INDICES OF AN ANALYSIS", "");
    let mut wrc = Vec::new();
    for index in Index::ALL {
        let computed = index.of(&analysis).ok_or_else(|| too_large(WHAT))?;
        let value = computed.decimal();
        let (missing, instead) = match &computed {
            Computed::Value(value) => {
                if matches!(index, Index::WrcChromium | Index::WrcNickel) {
                    wrc.push(*value);
                }
                (Vec::new(), String::new())
            }
            Computed::Missing(elements) => {
                let missing: Vec<&str> = elements.iter().map(|e| e.symbol()).collect();
                let text = format!("not computable without {}", missing.join(", "));
                (missing, text)
            }
            Computed::DividesByZero(element) => (Vec::new(), format!("not computable: {element} is 0")),
        };
        page.split(index.name(), value.as_deref().unwrap_or(&instead));
        page.hanging(2, 4, format!("{}; {}", index.formula(), index.source()));
        json.insert(index.word().into(), number(value.clone()));
        table.rows.push(vec![
            index.word().to_owned(),
            value.clone().unwrap_or_default(),
            missing.join(" "),
            index.formula().to_owned(),
            index.source().to_owned(),
        ]);
        rows.push(json!({
            "index": index.word(),
            "value": number(value),
            "missing": missing,
            "formula": index.formula(),
            "source": index.source(),
        }));
    }
    let inside = match wrc.as_slice() {
        [chromium, nickel] => Some(inside_wrc_axes(*chromium, *nickel)),
        _ => None,
    };
    match inside {
        None => {}
        Some(true) => {
            page.hanging(0, 2, "Inside the drawn axes of the WRC-1992 diagram (about 17 to 31, 9 to 18).");
        }
        Some(false) => {
            page.hanging(
                0,
                2,
                "Outside the drawn axes of the WRC-1992 diagram (about 17 to 31, 9 to 18): it says nothing here.",
            );
        }
    }
    page.hanging(0, 2, NO_FERRITE_NUMBER);
    page.hanging(0, 2, "No limit is built in: limits belong to the job's papers.");
    json.insert("inside_wrc_axes".into(), json!(inside));
    json.insert("indices".into(), Value::Array(rows));
    json.insert("note".into(), json!(NO_FERRITE_NUMBER));
    json.insert("caution".into(), json!(super::CAUTION));
    Ok(Answer { text: finish(page), json: Value::Object(json), table: Some(table), ..Answer::default() })
}

/// Reads `C=0.05,Mn=1.15,P=80ppm`.
fn read(text: &str) -> Result<BTreeMap<Element, Percent>, Failure> {
    let next = "write it such as C=0.05,Mn=1.15,P=80ppm";
    let mut analysis = BTreeMap::new();
    for part in text.split(',').map(str::trim) {
        let Some((symbol, value)) = part.split_once('=') else {
            let why = if part.chars().all(|c| c.is_ascii_digit()) && !part.is_empty() {
                format!("{part:?} has no element; write numbers with a point, not a comma.")
            } else {
                format!("{part:?} is not an element, =, and its percentage.")
            };
            return Err(wrong("--analysis", why, next));
        };
        let element = Element::parse(symbol).map_err(|e| wrong("--analysis", e, next))?;
        let percent = percent(value).map_err(|why| wrong("--analysis", format!("{element}: {why}"), next))?;
        if analysis.insert(element, percent).is_some() {
            return Err(wrong("--analysis", format!("{element} is given twice."), "give each element once"));
        }
    }
    let total = analysis.values().fold(None, |sum: Option<Percent>, p| Some(sum.map_or(*p, |s| s.plus(*p))));
    if total.zip(Percent::parse("100").ok()).is_some_and(|(total, all)| total > all) {
        return Err(not_worked_out(WHAT, "the elements add up to more than 100 %.", "check the analysis"));
    }
    Ok(analysis)
}

/// A mass percentage, also as parts per million by mass: 10 000 ppm are 1 %.
fn percent(text: &str) -> Result<Percent, String> {
    let text = text.trim();
    let Some(ppm) = text.strip_suffix("ppm") else {
        return Percent::parse(text).map_err(|e| e.to_string());
    };
    let exact = Exact::parse(ppm).map_err(|e| format!("\"{text}\" is not parts per million: {e}"))?;
    // Nine decimal places at most were typed, and ten thousand takes four more: 12 are kept, so all but the last is exact.
    let percent = exact.over(Exact::whole(10_000)).and_then(|p| p.short_decimal(12));
    let percent = percent.ok_or_else(|| format!("\"{text}\" has too many digits"))?;
    Percent::parse(&percent).map_err(|e| e.to_string())
}
