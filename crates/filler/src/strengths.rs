//! Strengths of deposited metal as a certificate prints them, against the least and most of the class.
//!
//! A strength is compared in the unit that it is printed in, with the limit of that unit: 70 ksi and 490 MPa are the
//! standard's own pair, not a conversion. It is rounded to 1 ksi or 10 MPa, a tie to the even digit (ASTM E29; the steps are
//! recalled, not read). Elongation is rounded to a whole percent, an impact to a whole foot-pound or joule.

mod printed;

pub use printed::{Impact, Strength, StrengthError, StrengthUnit, Strengths};

use crate::certificate_check::ElementVerdict;
use crate::designation::Mark;
use crate::limits::{ClassLimits, Confidence};
use printed::{Energy, Temperature};
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/mechanicals.csv");

/// A test of strength.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StrengthTest {
    /// Tensile strength.
    Tensile,
    /// Yield strength at 0.2 % offset.
    Yield,
    /// Elongation.
    Elongation,
    /// Charpy V-notch impact, average.
    Impact,
}

impl StrengthTest {
    /// Its word: `tensile`, `yield`, `elongation`, `impact`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            StrengthTest::Tensile => "tensile",
            StrengthTest::Yield => "yield",
            StrengthTest::Elongation => "elongation",
            StrengthTest::Impact => "impact",
        }
    }
}

/// One strength and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct JudgedStrength {
    /// The class that limits it.
    pub classification: String,
    /// What was tested.
    pub strength: StrengthTest,
    /// As printed.
    pub value: String,
    /// The least, with its unit.
    pub min: Option<String>,
    /// The most, with its unit.
    pub max: Option<String>,
    /// The value rounded.
    pub rounded: Option<String>,
    /// The verdict.
    pub verdict: ElementVerdict,
    /// How sure the limit is.
    pub confidence: Option<Confidence>,
    /// Condition of the test that the limit is for.
    pub condition: String,
    /// Name of the table.
    pub table: String,
    /// What else there is to say.
    pub notes: Vec<String>,
}

impl JudgedStrength {
    pub(crate) fn compared(&self) -> bool {
        match self.verdict {
            ElementVerdict::Pass | ElementVerdict::PassByRounding | ElementVerdict::Fail => true,
            ElementVerdict::NotReported | ElementVerdict::NotLimited | ElementVerdict::NotChecked => false,
        }
    }

    /// In a few words.
    #[must_use]
    pub fn said(&self) -> String {
        let (what, value) = (self.strength.word(), &self.value);
        let limits = [
            self.min.as_ref().map(|m| format!("at least {m}")),
            self.max.as_ref().map(|m| format!("at most {m}")),
        ]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" and ");
        match self.verdict {
            ElementVerdict::Pass => format!("{what} {value} is {limits}"),
            ElementVerdict::PassByRounding => format!(
                "{what} {value} is {limits} once rounded to {}",
                self.rounded.as_deref().unwrap_or("")
            ),
            ElementVerdict::Fail => format!("{what} {value} is not {limits}"),
            ElementVerdict::NotLimited => format!("{what} {value} has no limit"),
            ElementVerdict::NotReported => format!("{what} is not reported"),
            ElementVerdict::NotChecked => {
                format!("{what} {value} is not checked: {}", self.notes.first().map_or("", String::as_str))
            }
        }
    }
}

/// A limit in both of the standard's unit systems.
#[derive(Debug, Clone, Copy, Default)]
struct Pair {
    us: Option<u32>,
    si: Option<u32>,
}

impl Pair {
    fn in_unit(self, us: bool) -> Option<u32> {
        if us { self.us } else { self.si }
    }

    fn is_some(self) -> bool {
        self.us.is_some() || self.si.is_some()
    }
}

/// What a class asks of strength.
#[derive(Debug)]
struct ClassStrengths {
    spec: String,
    /// The class, or its beginning where a star follows.
    classification: String,
    edition: String,
    condition: String,
    /// False where bare wire is classified without strength.
    required: bool,
    tensile: (Pair, Pair),
    yielding: (Pair, Pair),
    elongation: Option<u32>,
    impact: Pair,
    at_f: Option<i32>,
    at_c: Option<i32>,
    confidence: Confidence,
}

/// One line of the table.
#[derive(Deserialize)]
struct Line {
    spec: String,
    edition: String,
    classification: String,
    condition: String,
    requirement: String,
    min_tensile_ksi: Option<u32>,
    min_tensile_mpa: Option<u32>,
    max_tensile_ksi: Option<u32>,
    max_tensile_mpa: Option<u32>,
    min_yield_ksi: Option<u32>,
    min_yield_mpa: Option<u32>,
    max_yield_ksi: Option<u32>,
    max_yield_mpa: Option<u32>,
    min_elong_pct: Option<u32>,
    cvn_ftlb: Option<u32>,
    cvn_j: Option<u32>,
    cvn_temp_f: Option<i32>,
    cvn_temp_c: Option<i32>,
    confidence: String,
}

fn rows() -> &'static [ClassStrengths] {
    static ROWS: OnceLock<Vec<ClassStrengths>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes())
            .deserialize::<Line>()
            .filter_map(|line| row(line.ok()?))
            .collect()
    })
}

fn row(line: Line) -> Option<ClassStrengths> {
    let required = match line.requirement.as_str() {
        "strength" => true,
        "none" => false,
        _ => return None,
    };
    let pair = |us, si| Pair { us, si };
    Some(ClassStrengths {
        spec: line.spec,
        classification: line.classification,
        edition: line.edition,
        condition: line.condition,
        required,
        tensile: (
            pair(line.min_tensile_ksi, line.min_tensile_mpa),
            pair(line.max_tensile_ksi, line.max_tensile_mpa),
        ),
        yielding: (
            pair(line.min_yield_ksi, line.min_yield_mpa),
            pair(line.max_yield_ksi, line.max_yield_mpa),
        ),
        elongation: line.min_elong_pct,
        impact: pair(line.cvn_ftlb, line.cvn_j),
        at_f: line.cvn_temp_f,
        at_c: line.cvn_temp_c,
        confidence: Confidence::parse(&line.confidence).ok()?,
    })
}

fn row_of(class: &ClassLimits) -> Option<&'static ClassStrengths> {
    rows().iter().find(|row| {
        row.spec == class.spec
            && match row.classification.strip_suffix('*') {
                Some(beginning) => class.classification.starts_with(beginning),
                None => row.classification == class.classification,
            }
    })
}

/// The strengths that a class has limits for and that are not given, by their words.
pub(crate) fn not_given(class: &ClassLimits, strengths: &Strengths) -> Vec<&'static str> {
    let Some(row) = row_of(class).filter(|row| row.required) else {
        return Vec::new();
    };
    let limited = |pair: Pair| pair.us.is_some() || pair.si.is_some();
    [
        (StrengthTest::Tensile, limited(row.tensile.0), strengths.tensile.is_some()),
        (StrengthTest::Yield, limited(row.yielding.0), strengths.yielding.is_some()),
        (StrengthTest::Elongation, row.elongation.is_some(), strengths.elongation.is_some()),
        (StrengthTest::Impact, limited(row.impact), strengths.impact.is_some()),
    ]
    .into_iter()
    .filter(|(_, limited, given)| *limited && !given)
    .map(|(test, ..)| test.word())
    .collect()
}

/// Each strength that was given, against the class.
pub(crate) fn judge(class: &ClassLimits, marks: &[Mark], strengths: &Strengths) -> Vec<JudgedStrength> {
    let row = row_of(class);
    let swapped = strengths.swapped();
    let mut judged = Vec::new();
    let start = |test: StrengthTest, value: &str| {
        let mut judged = JudgedStrength {
            classification: class.classification.clone(),
            strength: test,
            value: value.to_owned(),
            min: None,
            max: None,
            rounded: None,
            verdict: ElementVerdict::NotChecked,
            confidence: row.map(|row| row.confidence),
            condition: row.map(|row| row.condition.clone()).unwrap_or_default(),
            table: row.map(table_name).unwrap_or_default(),
            notes: Vec::new(),
        };
        match row {
            None => judged.notes.push("no table of strengths has the class".into()),
            Some(row) if !row.required => {
                judged.verdict = ElementVerdict::NotLimited;
                judged.notes.push("the class is one of wire or rod alone, without strength".into());
            }
            Some(_) => {}
        }
        judged
    };
    for (test, strength) in
        [(StrengthTest::Tensile, &strengths.tensile), (StrengthTest::Yield, &strengths.yielding)]
    {
        let Some(strength) = strength else { continue };
        let mut one = start(test, &strength.text);
        if let Some(row) = row.filter(|row| row.required) {
            let ends = if test == StrengthTest::Tensile { row.tensile } else { row.yielding };
            stress(&mut one, strength, ends);
            if swapped {
                one.verdict = ElementVerdict::NotChecked;
                one.notes.insert(0, "the yield strength is above the tensile strength".into());
            }
        }
        judged.push(one);
    }
    if let Some((text, percent)) = &strengths.elongation {
        let mut one = start(StrengthTest::Elongation, text);
        if let Some(row) = row.filter(|row| row.required) {
            let rounded = percent.rounded(0);
            let meets = row.elongation.map(|min| (min, crate::Percent::ONE.times(min)));
            one.min = meets.map(|(min, _)| format!("{min} %"));
            one.rounded = meets.map(|_| format!("{rounded} %"));
            one.verdict = match meets {
                None => ElementVerdict::NotLimited,
                Some((_, min)) => verdict(*percent >= min, rounded >= min),
            };
        }
        judged.push(one);
    }
    if let Some(impact) = &strengths.impact {
        let mut one = start(StrengthTest::Impact, &impact.text);
        if let Some(row) = row.filter(|row| row.required) {
            impact_verdict(&mut one, impact, row, marks);
        }
        judged.push(one);
    }
    judged
}

/// `A5.1 strengths, edition 2004/2012, built in`
fn table_name(row: &ClassStrengths) -> String {
    let edition = row.edition.split(" (").next().unwrap_or_default().trim();
    let edition = if edition.is_empty() { String::new() } else { format!(", edition {edition}") };
    format!("{} strengths{edition}, built in", row.spec)
}

fn verdict(exact: bool, rounded: bool) -> ElementVerdict {
    match (exact, rounded) {
        (true, _) => ElementVerdict::Pass,
        (false, true) => ElementVerdict::PassByRounding,
        (false, false) => ElementVerdict::Fail,
    }
}

/// Tensile or yield strength against least and most in its unit.
fn stress(one: &mut JudgedStrength, strength: &Strength, (min, max): (Pair, Pair)) {
    let us = strength.unit == StrengthUnit::Ksi;
    let unit = strength.unit.word();
    if !min.is_some() && !max.is_some() {
        one.verdict = ElementVerdict::NotLimited;
        return;
    }
    let (min, max) = (min.in_unit(us), max.in_unit(us));
    one.min = min.map(|min| format!("{min} {unit}"));
    one.max = max.map(|max| format!("{max} {unit}"));
    let Some(rounded) = strength.rounded() else {
        one.notes.push("it has more digits than can be compared".into());
        return;
    };
    one.rounded = Some(format!("{rounded} {unit}"));
    let of_min = min.map(|min| verdict(strength.at_least(min), rounded >= u128::from(min)));
    let of_max = max.map(|max| verdict(strength.at_most(max), rounded <= u128::from(max)));
    let all: Vec<ElementVerdict> = of_min.into_iter().chain(of_max).collect();
    one.verdict = if all.contains(&ElementVerdict::Fail) {
        ElementVerdict::Fail
    } else if all.contains(&ElementVerdict::PassByRounding) {
        ElementVerdict::PassByRounding
    } else if all.is_empty() {
        one.notes.push(format!("the table has no limit in {unit}"));
        ElementVerdict::NotChecked
    } else {
        ElementVerdict::Pass
    };
}

fn impact_verdict(one: &mut JudgedStrength, impact: &Impact, row: &ClassStrengths, marks: &[Mark]) {
    let us = impact.unit == Energy::FootPounds;
    let Some(min) = row.impact.in_unit(us) else {
        one.verdict = ElementVerdict::NotLimited;
        return;
    };
    let unit = impact.unit.word();
    let at = match &impact.at {
        Some((_, Temperature::Celsius)) => row.at_c.map(|at| (at, "C")),
        Some((_, Temperature::Fahrenheit)) => row.at_f.map(|at| (at, "F")),
        None => {
            if us {
                row.at_f.map(|at| (at, "F"))
            } else {
                row.at_c.map(|at| (at, "C"))
            }
        }
    };
    one.min = Some(at.map_or(format!("{min} {unit}"), |(at, scale)| format!("{min} {unit} at {at} {scale}")));
    let lower = |mark: &Mark| match mark {
        Mark::LowerImpactTemperature | Mark::ImprovedToughness => true,
        Mark::Hydrogen(_) | Mark::MoistureResistant | Mark::Covering(_) | Mark::Tightens(_) => false,
    };
    if marks.iter().any(lower) {
        one.notes
            .push("its suffix asks for impacts at a lower temperature, which the table does not have".into());
        return;
    }
    match (&impact.at, at) {
        (Some((tested, _)), Some((at, _))) if *tested <= at => {}
        (Some(_), Some((at, scale))) => {
            one.notes.push(format!("it was tested above the {at} {scale} of the class"));
            return;
        }
        (None, _) | (_, None) => {
            one.notes.push("the temperature of the test is not said; write it as 40 J at -30 C".into());
            return;
        }
    }
    let Some(rounded) = impact.rounded() else {
        one.notes.push("it has more digits than can be compared".into());
        return;
    };
    one.rounded = Some(format!("{rounded} {unit}"));
    one.verdict = verdict(impact.at_least(min), rounded >= u128::from(min));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Tables;

    #[test]
    fn every_line_was_read_and_every_class_has_one() {
        assert_eq!(rows().len(), TABLE.lines().count() - 1);
        for class in Tables::built_in().classes() {
            assert!(row_of(class).is_some(), "{} {}", class.spec, class.classification);
        }
    }

    fn judged(
        spec: &str,
        class: &str,
        marks: &[Mark],
        pairs: &[(&str, &str)],
    ) -> Vec<(ElementVerdict, Option<String>)> {
        let strengths = Strengths::from_pairs(pairs.iter().copied()).unwrap();
        judge(Tables::built_in().class(spec, class).unwrap(), marks, &strengths)
            .into_iter()
            .map(|one| (one.verdict, one.rounded))
            .collect()
    }

    #[test]
    fn strengths_are_rounded_to_1_ksi_and_10_mpa() {
        use ElementVerdict::{Fail, NotLimited, Pass, PassByRounding};
        // Steps recalled; ASTM E29 for the tie.
        for (class, pair, verdict, rounded) in [
            ("E7018", ("tensile", "70 ksi"), Pass, "70 ksi"),
            ("E7018", ("tensile", "69.5 ksi"), PassByRounding, "70 ksi"),
            ("E7018", ("tensile", "69.4 ksi"), Fail, "69 ksi"),
            ("E7018", ("tensile", "69500 psi"), PassByRounding, "70 ksi"),
            ("E7018", ("tensile", "485 MPa"), Fail, "480 MPa"),
            ("E7018", ("tensile", "486 N/mm2"), PassByRounding, "490 MPa"),
            ("E7018", ("yield", "58.5 ksi"), Pass, "58 ksi"),
            ("E7018", ("yield", "395 MPa"), PassByRounding, "400 MPa"),
            ("E7018", ("elongation", "21.5 %"), PassByRounding, "22 %"),
            ("E7018", ("elongation", "21.4"), Fail, "21 %"),
            ("E7018", ("impact", "26.5 J at -30 C"), Fail, "26 J"),
            ("E7018", ("impact", "27 J at -40 C"), Pass, "27 J"),
            ("E7018", ("impact", "19.6 ft-lb at -20 F"), PassByRounding, "20 ft-lb"),
        ] {
            assert_eq!(
                judged("A5.1", class, &[], &[pair]),
                [(verdict, Some(rounded.to_owned()))],
                "{pair:?}"
            );
        }
        assert_eq!(judged("A5.1", "E6013", &[], &[("impact", "5 J at 20 C")]), [(NotLimited, None)]);
        assert_eq!(judged("A5.4", "E308L-XX", &[], &[("yield", "60 ksi")]), [(NotLimited, None)]);
        assert_eq!(judged("A5.9", "ER308L", &[], &[("tensile", "60 ksi")]), [(NotLimited, None)]);
    }

    #[test]
    fn some_strengths_have_a_most() {
        use ElementVerdict::{Fail, Pass, PassByRounding};
        for (spec, class, pair, verdict) in [
            ("A5.5", "E8018-C3", ("yield", "80.5 ksi"), PassByRounding),
            ("A5.5", "E8018-C3", ("yield", "81 ksi"), Fail),
            ("A5.5", "E11018-M", ("yield", "760 MPa"), Pass),
            ("A5.20", "E71T-1C", ("tensile", "96 ksi"), Fail),
            ("A5.20", "E71T-1C", ("tensile", "670 MPa"), Pass),
        ] {
            assert_eq!(judged(spec, class, &[], &[pair])[0].0, verdict, "{class} {pair:?}");
        }
    }

    #[test]
    fn what_cannot_be_compared_is_not_checked() {
        use ElementVerdict::NotChecked;
        for (marks, pairs) in [
            (vec![], vec![("tensile", "60 ksi"), ("yield", "75 ksi")]),
            (vec![], vec![("tensile", "415 MPa"), ("yield", "75 ksi")]),
            (vec![], vec![("impact", "40 J")]),
            (vec![], vec![("impact", "40 J at -20 C")]),
            (vec![Mark::LowerImpactTemperature], vec![("impact", "40 J at -30 C")]),
        ] {
            assert!(
                judged("A5.1", "E7018", &marks, &pairs).iter().all(|(verdict, _)| *verdict == NotChecked),
                "{pairs:?}"
            );
        }
    }
}
