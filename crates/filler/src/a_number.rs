//! The A-number of a deposit from its analysis: ASME IX table QW-442, by `data/a_number_limits.csv`.
//!
//! Almost all of that table is recalled and none was read in the code itself: an A-number from it is from an unverified
//! table. The values are compared as printed, without rounding: the code's table has no rounding rule that was seen.
//! An element that is not reported makes the numbers it would decide not computable; it is never zero.

use crate::analysis::{Analysis, Reported};
use crate::element::Element;
use crate::limits::Confidence;
use crate::percent::Percent;
use serde::Deserialize;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/a_number_limits.csv");

/// Name of the table, for every answer.
pub const TABLE_NAME: &str = "ASME IX QW-442, built in";

/// An A-number of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ANumber {
    /// The number.
    pub number: u8,
    /// Type of weld deposit.
    pub deposit: String,
    limits: Vec<ElementLimit>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct ElementLimit {
    element: Element,
    min: Option<Percent>,
    max: Option<Percent>,
    confidence: Confidence,
}

/// The A-numbers of an analysis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ANumbers {
    /// All whose limits the analysis meets; they overlap, so there can be several.
    pub fits: Vec<&'static ANumber>,
    /// Those that cannot be told, each with the elements that are missing or known only as a bound.
    pub not_computable: Vec<(&'static ANumber, Vec<Element>)>,
    /// Whether the answer rests on a limit that no document was read for.
    pub unverified: bool,
}

/// One line of the table.
#[derive(Deserialize)]
struct Line {
    a_number: u8,
    weld_deposit_type: String,
    element: String,
    min_pct: String,
    max_pct: String,
    confidence: String,
}

fn rows() -> &'static [ANumber] {
    static ROWS: OnceLock<Vec<ANumber>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let mut numbers: Vec<ANumber> = Vec::new();
        for line in csv::Reader::from_reader(TABLE.as_bytes()).deserialize::<Line>() {
            let Some((number, deposit, limit)) = line.ok().and_then(read) else {
                // Half a number would fit what the whole does not.
                return Vec::new();
            };
            match numbers.iter_mut().find(|known| known.number == number) {
                Some(known) => known.limits.push(limit),
                None => numbers.push(ANumber { number, deposit, limits: vec![limit] }),
            }
        }
        numbers
    })
}

fn read(line: Line) -> Option<(u8, String, ElementLimit)> {
    let end = |text: &str| if text.is_empty() { Some(None) } else { Percent::parse(text).ok().map(Some) };
    let limit = ElementLimit {
        element: Element::parse(&line.element).ok()?,
        min: end(&line.min_pct)?,
        max: end(&line.max_pct)?,
        confidence: Confidence::parse(&line.confidence).ok()?,
    };
    Some((line.a_number, line.weld_deposit_type, limit))
}

/// Whether a value is within a limit; None when that cannot be told.
fn within(limit: &ElementLimit, reported: Option<&Reported>) -> Option<bool> {
    let (low, high) = match reported? {
        Reported::Value(value) => (*value, *value),
        Reported::Below(bound) => (Percent::ZERO, *bound),
        Reported::NoNumber => return None,
    };
    let (min, max) = (limit.min.unwrap_or(Percent::ZERO), limit.max.unwrap_or(Percent::HUNDRED));
    if low > max || high < min {
        Some(false)
    } else if low >= min && high <= max {
        Some(true)
    } else {
        None
    }
}

/// All A-numbers that the analysis of a deposit fits, and those that cannot be told.
#[must_use]
pub fn a_numbers(analysis: &Analysis) -> ANumbers {
    let mut found = ANumbers { fits: Vec::new(), not_computable: Vec::new(), unverified: false };
    for number in rows() {
        let within: Vec<(&ElementLimit, Option<bool>)> = number
            .limits
            .iter()
            .map(|limit| (limit, within(limit, analysis.element(limit.element))))
            .collect();
        let recalled = |limit: &ElementLimit| limit.confidence == Confidence::Memory;
        let mut broken = within.iter().filter(|(_, within)| *within == Some(false)).peekable();
        if broken.peek().is_some() {
            // One limit that was read in a document is enough to rule a number out.
            found.unverified |= broken.all(|(limit, _)| recalled(limit));
            continue;
        }
        found.unverified |= number.limits.iter().any(recalled);
        let open: Vec<Element> =
            within.iter().filter(|(_, w)| w.is_none()).map(|(limit, _)| limit.element).collect();
        if open.is_empty() { found.fits.push(number) } else { found.not_computable.push((number, open)) }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fits(text: &str) -> (Vec<u8>, Vec<u8>) {
        let found = a_numbers(&Analysis::parse(text).unwrap());
        (
            found.fits.iter().map(|n| n.number).collect(),
            found.not_computable.iter().map(|(n, _)| n.number).collect(),
        )
    }

    #[test]
    fn every_line_was_read() {
        assert_eq!(rows().len(), 12);
        assert_eq!(rows().iter().map(|n| n.limits.len()).sum::<usize>(), TABLE.lines().count() - 1);
    }

    #[test]
    fn a_numbers_of_deposits() {
        // Constructed deposits against the table; a good S-6 wire can fall outside A-1.
        for (text, want) in [
            ("C=0.08,Cr=0.03,Mo=0.01,Ni=0.02,Mn=1.30,Si=0.60", vec![1]),
            ("C=0.08,Cr=0.03,Mo=0.01,Ni=0.02,Mn=1.65,Si=0.90", vec![]),
            ("C=0.08,Cr=0.03,Mo=0.50,Ni=0.02,Mn=1.00,Si=0.60", vec![2]),
            ("C=0.08,Cr=1.30,Mo=0.50,Ni=0.02,Mn=0.70,Si=0.50", vec![3]),
            // Chromium at the border of both.
            ("C=0.08,Cr=2.00,Mo=0.50,Ni=0.02,Mn=0.70,Si=0.50", vec![3, 4]),
            ("C=0.02,Cr=19.9,Mo=0.10,Ni=9.9,Mn=1.70,Si=0.40", vec![8]),
            ("C=0.02,Cr=24.0,Mo=2.00,Ni=15.0,Mn=1.70,Si=0.40", vec![8, 9]),
        ] {
            assert_eq!(fits(text), (want, vec![]), "{text}");
        }
    }

    #[test]
    fn a_missing_element_is_never_zero() {
        // Without molybdenum nothing that limits it can be told; chromium rules the rest out.
        assert_eq!(fits("C=0.08,Cr=0.03,Ni=0.02,Mn=1.30,Si=0.60"), (vec![], vec![1, 2, 11]));
        assert_eq!(fits("C=0.08,Cr=0.03,Mo=tr,Ni=0.02,Mn=1.30,Si=0.60"), (vec![], vec![1, 2, 11]));
        assert_eq!(fits("C=0.08,Cr=0.03,Mo=<0.05,Ni=0.02,Mn=1.30,Si=0.60"), (vec![1], vec![]));
        assert_eq!(fits("").1.len(), 12);
        assert!(a_numbers(&Analysis::parse("").unwrap()).unverified);
        // That none fits rests on the same limits.
        let none = a_numbers(&Analysis::parse("C=0.08,Cr=0.03,Mo=0.01,Ni=0.02,Mn=1.65,Si=0.90").unwrap());
        assert!(none.fits.is_empty() && none.not_computable.is_empty() && none.unverified);
    }
}
