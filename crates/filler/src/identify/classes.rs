//! Candidates from tables of class limits.

use super::candidate::{ALL, Candidate, Coupling, Limit, exact};
use crate::element::Element;
use crate::limits::{AppliesTo, ClassLimits, Confidence, Rule, Subject};
use crate::percent::Percent;

/// Specifications of which the remainder is iron, though their tables do not say so.
const OF_IRON: [&str; 12] =
    ["A5.1", "A5.4", "A5.5", "A5.9", "A5.17", "A5.18", "A5.20", "A5.22", "A5.23", "A5.26", "A5.28", "A5.29"];

/// Specifications of bare steel wire that is often copper coated (common practice, no source).
const OFTEN_COATED: [&str; 2] = ["A5.18", "A5.28"];

/// Metals that can be the remainder of a filler metal.
const BASES: [&str; 7] = ["Fe", "Ni", "Cu", "Al", "Ti", "Co", "Mg"];

/// A class of a table as a candidate. Every rule that a least and a most cannot say is taken at its widest, and tested
/// where all it speaks of was read.
#[must_use]
pub fn candidate(class: &ClassLimits) -> Candidate {
    let mut limits = Vec::new();
    let (mut each, mut total, mut couplings, mut balance) = (None, None, Vec::new(), None);
    let mut counted = Vec::new();
    for limit in &class.limits {
        match &limit.subject {
            Subject::Element(element) => {
                let (mut min, mut max) = (limit.min, limit.max);
                match limit.rules.rule {
                    None => {}
                    Some(Rule::MinFollows { factor, of }) => {
                        min = least_of_any(factor, of);
                        couplings.extend(least_follows(*element, factor, of));
                    }
                    Some(Rule::MaxFalls { fall, step, of, above }) => {
                        couplings.extend(most_falls(*element, limit.max, fall, step, of, above));
                    }
                    Some(Rule::AboveMaxWhereCut(of)) => {
                        max = limit.max.and_then(|max| widest_where_cut(class, *element, max, of));
                    }
                }
                if limit.rules.balance {
                    balance = Some(*element);
                }
                counted.extend(limit.rules.counted_with.iter().map(|companion| (*companion, *element)));
                limits.push(Limit {
                    element: *element,
                    min,
                    max,
                    unverified: limit.confidence == Confidence::Memory,
                });
            }
            Subject::Sum(elements) => {
                let what = limit.subject.to_string();
                if let Some(max) = limit.max {
                    let terms = elements.iter().map(|element| (1, *element)).collect();
                    couplings.push(Coupling::at_most(&what, format!("{what} is at most {max}"), terms, max));
                }
                if let Some(min) = limit.min {
                    couplings.push(Coupling::at_least(
                        &what,
                        format!("{what} is at least {min}"),
                        elements,
                        min,
                    ));
                }
                // An element limited only in a sum is named all the same.
                for element in elements.iter().filter(|element| class.element(**element).is_none()) {
                    limits.push(Limit {
                        element: *element,
                        min: None,
                        max: limit.max,
                        unverified: limit.confidence == Confidence::Memory,
                    });
                }
            }
            Subject::OthersTotal => total = limit.max,
            Subject::OthersEach => each = limit.max,
        }
    }
    if balance.is_none() && OF_IRON.contains(&class.spec.as_str()) {
        balance = Element::parse("Fe").ok();
    }
    if balance.is_none() && !has_room(&limits) {
        // Something is the remainder, and the table does not say what.
        for element in BASES.iter().filter_map(|symbol| Element::parse(symbol).ok()) {
            if class.element(element).is_none() {
                limits.push(Limit { element, min: None, max: None, unverified: true });
            }
        }
    }
    let mut candidate =
        Candidate::new(&class.spec, &class.classification, &limits, balance).with_others(each, total);
    for coupling in couplings {
        candidate = candidate.with_coupling(coupling);
    }
    for (companion, element) in counted {
        candidate = candidate.with_counted(companion, element);
    }
    candidate.table.clone_from(&class.table);
    candidate.often_coated = class.product == AppliesTo::Wire && OFTEN_COATED.contains(&class.spec.as_str());
    candidate
}

/// Whether the named elements can make up everything.
fn has_room(limits: &[Limit]) -> bool {
    let most: i128 = limits.iter().map(|limit| limit.max.map_or(ALL, exact)).fold(0, i128::saturating_add);
    most >= ALL
}

/// The least of an element is so many times another.
/// Least carbon of any melt of stainless wire, in hundredths of a percent (common practice, no source): a least that follows
/// carbon is at least so many times this, read or not. Without it a rod without niobium would fit 347 whenever nobody can
/// read carbon.
const LEAST_CARBON_HUNDREDTHS: u32 = 1;

fn least_of_any(factor: u32, of: Element) -> Option<Percent> {
    if of.symbol() != "C" {
        return None;
    }
    let hundredths = factor.checked_mul(LEAST_CARBON_HUNDREDTHS)?;
    Percent::parse(&format!("{}.{:02}", hundredths / 100, hundredths % 100)).ok()
}

fn least_follows(element: Element, factor: u32, of: Element) -> Option<Coupling> {
    Some(Coupling::at_most(
        format!("{factor}x{of}-{element}"),
        format!("{element} is at least {factor} x {of}"),
        vec![(i32::try_from(factor).ok()?, of), (-1, element)],
        Percent::ZERO,
    ))
}

/// The most of an element falls in steps as another rises above a content: below the line through the corners of the
/// steps, which is the widest.
fn most_falls(
    element: Element,
    most: Option<Percent>,
    fall: Percent,
    step: Percent,
    of: Element,
    above: Percent,
) -> Option<Coupling> {
    let most = most?;
    // element × step + of × fall ≤ most × step + above × fall, divided by what step and fall have in common.
    let common = num_divisor(exact(step), exact(fall))?;
    let (step, fall) = (exact(step).checked_div(common)?, exact(fall).checked_div(common)?);
    let (by_step, by_fall) = (u32::try_from(step).ok()?, u32::try_from(fall).ok()?);
    Some(Coupling::at_most(
        format!("{element} with {of}"),
        format!("the most of {element} falls as {of} rises above {above}"),
        vec![(i32::try_from(step).ok()?, element), (i32::try_from(fall).ok()?, of)],
        most.times(by_step).plus(above.times(by_fall)),
    ))
}

/// The greatest common divisor of two numbers above zero.
fn num_divisor(a: i128, b: i128) -> Option<i128> {
    let (mut a, mut b) = (a, b);
    while b > 0 {
        (a, b) = (b, a.checked_rem(b)?);
    }
    (a > 0).then_some(a)
}

/// The most of an element that may pass its limit while another keeps to a falling one: with the other at its least.
/// None, no limit, if the other has no falling most.
fn widest_where_cut(class: &ClassLimits, element: Element, most: Percent, of: Element) -> Option<Percent> {
    let other = class.element(of)?;
    let Some(Rule::MaxFalls { fall, step, of: rises, above }) = other.rules.rule else { return None };
    if rises != element {
        return None;
    }
    let room = other.max?.minus(other.min.unwrap_or(Percent::ZERO))?;
    let steps = exact(room).checked_div(exact(fall))?;
    Some(above.plus(step.times(u32::try_from(steps).ok()?)).max(most))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Tables;

    fn class(spec: &str, name: &str) -> Candidate {
        candidate(Tables::built_in().class(spec, name).unwrap())
    }

    fn limits(candidate: &Candidate, element: &str) -> (String, String) {
        let (min, max) = candidate.limits_of(Element::parse(element).unwrap());
        let shown = |p: Option<Percent>| p.map_or(String::new(), |p| p.to_string());
        (shown(min), shown(max))
    }

    #[test]
    fn rules_are_taken_at_their_widest() {
        // ER70S-7: Mn may pass 2.00 by 0.05 for each 0.01 that carbon is below 0.15; with carbon at its least of 0.07
        // that is 8 steps, 2.40.
        let s7 = class("A5.18", "ER70S-7");
        assert_eq!(limits(&s7, "Mn"), ("1.50".into(), "2.40".into()));
        let rule = &s7.couplings()[0];
        assert_eq!(rule.terms.iter().map(|(n, e)| format!("{n}{e}")).collect::<Vec<_>>(), ["5C", "1Mn"]);
        assert_eq!(rule.bound, exact(Percent::parse("2.75").unwrap()));
        // ER347: the least Nb is 10 x C, so 0.10 of the least carbon of any melt where carbon is not read.
        let with_nb = class("A5.9", "ER347");
        assert_eq!(limits(&with_nb, "Nb"), ("0.10".into(), "1.0".into()));
        assert_eq!(with_nb.couplings()[0].what, "10xC-Nb");
        // Sums.
        assert_eq!(class("A5.28", "ER90S-B9").couplings()[0].what, "Mn+Ni");
        assert_eq!(class("A5.1", "E7018").couplings()[0].what, "Mn+Ni+Cr+Mo+V");
    }

    #[test]
    fn the_remainder_has_no_most() {
        assert_eq!(limits(&class("A5.18", "ER70S-6"), "Fe"), (String::new(), String::new()));
        assert_eq!(limits(&class("A5.14", "ERNiCrMo-4"), "Ni"), (String::new(), String::new()));
        assert_eq!(limits(&class("A5.14", "ERNiCrMo-3"), "Ni").1, "");
        assert_eq!(limits(&class("A5.14", "ERNiCrMo-3"), "Fe").1, "5.0");
        assert_eq!(limits(&class("A5.10", "ER5356"), "Al"), (String::new(), String::new()));
        for class in Tables::built_in().classes() {
            let candidate = candidate(class);
            let open = candidate.elements().filter(|e| candidate.limits_of(*e).1.is_none()).count();
            assert!(open >= 1, "{}: nothing can be the remainder", class.classification);
        }
    }

    #[test]
    fn what_a_class_does_not_name() {
        let element = |s: &str| Element::parse(s).unwrap();
        // Aluminium classes limit others to 0.05 each, 0.15 in total; A5.18 says nothing.
        assert_eq!(limits(&class("A5.10", "ER5356"), "Sn").1, "0.05");
        assert_eq!(limits(&class("A5.18", "ER70S-6"), "Sn").1, "0.50");
        assert!(!class("A5.18", "ER70S-6").names(element("Sn")));
        assert!(class("A5.18", "ER70S-6").often_coated);
        assert!(!class("A5.9", "ER308L").often_coated);
        assert!(!class("A5.1", "E7018").often_coated);
    }
}
