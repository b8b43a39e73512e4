//! Which classes a reading is compared with.

use super::wrong;
use crate::failure::Failure;
use filler::identify::{Candidate, candidate};
use filler::limits::Lookup;
use filler::{AppliesTo, ClassLimits, Tables, normal_spec};

/// Families and their specifications.
const FAMILIES: [(&str, &[&str]); 7] = [
    ("carbon", &["A5.1", "A5.17", "A5.18", "A5.20"]),
    ("low-alloy", &["A5.5", "A5.23", "A5.28", "A5.29"]),
    ("stainless", &["A5.4", "A5.9", "A5.22"]),
    ("nickel", &["A5.11", "A5.14", "A5.34"]),
    ("aluminium", &["A5.3", "A5.10"]),
    ("copper", &["A5.6", "A5.7"]),
    ("titanium", &["A5.16"]),
];

/// Specifications of tubular electrodes.
const TUBULAR: [&str; 4] = ["A5.20", "A5.22", "A5.29", "A5.34"];

/// The product that was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Product {
    Bare,
    Covered,
    Tubular,
    Any,
}

impl Product {
    fn parse(text: &str) -> Result<Self, Failure> {
        match text.trim().to_ascii_lowercase().as_str() {
            "bare" => Ok(Product::Bare),
            "covered" => Ok(Product::Covered),
            "tubular" => Ok(Product::Tubular),
            "any" => Ok(Product::Any),
            _ => Err(wrong(
                "--product",
                format!("\"{text}\" is not a product that can be read"),
                "write bare, covered, tubular or any",
            )),
        }
    }

    fn has(self, class: &ClassLimits) -> bool {
        match (self, class.product) {
            (Product::Any, _) | (Product::Bare, AppliesTo::Wire) => true,
            (Product::Bare, AppliesTo::WeldMetal)
            | (Product::Covered | Product::Tubular, AppliesTo::Wire) => false,
            (Product::Covered, AppliesTo::WeldMetal) => !TUBULAR.contains(&class.spec.as_str()),
            (Product::Tubular, AppliesTo::WeldMetal) => TUBULAR.contains(&class.spec.as_str()),
        }
    }
}

/// The candidates, and what there is to say about the choice.
#[derive(Debug)]
pub(super) struct Choice {
    pub(super) candidates: Vec<Candidate>,
    /// The specifications of the candidates.
    pub(super) specs: Vec<String>,
    pub(super) notes: Vec<String>,
}

/// The classes of the tables that were asked for.
pub(super) fn of(
    tables: &Tables,
    product: &str,
    family: Option<&str>,
    classes: &[String],
) -> Result<Choice, Failure> {
    let product = Product::parse(product)?;
    let specs = family.map(specs_of).transpose()?;
    let in_family = |class: &&ClassLimits| specs.as_ref().is_none_or(|specs| specs.contains(&class.spec));
    let asked: Vec<&ClassLimits> = if classes.is_empty() {
        tables.classes().iter().filter(in_family).collect()
    } else {
        let mut asked: Vec<&ClassLimits> = Vec::new();
        for printed in classes {
            for class in named(tables, printed)?.into_iter().filter(in_family) {
                if !asked.contains(&class) {
                    asked.push(class);
                }
            }
        }
        asked
    };
    let (chosen, left): (Vec<&ClassLimits>, Vec<&ClassLimits>) =
        asked.into_iter().partition(|class| product.has(class));
    let mut notes = Vec::new();
    let (mut wire, mut deposit) = (0_usize, 0_usize);
    for class in &left {
        match class.product {
            AppliesTo::Wire => wire += 1,
            AppliesTo::WeldMetal => deposit += 1,
        }
    }
    if chosen.is_empty() {
        let mut failure = Failure::not_understood("the reading was compared with no class.");
        if left.is_empty() {
            failure.why.push("the tables have no class of that family and name.".into());
            failure = failure.next("leave out --family or --class to compare with every class of bare wire");
        } else {
            let limits = if deposit > 0 { "deposited metal" } else { "the bare wire" };
            failure
                .why
                .push(format!("the limits of what was asked for are of {limits}, and that was not read."));
            failure = failure.next(if deposit > 0 {
                "if the reading is of undiluted deposit, say --product covered or --product tubular"
            } else {
                "if the reading is of bare rod or wire, say --product bare"
            });
        }
        return Err(failure);
    }
    if deposit > 0 && product == Product::Bare {
        notes.push(format!(
            "{deposit} covered and tubular classes were not compared: their limits are of deposited metal, and core wire \
             says nothing about that (--product)"
        ));
    }
    if wire > 0 {
        notes
            .push(format!("{wire} bare classes were not compared: their limits are of the wire (--product)"));
    }
    if chosen.iter().any(|class| class.product == AppliesTo::WeldMetal) {
        notes.push(
            "limits of covered and tubular classes are of undiluted deposited metal, not of core wire, sheath or weld".into(),
        );
    }
    let candidates: Vec<Candidate> = chosen.iter().map(|class| candidate(class)).collect();
    let mut specs: Vec<String> = Vec::new();
    for class in &chosen {
        if !specs.contains(&class.spec) {
            specs.push(class.spec.clone());
        }
    }
    Ok(Choice { candidates, specs, notes })
}

/// The specifications of a family, or the one named.
fn specs_of(family: &str) -> Result<Vec<String>, Failure> {
    let word = family.trim().to_ascii_lowercase().replace("aluminum", "aluminium");
    if let Some((_, specs)) = FAMILIES.iter().find(|(name, _)| *name == word) {
        return Ok(specs.iter().map(|spec| (*spec).to_owned()).collect());
    }
    normal_spec(family).map(|spec| vec![spec]).ok_or_else(|| {
        let names: Vec<&str> = FAMILIES.iter().map(|(name, _)| *name).collect();
        wrong(
            "--family",
            format!("\"{family}\" is neither a family nor a specification such as A5.9"),
            &format!("write one of: {}; or a specification", names.join(", ")),
        )
    })
}

/// The classes of a name as printed, of whatever specification.
fn named<'t>(tables: &'t Tables, printed: &str) -> Result<Vec<&'t ClassLimits>, Failure> {
    let mut specs: Vec<&str> = tables.classes().iter().map(|class| class.spec.as_str()).collect();
    specs.dedup();
    let (mut found, mut near) = (Vec::new(), Vec::new());
    for spec in specs {
        match tables.find(spec, printed) {
            Lookup::Found(of_spec) => found.extend(of_spec.classes),
            Lookup::NotCovered(not) => near.extend(not.near),
        }
    }
    if !found.is_empty() {
        return Ok(found);
    }
    near.sort();
    near.dedup();
    let mut failure = Failure::not_understood("the reading was not compared.");
    failure.why.push(format!("no table has the class \"{printed}\"."));
    Err(match near.as_slice() {
        [] => failure.next("see which classes there are with: rodbook table"),
        near => failure
            .next(format!("near it are: {}", near.iter().take(8).cloned().collect::<Vec<_>>().join(", "))),
    })
}
