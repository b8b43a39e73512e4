//! Classifications as printed, and whether a mark that was read fits one.

/// The parts of a classification, in capitals.
///
/// `E7018-1 H4R` is the base `7018` with the suffixes `1` and `H4R`; `ER308/308L` has two bases.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Parts {
    /// The base without a leading ER or E; several when dual-marked.
    pub(crate) bases: Vec<String>,
    /// Every further part, in the order printed.
    pub(crate) suffixes: Vec<String>,
}

/// Splits a classification at hyphens and blanks. Blanks around a `/` do not split.
pub(crate) fn parts(text: &str) -> Parts {
    let text = text.to_uppercase();
    let alternatives = text.split('/').map(str::trim).collect::<Vec<_>>().join("/");
    let mut parts = strip_prefix(&alternatives)
        .split(|c: char| is_hyphen(c) || c.is_whitespace())
        .filter(|part| !part.is_empty());
    let bases = parts
        .next()
        .unwrap_or("")
        .split('/')
        .map(strip_prefix)
        .filter(|base| !base.is_empty())
        .map(str::to_owned)
        .collect();
    Parts { bases, suffixes: parts.map(str::to_owned).collect() }
}

/// The text without a leading ER or E.
fn strip_prefix(text: &str) -> &str {
    text.strip_prefix("ER").or_else(|| text.strip_prefix('E')).unwrap_or(text)
}

/// The hyphen, and the dashes that office programs put in its place.
fn is_hyphen(c: char) -> bool {
    matches!(c, '-' | '\u{2010}' | '\u{2011}' | '\u{2013}' | '\u{2212}')
}

/// A specification or classification as printed, without case and blanks: two spellings of one are the same then.
#[must_use]
pub fn folded(printed: &str) -> String {
    printed.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_uppercase).collect()
}

/// True when a mark read on a piece can be the mark of a lot of this classification.
///
/// Case does not matter. Both are taken without a leading ER or E and split at hyphens and blanks; the first parts
/// (bases) must be equal, and every further part (suffix) that was read must be on the lot. So a worn mark of which
/// less was read still fits, and one more suffix than the lot has does not. A dual mark (`308/308L`) fits by any of
/// its bases, with the suffixes behind them applying to each. A mark of which nothing was read fits nothing.
#[must_use]
pub fn fits(read: &str, lot_class: &str) -> bool {
    let read = parts(read);
    let lot = parts(lot_class);
    read.bases.iter().any(|base| lot.bases.contains(base))
        && read.suffixes.iter().all(|suffix| lot.suffixes.contains(suffix))
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn parts_decide() {
        for (read, lot, want) in [
            ("7018", "E7018-1 H4R", true),
            ("70S-6", "ER70S-2", false),
            ("308", "ER308L", false),
            ("308L", "308/308L", true),
            // less read than printed
            ("70S", "ER70S-2", true),
            ("E7018-1", "E7018-1 H4R", true),
            ("7018 H4R", "E7018-1 H4R", true),
            ("7018-1-H4R", "E7018-1 H4R", true),
            // more read than printed
            ("E7018-1 H4R", "E7018", false),
            ("7018-1 H4", "E7018-1 H4R", false),
            ("70S-2", "ER70S", false),
            // case, prefix and blanks
            ("er70s-2", "ER70S-2", true),
            ("70S-2", "er70s-2", true),
            ("E308L", "ER308L", true),
            (" 308L ", "ER 308L", true),
            ("70S\u{2013}2", "ER70S-2", true),
            // dual marks
            ("308", "ER308/308L", true),
            ("ER308L", "ER308/ER308L", true),
            ("308L-16", "E308/E308L-16", true),
            ("308-16", "E308/308L-16", true),
            ("308L-17", "E308/308L-16", false),
            ("308H", "ER308/308L", false),
            ("308L", "ER308 / ER308L", true),
            ("308/308L", "ER308L", true),
            ("ER308/ER308L", "ER308/308L", true),
            ("316/316L", "ER308/308L", false),
            ("308L/", "ER308L", true),
            // nothing read
            ("", "ER308L", false),
            ("  ", "ER308L", false),
            ("ER", "ER308L", false),
            ("/", "/", false),
            ("", "", false),
            ("308L", "", false),
        ] {
            assert_eq!(fits(read, lot), want, "{read:?} on {lot:?}");
        }
    }
}
