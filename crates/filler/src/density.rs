//! Density by specification and classification, from `data/densities.csv`.
//!
//! The table names for each figure where it comes from and how sure it is. A product that no row covers has no
//! density here: None, never a guess.

use std::sync::OnceLock;

use serde::Deserialize;

use crate::classification::parts;
use crate::decimal::{NumberFault, parse_decimal};
use crate::shown::shown;
pub(crate) use crate::specification::normal_spec;

const TABLE: &str = include_str!("../data/densities.csv");

/// The word in the table for every class of the specifications before it.
const ALL_CLASSES: &str = "all";

/// Two characters in the table that stand for any two printed there, as in `E2209-XX`.
const PLACEHOLDER: &str = "XX";

/// The density of a product, with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Density {
    /// Grams per cubic centimetre, as in the table: `7.85`.
    pub g_per_cm3: String,
    /// Milligrams per cubic centimetre: 7850.
    pub mg_per_cm3: i64,
    /// The alloy family of the row.
    pub family: String,
    /// Where the figure comes from.
    pub source: String,
    /// How sure it is: `common practice`, `one-source` or `memory`.
    pub confidence: String,
}

/// A text that is not a density.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a density in g/cm3: {fault}")]
pub struct DensityError {
    text: String,
    fault: DensityFault,
}

/// Why something is not a density.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum DensityFault {
    #[error(transparent)]
    Number(#[from] NumberFault),
    #[error("it has more than 3 decimal places; write at most 3")]
    TooManyPlaces,
    #[error("it must be above 0 and below 30, denser than any metal; write one such as 7.85")]
    OutOfRange,
}

impl Density {
    /// A density given in grams per cubic centimetre rather than looked up, such as `7.85`.
    ///
    /// # Errors
    /// When the text is not a number above 0 and below 30 with at most 3 decimal places.
    pub fn given(g_per_cm3: &str) -> Result<Self, DensityError> {
        let mg_per_cm3 =
            parse_density(g_per_cm3).map_err(|fault| DensityError { text: shown(g_per_cm3), fault })?;
        Ok(Density {
            g_per_cm3: g_per_cm3.trim().to_owned(),
            mg_per_cm3,
            family: String::new(),
            source: "given".to_owned(),
            confidence: "given".to_owned(),
        })
    }
}

/// Milligrams per cubic centimetre from decimal grams per cubic centimetre.
fn parse_density(text: &str) -> Result<i64, DensityFault> {
    let decimal = parse_decimal(text)?;
    let places = 3_u32.checked_sub(decimal.scale).ok_or(DensityFault::TooManyPlaces)?;
    10_u128
        .checked_pow(places)
        .and_then(|power| power.checked_mul(decimal.digits))
        .and_then(|mg| i64::try_from(mg).ok())
        .filter(|mg| (1..30_000).contains(mg))
        .ok_or(DensityFault::OutOfRange)
}

/// One line of the table.
#[derive(Deserialize)]
struct Line {
    family: String,
    classifications: String,
    density_g_cm3: String,
    source: String,
    confidence: String,
}

/// One line of the table, read.
struct Row {
    /// Specifications the row is limited to; none: any.
    specs: Vec<String>,
    /// The classes it covers.
    classes: Vec<Pattern>,
    density: Density,
}

/// Classes that a row covers, without a leading ER or E, parts joined by hyphens, in capitals.
enum Pattern {
    /// Every class.
    All,
    /// This class.
    Exactly(String),
    /// Every class that begins so: `ER308*`.
    Beginning(String),
    /// Every class that has two more characters: `E2209-XX`.
    WithTwoMore(String),
}

impl Pattern {
    fn parse(text: &str) -> Self {
        if text.eq_ignore_ascii_case(ALL_CLASSES) {
            Pattern::All
        } else if let Some(beginning) = text.strip_suffix('*') {
            Pattern::Beginning(spelled(beginning).concat())
        } else if let Some(beginning) = text.strip_suffix(PLACEHOLDER) {
            Pattern::WithTwoMore(format!("{}-", spelled(beginning).concat()))
        } else {
            Pattern::Exactly(spelled(text).concat())
        }
    }

    fn covers(&self, class: &str) -> bool {
        match self {
            Pattern::All => true,
            Pattern::Exactly(text) => class == text,
            Pattern::Beginning(text) => class.starts_with(text),
            Pattern::WithTwoMore(text) => class
                .strip_prefix(text.as_str())
                .is_some_and(|rest| rest.chars().count() == 2 && rest.chars().all(char::is_alphanumeric)),
        }
    }
}

/// The ways to spell a class: one for each base, with all suffixes.
fn spelled(class: &str) -> Vec<String> {
    let parts = parts(class);
    parts
        .bases
        .iter()
        .map(|base| {
            let mut spelling = base.clone();
            for suffix in &parts.suffixes {
                spelling.push('-');
                spelling.push_str(suffix);
            }
            spelling
        })
        .collect()
}

/// The table, read once.
fn table() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes())
            .deserialize::<Line>()
            .filter_map(|line| row(line.ok()?))
            .collect()
    })
}

fn row(line: Line) -> Option<Row> {
    let mg_per_cm3 = parse_density(&line.density_g_cm3).ok()?;
    let (specs, classes): (Vec<&str>, Vec<&str>) =
        line.classifications.split_whitespace().partition(|word| normal_spec(word).is_some());
    Some(Row {
        specs: specs.into_iter().filter_map(normal_spec).collect(),
        classes: classes.into_iter().map(Pattern::parse).collect(),
        density: Density {
            g_per_cm3: line.density_g_cm3,
            mg_per_cm3,
            family: line.family,
            source: line.source,
            confidence: line.confidence,
        },
    })
}

/// The density of a classification of a specification, both as printed.
///
/// A row limited to specifications counts only for those. A dual-marked class (`ER308/308L`) is looked up by each of
/// its classes. None when no row covers the product, or when the rows that do disagree.
#[must_use]
pub fn density_for(spec: &str, class: &str) -> Option<Density> {
    let spec = normal_spec(spec);
    let spellings = spelled(class);
    let mut found = table().iter().filter(|row| {
        (row.specs.is_empty() || spec.as_ref().is_some_and(|spec| row.specs.contains(spec)))
            && row.classes.iter().any(|pattern| spellings.iter().any(|spelling| pattern.covers(spelling)))
    });
    let first = &found.next()?.density;
    found.all(|row| row.density.mg_per_cm3 == first.mg_per_cm3).then(|| first.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mg_per_cm3(spec: &str, class: &str) -> Option<i64> {
        density_for(spec, class).map(|density| density.mg_per_cm3)
    }

    #[test]
    fn every_line_of_the_table_is_read() {
        assert_eq!(table().len(), TABLE.lines().count() - 1);
        assert!(table().len() > 10);
        for row in table() {
            assert!(!row.classes.is_empty(), "{}", row.density.family);
            assert!(!row.density.source.is_empty() && !row.density.confidence.is_empty());
        }
    }

    #[test]
    fn steel_by_specification_however_it_is_printed() {
        for spec in [
            "A5.18",
            "SFA-5.18",
            "sfa 5.18",
            "AWS A5.18",
            "AWS A5.18/A5.18M:2021",
            "ASME SFA-5.18",
            "SFA/A5.18",
        ] {
            let density = density_for(spec, "ER70S-2").unwrap();
            assert_eq!((density.g_per_cm3.as_str(), density.mg_per_cm3), ("7.85", 7850), "{spec}");
        }
        assert_eq!(mg_per_cm3("A5.1", "E7018-1 H4R"), Some(7850));
        // A5.1 is not A5.18 nor A5.17, and a class without a specification is not steel.
        assert_eq!(mg_per_cm3("A5.17", "EM12K"), None);
        assert_eq!(mg_per_cm3("", "ER70S-2"), None);
        assert_eq!(mg_per_cm3("A5.18", ""), None);
    }

    #[test]
    fn classes_by_pattern() {
        assert_eq!(mg_per_cm3("A5.9", "ER308L"), Some(7930));
        assert_eq!(mg_per_cm3("A5.9", "er308LSi"), Some(7930));
        assert_eq!(mg_per_cm3("A5.4", "E308L-16"), Some(7930));
        assert_eq!(mg_per_cm3("A5.9", "ER410NiMo"), Some(7750));
        assert_eq!(mg_per_cm3("A5.4", "E2209-16"), Some(7800));
        assert_eq!(mg_per_cm3("A5.4", "E2209-XX"), Some(7800));
        assert_eq!(mg_per_cm3("A5.4", "E2209-161"), None);
        assert_eq!(mg_per_cm3("A5.14", "ERNiCrMo-3"), Some(8440));
        assert_eq!(mg_per_cm3("A5.14", "ERNiCrMo-17"), None);
        assert_eq!(mg_per_cm3("A5.10", "ER4043"), Some(2680));
        assert_eq!(mg_per_cm3("A5.16", "ERTi-5"), Some(4430));
        assert_eq!(mg_per_cm3("A5.22", "E308LT1-1"), None); // that row is for A5.4 and A5.9 only
    }

    #[test]
    fn dual_marks_by_any_class_unless_the_rows_disagree() {
        assert_eq!(mg_per_cm3("A5.9", "ER308/308L"), Some(7930));
        assert_eq!(mg_per_cm3("A5.9", "ER308/ER308L"), Some(7930));
        assert_eq!(mg_per_cm3("A5.9", "ER309L/ER309LX"), Some(7930));
        assert_eq!(mg_per_cm3("A5.9", "ER308/ER2209"), None);
        // An aluminium class under a steel specification contradicts itself.
        assert_eq!(mg_per_cm3("A5.18", "ER4043"), None);
    }

    #[test]
    fn a_given_density_is_kept_as_typed() {
        let density = Density::given("7.85").unwrap();
        assert_eq!((density.g_per_cm3.as_str(), density.mg_per_cm3), ("7.85", 7850));
        assert_eq!(Density::given("8").unwrap().mg_per_cm3, 8000);
        for (text, part) in [
            ("7,85", "with a point"),
            ("0", "above 0"),
            ("30", "below 30"),
            ("7.8333", "3 decimal places"),
            ("-1", "below zero"),
        ] {
            let message = Density::given(text).unwrap_err().to_string();
            assert!(
                message.starts_with(&format!("\"{text}\" is not a density")) && message.contains(part),
                "{message}"
            );
        }
    }
}
