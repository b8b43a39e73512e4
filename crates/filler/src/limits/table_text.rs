//! A table of limits from CSV text. The text may be anybody's: each bad cell is an error that names line and column.

use super::{AppliesTo, ClassLimits, Confidence, Limit, Rules, Subject, lookup};
use crate::element::Element;
use crate::percent::Percent;
use crate::shown::shown;
use crate::specification::normal_spec;
use std::collections::HashMap;
use std::fmt;

/// The columns; a table may leave out the last four.
const COLUMNS: [&str; 13] = [
    "spec",
    "edition",
    "classification",
    "applies_to",
    "element",
    "min_pct",
    "max_pct",
    "source",
    "confidence",
    "iso_or_si_alias",
    "uns",
    "rule",
    "note",
];
const OPTIONAL: [&str; 4] = ["iso_or_si_alias", "uns", "rule", "note"];

/// One bad cell or line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableFault {
    /// Line of the file, from 1; the heading is line 1.
    pub line: u64,
    /// Column by its heading; empty when it is the line as a whole.
    pub column: &'static str,
    /// What is wrong.
    pub why: String,
}

impl fmt::Display for TableFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let column = if self.column.is_empty() { String::new() } else { format!(", {}", self.column) };
        write!(f, "line {}{column}: {}", self.line, self.why)
    }
}

/// A table that cannot be taken, with every fault in it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the table of limits is not taken: {} of its cells or lines cannot be read, the first: {}", .faults.len(), .faults.first().map(ToString::to_string).unwrap_or_default())]
pub struct TableError {
    /// All of them, in the order of the file.
    pub faults: Vec<TableFault>,
}

/// One line of the table while it is read.
struct Line<'a> {
    number: u64,
    record: &'a csv::StringRecord,
    places: &'a HashMap<&'static str, usize>,
    faults: &'a mut Vec<TableFault>,
}

impl<'a> Line<'a> {
    fn cell(&self, column: &'static str) -> &'a str {
        self.places.get(column).and_then(|place| self.record.get(*place)).unwrap_or("").trim()
    }

    fn fault(&mut self, column: &'static str, why: impl Into<String>) {
        self.faults.push(TableFault { line: self.number, column, why: why.into() });
    }

    /// A value of a cell, or a fault.
    fn read<T, E: fmt::Display>(
        &mut self,
        column: &'static str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        parse(self.cell(column)).map_err(|why| self.fault(column, why.to_string())).ok()
    }

    /// A cell that must not be empty.
    fn filled(&mut self, column: &'static str) -> Option<&'a str> {
        let cell = self.cell(column);
        if cell.is_empty() {
            self.fault(column, "it is empty");
        }
        (!cell.is_empty()).then_some(cell)
    }
}

pub(super) fn read(text: &str, name: &str) -> Result<Vec<ClassLimits>, TableError> {
    let mut faults = Vec::new();
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
    let places = headings(&mut reader, &mut faults);
    let mut classes: Vec<ClassLimits> = Vec::new();
    let mut by_name: HashMap<(String, String), usize> = HashMap::new();
    let cells = places.len();
    if faults.is_empty() {
        for record in reader.into_records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    let line = error.position().map_or(0, csv::Position::line);
                    faults.push(TableFault { line, column: "", why: error.to_string() });
                    continue;
                }
            };
            let number = record.position().map_or(0, csv::Position::line);
            if record.len() != cells {
                let why = format!("it has {} cells, the heading {cells}", record.len());
                faults.push(TableFault { line: number, column: "", why });
                continue;
            }
            let mut line = Line { number, record: &record, places: &places, faults: &mut faults };
            let Some((class, limit)) = one(&mut line, name) else { continue };
            let key = (class.spec.clone(), crate::classification::folded(&class.classification));
            let index = *by_name.entry(key).or_insert_with(|| {
                classes.push(class.clone());
                classes.len().saturating_sub(1)
            });
            if let Some(known) = classes.get_mut(index) {
                add(&mut line, known, &class, limit);
            }
        }
        if classes.is_empty() && faults.is_empty() {
            faults.push(TableFault { line: 1, column: "", why: "no line follows the heading".into() });
        }
    }
    if faults.is_empty() { Ok(classes) } else { Err(TableError { faults }) }
}

/// Where each column is.
fn headings(reader: &mut csv::Reader<&[u8]>, faults: &mut Vec<TableFault>) -> HashMap<&'static str, usize> {
    let mut places = HashMap::new();
    let mut fault = |why: String| faults.push(TableFault { line: 1, column: "", why });
    let headings = match reader.headers() {
        Ok(headings) => headings.clone(),
        Err(error) => {
            fault(error.to_string());
            return places;
        }
    };
    for (place, heading) in headings.iter().enumerate() {
        match COLUMNS.iter().find(|column| **column == heading.trim()) {
            None => {
                let known = COLUMNS.join(", ");
                fault(format!("\"{}\" is no column of such a table; they are: {known}", shown(heading)));
            }
            Some(column) => {
                if places.insert(*column, place).is_some() {
                    fault(format!("the column {column} is there twice"));
                }
            }
        }
    }
    for column in COLUMNS.iter().filter(|column| !OPTIONAL.contains(column)) {
        if !places.contains_key(column) {
            fault(format!("the column {column} is missing"));
        }
    }
    places
}

/// The class of a line, still without limits, and its limit.
fn one(line: &mut Line<'_>, name: &str) -> Option<(ClassLimits, Limit)> {
    let spec = line.read("spec", |text| {
        normal_spec(text)
            .ok_or_else(|| format!("\"{}\" names no A5 specification; write one such as A5.18", shown(text)))
    });
    let classification = line.filled("classification").map(str::to_owned);
    let edition = line.filled("edition").map(str::to_owned);
    let product = line.read("applies_to", AppliesTo::parse);
    let subject = line.read("element", parse_subject);
    let min = line.read("min_pct", parse_end);
    let max = line.read("max_pct", parse_end);
    let rules = line.read("rule", Rules::parse);
    let source = line.filled("source").map(str::to_owned);
    let confidence = line.read("confidence", Confidence::parse);
    let limit = Limit {
        subject: subject?,
        min: min?,
        max: max?,
        rules: rules?,
        note: line.cell("note").to_owned(),
        source: source?,
        confidence: confidence?,
    };
    let says_nothing = limit.min.is_none()
        && limit.max.is_none()
        && limit.rules.rule.is_none()
        && !limit.rules.balance
        && !limit.rules.not_specified;
    if says_nothing {
        line.fault(
            "max_pct",
            "neither a least nor a most; write one, or the rule \"not specified\" or \"balance\"",
        );
        return None;
    }
    if let (Some(min), Some(max)) = (limit.min, limit.max)
        && min > max
    {
        line.fault("min_pct", format!("the least, {min}, is above the most, {max}"));
        return None;
    }
    let (spec, classification, edition) = (spec?, classification?, edition?);
    let iso_name = line.cell("iso_or_si_alias").to_owned();
    // "2005 (= SFA-5.18 2007)" is the edition 2005.
    let short = edition.split(" (").next().unwrap_or(&edition).trim();
    let class = ClassLimits {
        table: format!("{spec}, edition {short}, {name}"),
        names: lookup::names(&classification, &iso_name),
        spec,
        edition,
        classification,
        iso_name,
        uns: line.cell("uns").to_owned(),
        product: product?,
        limits: Vec::new(),
    };
    Some((class, limit))
}

/// Adds a limit to its class; the lines of one class must agree on what the class is.
fn add(line: &mut Line<'_>, known: &mut ClassLimits, class: &ClassLimits, limit: Limit) {
    let differs = [
        ("classification", known.classification == class.classification),
        ("edition", known.edition == class.edition),
        ("iso_or_si_alias", known.iso_name == class.iso_name),
        ("uns", known.uns == class.uns),
        ("applies_to", known.product == class.product),
    ];
    for (column, _) in differs.iter().filter(|(_, same)| !same) {
        line.fault(
            column,
            format!("another line of {} {} says otherwise", class.spec, shown(&class.classification)),
        );
    }
    if known.limits.iter().any(|l| same_subject(&l.subject, &limit.subject)) {
        line.fault(
            "element",
            format!("{} has a limit for {} already", shown(&class.classification), limit.subject),
        );
        return;
    }
    known.limits.push(limit);
}

/// Whether two limits are about the same; a sum is the same in any order.
fn same_subject(one: &Subject, other: &Subject) -> bool {
    match (one, other) {
        (Subject::Sum(a), Subject::Sum(b)) => a.len() == b.len() && a.iter().all(|e| b.contains(e)),
        (Subject::Sum(_) | Subject::Element(_) | Subject::OthersTotal | Subject::OthersEach, _) => {
            one == other
        }
    }
}

fn parse_end(text: &str) -> Result<Option<Percent>, crate::PercentError> {
    if text.is_empty() { Ok(None) } else { Percent::parse(text).map(Some) }
}

fn parse_subject(text: &str) -> Result<Subject, String> {
    match text {
        "Other_total" => return Ok(Subject::OthersTotal),
        "Other_each" => return Ok(Subject::OthersEach),
        _ => {}
    }
    let elements = text
        .split('+')
        .map(|symbol| Element::parse(symbol).map_err(|e| e.to_string()))
        .collect::<Result<Vec<_>, _>>()?;
    if elements.iter().enumerate().any(|(n, element)| elements.iter().take(n).any(|e| e == element)) {
        return Err(format!("\"{}\" names an element twice", shown(text)));
    }
    match elements.as_slice() {
        [element] => Ok(Subject::Element(*element)),
        _ => Ok(Subject::Sum(elements)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HEADING: &str =
        "spec,edition,classification,applies_to,element,min_pct,max_pct,rule,source,confidence\n";

    fn faults(lines: &str) -> Vec<String> {
        let error = read(&format!("{HEADING}{lines}"), "own").unwrap_err();
        error.faults.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn every_bad_cell_is_named() {
        let bad = "A5.18,2005,ER70S-2,wire,C,,0.07,,own,own-copy\n\
                   X,2005,ER70S-2,rod,Xx,-1,101,foo,,sure\n\
                   A5.18,2005,ER70S-2,wire,C,,0.07,,own,own-copy\n\
                   A5.18,2006,ER70S-2,weld_metal,Mn,1.40,0.90,,own,own-copy\n\
                   A5.18,2006,ER70S-2,weld_metal,Si,0.40,0.90,,own,own-copy\n\
                   A5.18,2005,ER70S-2,wire,Ni,,,,own,own-copy\n\
                   A5.18,2005\n\
                   A5.18,2005,ER70S-2,wire,Mn+Mn,,1,,own,own-copy\n";
        let faults = faults(bad);
        for part in [
            "line 3, spec: \"X\" names no A5",
            "line 3, applies_to:",
            "line 3, element: \"Xx\"",
            "line 3, min_pct: \"-1\"",
            "line 3, max_pct: \"101\"",
            "line 3, rule: \"foo\" is no rule",
            "line 3, source: it is empty",
            "line 3, confidence: \"sure\"",
            "line 4, element: ER70S-2 has a limit for C already",
            "line 5, min_pct: the least, 1.40, is above the most, 0.90",
            "line 6, edition: another line of A5.18 ER70S-2 says otherwise",
            "line 6, applies_to: another line",
            "line 7, max_pct: neither",
            "line 8: it has 2 cells, the heading 10",
            "line 9, element: \"Mn+Mn\" names an element twice",
        ] {
            assert!(faults.iter().any(|f| f.starts_with(part)), "{part} in {faults:#?}");
        }
    }

    #[test]
    fn a_bad_heading_is_named() {
        for (text, part) in [
            ("", "the column spec is missing"),
            ("spec,spec\n", "twice"),
            ("colour\n", "\"colour\" is no column"),
            (HEADING, "no line follows"),
        ] {
            let error = read(text, "own").unwrap_err();
            assert!(error.faults.iter().any(|f| f.why.contains(part)), "{text:?}: {error:?}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_answered(text in ".{0,200}", cells in "[A-Za-z0-9.,+\"\n -]{0,200}") {
            prop_assert!(read(&text, "own").is_err());
            let _ = read(&format!("{HEADING}{cells}"), "own");
        }
    }
}
