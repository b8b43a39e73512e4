//! How the boiler code groups a class: F-number, A-number, process, product form, from `data/groups.csv`.
//!
//! The confidence of a row is that of its F-number. Its A-number was worked out from the limits of the table of
//! A-numbers, most of which are recalled: treat it as no better than [`Confidence::Memory`]. An A-number is that of the
//! deposit, so where a class allows deposits in and out of it the class has none, and the remark says on what it hangs; see
//! [`crate::a_number`] for the A-number of an analysis.

use crate::designation::Mark;
use crate::limits::{ClassLimits, Confidence};
use crate::process::Process;
use serde::Deserialize;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/groups.csv");

/// How a product is made up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MakeUp {
    /// Solid wire or rod.
    SolidBare,
    /// Core wire with a covering.
    Covered,
    /// A tube filled with powder.
    Tubular,
}

impl MakeUp {
    const ALL: [Self; 3] = [Self::SolidBare, Self::Covered, Self::Tubular];

    /// Its words: `solid bare`, `covered`, `tubular`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            MakeUp::SolidBare => "solid bare",
            MakeUp::Covered => "covered",
            MakeUp::Tubular => "tubular",
        }
    }
}

/// How a class is grouped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Groups {
    /// Classes as the tables have them; a star ends a beginning.
    classes: Vec<String>,
    /// Coverings that the row is for; none: any.
    coverings: Vec<u8>,
    /// Specification as the boiler code numbers it: `SFA-5.18`.
    pub sfa: String,
    /// F-number of ASME IX table QW-432.
    pub f_number: u8,
    /// Remark on it.
    pub f_note: String,
    /// A-number of ASME IX table QW-442; None where it hangs on the lot, or where there is none.
    pub a_number: Option<u8>,
    /// Remark on it: on what it hangs, or why there is none.
    pub a_note: String,
    /// Processes that the class is used with.
    pub processes: Vec<Process>,
    /// How the product is made up.
    pub make_up: MakeUp,
    /// Where the F-number comes from.
    pub source: String,
    /// How sure the F-number is.
    pub confidence: Confidence,
}

/// One line of the table.
#[derive(Deserialize)]
struct Line {
    classifications: String,
    coverings: String,
    process: String,
    f_number: u8,
    f_note: String,
    a_number: Option<u8>,
    a_note: String,
    sfa_spec: String,
    product_form: String,
    source: String,
    confidence: String,
}

fn rows() -> &'static [Groups] {
    static ROWS: OnceLock<Vec<Groups>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes())
            .deserialize::<Line>()
            .filter_map(|line| row(line.ok()?))
            .collect()
    })
}

fn row(line: Line) -> Option<Groups> {
    let numbers = line.coverings.split_whitespace().map(str::parse).collect::<Result<Vec<u8>, _>>();
    Some(Groups {
        classes: line.classifications.split_whitespace().map(str::to_owned).collect(),
        coverings: numbers.ok()?,
        sfa: line.sfa_spec,
        f_number: line.f_number,
        f_note: line.f_note,
        a_number: line.a_number,
        a_note: line.a_note,
        processes: line.process.split(';').map(Process::parse).collect::<Result<_, _>>().ok()?,
        make_up: MakeUp::ALL.into_iter().find(|m| m.word() == line.product_form)?,
        source: line.source,
        confidence: Confidence::parse(&line.confidence).ok()?,
    })
}

/// The groups of a class with the suffixes printed behind it: none where the table does not have it, several where the
/// covering of a stainless electrode decides and is not printed.
#[must_use]
pub fn groups_of(class: &ClassLimits, marks: &[Mark]) -> Vec<&'static Groups> {
    let covering = marks.iter().find_map(|mark| match mark {
        Mark::Covering(number) => Some(*number),
        Mark::LowerImpactTemperature
        | Mark::Hydrogen(_)
        | Mark::MoistureResistant
        | Mark::ImprovedToughness
        | Mark::Tightens(_) => None,
    });
    let number = class.spec.strip_prefix('A');
    rows()
        .iter()
        .filter(|row| row.sfa.strip_prefix("SFA-") == number)
        .filter(|row| {
            row.classes.iter().any(|name| match name.strip_suffix('*') {
                Some(beginning) => class.classification.starts_with(beginning),
                None => *name == class.classification,
            })
        })
        .filter(|row| row.coverings.is_empty() || covering.is_none_or(|c| row.coverings.contains(&c)))
        .collect()
}

/// The F-number of a class, where all of its groups agree on it.
#[must_use]
pub fn f_number(class: &ClassLimits, marks: &[Mark]) -> Option<u8> {
    let groups = groups_of(class, marks);
    let first = groups.first()?.f_number;
    groups.iter().all(|g| g.f_number == first).then_some(first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{AppliesTo, Lookup, Tables};

    fn found(spec: &str, printed: &str) -> (&'static ClassLimits, Vec<Mark>) {
        match Tables::built_in().find(spec, printed) {
            Lookup::Found(found) => (found.classes[0], found.marks),
            Lookup::NotCovered(not) => panic!("{}", not.why),
        }
    }

    #[test]
    fn every_line_was_read_and_every_class_is_grouped() {
        assert_eq!(rows().len(), TABLE.lines().count() - 1);
        for class in Tables::built_in().classes() {
            let groups = groups_of(class, &[]);
            assert!(!groups.is_empty(), "{} {}", class.spec, class.classification);
            // Solid bare products are judged on the wire, covered and tubular ones on the deposit.
            for group in groups {
                let wire = group.make_up == MakeUp::SolidBare;
                assert_eq!(wire, class.product == AppliesTo::Wire, "{}", class.classification);
                assert!(!group.processes.is_empty());
                assert!(group.processes.iter().all(|p| !matches!(p, Process::Other(_))), "{group:?}");
            }
        }
    }

    #[test]
    fn f_numbers() {
        // ASME IX QW-432 as tabulated; sources in the rows.
        for (spec, class, f) in [
            ("A5.1", "E7024", Some(1)),
            ("A5.1", "E6013", Some(2)),
            ("A5.1", "E6010", Some(3)),
            ("A5.1", "E7018-1 H4R", Some(4)),
            ("A5.5", "E9018-B9", Some(4)),
            ("A5.4", "E309L-16", Some(5)),
            ("A5.4", "E309L-25", Some(1)),
            ("A5.4", "E309L", None),
            ("A5.18", "ER70S-6", Some(6)),
            ("A5.9", "ER316LSi", Some(6)),
            ("A5.10", "ER5356", Some(22)),
            ("A5.14", "ERNiCrMo-3", Some(43)),
            ("A5.16", "ERTi-5", Some(55)),
        ] {
            let (found, marks) = found(spec, class);
            assert_eq!(f_number(found, &marks), f, "{class}");
        }
    }

    #[test]
    fn an_a_number_that_hangs_on_the_lot_is_none_of_the_class() {
        let of = |spec, class| groups_of(found(spec, class).0, &[])[0].clone();
        assert_eq!(of("A5.18", "ER70S-2").a_number, Some(1));
        let s6 = of("A5.18", "ER70S-6");
        assert_eq!(s6.a_number, None);
        assert!(s6.a_note.contains("Mn<=1.60"), "{}", s6.a_note);
        assert_eq!(of("A5.9", "ER330").a_number, None);
    }
}
