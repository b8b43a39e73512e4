//! A chemical analysis as a certificate prints it: mass percentages as typed, never a number that was not printed.
//!
//! | printed | meaning |
//! |---|---|
//! | `0.05` | the value, with its places |
//! | `<0.005` | below that: a bound, not a value |
//! | `tr`, `-`, `n/a`, `nd`, `bal.` and the like, or nothing | not reported as a number; never zero |
//!
//! Everything else is an error: a comma, a sign, ppm, a range, an element that does not exist or is there twice.

use crate::decimal::NumberFault;
use crate::element::{Element, ElementError};
use crate::percent::{Percent, PercentError};
use crate::shown::shown;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// More elements than any certificate prints; sums of several count as one.
const MOST_VALUES: usize = 200;

/// What rounding each value can add to 100 percent.
const ROUNDING: Percent = Percent::ONE;

/// Words that stand where a number would: nothing was found, nothing was looked for, or it is the rest.
const NOT_A_NUMBER: [&str; 20] = [
    "", "-", "--", "\u{2013}", "\u{2014}", "tr", "tr.", "trace", "traces", "nd", "n.d.", "na", "n.a.", "n/a",
    "nr", "bal", "bal.", "balance", "rem", "rem.",
];

/// What an analysis says of an element, or of several together as printed: `Nb+Ta`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reported {
    /// A value.
    Value(Percent),
    /// Below this: `<0.005`.
    Below(Percent),
    /// Printed without a number: `tr`, `-`, `bal.`.
    NoNumber,
}

/// One printed value.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Printed {
    /// As typed, without the blanks around it.
    text: String,
    reported: Reported,
}

/// An element, or several that were printed as one value, in the order of their atomic numbers.
type Elements = Vec<Element>;

/// A chemical analysis, mass percent.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Analysis {
    values: BTreeMap<Elements, Printed>,
}

/// Why an analysis was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum AnalysisError {
    /// A part that is not an element and its value.
    #[error(
        "\"{0}\" is not an element and its value; write C=0.05,Mn=1.15 with points, as a comma separates the elements"
    )]
    Part(String),
    /// No such element.
    #[error(transparent)]
    Element(#[from] ElementError),
    /// There twice.
    #[error("{0} is there twice; write the value that the certificate prints, once")]
    Twice(String),
    /// Not a percentage.
    #[error("{element}: {fault}")]
    Value {
        /// The element, or the sum.
        element: String,
        /// Why.
        fault: PercentError,
    },
    /// Parts per million.
    #[error(
        "{element}: \"{text}\" is in parts per million; write mass percent, which is ppm divided by 10000"
    )]
    PartsPerMillion {
        /// The element, or the sum.
        element: String,
        /// As typed.
        text: String,
    },
    /// A range: limits, not a value.
    #[error("{element}: \"{text}\" is a range: limits, not what was found; write the analysis of the lot")]
    Range {
        /// The element, or the sum.
        element: String,
        /// As typed.
        text: String,
    },
    /// A least or a most.
    #[error("{element}: \"{text}\" is only a bound from below; write the value that was found")]
    Above {
        /// The element, or the sum.
        element: String,
        /// As typed.
        text: String,
    },
    /// More than everything.
    #[error("the values add up to {0} percent; an analysis is at most 100: look for a misplaced point")]
    Total(Percent),
    /// More values than there are elements.
    #[error("it has more than {MOST_VALUES} values")]
    TooMany,
}

impl Analysis {
    /// Reads `C=0.05,Mn=1.15,Nb+Ta=<0.01`.
    ///
    /// # Errors
    /// See [`AnalysisError`].
    pub fn parse(text: &str) -> Result<Self, AnalysisError> {
        if text.trim().is_empty() {
            return Ok(Analysis::default());
        }
        let mut pairs = Vec::new();
        for part in text.split(',') {
            let (element, value) =
                part.split_once('=').ok_or_else(|| AnalysisError::Part(shown(part.trim())))?;
            pairs.push((element, value));
        }
        Self::from_pairs(pairs)
    }

    /// Reads values by the symbol of the element, as recorded.
    ///
    /// # Errors
    /// See [`AnalysisError`].
    pub fn from_pairs<'a>(
        pairs: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<Self, AnalysisError> {
        let mut values = BTreeMap::new();
        for (element, text) in pairs {
            if values.len() == MOST_VALUES {
                return Err(AnalysisError::TooMany);
            }
            let elements = parse_elements(element)?;
            let name = name(&elements);
            let text = text.trim();
            let printed = Printed { text: text.to_owned(), reported: parse_value(&name, text)? };
            if values.insert(elements, printed).is_some() {
                return Err(AnalysisError::Twice(name));
            }
        }
        let analysis = Analysis { values };
        let total = analysis.total();
        if total.minus(Percent::HUNDRED).is_some_and(|over| over > ROUNDING) {
            return Err(AnalysisError::Total(total));
        }
        Ok(analysis)
    }

    /// All values of single elements together.
    fn total(&self) -> Percent {
        self.values
            .iter()
            .filter(|(elements, _)| elements.len() == 1)
            .filter_map(|(_, printed)| match printed.reported {
                Reported::Value(value) => Some(value),
                Reported::Below(_) | Reported::NoNumber => None,
            })
            .fold(Percent::ZERO, Percent::plus)
    }

    /// The symbols and the values as typed, in the order of the atomic numbers: what is recorded.
    pub fn pairs(&self) -> impl Iterator<Item = (String, &str)> {
        self.values.iter().map(|(elements, printed)| (name(elements), printed.text.as_str()))
    }

    /// Whether nothing was printed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// What it says of one element by itself; None when the element is not in it.
    #[must_use]
    pub fn element(&self, element: Element) -> Option<&Reported> {
        self.printed(&[element]).map(|printed| &printed.reported)
    }

    /// What it says of elements printed as one value; None when they were not.
    #[must_use]
    pub fn sum(&self, elements: &[Element]) -> Option<&Reported> {
        let mut elements = elements.to_vec();
        elements.sort_unstable();
        self.printed(&elements).map(|printed| &printed.reported)
    }

    /// The text of a value as typed.
    #[must_use]
    pub fn text(&self, elements: &[Element]) -> Option<&str> {
        let mut elements = elements.to_vec();
        elements.sort_unstable();
        self.printed(&elements).map(|printed| printed.text.as_str())
    }

    fn printed(&self, elements: &[Element]) -> Option<&Printed> {
        self.values.get(elements)
    }

    /// Everything printed: the element, or those printed together; what is said; the text.
    pub(crate) fn entries(&self) -> impl Iterator<Item = (&[Element], &Reported, &str)> {
        self.values
            .iter()
            .map(|(elements, printed)| (elements.as_slice(), &printed.reported, printed.text.as_str()))
    }

    /// The elements that have a value of their own, with what it says.
    pub fn elements(&self) -> impl Iterator<Item = (Element, &Reported)> {
        self.values.iter().filter_map(|(elements, printed)| match elements.as_slice() {
            [element] => Some((*element, &printed.reported)),
            _ => None,
        })
    }

    /// The plain values by element, for indices: bounds and words are not among them.
    #[must_use]
    pub fn values(&self) -> BTreeMap<Element, Percent> {
        self.elements()
            .filter_map(|(element, reported)| match reported {
                Reported::Value(value) => Some((element, *value)),
                Reported::Below(_) | Reported::NoNumber => None,
            })
            .collect()
    }
}

impl fmt::Display for Analysis {
    /// As [`Analysis::parse`] reads it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<String> = self.pairs().map(|(element, text)| format!("{element}={text}")).collect();
        f.write_str(&parts.join(","))
    }
}

impl Serialize for Analysis {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.pairs())
    }
}

impl<'de> Deserialize<'de> for Analysis {
    /// Only as it would be written again.
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let pairs = BTreeMap::<String, String>::deserialize(deserializer)?;
        let analysis = Analysis::from_pairs(pairs.iter().map(|(e, v)| (e.as_str(), v.as_str())))
            .map_err(serde::de::Error::custom)?;
        let same = analysis.pairs().all(|(element, text)| pairs.get(&element).is_some_and(|t| t == text));
        if same { Ok(analysis) } else { Err(serde::de::Error::custom("not an analysis as it is written")) }
    }
}

fn name(elements: &[Element]) -> String {
    elements.iter().map(|e| e.symbol()).collect::<Vec<_>>().join("+")
}

fn parse_elements(text: &str) -> Result<Elements, AnalysisError> {
    let mut elements = text.split('+').map(Element::parse).collect::<Result<Vec<_>, _>>()?;
    elements.sort_unstable();
    let count = elements.len();
    elements.dedup();
    if elements.len() == count { Ok(elements) } else { Err(AnalysisError::Twice(shown(text.trim()))) }
}

fn parse_value(element: &str, text: &str) -> Result<Reported, AnalysisError> {
    let lower = text.to_lowercase();
    if NOT_A_NUMBER.contains(&lower.as_str()) {
        return Ok(Reported::NoNumber);
    }
    let (element, shown_text) = (element.to_owned(), shown(text));
    if lower.ends_with("ppm") {
        return Err(AnalysisError::PartsPerMillion { element, text: shown_text });
    }
    if lower.starts_with(['>', '\u{2265}']) || lower.ends_with("min") {
        return Err(AnalysisError::Above { element, text: shown_text });
    }
    let number = |text: &str| {
        Percent::parse(text).map_err(|fault| AnalysisError::Value { element: element.clone(), fault })
    };
    if let Some(bound) = lower.strip_prefix(['<', '\u{2264}']) {
        return number(bound.strip_prefix('=').unwrap_or(bound)).map(Reported::Below);
    }
    match Percent::parse(&lower) {
        Ok(value) => Ok(Reported::Value(value)),
        Err(fault) if fault.is(NumberFault::NotANumber) && is_range(&lower) => {
            Err(AnalysisError::Range { element, text: shown_text })
        }
        Err(fault) => Err(AnalysisError::Value { element, fault }),
    }
}

/// Two numbers with a dash between them.
fn is_range(text: &str) -> bool {
    text.split_once(['-', '\u{2013}', '\u{2014}'])
        .is_some_and(|(least, most)| Percent::parse(least).is_ok() && Percent::parse(most).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn element(symbol: &str) -> Element {
        Element::parse(symbol).unwrap()
    }

    #[test]
    fn values_bounds_and_words() {
        let analysis = Analysis::parse("C=0.050, mn=1.15,S=<0.005,Cu=tr,Fe=bal.,Cb+Ta=3.60,V=-,Mo=").unwrap();
        assert_eq!(analysis.text(&[element("C")]), Some("0.050"));
        assert_eq!(analysis.element(element("S")), Some(&Reported::Below(Percent::parse("0.005").unwrap())));
        for symbol in ["Cu", "Fe", "V", "Mo"] {
            assert_eq!(analysis.element(element(symbol)), Some(&Reported::NoNumber), "{symbol}");
        }
        assert_eq!(analysis.element(element("Nb")), None);
        assert_eq!(analysis.element(element("Ni")), None);
        let sum = analysis.sum(&[element("Ta"), element("Nb")]);
        assert_eq!(sum, Some(&Reported::Value(Percent::parse("3.6").unwrap())));
        assert_eq!(analysis.to_string(), "C=0.050,S=<0.005,V=-,Mn=1.15,Fe=bal.,Cu=tr,Nb+Ta=3.60,Mo=");
        assert_eq!(analysis.values().len(), 2);
        assert!(Analysis::parse(" ").unwrap().is_empty());
    }

    #[test]
    fn bad_input_is_named_and_never_a_number() {
        for (text, part) in [
            ("C=0,05", "\"05\" is not an element and its value"),
            ("C=0,05,Mn=1.15", "a comma separates"),
            ("C", "is not an element"),
            ("C=0.05,,Mn=1", "is not an element"),
            ("Xx=0.05", "not the symbol"),
            ("=0.05", "not the symbol"),
            ("C=0.05,C=0.06", "C is there twice"),
            ("Nb=0.5,Cb=0.5", "Nb is there twice"),
            ("Mn+Ni=1,Ni+Mn=1", "there twice"),
            ("Mn+Mn=1", "there twice"),
            ("Cr=101", "above 100"),
            ("C=-0.05", "below zero"),
            ("C=\u{2212}0.05", "below zero"),
            ("C=5e-2", "powers of ten"),
            ("N=120 ppm", "divided by 10000"),
            ("N=120PPM", "parts per million"),
            ("Mn=0.90-1.40", "limits, not what was found"),
            ("Mn=0.90\u{2013}1.40", "limits, not what was found"),
            ("Mn=>0.9", "bound from below"),
            ("Al=99.0 min", "bound from below"),
            ("C=<", "no number"),
            ("C=<-1", "below zero"),
            ("C=0.05 %x", "not a plain decimal number"),
            ("Cr=60,Ni=60", "add up to 120 percent"),
            ("C=+0.05", "not a plain decimal number"),
        ] {
            let message = Analysis::parse(text).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
        assert!(Analysis::from_pairs([("C", "0,05")]).unwrap_err().to_string().contains("comma"));
        // Each of many values rounded up: a little above 100 is no error.
        assert!(Analysis::parse("Fe=70.5,Cr=20,Ni=10.5").is_ok());
        // Printed sums are not counted twice.
        assert!(Analysis::parse("Ni=60,Cr=40,Ni+Cr=100").is_ok());
    }

    proptest! {
        #[test]
        fn what_was_typed_comes_back(c in "0\\.[0-9]{1,4}", mn in "[0-9]\\.[0-9]{0,3}[1-9]", s in "<0\\.[0-9]{3}") {
            let analysis = Analysis::parse(&format!("Mn={mn},S={s},C={c},Fe=bal.")).unwrap();
            let json = serde_json::to_string(&analysis).unwrap();
            prop_assert_eq!(serde_json::from_str::<Analysis>(&json).unwrap(), analysis.clone());
            prop_assert!(json.contains(&mn) && json.contains(&c) && json.contains(&s), "{}", json);
            prop_assert_eq!(Analysis::parse(&analysis.to_string()).unwrap(), analysis);
        }

        #[test]
        fn any_text_is_answered(text in ".{0,120}", near in "[A-Za-z+=<>,.0-9 -]{0,120}") {
            let _ = Analysis::parse(&text);
            if let Ok(analysis) = Analysis::parse(&near) {
                prop_assert!(analysis.total() <= Percent::HUNDRED.plus(Percent::HUNDRED));
            }
        }
    }
}
