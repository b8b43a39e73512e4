//! What a certificate says, as it is typed, and what came of checking it.

use crate::command::joint::AsksArgs;
use crate::failure::Failure;
use crate::page::Page;
use crate::show;
use clap::Args;
use filler::certificate_check::ElementVerdict;
use filler::limits::AppliesTo;
use ledger::tell::certificate_read::{Checked, PaperAgainst, ValuesTyped};
use record::EntryId;
use record::event::{CertificateRead, NamedText};
use serde_json::{Value, json};

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
fn worth_saying(verdict: ElementVerdict) -> bool {
    match verdict {
        ElementVerdict::PassByRounding
        | ElementVerdict::Fail
        | ElementVerdict::NotReported
        | ElementVerdict::NotChecked => true,
        ElementVerdict::Pass | ElementVerdict::NotLimited => false,
    }
}

/// What came of a check: the verdict, what decided it, the papers against what was asked, and whether to hold the lot.
pub fn print(page: &mut Page, checked: &Checked) {
    let check = &checked.check;
    let verdict = check.verdict.word().replace('-', " ");
    page.hanging(0, 2, format!("Certificate check: {}.", verdict.to_uppercase()));
    if !check.table.is_empty() {
        page.hanging(2, 4, format!("{}, {}", check.classes.join(" and "), check.table));
        page.hanging(2, 4, checked.sign_off.clone());
    }
    for element in check.elements.iter().filter(|e| worth_saying(e.verdict)) {
        page.hanging(2, 4, format!("- {}", element.said()));
    }
    for strength in check.strengths.iter().filter(|s| worth_saying(s.verdict)) {
        page.hanging(2, 4, format!("- {}", strength.said()));
    }
    for note in &check.notes {
        page.hanging(2, 4, format!("- {note}"));
    }
    for paper in &checked.papers {
        page.hanging(2, 4, format!("- {}", paper.why));
    }
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
        "check": checked.check,
        "table_sign_off": checked.sign_off,
        "papers": checked.papers.iter().map(paper).collect::<Vec<_>>(),
        "proposed": checked.hold.as_ref().map(|why| json!({ "verb": "hold", "lot": checked.lot.received.code, "why": why })),
    })
}

fn paper(paper: &PaperAgainst) -> Value {
    json!({
        "field": paper.field, "asked": paper.asked, "has": paper.has, "met": paper.met, "why": paper.why,
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
        texts
            .iter()
            .map(|t| (t.name.clone(), Value::String(t.value.clone())))
            .collect::<serde_json::Map<_, _>>()
            .into()
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
