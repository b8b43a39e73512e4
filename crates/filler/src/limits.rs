//! Composition limits of each classification: the built-in tables, or a shop's own.
//!
//! Each limit keeps the decimal text it was written with, because a value is rounded to the last place of *that* limit
//! (ASTM E29), and says where it comes from and how sure it is. A class that no table has is not covered: there is no
//! guess from a neighbour.

mod lookup;
mod rule;
mod table_text;

pub use lookup::{Found, Lookup, NotCovered};
pub use rule::{Rule, Rules, SuffixMax};
pub use table_text::{TableError, TableFault};

use crate::element::Element;
use crate::percent::Percent;
use serde::Serialize;
use std::fmt;
use std::sync::OnceLock;

const BUILT_IN: &str = include_str!("../data/compositions.csv");

/// What a limit is about.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Subject {
    /// One element.
    Element(Element),
    /// Several elements together, such as Mn+Ni.
    Sum(Vec<Element>),
    /// All elements together that the class does not list.
    OthersTotal,
    /// Each element that the class does not list.
    OthersEach,
}

impl Subject {
    /// The elements that it names: none for the others.
    #[must_use]
    pub fn elements(&self) -> &[Element] {
        match self {
            Subject::Element(element) => std::slice::from_ref(element),
            Subject::Sum(elements) => elements,
            Subject::OthersTotal | Subject::OthersEach => &[],
        }
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Subject::Element(element) => write!(f, "{element}"),
            Subject::Sum(elements) => {
                f.write_str(&elements.iter().map(|e| e.symbol()).collect::<Vec<_>>().join("+"))
            }
            Subject::OthersTotal => f.write_str("others total"),
            Subject::OthersEach => f.write_str("others each"),
        }
    }
}

/// How sure a value of a table is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Confidence {
    /// Read in the shop's own copy of the standard; only a shop's own table says so.
    OwnCopy,
    /// Two documents give the same numbers.
    TwoSources,
    /// One document gives it.
    OneSource,
    /// Recalled; no document was read. Every verdict that rests on it says so.
    Memory,
}

impl Confidence {
    const ALL: [Self; 4] = [Self::OwnCopy, Self::TwoSources, Self::OneSource, Self::Memory];

    /// Its word in tables: `own-copy`, `two-sources`, `one-source`, `memory`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Confidence::OwnCopy => "own-copy",
            Confidence::TwoSources => "two-sources",
            Confidence::OneSource => "one-source",
            Confidence::Memory => "memory",
        }
    }

    /// The confidence of its word.
    ///
    /// # Errors
    /// When the word is none of the list.
    pub fn parse(text: &str) -> Result<Self, crate::WordError> {
        crate::word::parse_word(text, "confidence", &Self::ALL, Self::word)
    }
}

/// The product whose analysis a class limits. The two are never mixed: a wire is not its deposit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AppliesTo {
    /// The wire or rod itself, coating included: bare products.
    Wire,
    /// Deposited metal: covered and tubular products.
    WeldMetal,
}

impl AppliesTo {
    const ALL: [Self; 2] = [Self::Wire, Self::WeldMetal];

    /// Its word: `wire`, `weld-metal`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            AppliesTo::Wire => "wire",
            AppliesTo::WeldMetal => "weld-metal",
        }
    }

    /// The product of its word; `weld_metal`, as tables write it, is taken too.
    ///
    /// # Errors
    /// When the word is none of the list.
    pub fn parse(text: &str) -> Result<Self, crate::WordError> {
        crate::word::parse_word(&text.replace('_', "-"), "product analysed", &Self::ALL, Self::word)
    }
}

/// One limit of a class. With neither end it is a remainder or not specified (see [`Rules`]).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// What is limited.
    pub subject: Subject,
    /// The least, mass percent.
    pub min: Option<Percent>,
    /// The most, mass percent.
    pub max: Option<Percent>,
    /// What the two numbers cannot say.
    pub rules: Rules,
    /// Remark of the table.
    pub note: String,
    /// Where the values come from.
    pub source: String,
    /// How sure they are.
    pub confidence: Confidence,
}

/// The limits of one class of one specification. Coated and bare rod of a class have the same: one set a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClassLimits {
    /// `A5.18`
    pub spec: String,
    /// Edition of the specification that the values are of.
    pub edition: String,
    /// As the table has it: `ER70S-2`, `E309L-XX`.
    pub classification: String,
    /// Its twin in the other unit system or in ISO: `ER48S-2`; may be empty.
    pub iso_name: String,
    /// Number in the unified numbering system; may be empty.
    pub uns: String,
    /// The product whose analysis is limited.
    pub product: AppliesTo,
    /// The limits, in the order of the table.
    pub limits: Vec<Limit>,
    /// Name of the table, for every verdict: `A5.18, edition 2005, built in`.
    pub table: String,
    /// The class and its twin as a designation is compared with them.
    names: Vec<crate::designation::Spelling>,
}

impl ClassLimits {
    /// The limit of an element by itself.
    #[must_use]
    pub fn element(&self, element: Element) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.subject == Subject::Element(element))
    }

    /// Whether the class names this element in any limit, alone, in a sum or counted with another.
    #[must_use]
    pub fn lists(&self, element: Element) -> bool {
        self.limits.iter().any(|limit| {
            limit.subject.elements().contains(&element) || limit.rules.counted_with.contains(&element)
        })
    }
}

/// Tables of classes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tables {
    classes: Vec<ClassLimits>,
}

impl Tables {
    /// The built-in tables, from `data/compositions.csv`: working data from public documents and from recall, each value
    /// with its source and confidence; not the standards.
    #[must_use]
    pub fn built_in() -> &'static Tables {
        static TABLES: OnceLock<Tables> = OnceLock::new();
        // A line that could not be read would leave the table empty, and every class not covered; a test reads them all.
        TABLES.get_or_init(|| Tables::from_csv(BUILT_IN, "built in").unwrap_or_default())
    }

    /// A shop's own table from CSV text with the columns of the built-in one; `name` says in every verdict which
    /// table it was. Nothing is taken from a table with a bad line.
    ///
    /// # Errors
    /// Every bad cell with its line and column.
    pub fn from_csv(text: &str, name: &str) -> Result<Self, TableError> {
        table_text::read(text, name).map(|classes| Tables { classes })
    }

    /// These tables with the classes of a shop's own in place of those of the same name.
    #[must_use]
    pub fn with(&self, own: &Tables) -> Self {
        let mut classes = own.classes.clone();
        classes.extend(self.classes.iter().filter(|c| !own.has(&c.spec, &c.classification)).cloned());
        Tables { classes }
    }

    fn has(&self, spec: &str, classification: &str) -> bool {
        self.classes.iter().any(|c| c.spec == spec && c.classification == classification)
    }

    /// Every class, in the order of the table.
    #[must_use]
    pub fn classes(&self) -> &[ClassLimits] {
        &self.classes
    }

    /// The class of that exact name, as the table has it.
    #[must_use]
    pub fn class(&self, spec: &str, classification: &str) -> Option<&ClassLimits> {
        self.classes.iter().find(|c| c.spec == spec && c.classification == classification)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_the_built_in_table_was_read() {
        let tables = Tables::from_csv(BUILT_IN, "built in").unwrap();
        assert_eq!(&tables, Tables::built_in());
        assert_eq!(tables.classes.len(), 110);
        assert_eq!(tables.classes.iter().map(|c| c.limits.len()).sum::<usize>(), 1078);
        assert_eq!(BUILT_IN.lines().count(), 1079);
        let count = |c| tables.classes.iter().flat_map(|k| &k.limits).filter(|l| l.confidence == c).count();
        assert_eq!(
            [Confidence::TwoSources, Confidence::OneSource, Confidence::Memory].map(count),
            [173, 436, 469]
        );
    }

    #[test]
    fn limits_keep_their_text_and_the_table_its_name() {
        let class = Tables::built_in().class("A5.9", "ER309L").unwrap();
        assert_eq!(class.table, "A5.9, edition 2006, built in");
        let chromium = class.element(Element::parse("Cr").unwrap()).unwrap();
        assert_eq!(chromium.min.unwrap().to_string(), "23.0");
        assert_eq!(
            Tables::built_in().class("A5.18", "ER70S-2").unwrap().table,
            "A5.18, edition 2005, built in"
        );
    }

    #[test]
    fn er70s_2_is_the_class_with_titanium_zirconium_and_aluminium_together() {
        // Common practice, no source.
        let deoxidisers = ["Ti", "Zr", "Al"].map(|e| Element::parse(e).unwrap());
        let with_all: Vec<&str> = Tables::built_in()
            .classes()
            .iter()
            .filter(|c| c.spec == "A5.18")
            .filter(|c| deoxidisers.iter().all(|e| c.element(*e).is_some_and(|l| l.min.is_some())))
            .map(|c| c.classification.as_str())
            .collect();
        assert_eq!(with_all, ["ER70S-2"]);
    }

    #[test]
    fn coated_and_bare_rod_of_a_class_have_one_set_of_limits_and_copper_counts_the_coating() {
        // Common practice, no source.
        let copper = Element::parse("Cu").unwrap();
        for class in Tables::built_in().classes().iter().filter(|c| c.spec == "A5.18" || c.spec == "A5.28") {
            let twins = Tables::built_in()
                .classes()
                .iter()
                .filter(|c| (&c.spec, &c.classification) == (&class.spec, &class.classification));
            assert_eq!(twins.count(), 1, "{}", class.classification);
            assert!(class.element(copper).unwrap().rules.coating, "{}", class.classification);
        }
    }

    #[test]
    fn an_own_table_goes_before_the_built_in_one() {
        let text = "spec,edition,classification,applies_to,element,min_pct,max_pct,source,confidence\n\
                    A5.18,2017,ER70S-2,wire,C,,0.06,own copy,own-copy\n";
        let own = Tables::from_csv(text, "copy of the shop").unwrap();
        let tables = Tables::built_in().with(&own);
        assert_eq!(tables.classes().len(), 110);
        assert_eq!(tables.class("A5.18", "ER70S-2").unwrap().table, "A5.18, edition 2017, copy of the shop");
    }
}
