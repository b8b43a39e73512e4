//! One limit of a class against an analysis.

use super::span::{End, Span, Standing};
use crate::analysis::Analysis;
use crate::designation::Mark;
use crate::element::Element;
use crate::limits::{ClassLimits, Confidence, Limit, Rule, Subject};
use crate::percent::Percent;
use crate::reading::SurfaceState;
use crate::specification::base_element;
use serde::Serialize;

/// The verdict on one value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ElementVerdict {
    /// Within the limit as printed.
    Pass,
    /// Within the limit once rounded.
    PassByRounding,
    /// Outside the limit.
    Fail,
    /// Limited, and not reported.
    NotReported,
    /// Reported, and not limited.
    NotLimited,
    /// Reported, and what is known is not enough to compare; the notes say why.
    NotChecked,
}

impl ElementVerdict {
    /// Its word: `pass`, `pass-by-rounding`, `fail`, `not-reported`, `not-limited`, `not-checked`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ElementVerdict::Pass => "pass",
            ElementVerdict::PassByRounding => "pass-by-rounding",
            ElementVerdict::Fail => "fail",
            ElementVerdict::NotReported => "not-reported",
            ElementVerdict::NotLimited => "not-limited",
            ElementVerdict::NotChecked => "not-checked",
        }
    }
}

/// One limit and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct JudgedElement {
    /// The class that limits it.
    pub classification: String,
    /// The element, or the elements added: `C`, `Mn+Ni`, `others total`.
    pub element: String,
    /// As printed; for a sum, what the parts add up to. None where not reported.
    pub value: Option<String>,
    /// The least, where there is one.
    pub min: Option<String>,
    /// The most, where there is one.
    pub max: Option<String>,
    /// The value rounded to the limit's last place: of the end that decided, else of the most.
    pub rounded: Option<String>,
    /// The verdict.
    pub verdict: ElementVerdict,
    /// How sure the limit is; None where there is none.
    pub confidence: Option<Confidence>,
    /// Where the limit comes from.
    pub source: String,
    /// Remark of the table on the limit.
    pub remark: String,
    /// What there is to say of this verdict.
    pub notes: Vec<String>,
    /// Whether it counts for the verdict on the whole.
    #[serde(skip)]
    pub(super) counts: bool,
    /// Whether the value is an end of its limit.
    #[serde(skip)]
    pub(super) repeats_limit: bool,
}

impl JudgedElement {
    fn of(class: &ClassLimits, element: String) -> Self {
        JudgedElement {
            classification: class.classification.clone(),
            element,
            value: None,
            min: None,
            max: None,
            rounded: None,
            verdict: ElementVerdict::NotLimited,
            confidence: None,
            source: String::new(),
            remark: String::new(),
            notes: Vec::new(),
            counts: true,
            repeats_limit: false,
        }
    }

    /// Whether a value was compared with a limit.
    pub(super) fn compared(&self) -> bool {
        match self.verdict {
            ElementVerdict::Pass | ElementVerdict::PassByRounding | ElementVerdict::Fail => true,
            ElementVerdict::NotReported | ElementVerdict::NotLimited | ElementVerdict::NotChecked => false,
        }
    }

    /// In a few words: `C 0.09 is above 0.07`.
    #[must_use]
    pub fn said(&self) -> String {
        let element = &self.element;
        let value = self.value.as_deref().unwrap_or("");
        let limits = match (&self.min, &self.max) {
            (Some(min), Some(max)) => format!("{min} to {max}"),
            (Some(min), None) => format!("at least {min}"),
            (None, Some(max)) => format!("at most {max}"),
            (None, None) => String::new(),
        };
        let first_note = self.notes.first().map_or(String::new(), |note| format!(": {note}"));
        match self.verdict {
            ElementVerdict::Pass => format!("{element} {value} is {limits}"),
            ElementVerdict::PassByRounding => {
                format!(
                    "{element} {value} is {limits} once rounded to {}",
                    self.rounded.as_deref().unwrap_or("")
                )
            }
            ElementVerdict::Fail => format!("{element} {value} is not {limits}"),
            ElementVerdict::NotReported => format!("{element} is not reported"),
            ElementVerdict::NotLimited => format!("{element} {value} has no limit"),
            ElementVerdict::NotChecked => format!("{element} {value} is not checked{first_note}"),
        }
    }
}

/// Places of an end that was worked out from another element: all there are, so that nothing is rounded to it.
const WORKED_OUT: u32 = 12;

/// A value to compare, and what it is made of.
#[derive(Debug, Default)]
struct Amount {
    text: Option<String>,
    span: Option<Span>,
    /// Parts of a sum that are not reported; the span is of the others.
    missing: Vec<Element>,
    notes: Vec<String>,
}

/// All limits of a class, then what is reported without one.
pub(super) fn judge(
    class: &ClassLimits,
    marks: &[Mark],
    analysis: &Analysis,
    surface: SurfaceState,
) -> Vec<JudgedElement> {
    let mut judged: Vec<JudgedElement> =
        class.limits.iter().map(|limit| one(class, marks, analysis, surface, limit)).collect();
    for (elements, _, text) in analysis.entries() {
        let known = elements.iter().any(|e| class.lists(*e))
            || class.limits.iter().any(|l| l.subject.elements() == elements);
        if known {
            continue;
        }
        let mut without = JudgedElement::of(class, Subject::Sum(elements.to_vec()).to_string());
        without.value = Some(text.to_owned());
        if class.limits.iter().any(|l| matches!(l.subject, Subject::OthersTotal | Subject::OthersEach)) {
            without.notes.push("counted among the others, unless it is the base metal".into());
        }
        judged.push(without);
    }
    judged
}

fn one(
    class: &ClassLimits,
    marks: &[Mark],
    analysis: &Analysis,
    surface: SurfaceState,
    limit: &Limit,
) -> JudgedElement {
    let mut judged = JudgedElement::of(class, limit.subject.to_string());
    judged.confidence = Some(limit.confidence);
    judged.source.clone_from(&limit.source);
    judged.remark.clone_from(&limit.note);
    let amount = match &limit.subject {
        Subject::Element(element) => alone(*element, limit, analysis),
        Subject::Sum(elements) => together(elements, analysis),
        Subject::OthersTotal => others(class, analysis),
        Subject::OthersEach => largest_other(class, analysis),
    };
    let (min, max) = ends(limit, marks, analysis, &mut judged.notes);
    judged.min = min.map(|end| end_text(end, limit.min));
    judged.max = max.map(|end| end_text(end, limit.max));
    judged.notes.extend(amount.notes);
    judged.value = amount.text;
    if min.is_none() && max.is_none() {
        judged.confidence = None;
        judged.notes.push(if limit.rules.balance {
            "the remainder".into()
        } else {
            "listed without a limit for this class".into()
        });
        return judged;
    }
    let Some(span) = amount.span else {
        (judged.verdict, judged.counts) = match limit.subject {
            Subject::OthersTotal | Subject::OthersEach => {
                judged.notes.push("no element beyond those of the class is reported".into());
                (ElementVerdict::NotChecked, false)
            }
            Subject::Element(_) | Subject::Sum(_) => (ElementVerdict::NotReported, true),
        };
        return judged;
    };
    let of_max = max.map(|end| end.as_max(span));
    let of_min = min.map(|end| end.as_min(span));
    let of_max = match (limit.rules.rule, of_max) {
        (Some(Rule::AboveMaxWhereCut(other)), Some(standing @ (Standing::Fails | Standing::Open))) => {
            Some(above_max(class, marks, analysis, limit, other, standing, &mut judged.notes))
        }
        (
            Some(Rule::AboveMaxWhereCut(_) | Rule::MaxFalls { .. } | Rule::MinFollows { .. }) | None,
            standing,
        ) => standing,
    };
    judged.verdict = match of_min.into_iter().chain(of_max).max() {
        Some(Standing::Fails) => ElementVerdict::Fail,
        Some(Standing::Open) => {
            judged.notes.push(match limit.rules.rule {
                Some(Rule::MinFollows { of, .. } | Rule::MaxFalls { of, .. })
                    if analysis.element(of).and_then(Span::of).is_none() =>
                {
                    format!("its limit follows {of}, which is not reported")
                }
                Some(Rule::MinFollows { .. } | Rule::MaxFalls { .. } | Rule::AboveMaxWhereCut(_)) | None => {
                    "what is printed is only a bound, which neither meets nor breaks the limit".into()
                }
            });
            ElementVerdict::NotChecked
        }
        Some(Standing::ByRounding) => ElementVerdict::PassByRounding,
        Some(Standing::Meets) | None => ElementVerdict::Pass,
    };
    let by_min = of_min > of_max;
    let decisive = if by_min { min } else { max.or(min) };
    judged.rounded = decisive
        .filter(|end| end.places < WORKED_OUT)
        .and_then(|end| Some(span.number()?.rounded(end.places).to_string()));
    if !amount.missing.is_empty() && judged.verdict != ElementVerdict::Fail {
        let names: Vec<&str> = amount.missing.iter().map(|e| e.symbol()).collect();
        judged.notes.push(format!("{} of the sum not reported", names.join(", ")));
        judged.verdict = ElementVerdict::NotReported;
        judged.rounded = None;
    }
    if limit.rules.coating && surface == SurfaceState::Abraded && judged.verdict != ElementVerdict::Fail {
        judged.notes.push("the limit counts the coating, which was taken off before the analysis".into());
        judged.verdict = ElementVerdict::NotChecked;
    }
    judged.repeats_limit = span.number().is_some_and(|v| limit.min == Some(v) || limit.max == Some(v));
    judged
}

/// An end for people: the number, or how it follows another element.
fn end_text(end: End, written: Option<Percent>) -> String {
    match (end.number(), written) {
        (Some(number), _) => number.to_string(),
        (None, Some(written)) => format!("{written} or tighter"),
        (None, None) => "not known".into(),
    }
}

/// Least and most of a limit, with suffixes and rules.
fn ends(
    limit: &Limit,
    marks: &[Mark],
    analysis: &Analysis,
    notes: &mut Vec<String>,
) -> (Option<End>, Option<End>) {
    let mut max = limit.max;
    if let Some(tighter) = limit.rules.suffix_max
        && marks.contains(&Mark::Tightens(tighter.suffix))
    {
        max = Some(max.map_or(tighter.max, |max| if tighter.max < max { tighter.max } else { max }));
        notes.push(format!("at most {} with the suffix {}", tighter.max, tighter.suffix));
    }
    let mut min_end = limit.min.map(End::written);
    let mut max_end = max.map(End::written);
    match limit.rules.rule {
        Some(Rule::MinFollows { factor, of }) => {
            // A least that is worked out has no written last place: nothing is rounded to it.
            let exact = WORKED_OUT;
            min_end = Some(match analysis.element(of).and_then(Span::of) {
                Some(other) => End {
                    strict: Some(other.high.times(factor)),
                    loose: other.low.times(factor),
                    places: exact,
                },
                None => End { strict: None, loose: Percent::ZERO, places: exact },
            });
            notes.push(format!("the least is {factor} x {of}"));
        }
        Some(Rule::MaxFalls { fall, step, of, above }) => {
            if let Some(max) = max {
                let fallen = |other: Percent| {
                    let over = other.rounded(above.places()).minus(above).unwrap_or(Percent::ZERO);
                    let steps = over.steps_of(step).unwrap_or(0);
                    max.minus(fall.times(steps)).unwrap_or(Percent::ZERO)
                };
                let other = analysis.element(of).and_then(Span::of);
                let end = End {
                    strict: other.map(|other| fallen(other.high)),
                    loose: other.map_or(max, |other| fallen(other.low)),
                    places: max.places(),
                };
                if end.number() != Some(max) {
                    notes.push(format!(
                        "the most falls from {max} by {fall} for each {step} of {of} above {above}"
                    ));
                }
                max_end = Some(end);
            }
        }
        Some(Rule::AboveMaxWhereCut(_)) | None => {}
    }
    (min_end, max_end)
}

/// Whether a value above its most is allowed because another element keeps to its fallen most.
fn above_max(
    class: &ClassLimits,
    marks: &[Mark],
    analysis: &Analysis,
    limit: &Limit,
    other: Element,
    otherwise: Standing,
    notes: &mut Vec<String>,
) -> Standing {
    let falls = |l: &&Limit| match l.rules.rule {
        Some(Rule::MaxFalls { of, .. }) => limit.subject == Subject::Element(of),
        Some(Rule::MinFollows { .. } | Rule::AboveMaxWhereCut(_)) | None => false,
    };
    let Some(fallen) = class.element(other).filter(falls) else { return otherwise };
    let (_, Some(max)) = ends(fallen, marks, analysis, &mut Vec::new()) else { return otherwise };
    let (Some(span), text) = (analysis.element(other).and_then(Span::of), end_text(max, fallen.max)) else {
        notes.push(format!("above its most it rests on {other}, which is not reported"));
        return Standing::Open;
    };
    match max.as_max(span) {
        Standing::Meets | Standing::ByRounding => {
            notes.push(format!("above its most, allowed because {other} is at most {text}"));
            Standing::Meets
        }
        Standing::Open => Standing::Open,
        Standing::Fails => {
            notes.push(format!("above its most it is allowed only with {other} at most {text}"));
            Standing::Fails
        }
    }
}

/// One element, with what counts as it.
fn alone(element: Element, limit: &Limit, analysis: &Analysis) -> Amount {
    let with = &limit.rules.counted_with;
    let mut amount = Amount::default();
    if !with.is_empty() {
        let all: Vec<Element> = std::iter::once(element).chain(with.iter().copied()).collect();
        if let Some(reported) = analysis.sum(&all) {
            amount.text = analysis.text(&all).map(str::to_owned);
            amount.span = Span::of(reported);
            return amount;
        }
    }
    let Some(reported) = analysis.element(element) else { return amount };
    amount.text = analysis.text(&[element]).map(str::to_owned);
    amount.span = Span::of(reported);
    for other in with {
        match (amount.span, analysis.element(*other).and_then(Span::of)) {
            (Some(span), Some(more)) => {
                let sum = span.plus(more);
                amount.span = Some(sum);
                amount.text = Some(span_text(sum));
                amount.notes.push(format!("{other} counted with {element}"));
            }
            (Some(_), None) => amount.notes.push(format!("{other} is not reported beside {element}")),
            (None, _) => {}
        }
    }
    amount
}

/// Several elements added: from the parts, or as printed together.
fn together(elements: &[Element], analysis: &Analysis) -> Amount {
    let mut amount = Amount::default();
    let mut sum = Span::NOTHING;
    for element in elements {
        match analysis.element(*element).and_then(Span::of) {
            Some(span) => sum = sum.plus(span),
            None => amount.missing.push(*element),
        }
    }
    if amount.missing.is_empty() {
        (amount.text, amount.span) = (Some(span_text(sum)), Some(sum));
    } else if let Some(reported) = analysis.sum(elements) {
        amount.missing.clear();
        amount.text = analysis.text(elements).map(str::to_owned);
        amount.span = Span::of(reported);
    } else if amount.missing.len() < elements.len() {
        // What is there can be too much already.
        amount.text = Some(format!(
            "{} without {}",
            span_text(sum),
            amount.missing.iter().map(|e| e.symbol()).collect::<Vec<_>>().join(", ")
        ));
        amount.span = Some(sum);
    }
    amount
}

/// Values that the class does not list, its base metal apart.
fn unlisted<'a>(
    class: &'a ClassLimits,
    analysis: &'a Analysis,
) -> impl Iterator<Item = (&'a [Element], Span)> + 'a {
    let base = base_element(&class.spec);
    analysis.entries().filter_map(move |(elements, reported, _)| {
        let mine = elements.iter().all(|e| !class.lists(*e) && Some(*e) != base);
        // A sum whose parts are printed too counts once.
        let again = elements.len() > 1 && elements.iter().any(|e| analysis.element(*e).is_some());
        if mine && !again { Some((elements, Span::of(reported)?)) } else { None }
    })
}

fn others(class: &ClassLimits, analysis: &Analysis) -> Amount {
    let mut amount = Amount::default();
    let mut sum = Span::NOTHING;
    let mut names = Vec::new();
    for (elements, span) in unlisted(class, analysis) {
        sum = sum.plus(span);
        names.push(Subject::Sum(elements.to_vec()).to_string());
    }
    if !names.is_empty() {
        amount.text = Some(span_text(sum));
        amount.span = Some(sum);
        amount.notes.push(format!("{} added", names.join(", ")));
    }
    amount
}

fn largest_other(class: &ClassLimits, analysis: &Analysis) -> Amount {
    let largest = unlisted(class, analysis).max_by_key(|(_, span)| (span.low, span.high));
    let highest = unlisted(class, analysis).max_by_key(|(_, span)| span.high);
    let (Some((elements, largest)), Some((_, highest))) = (largest, highest) else {
        return Amount::default();
    };
    Amount {
        text: Some(span_text(largest)),
        span: Some(Span { low: largest.low, high: highest.high }),
        missing: Vec::new(),
        notes: vec![format!("the largest is {}", Subject::Sum(elements.to_vec()))],
    }
}

/// A number, or a bound.
fn span_text(span: Span) -> String {
    span.number().map_or_else(|| format!("{} to {}", span.low, span.high), |number| number.to_string())
}
