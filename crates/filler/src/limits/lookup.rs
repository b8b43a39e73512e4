//! The class of a table for a designation as printed.

use super::{ClassLimits, Tables};
use crate::designation::{Mark, Matched, Spelling, alternatives};
use crate::shown::shown;
use crate::specification::normal_spec;

/// Most neighbours named when a class is not covered.
const MOST_NEAR: usize = 5;

/// What the tables have for a designation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lookup<'t> {
    /// The class, or the classes of a dual mark.
    Found(Found<'t>),
    /// No class: nothing can be compared, and nothing passes.
    NotCovered(NotCovered),
}

/// The classes of a designation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found<'t> {
    /// One; for a dual mark (308/308L) each, and the product must meet the limits of all.
    pub classes: Vec<&'t ClassLimits>,
    /// The suffixes printed behind them.
    pub marks: Vec<Mark>,
}

/// Why no class was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotCovered {
    /// The reason, a clause without a full stop.
    pub why: String,
    /// Classes of the tables that are near, with their specification.
    pub near: Vec<String>,
}

impl Tables {
    /// The class of a specification, both as printed. `E309L-16` finds the table's `E309L-XX`, `E4918` its twin
    /// `E7018`, `ER308/308L` both classes.
    #[must_use]
    pub fn find(&self, spec: &str, printed: &str) -> Lookup<'_> {
        self.look_up(spec, printed).map_or_else(
            |why| Lookup::NotCovered(NotCovered { why, near: self.near(spec, printed) }),
            Lookup::Found,
        )
    }

    fn look_up(&self, spec: &str, printed: &str) -> Result<Found<'_>, String> {
        let number = normal_spec(spec).ok_or_else(|| {
            format!("\"{}\" names no A5 specification, and the tables have no other", shown(spec))
        })?;
        if !self.classes.iter().any(|class| class.spec == number) {
            return Err(format!("no table has the classes of {number}"));
        }
        let alternatives = alternatives(printed);
        if alternatives.is_empty() {
            return Err("no classification is given".into());
        }
        let mut found = Found { classes: Vec::new(), marks: Vec::new() };
        for spelling in &alternatives {
            let (class, matched) = self.class_of(&number, spelling).ok_or_else(|| {
                if spelling.by_agreement() {
                    format!(
                        "\"{}\" is a class whose limits are agreed between purchaser and supplier (G)",
                        shown(printed)
                    )
                } else {
                    format!("no table of {number} has the class \"{}\"", shown(printed))
                }
            })?;
            if let Some(unknown) = matched.unknown.first() {
                return Err(format!(
                    "{number} {} is in the table, but \"{}\" behind it is no suffix that is known for it",
                    class.classification,
                    shown(unknown)
                ));
            }
            if !found.classes.contains(&class) {
                found.classes.push(class);
            }
            for mark in matched.marks {
                if !found.marks.contains(&mark) {
                    found.marks.push(mark);
                }
            }
        }
        Ok(found)
    }

    /// The class of one spelling: of all that it can begin with, the one that leaves the least.
    fn class_of(&self, spec: &str, spelling: &Spelling) -> Option<(&ClassLimits, Matched)> {
        self.classes
            .iter()
            .filter(|class| class.spec == spec)
            .flat_map(|class| class.names.iter().map(move |name| (class, name)))
            .filter_map(|(class, name)| Some((class, spelling.matched(class, name)?)))
            // A name that leaves something unknown is worth naming only if it is all but the whole mark: 70S-2 for 70S-2X,
            // never 308 for 308L.
            .filter(|(_, matched)| matched.unknown.iter().all(|part| !continues_base(spelling, part)))
            .min_by_key(|(_, matched)| (matched.unknown.len(), matched.beyond))
    }

    /// Classes near a designation: of the same base in any specification, or of a base that begins alike in this one.
    fn near(&self, spec: &str, printed: &str) -> Vec<String> {
        let spec = normal_spec(spec);
        let alternatives = alternatives(printed);
        let named = |class: &ClassLimits| format!("{} {}", class.spec, class.classification);
        let bases: Vec<&str> = alternatives.iter().map(Spelling::base).filter(|b| !b.is_empty()).collect();
        let same = |class: &&ClassLimits| class.names.iter().any(|name| bases.contains(&name.base()));
        let mut near: Vec<&ClassLimits> = self.classes.iter().filter(same).collect();
        // Of the specification that was named first.
        near.sort_by_key(|class| spec.as_ref() != Some(&class.spec));
        if near.is_empty() {
            let beginnings: Vec<String> = bases.iter().map(|base| base.chars().take(3).collect()).collect();
            near =
                self.classes
                    .iter()
                    .filter(|class| spec.as_ref() == Some(&class.spec))
                    .filter(|class| {
                        class.names.first().is_some_and(|name| {
                            beginnings.iter().any(|b| name.base().starts_with(b.as_str()))
                        })
                    })
                    .collect();
        }
        near.into_iter().take(MOST_NEAR).map(named).collect()
    }
}

/// Whether a part left over belongs to the first part printed: the L of 308L.
fn continues_base(spelling: &Spelling, part: &str) -> bool {
    let base = spelling.base();
    base.len() > part.len() && base.ends_with(part)
}

/// The names of a class, for comparing.
pub(super) fn names(classification: &str, twin: &str) -> Vec<Spelling> {
    Spelling::of_class(classification, twin)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(spec: &str, printed: &str) -> (Vec<String>, Vec<String>) {
        match Tables::built_in().find(spec, printed) {
            Lookup::Found(found) => (
                found.classes.iter().map(|c| c.classification.clone()).collect(),
                found.marks.iter().map(|m| m.printed()).collect(),
            ),
            Lookup::NotCovered(not) => panic!("{spec} {printed}: {}", not.why),
        }
    }

    #[test]
    fn every_class_and_its_twin_are_found_by_name() {
        for class in Tables::built_in().classes() {
            for name in [&class.classification, &class.iso_name].into_iter().filter(|n| !n.is_empty()) {
                let (classes, marks) = found(&class.spec, name);
                assert_eq!(classes, std::slice::from_ref(&class.classification), "{name}");
                assert!(marks.is_empty(), "{name}: {marks:?}");
            }
        }
    }

    #[test]
    fn designations_as_printed() {
        for (spec, printed, classes, marks) in [
            ("A5.18", "er70s-2", "ER70S-2", ""),
            ("SFA-5.18", "ER 70S-2", "ER70S-2", ""),
            ("AWS A5.18/A5.18M:2021", "70S 2", "ER70S-2", ""),
            ("A5.18", "ER70S\u{2013}6", "ER70S-6", ""),
            ("A5.18", "ER48S-6", "ER70S-6", ""),
            ("A5.18", "ER48S-6 / ER70S-6", "ER70S-6", ""),
            ("A5.18", "ER70S-2N", "ER70S-2", "N"),
            ("A5.18", "ER70S-2 N", "ER70S-2", "N"),
            ("A5.18", "ER70S-6A", "ER70S-6", "A"),
            ("A5.18", "ER70S-6 H4", "ER70S-6", "H4"),
            ("A5.1", "E7018-1 H4R", "E7018", "-1 H4 R"),
            ("A5.1", "E7018-1-H4R", "E7018", "-1 H4 R"),
            ("A5.1", "E7018 H4 R", "E7018", "H4 R"),
            ("A5.1", "E7018H4R", "E7018", "H4 R"),
            ("A5.1", "E4918 / E7018", "E7018", ""),
            ("A5.1", "E4918-1/E7018-1 H8", "E7018", "-1 H8"),
            ("A5.5", "E8018-C3 H4R", "E8018-C3", "H4 R"),
            ("A5.5", "E9018M", "E9018-M", ""),
            ("A5.5", "E11018-M H4", "E11018-M", "H4"),
            ("A5.5", "E9018-B9", "E9018-B9", ""),
            ("A5.4", "E309L-16", "E309L-XX", "-16"),
            ("A5.4", "E309L-XX", "E309L-XX", ""),
            ("A5.4", "E309L-25", "E309L-XX", "-25"),
            ("A5.4", "e 316l-17", "E316L-XX", "-17"),
            ("A5.4", "E316/316L-16", "E316-XX E316L-XX", "-16"),
            ("A5.4", "ES309L-16", "E309L-XX", "-16"),
            ("A5.9", "ER308/308L", "ER308 ER308L", ""),
            ("A5.9", "ER308 / ER308L", "ER308 ER308L", ""),
            ("A5.9", "308L", "ER308L", ""),
            ("A5.9", "ER308LSi", "ER308LSi", ""),
            ("A5.9", "SS308L", "ER308L", ""),
            ("A5.20", "E71T-1C", "E71T-1C", ""),
            ("A5.20", "E71T-1C/-1M H8", "E71T-1C E71T-1M", "H8"),
            ("A5.20", "E71T-1CJ H4", "E71T-1C", "J H4"),
            ("A5.14", "ERNiCrMo-3", "ERNiCrMo-3", ""),
            ("A5.14", "S Ni 6625 (NiCr22Mo9Nb)", "ERNiCrMo-3", ""),
            ("A5.7", "ERCuSi-A", "ERCuSi-A", ""),
        ] {
            let (found_classes, found_marks) = found(spec, printed);
            assert_eq!(found_classes.join(" "), classes, "{spec} {printed}");
            assert_eq!(found_marks.join(" "), marks, "{spec} {printed}");
        }
    }

    #[test]
    fn what_is_not_covered_says_why() {
        for (spec, printed, why, near) in [
            ("ISO 14343", "19 9 L", "names no A5", ""),
            ("A5.22", "E308LT1-1", "no table has the classes of A5.22", ""),
            ("A5.18", "", "no classification", ""),
            ("A5.18", "///", "no classification", ""),
            ("A5.18", "ER70S-G", "agreed between", "A5.18 ER70S-2"),
            ("A5.18", "ER70S-9", "no table of A5.18 has", "A5.18 ER70S-2"),
            ("A5.18", "ER70S-2X", "no suffix", "A5.18 ER70S-2"),
            ("A5.18", "ER70S", "no table of A5.18 has", "A5.18 ER70S-2"),
            ("A5.18", "E309L-16", "no table of A5.18 has", "A5.9 ER309L"),
            ("A5.9", "E308L", "no table of A5.9 has", "A5.9 ER308L"),
            ("A5.9", "ER308MoX", "no table of A5.9 has", "A5.9 ER308"),
            ("A5.9", "EC308L", "no table of A5.9 has", ""),
            ("A5.1", "E7018M", "no table of A5.1 has", "A5.1 E7018"),
            ("A5.1", "E70181", "no table of A5.1 has", "A5.1 E7014"),
            ("A5.1", "E6010-1", "no suffix", "A5.1 E6010"),
            ("A5.1", "E7018 H5", "no suffix", "A5.1 E7018"),
            ("A5.1", "E7018 H4H4", "no suffix", "A5.1 E7018"),
            ("A5.4", "E309L-14", "no suffix", "A5.4 E309L-XX"),
            ("A5.9", "ER308/308Q", "no table of A5.9 has", "A5.9 ER308"),
            ("A5.1", "ER7018", "no table of A5.1 has", "A5.1 E7018"),
        ] {
            match Tables::built_in().find(spec, printed) {
                Lookup::Found(found) => panic!("{spec} {printed}: {:?}", found.classes),
                Lookup::NotCovered(not) => {
                    assert!(not.why.contains(why), "{spec} {printed}: {}", not.why);
                    assert!(
                        near.is_empty() || not.near.iter().any(|n| n == near),
                        "{spec} {printed}: {:?}",
                        not.near
                    );
                }
            }
        }
    }

    #[test]
    fn no_two_classes_of_a_specification_have_one_name() {
        let classes = Tables::built_in().classes();
        for (n, class) in classes.iter().enumerate() {
            for other in classes.iter().take(n).filter(|other| other.spec == class.spec) {
                assert!(
                    class.names.iter().all(|name| !other.names.contains(name)),
                    "{} and {}",
                    class.classification,
                    other.classification
                );
            }
        }
    }
}
