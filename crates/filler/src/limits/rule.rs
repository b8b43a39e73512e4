//! What a least and a most cannot say, as the `rule` column of a table has it.
//!
//! | clause | meaning |
//! |---|---|
//! | `balance` | the remainder: nothing to compare |
//! | `not specified` | listed without a limit: neither zero nor missing |
//! | `by difference` | the standard has the value by difference, from the others |
//! | `coating` | the limit counts the coating as well as the wire |
//! | `with Ta` | that element counts as this one |
//! | `suffix N max 0.08` | a most that holds when the mark has that suffix |
//! | `min 10 x C` | a least that follows carbon |
//! | `max falls 0.01 per 0.05 Mn above 2.00` | a most that falls, step by step or part of a step, with another element |
//! | `above max where C is cut` | may pass its most while the carbon stays below the most that falls |
//!
//! Clauses are separated by semicolons.

use crate::element::Element;
use crate::percent::Percent;
use crate::shown::shown;

/// A rule that a least and a most cannot say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// The least is so many times another element, such as niobium of 347: 10 x C.
    MinFollows {
        /// How many times.
        factor: u32,
        /// The other element.
        of: Element,
    },
    /// The most falls by `fall` for each `step`, or part of one, of another element above `above`.
    MaxFalls {
        /// Fall of the most, a step.
        fall: Percent,
        /// One step of the other element.
        step: Percent,
        /// The other element.
        of: Element,
        /// Where the steps begin.
        above: Percent,
    },
    /// May pass its most as long as the other element keeps to its own falling most.
    AboveMaxWhereCut(Element),
}

/// A most that holds when the designation has a suffix, such as N of A5.18.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SuffixMax {
    /// The suffix, one letter in capitals.
    pub suffix: char,
    /// The most, mass percent.
    pub max: Percent,
}

/// The rules of one limit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rules {
    /// The remainder of the composition.
    pub balance: bool,
    /// Listed without a limit.
    pub not_specified: bool,
    /// Given by difference in the standard.
    pub by_difference: bool,
    /// The limit counts the coating.
    pub coating: bool,
    /// Elements that count as this one, such as tantalum with niobium.
    pub counted_with: Vec<Element>,
    /// Tighter with a suffix.
    pub suffix_max: Option<SuffixMax>,
    /// A rule on another element.
    pub rule: Option<Rule>,
}

impl Rules {
    /// Reads the clauses of a cell; an empty one has no rules.
    pub(super) fn parse(text: &str) -> Result<Self, String> {
        let mut rules = Rules::default();
        for clause in text.split(';').map(str::trim).filter(|clause| !clause.is_empty()) {
            let words: Vec<&str> = clause.split_whitespace().collect();
            match words.as_slice() {
                ["balance"] => rules.balance = true,
                ["not", "specified"] => rules.not_specified = true,
                ["by", "difference"] => rules.by_difference = true,
                ["coating"] => rules.coating = true,
                ["with", element] => rules.counted_with.push(parse_element(element)?),
                ["suffix", suffix, "max", max] => {
                    let mut letters = suffix.chars();
                    let (Some(suffix @ 'A'..='Z'), None) = (letters.next(), letters.next()) else {
                        return Err(format!("the suffix in \"{}\" is not one capital letter", shown(clause)));
                    };
                    let max = SuffixMax { suffix, max: parse_percent(max)? };
                    once(&mut rules.suffix_max, max, clause)?;
                }
                ["min", factor, "x", of] => {
                    let factor = factor
                        .parse()
                        .ok()
                        .filter(|f| (1..=100).contains(f))
                        .ok_or_else(|| format!("the factor in \"{}\" is not 1 to 100", shown(clause)))?;
                    once(&mut rules.rule, Rule::MinFollows { factor, of: parse_element(of)? }, clause)?;
                }
                ["max", "falls", fall, "per", step, of, "above", above] => {
                    let (fall, step, above) =
                        (parse_percent(fall)?, parse_percent(step)?, parse_percent(above)?);
                    if step.is_zero() {
                        return Err(format!("the step in \"{}\" is zero", shown(clause)));
                    }
                    let rule = Rule::MaxFalls { fall, step, of: parse_element(of)?, above };
                    once(&mut rules.rule, rule, clause)?;
                }
                ["above", "max", "where", of, "is", "cut"] => {
                    once(&mut rules.rule, Rule::AboveMaxWhereCut(parse_element(of)?), clause)?;
                }
                _ => return Err(format!("\"{}\" is no rule that is known", shown(clause))),
            }
        }
        Ok(rules)
    }
}

fn once<T>(place: &mut Option<T>, value: T, clause: &str) -> Result<(), String> {
    match place.replace(value) {
        None => Ok(()),
        Some(_) => Err(format!("\"{}\" is the second rule of its kind for one limit", shown(clause))),
    }
}

fn parse_element(text: &str) -> Result<Element, String> {
    Element::parse(text).map_err(|e| e.to_string())
}

fn parse_percent(text: &str) -> Result<Percent, String> {
    Percent::parse(text).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clauses_are_read() {
        let rules = Rules::parse("coating; suffix N max 0.08").unwrap();
        assert!(rules.coating);
        assert_eq!(rules.suffix_max.unwrap().suffix, 'N');
        let rules = Rules::parse("with Ta; min 10 x C").unwrap();
        assert_eq!(rules.counted_with, [Element::parse("Ta").unwrap()]);
        let carbon = Element::parse("C").unwrap();
        assert_eq!(rules.rule, Some(Rule::MinFollows { factor: 10, of: carbon }));
        assert_eq!(Rules::parse(" ; "), Ok(Rules::default()));
        for text in [
            "remainder",
            "with Xx",
            "suffix NN max 0.1",
            "suffix N max 101",
            "min 0 x C",
            "min -1 x C",
            "min 10 x C; min 8 x C",
            "max falls 0.01 per 0.00 Mn above 2.00",
            "coating suffix",
        ] {
            assert!(Rules::parse(text).is_err(), "{text}");
        }
    }
}
