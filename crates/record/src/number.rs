//! Heat, lot, slip, joint and certificate numbers: as printed, as searched for, and as the eye mistakes them.
//!
//! Equal text is the same number. Equal [`search_key`] with unequal text is asked about, never equated.
//! Equal [`look_alike_key`] with unequal search key is a warning: mills do issue `H0117` and `HO117` as
//! different heats.

use unicode_normalization::UnicodeNormalization as _;

/// The search key: NFKC, capitals, without blanks and `- / . _`.
pub fn search_key(printed: &str) -> String {
    let between = |c: char| c.is_whitespace() || matches!(c, '-' | '/' | '.' | '_');
    if printed.is_ascii() {
        // NFKC leaves ASCII as it is.
        let key: String = printed.chars().filter(|c| !between(*c)).map(|c| c.to_ascii_uppercase()).collect();
        return if key.is_empty() { printed.to_owned() } else { key };
    }
    let key: String = printed
        .nfkc()
        .filter(|c| !between(*c) && !matches!(c, '\u{2010}'..='\u{2015}' | '\u{2212}'))
        .map(|c| c.to_ascii_uppercase())
        .collect();
    // A number made of nothing but dashes still needs a key of its own.
    if key.is_empty() { printed.to_owned() } else { key }
}

/// The look-alike key of a search key: letters and figures that are mistaken for each other become one
/// (O Q D 0, I L 1, S 5, B 8, Z 2, G 6), characters outside ASCII go through the confusables skeleton of
/// Unicode Technical Standard 39 first.
pub fn look_alike_key(search_key: &str) -> String {
    let fold = |c: char| match c {
        'O' | 'Q' | 'D' => '0',
        'I' | 'L' => '1',
        'S' => '5',
        'B' => '8',
        'Z' => '2',
        'G' => '6',
        other => other,
    };
    if search_key.is_ascii() {
        return search_key.chars().map(fold).collect();
    }
    let skeleton: String = unicode_security::skeleton(search_key).collect();
    self::search_key(&skeleton).chars().map(fold).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys() {
        assert_eq!(search_key("a-01 23"), "A0123");
        assert_eq!(search_key("\u{FF21}\u{FF11}"), "A1", "full-width forms");
        assert_eq!(search_key("--"), "--");
        assert_eq!(look_alike_key("HO117"), look_alike_key("H0117"));
        assert_ne!(search_key("HO117"), search_key("H0117"));
        assert_eq!(look_alike_key(&search_key("\u{391}12")), look_alike_key("A12"), "Greek capital alpha");
        assert_ne!(look_alike_key("H0117"), look_alike_key("H0118"));
    }
}
