//! Classifications as printed on a label or a certificate: prefixes, dual marks and optional suffixes.
//!
//! A designation is compared with the names that a table has, part by part, rather than taken apart by a grammar of its
//! own: what is left over is a suffix that is known, or the designation is not understood and stays as printed.

use crate::classification::parts;
use crate::limits::ClassLimits;

/// Two characters in a table that stand for the covering of a stainless electrode: `E309L-XX`.
const ANY_COVERING: &str = "XX";

/// The coverings of A5.4, clause 3: current and position.
const COVERINGS: [&str; 5] = ["15", "16", "17", "25", "26"];

/// A suffix that a designation can carry behind its class.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// `-1` of A5.1: impact tested at a lower temperature than the class alone.
    LowerImpactTemperature,
    /// `H4`, `H8`, `H16`: most diffusible hydrogen, ml per 100 g of deposit.
    Hydrogen(u8),
    /// `R`: absorbed moisture tested.
    MoistureResistant,
    /// `-15`, `-16`, `-17`, `-25`, `-26` of A5.4: covering, for current and position.
    Covering(u8),
    /// `J` of A5.20: impact tested at a lower temperature (from memory).
    ImprovedToughness,
    /// A letter that tightens limits in the table, such as `N` of A5.18.
    Tightens(char),
}

impl Mark {
    /// As printed.
    #[must_use]
    pub fn printed(self) -> String {
        match self {
            Mark::LowerImpactTemperature => "-1".into(),
            Mark::Hydrogen(most) => format!("H{most}"),
            Mark::MoistureResistant => "R".into(),
            Mark::Covering(number) => format!("-{number}"),
            Mark::ImprovedToughness => "J".into(),
            Mark::Tightens(letter) => letter.to_string(),
        }
    }
}

/// E: electrode. ER: electrode or rod.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Prefix {
    E,
    Er,
}

/// One name of a class, in capitals: `ER70S-2` is ER, `70S`, `2`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Spelling {
    prefix: Option<Prefix>,
    parts: Vec<String>,
}

impl Spelling {
    /// None when nothing is left without prefix, hyphens and blanks.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let capitals = text.trim_start().to_uppercase();
        let prefix = match capitals.as_bytes() {
            [b'E', b'R', ..] => Some(Prefix::Er),
            [b'E', ..] => Some(Prefix::E),
            _ => None,
        };
        let parts = parts(text);
        let parts: Vec<String> = parts.bases.into_iter().chain(parts.suffixes).collect();
        (!parts.is_empty()).then_some(Spelling { prefix, parts })
    }

    /// The first part: `70S`, `308L`, `NICRMO`.
    pub(crate) fn base(&self) -> &str {
        self.parts.first().map_or("", String::as_str)
    }

    /// Whether the last part is a G: a class by agreement.
    pub(crate) fn by_agreement(&self) -> bool {
        self.parts.iter().skip(1).any(|part| part == "G")
    }

    /// The spellings of a class of a table and of its twin in the other unit system. The twin of a stainless electrode is
    /// in the tables without the covering.
    pub(crate) fn of_class(classification: &str, twin: &str) -> Vec<Self> {
        let class = Spelling::parse(classification);
        let covering = class.as_ref().is_some_and(|c| c.parts.last().is_some_and(|p| p == ANY_COVERING));
        let twin = Spelling::parse(twin).map(|mut twin| {
            if covering {
                twin.parts.push(ANY_COVERING.to_owned());
            }
            twin
        });
        class.into_iter().chain(twin).collect()
    }

    /// What this printed spelling has beyond a name of the table; None when it does not begin with that name.
    ///
    /// Hyphens and blanks do not count: `E9018M` is the table's `E9018-M`. A printed mark without prefix is taken,
    /// another prefix than the table's is not: E308L is no name of the bare ER308L.
    fn beyond(&self, name: &Spelling) -> Option<Vec<String>> {
        if self.prefix.is_some() && self.prefix != name.prefix {
            return None;
        }
        let (body, covering) = match name.parts.split_last() {
            Some((last, body)) if last == ANY_COVERING => (body.concat(), true),
            Some(_) | None => (name.parts.concat(), false),
        };
        let mut joined = String::new();
        for (n, part) in self.parts.iter().enumerate() {
            joined.push_str(part);
            let Some(fused) = joined.strip_prefix(body.as_str()) else { continue };
            let mut rest: Vec<String> = self.parts.iter().skip(n.saturating_add(1)).cloned().collect();
            if covering && rest.first().is_some_and(|p| p == ANY_COVERING) {
                rest.remove(0);
            }
            if !fused.is_empty() {
                // "70S-2N" carries the suffix without a hyphen. A digit there would be another class.
                if fused.starts_with(|c: char| c.is_ascii_digit()) {
                    return None;
                }
                rest.insert(0, fused.to_owned());
            }
            return Some(rest);
        }
        None
    }

    /// Whether this is a name of the class, and with what suffixes.
    pub(crate) fn matched(&self, class: &ClassLimits, name: &Spelling) -> Option<Matched> {
        let rest = self.beyond(name)?;
        let mut marks = Vec::new();
        let mut unknown = Vec::new();
        for part in &rest {
            match marks_of(part, class) {
                Some(known) => marks.extend(known),
                None => unknown.push(part.clone()),
            }
        }
        Some(Matched { marks, unknown, beyond: rest.concat().len() })
    }
}

/// How a printed spelling meets a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Matched {
    /// The suffixes that are known.
    pub(crate) marks: Vec<Mark>,
    /// Those that are not, as printed in capitals.
    pub(crate) unknown: Vec<String>,
    /// How much was printed beyond the name, in bytes.
    pub(crate) beyond: usize,
}

/// The marks of one part behind the class, such as `H4R`; None when it is none for that class.
fn marks_of(part: &str, class: &ClassLimits) -> Option<Vec<Mark>> {
    let spec = class.spec.as_str();
    if COVERINGS.contains(&part) && class.classification.ends_with(ANY_COVERING) {
        return part.parse().ok().map(|number| vec![Mark::Covering(number)]);
    }
    if part == "1" && spec == "A5.1" && ["E7016", "E7018", "E7024"].contains(&class.classification.as_str()) {
        return Some(vec![Mark::LowerImpactTemperature]);
    }
    let covered = matches!(spec, "A5.1" | "A5.5");
    let ferritic = covered || matches!(spec, "A5.18" | "A5.20" | "A5.28");
    let mut rest = part;
    let mut marks = Vec::new();
    while !rest.is_empty() {
        // H16 before H1: the longer is tried first.
        let hydrogen = [("H16", 16), ("H8", 8), ("H4", 4)]
            .into_iter()
            .find_map(|(text, most)| rest.strip_prefix(text).map(|behind| (Mark::Hydrogen(most), behind)));
        let letter = rest.chars().next()?;
        let behind_letter = rest.get(letter.len_utf8()..)?;
        let (mark, behind) = match hydrogen {
            Some(found) if ferritic => found,
            Some(_) => return None,
            None if letter == 'R' && covered => (Mark::MoistureResistant, behind_letter),
            None if letter == 'J' && spec == "A5.20" => (Mark::ImprovedToughness, behind_letter),
            None if tightens(class, letter) => (Mark::Tightens(letter), behind_letter),
            None => return None,
        };
        if marks.contains(&mark) {
            return None;
        }
        marks.push(mark);
        rest = behind;
    }
    Some(marks)
}

fn tightens(class: &ClassLimits, letter: char) -> bool {
    class.limits.iter().any(|limit| limit.rules.suffix_max.is_some_and(|s| s.suffix == letter))
}

/// The alternatives of a dual mark, each as if printed alone: `E308/308L-16` is E308-16 and E308L-16. A part behind the
/// last one counts for those before it that have none.
pub(crate) fn alternatives(printed: &str) -> Vec<Spelling> {
    let mut spellings: Vec<Spelling> = Vec::new();
    // "S Ni 6082 (NiCr20Mn3Nb)": the name by chemistry says the same again.
    let without_chemistry = printed.split('(').next().unwrap_or(printed);
    for text in without_chemistry.split('/') {
        let behind = |c: char| matches!(c, '-' | '\u{2010}' | '\u{2011}' | '\u{2013}' | '\u{2212}');
        // "E71T-1C/-1M": only the suffix is printed again.
        let again = match (spellings.last(), text.trim_start().starts_with(behind)) {
            (Some(before), true) => Spelling::parse(text).map(|suffix| Spelling {
                prefix: before.prefix,
                parts: std::iter::once(before.base().to_owned()).chain(suffix.parts).collect(),
            }),
            (Some(_) | None, _) => Spelling::parse(text),
        };
        let Some(mut spelling) = again else { continue };
        if spelling.prefix.is_none() {
            spelling.prefix = spellings.last().and_then(|before| before.prefix);
        }
        spellings.push(spelling);
    }
    let behind_last: Vec<String> =
        spellings.last().map(|last| last.parts.iter().skip(1).cloned().collect()).unwrap_or_default();
    for spelling in &mut spellings {
        if spelling.parts.len() == 1 {
            spelling.parts.extend(behind_last.iter().cloned());
        }
    }
    spellings
}
