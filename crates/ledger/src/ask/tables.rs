//! Which table of limits decides: the shop's own where one is signed off, else the built-in one; and who answers for it.

use super::reading::Reading;
use crate::error::{Error, Result};
use filler::limits::{ClassLimits, Rule, Rules, Subject, SuffixMax, Tables};
use record::event::{Event, TableLoaded, TableSignedOff};
use record::id::EntryId;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::rc::Rc;

/// A table of limits of one specification.
#[derive(Clone, Debug)]
pub struct TableOfLimits {
    /// The specification.
    pub spec: String,
    /// What it is called in verdicts: `A5.18, edition 2005, built in`.
    pub name: String,
    /// How many classes it has.
    pub classes: usize,
    /// SHA-256 of its limits, in hexadecimal.
    pub sha256: String,
    /// The entry that loaded it; none for a built-in one.
    pub entry: Option<EntryId>,
    /// The newest sign-off that stands.
    pub signed_off: Option<(EntryId, TableSignedOff)>,
    /// Whether it decides.
    pub decides: bool,
}

/// What a limit is about, as the column `element` of a table writes it.
#[must_use]
pub fn subject_text(subject: &Subject) -> String {
    match subject {
        Subject::OthersTotal => "Other_total".to_owned(),
        Subject::OthersEach => "Other_each".to_owned(),
        Subject::Element(_) | Subject::Sum(_) => subject.to_string(),
    }
}

/// The rules of a limit as the column `rule` of a table writes them.
#[must_use]
pub fn rules_text(rules: &Rules) -> String {
    let mut clauses: Vec<String> = Vec::new();
    let flags = [
        (rules.balance, "balance"),
        (rules.not_specified, "not specified"),
        (rules.by_difference, "by difference"),
        (rules.coating, "coating"),
    ];
    clauses.extend(flags.iter().filter(|(is, _)| *is).map(|(_, clause)| (*clause).to_owned()));
    clauses.extend(rules.counted_with.iter().map(|element| format!("with {element}")));
    if let Some(SuffixMax { suffix, max }) = &rules.suffix_max {
        clauses.push(format!("suffix {suffix} max {max}"));
    }
    match &rules.rule {
        None => {}
        Some(Rule::MinFollows { factor, of }) => clauses.push(format!("min {factor} x {of}")),
        Some(Rule::MaxFalls { fall, step, of, above }) => {
            clauses.push(format!("max falls {fall} per {step} {of} above {above}"));
        }
        Some(Rule::AboveMaxWhereCut(of)) => clauses.push(format!("above max where {of} is cut")),
    }
    clauses.join("; ")
}

/// The limits of classes as text, one line each: what a sign-off of a built-in table is of.
fn text_of(classes: &[&ClassLimits]) -> String {
    let mut text = String::new();
    for class in classes {
        for limit in &class.limits {
            let end = |p: Option<filler::Percent>| p.map_or(String::new(), |p| p.to_string());
            let _ = writeln!(
                text,
                "{},{},{},{},{},{},{},{}",
                class.spec,
                class.edition,
                class.classification,
                class.product.word(),
                subject_text(&limit.subject),
                end(limit.min),
                end(limit.max),
                rules_text(&limit.rules)
            );
        }
    }
    text
}

pub(crate) fn sha256(text: &str) -> String {
    hex::encode(Sha256::digest(text.as_bytes()))
}

/// The classes that a loaded table has.
fn own(loaded: &TableLoaded) -> Result<Tables> {
    Tables::from_csv(&loaded.limits, &loaded.name)
        .map_err(|e| Error::Damaged(format!("the table {} cannot be read any more: {e}", loaded.name)))
}

impl Reading<'_> {
    /// Every table of limits that this book has or that is built in, by specification, the built-in one last.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn tables_of_limits(&self) -> Result<Vec<TableOfLimits>> {
        let mut signed: Vec<(EntryId, TableSignedOff)> = Vec::new();
        for (_, place) in self.ordered(self.standing_places("SELECT place FROM fact_table_signed", [])?)? {
            if let Event::TableSignedOff(sign_off) = self.event(place)? {
                signed.push((self.id(place)?, sign_off));
            }
        }
        let sign_off = |spec: &str, sha256: &str| {
            signed.iter().rev().find(|(_, s)| s.spec == spec && s.sha256 == sha256).cloned()
        };
        let mut by_spec: BTreeMap<String, Vec<TableOfLimits>> = BTreeMap::new();
        for loaded in self.tables_loaded()? {
            let (entry, loaded) = loaded;
            let tables = own(&loaded)?;
            let name = tables.classes().first().map_or_else(|| loaded.name.clone(), |c| c.table.clone());
            by_spec.entry(loaded.spec.clone()).or_default().push(TableOfLimits {
                signed_off: sign_off(&loaded.spec, &loaded.sha256),
                spec: loaded.spec,
                name,
                classes: tables.classes().len(),
                sha256: loaded.sha256,
                entry: Some(entry),
                decides: false,
            });
        }
        let mut built_in: BTreeMap<&str, Vec<&ClassLimits>> = BTreeMap::new();
        for class in Tables::built_in().classes() {
            built_in.entry(&class.spec).or_default().push(class);
        }
        for (spec, classes) in built_in {
            let sha256 = sha256(&text_of(&classes));
            by_spec.entry(spec.to_owned()).or_default().push(TableOfLimits {
                spec: spec.to_owned(),
                name: classes.first().map_or(String::new(), |c| c.table.clone()),
                classes: classes.len(),
                signed_off: sign_off(spec, &sha256),
                sha256,
                entry: None,
                decides: false,
            });
        }
        for tables in by_spec.values_mut() {
            // The newest of the shop's own that is signed off; a built-in one decides signed off or not, and says so.
            let own = tables.iter().rposition(|t| t.entry.is_some() && t.signed_off.is_some());
            let built_in = tables.iter().position(|t| t.entry.is_none());
            if let Some(table) = own.or(built_in).and_then(|at| tables.get_mut(at)) {
                table.decides = true;
            }
        }
        Ok(by_spec.into_values().flatten().collect())
    }

    /// The tables that decide: the shop's own classes in place of the built-in ones.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn limits(&self) -> Result<Rc<Tables>> {
        if let Some(known) = self.limits_known() {
            return Ok(known);
        }
        let loaded = self.tables_loaded()?;
        let mut tables = Tables::built_in().clone();
        if !loaded.is_empty() {
            for table in self.tables_of_limits()?.iter().filter(|t| t.decides) {
                let of = loaded.iter().find(|(entry, _)| Some(*entry) == table.entry);
                if let Some((_, loaded)) = of {
                    tables = tables.with(&own(loaded)?);
                }
            }
        }
        Ok(self.know_limits(tables))
    }

    /// What is to be said beside a verdict of a table: who answers for it, or that nobody does.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn sign_off_of(&self, table: &str) -> Result<String> {
        let tables = self.tables_of_limits()?;
        Ok(match tables.iter().find(|t| t.name == table).and_then(|t| t.signed_off.as_ref()) {
            Some((_, sign_off)) => {
                format!("table signed off by {}: compared with {}", sign_off.by.badge, sign_off.against)
            }
            None => NOT_SIGNED_OFF.to_owned(),
        })
    }

    /// The tables that were loaded, in the order of the record.
    fn tables_loaded(&self) -> Result<Vec<(EntryId, TableLoaded)>> {
        let mut loaded = Vec::new();
        for (_, place) in self.ordered(self.standing_places("SELECT place FROM fact_table", [])?)? {
            if let Event::TableLoaded(table) = self.event(place)? {
                loaded.push((self.id(place)?, table));
            }
        }
        Ok(loaded)
    }
}

/// What every verdict of a table says that nobody in the shop answers for.
pub const NOT_SIGNED_OFF: &str = "the table is not signed off by this shop";
