//! `cert check`: what a certificate says against the limits of a class; no book is needed, and nothing is written

use super::table;
use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use clap::Args;
use filler::certificate_check::{CertificateCheck, ElementVerdict, JudgedElement, Question, check};
use filler::groups::groups_of;
use filler::limits::{AppliesTo, Lookup, TableError};
use filler::reading::SurfaceState;
use filler::{Analysis, Strengths, Tables};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Most faults of a table that are shown.
const MOST_FAULTS: usize = 20;

/// Largest file that is read as a table of limits, bytes: every class of every specification takes a few hundred
/// thousand.
const LARGEST_TABLE: u64 = 16 << 20;

/// Arguments of `cert check`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook cert check --spec A5.9 --class ER309L --analysis C=0.034,Cr=23.6,Ni=13.5,Mo=0.12,Mn=1.8,Si=0.45,P=0.020,S=0.008,Cu=0.12\n  rodbook cert check --spec A5.1 --class \"E7018-1 H4R\" --tensile \"78 ksi\" --yield \"66 ksi\" --elongation 27\n\nEach value is rounded to the last place of its limit, a tie to the even digit (ASTM E29). What is not reported is\nnever taken as zero: the check is incomplete then."
)]
pub struct CertCheckArgs {
    /// Specification as printed, say A5.18 or SFA-5.18
    #[arg(long, value_name = "SPEC")]
    pub spec: String,
    /// Classification as printed, say ER70S-2, E309L-16 or ER308/308L
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: String,
    /// The analysis as printed: C=0.05,Mn=1.15,Cu=<0.01; tr, - and bal. are not reported
    #[arg(long, value_name = "ELEMENT=VALUE,...", default_value = "")]
    pub analysis: String,
    /// Tensile strength with its unit, say "74 ksi" or "510 MPa"
    #[arg(long, value_name = "STRENGTH")]
    pub tensile: Option<String>,
    /// Yield strength with its unit
    #[arg(long = "yield", value_name = "STRENGTH")]
    pub yielding: Option<String>,
    /// Elongation in percent
    #[arg(long, value_name = "PERCENT")]
    pub elongation: Option<String>,
    /// Impact energy with its unit and temperature, say "40 J at -30 C"
    #[arg(long, value_name = "ENERGY")]
    pub impact: Option<String>,
    /// What was analysed: wire or weld-metal
    #[arg(long, value_name = "PRODUCT")]
    pub product: Option<String>,
    /// The surface that was analysed: as-received, abraded (the coating is not in the analysis), button or unknown
    #[arg(long, value_name = "SURFACE", default_value = "unknown")]
    pub surface: String,
    /// A table of limits in a CSV file, with the columns that table show --format csv writes; its classes go before
    /// those of the book and the built-in ones
    #[arg(long, value_name = "FILE")]
    pub table: Option<PathBuf>,
}

/// An option whose value was not understood: what is said of it is why.
fn wrong(option: &str, why: impl std::fmt::Display, next: &str) -> Failure {
    let mut failure = Failure::not_understood(format!("{option} was not understood.")).next(next);
    let why = why.to_string();
    failure.why.push(if why.ends_with('.') { why } else { format!("{why}.") });
    failure
}

/// Compares a certificate with the limits of its class.
pub fn run(context: &Context, args: &CertCheckArgs) -> Result<Answer, Failure> {
    let analysis = Analysis::parse(&args.analysis).map_err(|e| {
        wrong("--analysis", e, "write each element once, say --analysis C=0.05,Mn=1.15,Cu=<0.01")
    })?;
    let typed = [
        ("tensile", &args.tensile),
        ("yield", &args.yielding),
        ("elongation", &args.elongation),
        ("impact", &args.impact),
    ];
    let mut pairs = Vec::new();
    for (name, text) in typed {
        let Some(text) = text else { continue };
        let _ = Strengths::from_pairs([(name, text.as_str())]).map_err(|e| {
            wrong(
                &format!("--{name}"),
                e,
                "write it with its unit, say 74 ksi, 510 MPa, 24 % or 40 J at -30 C",
            )
        })?;
        pairs.push((name, text.as_str()));
    }
    let strengths =
        Strengths::from_pairs(pairs).map_err(|e| wrong("a strength", e, "write each once, with its unit"))?;
    if analysis.is_empty() && strengths.is_empty() {
        return Err(Failure::not_understood("nothing of the certificate is given.")
            .next("write what it prints: --analysis C=0.05,Mn=1.15 or --tensile \"74 ksi\""));
    }
    let product = args
        .product
        .as_deref()
        .map(AppliesTo::parse)
        .transpose()
        .map_err(|e| wrong("--product", e, "say what was analysed: wire or weld-metal"))?;
    let surface = SurfaceState::parse(&args.surface).map_err(|e| {
        wrong("--surface", e, "say what was analysed: as-received, abraded, button or unknown")
    })?;
    let mut tables = table::tables(context, false)?;
    if let Some(file) = &args.table {
        tables = tables.with(&own_table(file)?);
    }
    let question = Question {
        spec: &args.spec,
        classification: &args.classification,
        analysis: &analysis,
        strengths: &strengths,
        product,
        surface,
    };
    let checked = check(&tables, &question);
    let grouped = grouped(&tables, &question);
    let mut json = serde_json::to_value(&checked).map_err(|e| Failure::failed(format!("no JSON: {e}.")))?;
    if let Value::Object(fields) = &mut json {
        fields.insert("schema".into(), json!("rodbook-cert-check/1"));
        fields.insert("spec".into(), json!(args.spec));
        fields.insert("classification".into(), json!(args.classification));
        fields.insert("groups".into(), json!(grouped.iter().map(|g| &g.json).collect::<Vec<_>>()));
        fields.insert("reason_to_hold".into(), json!(checked.reason_to_hold()));
    }
    Ok(Answer {
        text: page(&args.spec, &args.classification, &checked, &grouped),
        json,
        table: Some(csv_table(&checked)),
        ..Answer::default()
    })
}

/// The classes of a file, named by it.
fn own_table(file: &Path) -> Result<Tables, Failure> {
    let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let unread = |why: String| {
        let mut failure = Failure::failed(format!("the table {} was not read.", file.display()))
            .next("name a CSV file with the columns that rodbook table show --format csv writes");
        failure.why.push(why);
        failure
    };
    let size = std::fs::metadata(file).map_err(|e| unread(format!("{e}.")))?;
    if !size.is_file() || size.len() > LARGEST_TABLE {
        return Err(unread(format!("it is no file, or larger than {} MiB.", LARGEST_TABLE >> 20)));
    }
    let text = std::fs::read_to_string(file).map_err(|e| unread(format!("{e}.")))?;
    Tables::from_csv(&text, &name).map_err(|TableError { faults }| {
        let mut failure = Failure::not_understood(format!("the table {} is not taken.", file.display()))
            .next(
                "correct these cells; rodbook table show A5.18 --format csv writes a table as it has to be",
            );
        failure.why = faults.iter().take(MOST_FAULTS).map(ToString::to_string).collect();
        if faults.len() > MOST_FAULTS {
            failure.why.push(format!("and {} more.", faults.len().saturating_sub(MOST_FAULTS)));
        }
        failure
    })
}

/// How a class is grouped, for people and programs.
struct Grouped {
    text: String,
    json: Value,
}

/// The groups of every class that was compared.
fn grouped(tables: &Tables, question: &Question<'_>) -> Vec<Grouped> {
    let Lookup::Found(found) = tables.find(question.spec, question.classification) else { return Vec::new() };
    let mut all = Vec::new();
    for class in &found.classes {
        for group in groups_of(class, &found.marks) {
            let unverified =
                if group.confidence == filler::Confidence::Memory { " (unverified)" } else { "" };
            let a_number = match (group.a_number, group.a_note.as_str()) {
                (Some(number), _) => format!(", A-{number} (unverified)"),
                (None, "") => String::new(),
                (None, note) => format!(", A-number: {note}"),
            };
            let processes: Vec<&str> = group.processes.iter().map(filler::Process::as_str).collect();
            all.push(Grouped {
                text: format!(
                    "{}: {}, F-{}{unverified}{a_number}; {}, {}",
                    class.classification,
                    group.sfa,
                    group.f_number,
                    group.make_up.word(),
                    processes.join(" ")
                ),
                json: json!({
                    "classification": class.classification,
                    "sfa": group.sfa,
                    "f_number": group.f_number,
                    "f_note": group.f_note,
                    "f_confidence": group.confidence,
                    "a_number": group.a_number,
                    "a_note": group.a_note,
                    "a_confidence": filler::Confidence::Memory,
                    "make_up": group.make_up.word(),
                    "processes": processes,
                }),
            });
        }
    }
    all
}

/// `0.90 to 1.40`, `at most 0.07`.
fn limits(min: Option<&str>, max: Option<&str>) -> String {
    match (min, max) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("at least {min}"),
        (None, Some(max)) => format!("at most {max}"),
        (None, None) => String::new(),
    }
}

fn words(verdict: ElementVerdict) -> String {
    let word = verdict.word().replace('-', " ");
    match verdict {
        ElementVerdict::Fail | ElementVerdict::NotReported | ElementVerdict::NotChecked => {
            word.to_uppercase()
        }
        ElementVerdict::Pass | ElementVerdict::PassByRounding | ElementVerdict::NotLimited => word,
    }
}

/// Name, value, limit and verdict in columns; what is too long for its column moves the rest to the next line.
fn line(page: &mut Page, name: &str, value: &str, limits: &str, verdict: ElementVerdict) {
    let mut text = String::new();
    let mut start = 2;
    for (cell, width) in [(name, 11), (value, 10), (limits, 17)] {
        let length = cell.chars().count();
        if length < width {
            text = format!("{text}{cell:<width$}");
        } else {
            page.line(start, format!("{text}{cell}"));
            start = start.max(2) + text.chars().count() + width;
            text.clear();
        }
    }
    page.line(start, format!("{text}{}", words(verdict)));
}

/// Whether a verdict has more to be said than its word.
fn explained(verdict: ElementVerdict) -> bool {
    match verdict {
        ElementVerdict::PassByRounding
        | ElementVerdict::Fail
        | ElementVerdict::NotReported
        | ElementVerdict::NotChecked => true,
        ElementVerdict::Pass | ElementVerdict::NotLimited => false,
    }
}

fn element_lines(page: &mut Page, element: &JudgedElement) {
    line(
        page,
        &element.element,
        element.value.as_deref().unwrap_or("-"),
        &limits(element.min.as_deref(), element.max.as_deref()),
        element.verdict,
    );
    if let (true, Some(rounded)) = (explained(element.verdict), &element.rounded) {
        page.hanging(4, 6, format!("rounds to {rounded}"));
    }
    for note in &element.notes {
        page.hanging(4, 6, note);
    }
    // Where a rule decided, its note says more than the remark.
    if element.rounded.is_some()
        && explained(element.verdict)
        && element.notes.is_empty()
        && !element.remark.is_empty()
    {
        page.hanging(4, 6, format!("table: {}", element.remark));
    }
}

fn page(spec: &str, classification: &str, checked: &CertificateCheck, grouped: &[Grouped]) -> String {
    let mut page = Page::narrow();
    page.split("CERTIFICATE CHECK", &checked.verdict.word().replace('-', " ").to_uppercase());
    page.hanging(0, 2, format!("{spec} {classification}"));
    if !checked.table.is_empty() {
        page.hanging(0, 2, format!("limits of {}: {}", checked.classes.join(" and "), checked.table));
    }
    for group in grouped {
        page.hanging(0, 2, &group.text);
    }
    for class in &checked.classes {
        let mut elements = checked.elements.iter().filter(|e| &e.classification == class).peekable();
        if elements.peek().is_some() {
            page.gap();
            page.line(
                0,
                if checked.classes.len() > 1 {
                    format!("{class}, percent by mass")
                } else {
                    "percent by mass".into()
                },
            );
        }
        elements.for_each(|element| element_lines(&mut page, element));
        for strength in checked.strengths.iter().filter(|s| &s.classification == class) {
            line(
                &mut page,
                strength.strength.word(),
                &strength.value,
                &limits(strength.min.as_deref(), strength.max.as_deref()),
                strength.verdict,
            );
            if let (true, Some(rounded)) = (explained(strength.verdict), &strength.rounded) {
                page.hanging(4, 6, format!("rounds to {rounded}"));
            }
            for note in &strength.notes {
                page.hanging(4, 6, note);
            }
        }
        for strength in checked.strengths.iter().filter(|s| &s.classification == class).take(1) {
            let condition = format!("{}; {}", strength.table, strength.condition);
            page.hanging(4, 6, condition.trim_matches([';', ' ']));
        }
    }
    if !checked.notes.is_empty() || !checked.near.is_empty() {
        page.gap();
    }
    for note in &checked.notes {
        page.hanging(0, 2, format!("- {note}"));
    }
    if !checked.near.is_empty() {
        page.hanging(0, 2, format!("- Near in the tables: {}.", checked.near.join(", ")));
    }
    page.gap().rule();
    page.hanging(0, 0, "This informs; the inspector decides, by the governing code.");
    page.finish()
}

fn csv_table(checked: &CertificateCheck) -> Table {
    let mut table = Table::new(&[
        "classification",
        "element",
        "value",
        "min",
        "max",
        "rounded",
        "verdict",
        "confidence",
        "table",
        "notes",
    ]);
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let confidence = |c: Option<filler::Confidence>| c.map_or(String::new(), |c| c.word().to_owned());
    for e in &checked.elements {
        table.rows.push(vec![
            e.classification.clone(),
            e.element.clone(),
            text(&e.value),
            text(&e.min),
            text(&e.max),
            text(&e.rounded),
            e.verdict.word().to_owned(),
            confidence(e.confidence),
            checked.table.clone(),
            e.notes.join("; "),
        ]);
    }
    for s in &checked.strengths {
        table.rows.push(vec![
            s.classification.clone(),
            s.strength.word().to_owned(),
            s.value.clone(),
            text(&s.min),
            text(&s.max),
            text(&s.rounded),
            s.verdict.word().to_owned(),
            confidence(s.confidence),
            s.table.clone(),
            s.notes.join("; "),
        ]);
    }
    table
}
