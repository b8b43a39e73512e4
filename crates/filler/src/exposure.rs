//! How long a low-hydrogen covered electrode may be out of the oven, by its designation as printed.
//!
//! The hours are those of AWS D1.1/D1.1M:2015 Table 5.1, column A, for electrodes of AWS A5.1 and A5.5, as far as they
//! are known here; `data/exposure.csv` names for each where it comes from. A designation that no row covers has no limit
//! known, which does not mean that it may be out for ever. A suffix that is not printed is not there: of two limits the
//! shorter one counts.

use crate::classification::parts;
use crate::specification::normal_spec;
use serde::Deserialize;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/exposure.csv");

/// A row of the table.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Exposure {
    /// The specification: `A5.1`.
    pub spec: String,
    /// Tensile strength in ksi, the digits before the covering: `70`.
    pub strength: String,
    /// The last two digits of the covered classes, apart by blanks: `15 16 18`.
    pub coverings: String,
    /// Empty, `R` for a moisture-resistant covering, `M` for the military type.
    pub suffix: String,
    /// Hours out of the oven without a test: decimal text.
    pub hours: String,
    /// Hours that a test of the class and maker can allow, on the conditions of the code; empty where none are known.
    pub hours_after_test: String,
    /// The document, with its edition.
    pub document: String,
    /// Table and column.
    pub clause: String,
    /// Where the figure was seen.
    pub source: String,
    /// How sure it is: `two-sources`, `one-source` or `memory`.
    pub confidence: String,
}

/// What a designation as printed says for the table.
struct Designation {
    digits: String,
    moisture_resistant: bool,
    military: bool,
}

/// The table, read once.
#[must_use]
pub fn exposures() -> &'static [Exposure] {
    static ROWS: OnceLock<Vec<Exposure>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes()).deserialize().filter_map(Result::ok).collect()
    })
}

/// Digits of the base, and the suffixes that count: R alone or behind a hydrogen designator (H4R), M behind the digits.
fn designation(class: &str) -> Option<Designation> {
    let parts = parts(class);
    let [base] = parts.bases.as_slice() else { return None };
    let end = base.find(|c: char| !c.is_ascii_digit()).unwrap_or(base.len());
    let (digits, tail) = base.split_at_checked(end)?;
    let mut suffixes: Vec<&str> = parts.suffixes.iter().map(String::as_str).collect();
    let military = tail.starts_with('M') || suffixes.contains(&"M");
    let tail = tail.strip_prefix('M').unwrap_or(tail);
    if !tail.is_empty() {
        suffixes.push(tail);
    }
    let known_tail = ["", "R", "H4", "H8", "H16", "H4R", "H8R", "H16R"].contains(&tail);
    known_tail.then(|| Designation {
        digits: digits.to_owned(),
        moisture_resistant: suffixes.iter().any(|s| ["R", "H4R", "H8R", "H16R"].contains(s)),
        military,
    })
}

/// The row for a class of a specification, both as printed; None when no limit is known.
#[must_use]
pub fn exposure_for(spec: &str, class: &str) -> Option<&'static Exposure> {
    let spec = normal_spec(spec)?;
    let read = designation(class)?;
    let rows = exposures().iter().filter(|row| {
        row.spec == spec
            && row.coverings.split(' ').any(|covering| {
                read.digits.strip_suffix(covering).is_some_and(|strength| strength == row.strength)
            })
    });
    let with = |suffix: &str| rows.clone().find(|row| row.suffix == suffix);
    let resistant = read.moisture_resistant.then(|| with("R")).flatten();
    let military = read.military.then(|| with("M")).flatten();
    resistant.or(military).or_else(|| with(""))
}

/// Whether the designation has an R that the row found does not have, so that the limit is that of the plain class.
#[must_use]
pub fn moisture_suffix_without_a_row(class: &str, row: &Exposure) -> bool {
    row.suffix.is_empty() && designation(class).is_some_and(|d| d.moisture_resistant)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exact::Exact;

    fn hours(spec: &str, class: &str) -> Option<&'static str> {
        exposure_for(spec, class).map(|row| row.hours.as_str())
    }

    /// AWS D1.1/D1.1M:2015 Table 5.1, column A; the sources of each figure are in the table.
    #[test]
    fn every_row_by_designations_as_printed() {
        for (spec, class, want) in [
            ("A5.1", "E7018", Some("4")),
            ("SFA-5.1", "7018", Some("4")),
            ("AWS A5.1/A5.1M:2012", "e7018-1", Some("4")),
            ("A5.1", "E7016", Some("4")),
            ("A5.1", "E7028 H8", Some("4")),
            ("A5.1", "E7048", Some("4")),
            ("A5.1", "E7018-H4R", Some("9")),
            ("A5.1", "E7018H4R", Some("9")),
            ("A5.1", "E7018-1 H4R", Some("9")),
            ("A5.1", "E7018R", Some("9")),
            ("A5.1", "E7015 H16R", Some("9")),
            ("A5.1", "E7018-1 H4", Some("4")),
            ("A5.1", "E7018M", Some("9")),
            ("A5.1", "E7018M H4R", Some("9")),
            ("A5.5", "E7018-A1", Some("4")),
            ("A5.5", "E8018-B2", Some("2")),
            ("A5.5", "E8018-C3 H4R", Some("2")),
            ("A5.5", "E8016-C1", Some("2")),
            ("A5.5", "E9018-B3", Some("1")),
            ("A5.5", "E9018M", Some("1")),
            ("A5.5", "E10018-D2", Some("0.5")),
            ("A5.5", "E11018-M", Some("0.5")),
            ("A5.5", "E11018M", Some("0.5")),
            // No limit known.
            ("A5.1", "E6010", None),
            ("A5.1", "E6013", None),
            ("A5.1", "E7024", None),
            ("A5.1", "E7014", None),
            ("A5.1", "E6018", None),
            ("A5.1", "E8018", None),
            ("A5.5", "E8010-P1", None),
            ("A5.5", "E12018M", None),
            ("A5.5", "E7018X", None),
            ("A5.4", "E308L-16", None),
            ("A5.18", "ER70S-2", None),
            ("A5.18", "E7018", None),
            ("", "E7018", None),
            ("A5.1", "", None),
            ("A5.1", "E", None),
            ("A5.1", "E7018/E8018", None),
        ] {
            assert_eq!(hours(spec, class), want, "{spec} {class}");
        }
    }

    #[test]
    fn an_r_without_a_row_of_its_own_is_told() {
        for (class, want) in [("E8018-C3 H4R", true), ("E8018-C3 H4", false)] {
            let row = exposure_for("A5.5", class).unwrap();
            assert_eq!(moisture_suffix_without_a_row(class, row), want, "{class}");
        }
        let row = exposure_for("A5.1", "E7018 H4R").unwrap();
        assert!(!moisture_suffix_without_a_row("E7018 H4R", row));
    }

    #[test]
    fn the_table_is_whole() {
        assert_eq!(exposures().len(), TABLE.lines().count() - 1);
        for row in exposures() {
            assert!(Exact::parse(&row.hours).is_ok_and(|hours| !hours.is_zero()), "{row:?}");
            assert!(["two-sources", "one-source", "memory"].contains(&row.confidence.as_str()), "{row:?}");
        }
        // A moisture-resistant covering is never given less.
        for row in exposures().iter().filter(|row| !row.suffix.is_empty()) {
            let plain = exposures()
                .iter()
                .find(|p| p.suffix.is_empty() && p.spec == row.spec && p.strength == row.strength);
            assert!(Exact::parse(&plain.unwrap().hours).unwrap() <= Exact::parse(&row.hours).unwrap());
        }
    }
}
