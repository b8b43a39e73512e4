//! `cert check`: an analysis and strengths against the limits of a class, with or without a book

use super::calc::a_number;
use super::table;
use crate::answer::{Answer, Table};
use crate::certificate_page::{self, ValuesArgs};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use clap::Args;
use filler::a_number::{ANumbers, a_numbers};
use filler::certificate_check::{CertificateCheck, ElementVerdict, JudgedElement, Question, check};
use filler::groups::{Groups, groups_of};
use filler::limits::{AppliesTo, Confidence, Lookup, TableError, Tables};
use filler::lot_class::{self, Papers};
use filler::reading::SurfaceState;
use filler::strengths::JudgedStrength;
use ledger::ask::tables::NOT_SIGNED_OFF;
use ledger::tell::certificate_read::PaperAgainst;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What stands under every answer.
const CAUTION: &str = "rodbook informs; whoever releases the lot decides, under the governing code.";

/// Most faults of a table that are shown.
const MOST_FAULTS: usize = 20;

/// Largest file that is read as a table of limits, bytes: every class of every specification takes a few hundred
/// thousand.
const LARGEST_TABLE: u64 = 16 << 20;

/// Arguments of `cert check`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook cert check --spec A5.9 --class ER309L --analysis C=0.034,Cr=23.6,Ni=13.5,Mo=0.12,Mn=1.8,Si=0.45,P=0.020,S=0.008,Cu=0.12\n  rodbook cert check --spec A5.1 --class \"E7018-1 H4R\" --tensile \"78 ksi\" --yield \"66 ksi\" --elongation 27\n\nEach value is rounded to the last place of its limit, a tie to the even digit (ASTM E29). What is not reported is\nnever taken as zero: the check is incomplete then. The tables of the book decide if there is one, else the built-in ones."
)]
pub struct CertCheckArgs {
    /// Specification as printed, say A5.18 or SFA-5.18
    #[arg(long, value_name = "SPEC")]
    pub spec: String,
    /// Classification as printed, say ER70S-2, "E7018-1 H4R" or ER308/308L
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: String,
    /// The surface that was analysed: as-received, abraded (the coating is not in the analysis), button
    #[arg(long, value_name = "SURFACE")]
    pub surface: Option<String>,
    /// Certificate type, say 3.1
    #[arg(long = "type", value_name = "TYPE")]
    pub certificate_type: Option<String>,
    /// A table of limits in a CSV file, with the columns that table show --format csv writes; its classes go before
    /// those of the book and the built-in ones
    #[arg(long, value_name = "FILE")]
    pub table: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub values: ValuesArgs,
}

/// How a class is grouped.
struct Grouped {
    classification: String,
    groups: Vec<&'static Groups>,
}

/// What is answered.
struct Answered {
    check: CertificateCheck,
    sign_off: String,
    papers: Vec<PaperAgainst>,
    grouped: Vec<Grouped>,
    /// Of an analysis of deposited metal.
    a_numbers: Option<ANumbers>,
}

/// Checks it.
pub(super) fn run(context: &Context, args: &CertCheckArgs) -> Result<Answer, Failure> {
    let typed = args.values.typed()?;
    if typed.analysis.is_none() && typed.strengths.is_empty() {
        return Err(Failure::not_understood("nothing was checked: nothing of the certificate is given.")
            .next("write the analysis as printed, say --analysis C=0.05,Mn=1.15"));
    }
    let surface = args
        .surface
        .as_deref()
        .map_or(Ok(SurfaceState::Unknown), SurfaceState::parse)
        .map_err(|e| Failure::not_understood(format!("{e}.")))?;
    let (analysis, strengths) = typed.understood()?;
    let mut tables = table::tables(context, false)?;
    if let Some(file) = &args.table {
        tables = tables.with(&own_table(file)?);
    }
    let question = Question {
        spec: &args.spec,
        classification: &args.classification,
        analysis: &analysis,
        strengths: &strengths,
        product: typed.product,
        surface,
    };
    let check = check(&tables, &question);
    let sign_off = match check.table.as_str() {
        "" => String::new(),
        _ if !context.book().exists() => NOT_SIGNED_OFF.to_owned(),
        decided => context.open()?.ask(|reading| reading.sign_off_of(decided))?,
    };
    let answered = Answered {
        sign_off,
        papers: papers(args),
        grouped: grouped(&tables, &args.spec, &args.classification),
        a_numbers: (check.product == Some(AppliesTo::WeldMetal)
            && question.product != Some(AppliesTo::Wire)
            && !analysis.is_empty())
        .then(|| a_numbers(&analysis)),
        check,
    };
    Ok(Answer {
        text: page(args, &answered),
        json: json(args, &answered),
        table: Some(csv(&answered)),
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

fn papers(args: &CertCheckArgs) -> Vec<PaperAgainst> {
    let asks = &args.values.asks;
    let asked = Papers {
        certificate_type: asks.asks_cert_type.as_deref(),
        lot_class: asks.asks_lot_class.as_deref(),
        schedule: asks.asks_schedule.as_deref(),
    };
    let has = Papers {
        certificate_type: args.certificate_type.as_deref(),
        lot_class: args.values.lot_class.as_deref(),
        schedule: args.values.schedule.as_deref(),
    };
    lot_class::compare(asked, has).into_iter().map(PaperAgainst::from).collect()
}

fn grouped(tables: &Tables, spec: &str, classification: &str) -> Vec<Grouped> {
    match tables.find(spec, classification) {
        Lookup::Found(found) => found
            .classes
            .iter()
            .map(|class| Grouped {
                classification: class.classification.clone(),
                groups: groups_of(class, &found.marks),
            })
            .collect(),
        Lookup::NotCovered(_) => Vec::new(),
    }
}

fn page(args: &CertCheckArgs, answered: &Answered) -> String {
    let check = &answered.check;
    let mut page = Page::narrow();
    page.split("CERTIFICATE CHECK", &check.verdict.word().replace('-', " ").to_uppercase()).rule();
    page.hanging(0, 2, format!("{} {}", args.spec.trim(), args.classification.trim()));
    certificate_page::decided_by(&mut page, check, &answered.sign_off);
    for (n, class) in check.classes.iter().enumerate() {
        elements(&mut page, check, class);
        if n == 0 || check.strengths.iter().any(|s| s.classification == *class) {
            strengths(&mut page, check, class);
        }
    }
    if !check.notes.is_empty() || !answered.papers.is_empty() {
        page.gap();
        certificate_page::remarks(&mut page, check, &answered.papers);
    }
    if !check.near.is_empty() {
        page.hanging(2, 4, format!("- near: {}", check.near.join(", ")));
    }
    groups_lines(&mut page, answered);
    page.rule().hanging(0, 0, CAUTION);
    page.finish()
}

/// Each element with its limits.
fn elements(page: &mut Page, check: &CertificateCheck, class: &str) {
    let of_class: Vec<&JudgedElement> = check.elements.iter().filter(|e| e.classification == class).collect();
    if of_class.is_empty() {
        return;
    }
    page.gap();
    if check.classes.len() > 1 {
        page.line(0, class);
    }
    page.line(0, format!("{:<14}{:<9}{:<16}verdict", "element", "printed", "limit"));
    for element in of_class {
        let value = element.value.as_deref().unwrap_or("-");
        let limit = match (element.min.as_deref(), element.max.as_deref()) {
            (Some(min), Some(max)) => format!("{min} to {max}"),
            (Some(min), None) => format!("{min} min"),
            (None, Some(max)) => format!("{max} max"),
            (None, None) => "-".into(),
        };
        page.hanging(
            0,
            14,
            format!(
                "{:<14}{:<9}{:<16}{}",
                element.element,
                value,
                limit,
                verdict_text(element.verdict, element.value.as_deref(), element.rounded.as_deref())
            ),
        );
        if certificate_page::worth_saying(element.verdict) {
            for note in &element.notes {
                page.hanging(14, 14, note);
            }
        }
    }
}

/// `pass`, `FAIL, rounds to 0.08`.
fn verdict_text(verdict: ElementVerdict, value: Option<&str>, rounded: Option<&str>) -> String {
    let rounds = rounded
        .filter(|rounded| Some(*rounded) != value)
        .map_or(String::new(), |rounded| format!(", rounds to {rounded}"));
    match verdict {
        ElementVerdict::Pass => "pass".into(),
        ElementVerdict::PassByRounding => format!("pass{rounds}"),
        ElementVerdict::Fail => format!("FAIL{rounds}"),
        ElementVerdict::NotReported => "NOT REPORTED".into(),
        ElementVerdict::NotLimited => "no limit".into(),
        ElementVerdict::NotChecked => "not checked".into(),
    }
}

/// Each strength that was given.
fn strengths(page: &mut Page, check: &CertificateCheck, class: &str) {
    let of_class: Vec<&JudgedStrength> =
        check.strengths.iter().filter(|s| s.classification == class).collect();
    let Some(first) = of_class.first() else { return };
    page.gap();
    if first.table.is_empty() {
        page.line(0, "Strengths");
    } else {
        page.hanging(0, 2, format!("{} ({})", first.table, first.condition));
    }
    for strength in of_class {
        let limits = [
            strength.min.as_ref().map(|min| format!("at least {min}")),
            strength.max.as_ref().map(|max| format!("at most {max}")),
        ];
        let limits: Vec<String> = limits.into_iter().flatten().collect();
        let between = if limits.is_empty() { "" } else { ", " };
        page.split(
            &format!("{} {}{between}{}", strength.strength.word(), strength.value, limits.join(" and ")),
            &verdict_text(strength.verdict, Some(&strength.value), strength.rounded.as_deref()),
        );
        for note in &strength.notes {
            page.hanging(14, 14, note);
        }
    }
}

/// F-number, A-number, process and product form.
fn groups_lines(page: &mut Page, answered: &Answered) {
    if answered.grouped.iter().all(|g| g.groups.is_empty()) {
        return;
    }
    page.gap();
    for Grouped { classification, groups } in &answered.grouped {
        for group in groups {
            let sure = match group.confidence {
                Confidence::OwnCopy | Confidence::TwoSources | Confidence::OneSource => {
                    group.confidence.word().replace('-', " ")
                }
                Confidence::Memory => "unverified".into(),
            };
            page.hanging(
                0,
                2,
                format!("{classification}: F-number {} ({sure}){}", group.f_number, note(&group.f_note)),
            );
            let a_number = match (group.a_number, group.a_note.as_str()) {
                (Some(number), remark) => format!("A-number {number} (unverified){}", note(remark)),
                (None, "") => "no A-number (unverified)".into(),
                (None, remark) => format!("A-number (unverified){}", note(remark)),
            };
            page.hanging(2, 4, a_number);
            let processes: Vec<&str> = group.processes.iter().map(|p| p.as_str()).collect();
            page.hanging(2, 4, format!("{}, {}; {}", group.sfa, group.make_up.word(), processes.join(", ")));
        }
    }
    if let Some(found) = &answered.a_numbers {
        page.hanging(0, 2, format!("A-number by the analysis: {} (unverified)", a_number::said(found)));
    }
}

/// A remark behind a number.
fn note(note: &str) -> String {
    if note.is_empty() { String::new() } else { format!(": {note}") }
}

fn json(args: &CertCheckArgs, answered: &Answered) -> Value {
    let mut json = certificate_page::check_json(&answered.check);
    json.insert("schema".into(), json!("rodbook-cert-check/1"));
    json.insert("spec".into(), json!(args.spec.trim()));
    json.insert("classification".into(), json!(args.classification.trim()));
    json.insert("reason_to_hold".into(), json!(answered.check.reason_to_hold()));
    json.insert("table_sign_off".into(), json!(answered.sign_off));
    json.insert("papers".into(), json!(certificate_page::papers_json(&answered.papers)));
    let groups: Vec<Value> = answered.grouped.iter().flat_map(group_json).collect();
    json.insert("groups".into(), json!(groups));
    json.insert("a_number_of_analysis".into(), json!(answered.a_numbers.as_ref().map(a_number::fields)));
    json.insert("caution".into(), json!(CAUTION));
    Value::Object(json)
}

fn group_json(grouped: &Grouped) -> Vec<Value> {
    grouped
        .groups
        .iter()
        .map(|group| {
            json!({
                "classification": grouped.classification,
                "sfa": group.sfa,
                "f_number": group.f_number,
                "f_note": group.f_note,
                "f_confidence": group.confidence,
                "f_source": group.source,
                "a_number": group.a_number,
                "a_note": group.a_note,
                "a_confidence": "memory",
                "processes": group.processes.iter().map(|p| p.as_str()).collect::<Vec<_>>(),
                "make_up": group.make_up.word(),
            })
        })
        .collect()
}

/// One row for each limit, then one for each strength.
fn csv(answered: &Answered) -> Table {
    let check = &answered.check;
    let mut table = Table::new(&[
        "element",
        "value",
        "min",
        "max",
        "rounded",
        "verdict",
        "classification",
        "confidence",
        "source",
        "remark",
        "notes",
        "table",
    ]);
    let cell = |text: &Option<String>| text.clone().unwrap_or_default();
    for element in certificate_page::with_value(check).0 {
        table.rows.push(vec![
            element.element.clone(),
            cell(&element.value),
            certificate_page::decimal(element.min.as_deref()).unwrap_or_default().to_owned(),
            certificate_page::decimal(element.max.as_deref()).unwrap_or_default().to_owned(),
            cell(&element.rounded),
            certificate_page::element_word(element.verdict).to_owned(),
            element.classification.clone(),
            element.confidence.map_or("", |c| c.word()).to_owned(),
            element.source.clone(),
            element.remark.clone(),
            element.notes.join("; "),
            check.table.clone(),
        ]);
    }
    for strength in &check.strengths {
        table.rows.push(vec![
            strength.strength.word().to_owned(),
            strength.value.clone(),
            cell(&strength.min),
            cell(&strength.max),
            cell(&strength.rounded),
            strength.verdict.word().to_owned(),
            strength.classification.clone(),
            strength.confidence.map_or("", |c| c.word()).to_owned(),
            String::new(),
            strength.condition.clone(),
            strength.notes.join("; "),
            strength.table.clone(),
        ]);
    }
    table
}
