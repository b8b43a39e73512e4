//! Does a certificate's analysis meet the limits of its class?
//!
//! Each value is rounded to the last place of the limit that it is compared with, a tie to the even digit, once, on the
//! decimal text (ASTM E29, rounding method, as the rounding clauses of the A5 specifications ask); sums are added first
//! and rounded then. What rounding alone brings inside a limit is said. A limited element that is not reported makes the
//! check incomplete, never a pass; a class that no table has is not checked.

mod element;
mod span;

pub use element::{ElementVerdict, JudgedElement};

use crate::analysis::Analysis;
use crate::limits::{AppliesTo, ClassLimits, Confidence, Lookup, Tables};
use crate::reading::SurfaceState;
use crate::shown::shown;
use crate::strengths::{JudgedStrength, Strengths};
use serde::Serialize;

/// Said of every verdict that rests on a value of confidence [`Confidence::Memory`].
pub const UNVERIFIED: &str = "limit from an unverified table";

/// So many values that all repeat an end of their limit are no analysis.
const REPEATED: usize = 3;

/// What is asked of a certificate.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// Specification, as printed.
    pub spec: &'a str,
    /// Classification, as printed.
    pub classification: &'a str,
    /// The analysis.
    pub analysis: &'a Analysis,
    /// The strengths; those not given are not judged.
    pub strengths: &'a Strengths,
    /// What was analysed, where it is known.
    pub product: Option<AppliesTo>,
    /// The surface that was analysed.
    pub surface: SurfaceState,
}

/// The verdict on a certificate, or on the whole of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Every limit is met as printed.
    Pass,
    /// Every limit is met, at least one of them only after rounding.
    PassByRounding,
    /// At least one limit is not met.
    Fail,
    /// No limit is known to be broken, and at least one value is missing or says too little.
    Incomplete,
    /// There was nothing to compare with, or what was given is not an analysis of the product that is limited.
    NotChecked,
}

impl Verdict {
    /// Its word: `pass`, `pass-by-rounding`, `fail`, `incomplete`, `not-checked`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Pass => "pass",
            Verdict::PassByRounding => "pass-by-rounding",
            Verdict::Fail => "fail",
            Verdict::Incomplete => "incomplete",
            Verdict::NotChecked => "not-checked",
        }
    }
}

/// What came of a check.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CertificateCheck {
    /// The verdict on the whole.
    pub verdict: Verdict,
    /// The table that decided, with its edition; empty where none did.
    pub table: String,
    /// The classes compared with, as the table has them: one, or all of a dual mark.
    pub classes: Vec<String>,
    /// What the limits are for; None where no table covers the class.
    pub product: Option<AppliesTo>,
    /// Whether the verdict rests on a limit that no document was read for.
    pub unverified: bool,
    /// Each limit, and each reported element without one.
    pub elements: Vec<JudgedElement>,
    /// Each strength that was given.
    pub strengths: Vec<JudgedStrength>,
    /// What else there is to say.
    pub notes: Vec<String>,
    /// Classes of the tables that are near, where none was found.
    pub near: Vec<String>,
}

impl CertificateCheck {
    fn not_checked(why: String) -> Self {
        CertificateCheck {
            verdict: Verdict::NotChecked,
            table: String::new(),
            classes: Vec::new(),
            product: None,
            unverified: false,
            elements: Vec::new(),
            strengths: Vec::new(),
            notes: vec![why],
            near: Vec::new(),
        }
    }

    /// Why material with this certificate should wait, where the check failed or is incomplete: every broken limit, else
    /// every missing value.
    #[must_use]
    pub fn reason_to_hold(&self) -> Option<String> {
        let wanted: &[ElementVerdict] = match self.verdict {
            Verdict::Pass | Verdict::PassByRounding => return None,
            // The class is covered, and what was given is no analysis of its product: the wrong paper, or a copy of the
            // limits. Where no table covers the class nothing can be said for or against.
            Verdict::NotChecked if self.classes.is_empty() => return None,
            Verdict::NotChecked => {
                let why = self.notes.iter().find(|note| !note.starts_with("A dual mark"));
                return Some(format!(
                    "not checked: {} ({}, {})",
                    why.map_or("", |note| note.trim_end_matches('.')),
                    self.classes.join(" and "),
                    self.table
                ));
            }
            Verdict::Fail => &[ElementVerdict::Fail],
            Verdict::Incomplete => &[ElementVerdict::NotReported, ElementVerdict::NotChecked],
        };
        let elements = self.elements.iter().filter(|e| e.counts && wanted.contains(&e.verdict));
        let strengths = self.strengths.iter().filter(|s| wanted.contains(&s.verdict));
        let mut reasons: Vec<String> = Vec::new();
        for reason in elements.map(JudgedElement::said).chain(strengths.map(JudgedStrength::said)) {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        Some(format!("{} ({}, {})", reasons.join("; "), self.classes.join(" and "), self.table))
    }
}

/// Checks a certificate against the tables.
#[must_use]
pub fn check(tables: &Tables, question: &Question<'_>) -> CertificateCheck {
    let found = match tables.find(question.spec, question.classification) {
        Lookup::Found(found) => found,
        Lookup::NotCovered(not) => {
            return CertificateCheck {
                near: not.near,
                ..CertificateCheck::not_checked(format!("{}.", not.why))
            };
        }
    };
    let mut check = CertificateCheck { notes: Vec::new(), ..CertificateCheck::not_checked(String::new()) };
    for class in &found.classes {
        check.classes.push(class.classification.clone());
        if !check.table.split("; ").any(|table| table == class.table) {
            let between = if check.table.is_empty() { "" } else { "; " };
            check.table = format!("{}{between}{}", check.table, class.table);
        }
    }
    check.product = found.classes.first().map(|class| class.product);
    if found.classes.len() > 1 {
        check
            .notes
            .push(format!("A dual mark: the limits of {} must all be met.", check.classes.join(" and ")));
    }
    if let Some(wrong) = found.classes.iter().find_map(|class| wrong_product(class, question.product)) {
        check.notes.push(wrong);
        return check;
    }
    if question.product.is_none() && check.product == Some(AppliesTo::WeldMetal) {
        check.notes.push(
            "The limits are for deposited metal; what was analysed is not said, and is taken to be that."
                .into(),
        );
    }
    for class in &found.classes {
        check.elements.extend(element::judge(class, &found.marks, question.analysis, question.surface));
        check.strengths.extend(crate::strengths::judge(class, &found.marks, question.strengths));
    }
    let mut not_given: Vec<&str> = Vec::new();
    for class in &found.classes {
        for test in crate::strengths::not_given(class, question.strengths) {
            if !not_given.contains(&test) {
                not_given.push(test);
            }
        }
    }
    if !not_given.is_empty() {
        check
            .notes
            .push(format!("Limited for the class and not given, so not checked: {}.", not_given.join(", ")));
    }
    if question.strengths.swapped() {
        check.notes.push(
            "The yield strength is above the tensile strength, which cannot be: are the two swapped?".into(),
        );
    }
    check.verdict = overall(&check);
    let unverified: Vec<&str> = check
        .elements
        .iter()
        .filter(|e| e.compared() && e.confidence == Some(Confidence::Memory))
        .map(|e| e.element.as_str())
        .chain(
            check
                .strengths
                .iter()
                .filter(|s| s.compared() && s.confidence == Some(Confidence::Memory))
                .map(|s| s.strength.word()),
        )
        .collect();
    if !unverified.is_empty() {
        let mut names: Vec<&str> = Vec::new();
        unverified.iter().for_each(|name| {
            if !names.contains(name) {
                names.push(name)
            }
        });
        check.notes.push(format!("Limit from an unverified table: {}.", names.join(", ")));
        check.unverified = true;
    }
    repeated(&mut check);
    check
}

/// A note when the analysis is of another product than the class limits.
fn wrong_product(class: &ClassLimits, analysed: Option<AppliesTo>) -> Option<String> {
    let analysed = analysed.filter(|analysed| *analysed != class.product)?;
    let words = |product: AppliesTo| match product {
        AppliesTo::Wire => "the wire",
        AppliesTo::WeldMetal => "deposited metal",
    };
    Some(format!(
        "The limits of {} are for {}; the analysis is of {}, and the two are not compared.",
        shown(&class.classification),
        words(class.product),
        words(analysed)
    ))
}

fn overall(check: &CertificateCheck) -> Verdict {
    let verdicts: Vec<ElementVerdict> = check
        .elements
        .iter()
        .filter(|e| e.counts)
        .map(|e| e.verdict)
        .chain(check.strengths.iter().map(|s| s.verdict))
        .collect();
    let any = |wanted: ElementVerdict| verdicts.contains(&wanted);
    if any(ElementVerdict::Fail) {
        Verdict::Fail
    } else if any(ElementVerdict::NotReported) || any(ElementVerdict::NotChecked) {
        Verdict::Incomplete
    } else if any(ElementVerdict::PassByRounding) {
        Verdict::PassByRounding
    } else if any(ElementVerdict::Pass) {
        Verdict::Pass
    } else {
        Verdict::NotChecked
    }
}

/// Values that are the limits themselves: a column of a data sheet, not what was found in a lot.
fn repeated(check: &mut CertificateCheck) {
    let compared: Vec<&JudgedElement> = check.elements.iter().filter(|e| e.compared() && e.counts).collect();
    let repeating: Vec<&str> =
        compared.iter().filter(|e| e.repeats_limit).map(|e| e.element.as_str()).collect();
    let all = repeating.len() == compared.len();
    if repeating.len() < REPEATED
        || (!all && repeating.len() <= compared.len().saturating_sub(repeating.len()))
    {
        return;
    }
    let mut names: Vec<&str> = Vec::new();
    repeating.iter().for_each(|name| {
        if !names.contains(name) {
            names.push(name)
        }
    });
    let named = names.join(", ");
    if all && check.verdict != Verdict::Fail {
        check.notes.push(format!(
            "Every value merely repeats a limit of the class ({named}): these are limits, not the analysis of a lot."
        ));
        check.verdict = Verdict::NotChecked;
    } else {
        check.notes.push(format!("Most values merely repeat a limit of the class: {named}."));
    }
}
