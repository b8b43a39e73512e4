//! Certificate type, lot class and test schedule: three questions, asked by an order or a job, answered by the papers.
//!
//! A certificate type says what kind of statement a paper makes, a lot class says what went into one lot, a schedule says
//! what was tested and on which material. None answers another: a 3.1 for a C1 lot can average several heats.
//!
//! The same as asked is met (but schedule 6/K, which is what each order says). Where the two differ, the outcome is what the descriptions of
//! the two say, and "not known" where they do not decide it. Names of the classes S1 to S5, T1 to T4, C1 to C5, F1, F2 and of the
//! schedules 1/F to 6/K: ISO 14344:2024, contents. What they mean: AWS A5.01 and ISO 14344 from memory. Certificate
//! types: EN 10204:2004, from summaries.

mod certificate_type;
mod class;
mod schedule;

pub use certificate_type::CertificateType;
pub use class::LotClass;
pub use schedule::Schedule;

use crate::shown::shown;
use serde::Serialize;

/// Whether what is there meets what was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It does.
    Met,
    /// It does not.
    NotMet,
    /// It cannot be told; never taken as met.
    NotKnown,
}

impl Outcome {
    /// Its word: `met`, `not-met`, `not-known`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Met => "met",
            Outcome::NotMet => "not-met",
            Outcome::NotKnown => "not-known",
        }
    }
}

/// The three as texts, as asked or as printed; None where nothing is said.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Papers<'a> {
    /// `3.1`, `CMTR` and the like.
    pub certificate_type: Option<&'a str>,
    /// `C3` and the like.
    pub lot_class: Option<&'a str>,
    /// `J`, `5/J` and the like.
    pub schedule: Option<&'a str>,
}

/// One of the three, compared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Compared {
    /// `certificate type`, `lot class` or `test schedule`.
    pub what: &'static str,
    /// As asked.
    pub asked: String,
    /// As printed; None where nothing is.
    pub there: Option<String>,
    /// The outcome.
    pub outcome: Outcome,
    /// Why, a clause without a full stop.
    pub why: String,
}

/// Compares what was asked with what is there, each of the three by itself; what was not asked is left out.
#[must_use]
pub fn compare(asked: Papers<'_>, there: Papers<'_>) -> Vec<Compared> {
    [
        one(
            "certificate type",
            asked.certificate_type,
            there.certificate_type,
            CertificateType::parse,
            CertificateType::answers,
        ),
        one("lot class", asked.lot_class, there.lot_class, LotClass::parse, LotClass::answers),
        one("test schedule", asked.schedule, there.schedule, Schedule::parse, Schedule::answers),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn one<T>(
    what: &'static str,
    asked: Option<&str>,
    there: Option<&str>,
    parse: fn(&str) -> Option<T>,
    answers: fn(T, T) -> (Outcome, String),
) -> Option<Compared> {
    let asked = asked.map(str::trim).filter(|text| !text.is_empty())?;
    let there = there.map(str::trim).filter(|text| !text.is_empty());
    let unknown = |text: &str| (Outcome::NotKnown, format!("\"{}\" is no {what} that is known", shown(text)));
    let (outcome, why) = match (parse(asked), there.map(|text| (text, parse(text)))) {
        (_, None) => (Outcome::NotKnown, format!("the papers do not say the {what}")),
        (None, Some((text, None))) if text.eq_ignore_ascii_case(asked) => {
            (Outcome::Met, "the same words as asked".to_owned())
        }
        (None, Some(_)) => unknown(asked),
        (Some(_), Some((text, None))) => unknown(text),
        (Some(asked), Some((_, Some(there)))) => answers(there, asked),
    };
    Some(Compared { what, asked: asked.to_owned(), there: there.map(str::to_owned), outcome, why })
}

/// A text of capitals and digits alone, for comparing.
fn letters(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric() || *c == '.').flat_map(char::to_uppercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use Outcome::{Met, NotKnown, NotMet};

    #[test]
    fn three_questions_have_three_answers() {
        // A job that asks CMTR, C3 and J, a lot with 2.2, C1 and F.
        let compared = compare(
            Papers { certificate_type: Some("CMTR"), lot_class: Some("C3"), schedule: Some("J") },
            Papers { certificate_type: Some("EN 10204 2.2"), lot_class: Some("C1"), schedule: Some("1/F") },
        );
        assert_eq!(compared.iter().map(|c| c.outcome).collect::<Vec<_>>(), [NotMet, NotMet, NotMet]);
        assert!(compared.iter().all(|c| !c.why.is_empty()));
        assert!(compare(Papers::default(), Papers { lot_class: Some("C1"), ..Papers::default() }).is_empty());
    }

    #[test]
    fn what_is_not_said_or_not_known_is_never_met() {
        for (asked, there) in
            [(Some("C3"), None), (Some("C3"), Some("C9")), (Some("X"), Some("C3")), (Some("C3"), Some(" "))]
        {
            let asked = Papers { lot_class: asked, ..Papers::default() };
            let compared = compare(asked, Papers { lot_class: there, ..Papers::default() });
            assert_eq!(compared[0].outcome, NotKnown, "{compared:?}");
        }
    }

    #[test]
    fn outcomes() {
        let of = |what: usize, asked: &str, there: &str| {
            let put = |text| match what {
                0 => Papers { certificate_type: Some(text), ..Papers::default() },
                1 => Papers { lot_class: Some(text), ..Papers::default() },
                _ => Papers { schedule: Some(text), ..Papers::default() },
            };
            compare(put(asked), put(there))[0].clone()
        };
        for (what, asked, there, outcome) in [
            (0, "3.1", "EN 10204:2004 - 3.1", Met),
            (0, "3.1", "3.1.B", Met),
            (0, "3.1", "3.2", Met),
            (0, "3.2", "3.1", NotMet),
            (0, "3.1", "2.2", NotMet),
            (0, "2.1", "3.1", Met),
            (0, "2.2", "2.1", NotMet),
            (0, "CMTR", "certificate of compliance", NotMet),
            (0, "CMTR", "3.1", NotKnown),
            (0, "3.1", "CMTR", NotKnown),
            (0, "3.2", "CMTR", NotKnown),
            (0, "CMTR", "CoC", NotKnown),
            (0, "certificate of compliance", "CMTR", Met),
            (0, "inspection note 7", "Inspection Note 7", Met),
            (1, "c3", "Class C3", Met),
            (1, "C2", "C3", Met),
            (1, "C3", "C2", NotMet),
            (1, "C3", "C1", NotMet),
            (1, "C3", "C5", NotKnown),
            (1, "S3", "S2", NotKnown),
            (1, "S5", "S5", Met),
            (1, "S5", "S3", NotKnown),
            (1, "S5", "S1", NotKnown),
            (1, "S3", "C3", NotMet),
            (1, "F2", "F1", NotMet),
            (1, "C1", "C3", NotKnown),
            (2, "J", "5/J", Met),
            (2, "schedule 5", "J", Met),
            (2, "H", "J", Met),
            (2, "J", "H", NotMet),
            (2, "J", "I", NotMet),
            (2, "H", "I", NotKnown),
            (2, "H", "G", NotMet),
            (2, "G", "F", NotMet),
            (2, "F", "H", Met),
            (2, "K", "J", NotKnown),
            (2, "K", "K", NotKnown),
            (2, "J", "K", NotKnown),
            (2, "5/K", "J", NotKnown),
        ] {
            let compared = of(what, asked, there);
            assert_eq!(compared.outcome, outcome, "{asked} asked, {there} there: {}", compared.why);
        }
    }
}
