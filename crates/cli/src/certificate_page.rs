//! What a certificate says, as it is typed, and what came of checking it.

use crate::command::joint::AsksArgs;
use crate::failure::Failure;
use crate::page::Page;
use crate::show;
use clap::Args;
use filler::Percent;
use filler::certificate_check::{CertificateCheck, ElementVerdict, JudgedElement};
use filler::limits::AppliesTo;
use ledger::tell::certificate_read::{Checked, PaperAgainst, ValuesTyped};
use record::EntryId;
use record::event::{CertificateRead, NamedText};
use serde_json::{Map, Value, json};

/// What a certificate says of a lot.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "What the certificate says; it is checked against the limits of the class")]
pub struct ValuesArgs {
    /// The analysis as printed: C=0.05,Mn=1.15,Cu=<0.01; tr and - are not reported
    #[arg(long, value_name = "ELEMENT=VALUE,...")]
    pub analysis: Option<String>,
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
    /// Lot class, say S3
    #[arg(long, value_name = "CLASS")]
    pub lot_class: Option<String>,
    /// Test schedule, say J
    #[arg(long, value_name = "SCHEDULE")]
    pub schedule: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub asks: AsksArgs,
}

impl ValuesArgs {
    /// As typed.
    ///
    /// # Errors
    /// When the product is not a word that is known.
    pub fn typed(&self) -> Result<ValuesTyped, Failure> {
        let strengths = [
            ("tensile", &self.tensile),
            ("yield", &self.yielding),
            ("elongation", &self.elongation),
            ("impact", &self.impact),
        ];
        let product = self.product.as_deref().map(AppliesTo::parse).transpose();
        Ok(ValuesTyped {
            analysis: self.analysis.clone(),
            strengths: strengths.into_iter().filter_map(|(name, text)| Some((name, text.clone()?))).collect(),
            product: product.map_err(|e| Failure::not_understood(format!("{e}.")))?,
            surface: None,
            lot_class: self.lot_class.clone(),
            schedule: self.schedule.clone(),
            asks: self.asks.typed(),
        })
    }
}

/// Whether a verdict on one value is worth a line: whatever is not simply met, or simply without a limit.
pub(crate) fn worth_saying(verdict: ElementVerdict) -> bool {
    match verdict {
        ElementVerdict::PassByRounding
        | ElementVerdict::Fail
        | ElementVerdict::NotReported
        | ElementVerdict::NotChecked => true,
        ElementVerdict::Pass | ElementVerdict::NotLimited => false,
    }
}

/// The class, its table, and who answers for that table.
pub(crate) fn decided_by(page: &mut Page, check: &CertificateCheck, sign_off: &str) {
    if !check.table.is_empty() {
        page.hanging(2, 4, format!("{}, {}", check.classes.join(" and "), check.table));
        page.hanging(2, 4, sign_off);
    }
}

/// The remarks on the whole check, and the papers against what was asked.
pub(crate) fn remarks(page: &mut Page, check: &CertificateCheck, papers: &[PaperAgainst]) {
    for text in check.notes.iter().chain(papers.iter().map(|paper| &paper.why)) {
        page.hanging(2, 4, format!("- {text}"));
    }
}

/// What came of a check: the verdict, what decided it, the papers against what was asked, and whether to hold the lot.
pub fn print(page: &mut Page, checked: &Checked) {
    let check = &checked.check;
    let verdict = check.verdict.word().replace('-', " ");
    page.hanging(0, 2, format!("Certificate check: {}.", verdict.to_uppercase()));
    decided_by(page, check, &checked.sign_off);
    for element in check.elements.iter().filter(|e| worth_saying(e.verdict)) {
        page.hanging(2, 4, format!("- {}", element.said()));
    }
    for strength in check.strengths.iter().filter(|s| worth_saying(s.verdict)) {
        page.hanging(2, 4, format!("- {}", strength.said()));
    }
    remarks(page, check, &checked.papers);
    if let Some(why) = &checked.hold {
        let code = &checked.lot.received.code;
        page.hanging(0, 2, format!("PROPOSED: hold lot {code} until this is settled:"));
        page.hanging(2, 4, format!("rodbook hold {code} --why \"{}\"", why.replace('"', "'")));
    }
}

/// The same in JSON.
pub fn json(checked: &Checked) -> Value {
    json!({
        "entry": checked.entry.to_string(),
        "lot": checked.lot.received.code,
        "certificate": checked.read.certificate.value(),
        "check": check_json(&checked.check),
        "table_sign_off": checked.sign_off,
        "papers": papers_json(&checked.papers),
        "proposed": checked.hold.as_ref().map(|why| json!({ "verb": "hold", "lot": checked.lot.received.code, "why": why })),
    })
}

/// A check in JSON: each element that is limited or reported, each strength that was given.
pub(crate) fn check_json(check: &CertificateCheck) -> Map<String, Value> {
    let (elements, nothing_there) = with_value(check);
    let fields = [
        ("verdict", json!(check.verdict)),
        ("table", json!(check.table)),
        ("classes", json!(check.classes)),
        ("product", json!(check.product)),
        ("unverified", json!(check.unverified)),
        ("elements", elements.into_iter().map(element_json).collect()),
        ("without_value", nothing_there.into_iter().map(|e| json!(e.element)).collect()),
        ("strengths", json!(check.strengths)),
        ("notes", json!(check.notes)),
        ("near", json!(check.near)),
    ];
    fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

/// What is limited or reported; and limits on what the class does not list where nothing of that kind is reported.
pub(crate) fn with_value(check: &CertificateCheck) -> (Vec<&JudgedElement>, Vec<&JudgedElement>) {
    check.elements.iter().partition(|e| e.value.is_some() || e.verdict != ElementVerdict::NotChecked)
}

fn element_json(element: &JudgedElement) -> Value {
    json!({
        "element": element.element,
        "value": element.value,
        "min": decimal(element.min.as_deref()),
        "max": decimal(element.max.as_deref()),
        "rounded": element.rounded,
        "verdict": element_word(element.verdict),
        "classification": element.classification,
        "confidence": element.confidence,
        "source": element.source,
        "remark": element.remark,
        "notes": element.notes,
    })
}

/// A certificate that was read, as one line of a lot's page.
pub fn line(page: &mut Page, read: &CertificateRead) {
    let number = read.certificate.value().map_or_else(|| "without number".to_owned(), Clone::clone);
    let verdict = read.judged.verdict.replace('-', " ");
    let table = if read.judged.table.is_empty() { String::new() } else { format!(", {}", read.judged.table) };
    page.hanging(2, 4, format!("certificate {number} checked: {verdict}{table}"));
}

/// The same in JSON, with what was written down.
pub fn read_json(entry: &EntryId, read: &CertificateRead) -> Value {
    let texts = |texts: &[NamedText]| -> Value {
        texts.iter().map(|t| (t.name.clone(), Value::String(t.value.clone()))).collect::<Map<_, _>>().into()
    };
    json!({
        "entry": entry.to_string(),
        "lot": read.lot.label,
        "certificate": show::stated_json(&read.certificate),
        "certificate_type": show::stated_json(&read.certificate_type),
        "lot_class": show::stated_json(&read.lot_class),
        "schedule": show::stated_json(&read.schedule),
        "analysis": texts(&read.analysis),
        "strengths": texts(&read.strengths),
        "verdict": read.judged.verdict,
        "table": read.judged.table,
        "notes": read.judged.notes,
    })
}

/// The verdict on an element for programs. A bound that neither meets nor breaks a limit, or copper without the coating that
/// the limit counts, is not the value that would have to be reported; the notes say which.
pub(crate) fn element_word(verdict: ElementVerdict) -> &'static str {
    match verdict {
        ElementVerdict::NotChecked => ElementVerdict::NotReported.word(),
        ElementVerdict::Pass
        | ElementVerdict::PassByRounding
        | ElementVerdict::Fail
        | ElementVerdict::NotReported
        | ElementVerdict::NotLimited => verdict.word(),
    }
}

/// A limit that is a number; one that follows an element that is not known is none.
pub(crate) fn decimal(limit: Option<&str>) -> Option<&str> {
    limit.filter(|text| Percent::parse(text).is_ok())
}

/// The papers against what was asked, in JSON.
pub(crate) fn papers_json(papers: &[PaperAgainst]) -> Vec<Value> {
    papers
        .iter()
        .map(|paper| {
            json!({
                "field": paper.field, "asked": paper.asked, "has": paper.has, "met": paper.met, "why": paper.why,
            })
        })
        .collect()
}
