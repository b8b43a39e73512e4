//! Text that people type: what is refused, and one normal form for what is kept.

use unicode_normalization::UnicodeNormalization as _;

/// Longest label, name or short text, in characters.
pub const MAX_LABEL: usize = 200;
/// Longest reason or remark, in characters.
pub const MAX_REMARK: usize = 2_000;

/// Why a text was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// A character that cannot be seen, or that changes how its neighbours are seen.
    #[error("{shown:?} contains {name} at character {at}; type it again without it")]
    Hidden {
        /// The text with the character made visible.
        shown: String,
        /// Code point and name of the character.
        name: String,
        /// Position, counted from 1.
        at: usize,
    },
    /// Nothing but blanks.
    #[error("it is empty")]
    Empty,
    /// Too long to be what it says it is.
    #[error("it has {length} characters; at most {most} are kept")]
    TooLong {
        /// Length found, in characters.
        length: usize,
        /// Longest allowed, in characters.
        most: usize,
    },
}

/// Reads a label or a name: trims blanks at both ends, refuses hidden characters, brings the rest to NFC.
///
/// # Errors
/// When the text is empty, too long or holds a character named in [`hidden`].
pub fn label(typed: &str) -> Result<String, TextError> {
    clean(typed, MAX_LABEL, false)
}

/// Reads a reason or a remark, in which line breaks may stand.
///
/// # Errors
/// As [`label`].
pub fn remark(typed: &str) -> Result<String, TextError> {
    clean(typed, MAX_REMARK, true)
}

fn clean(typed: &str, most: usize, lines: bool) -> Result<String, TextError> {
    let typed = typed.trim_matches([' ', '\t', '\r', '\n']);
    if typed.is_empty() {
        return Err(TextError::Empty);
    }
    let length = typed.chars().count();
    if length > most {
        return Err(TextError::TooLong { length, most });
    }
    for (i, c) in typed.chars().enumerate() {
        if lines && c == '\n' {
            continue;
        }
        if let Some(name) = hidden(c) {
            let shown = typed.chars().map(|c| if hidden(c).is_some() { '\u{FFFD}' } else { c }).collect();
            return Err(TextError::Hidden {
                shown,
                name: format!("U+{:04X} {name}", u32::from(c)),
                at: i + 1,
            });
        }
    }
    Ok(typed.nfc().collect())
}

/// Name of a character that may not stand in a label: controls, direction marks, zero-width and invisible
/// characters, variation selectors, line and paragraph separators, noncharacters.
pub fn hidden(c: char) -> Option<&'static str> {
    Some(match c {
        '\t' => "TAB",
        '\n' => "LINE FEED",
        '\r' => "CARRIAGE RETURN",
        '\u{0}' => "NUL",
        '\u{1B}' => "ESCAPE",
        '\u{1}'..='\u{1F}' => "control character",
        '\u{7F}' => "DELETE",
        '\u{80}'..='\u{9F}' => "control character",
        '\u{AD}' => "SOFT HYPHEN",
        '\u{34F}' => "COMBINING GRAPHEME JOINER",
        '\u{61C}' => "ARABIC LETTER MARK",
        '\u{115F}' | '\u{1160}' | '\u{3164}' | '\u{FFA0}' => "HANGUL FILLER",
        '\u{180B}'..='\u{180F}' => "MONGOLIAN format character",
        '\u{200B}' => "ZERO WIDTH SPACE",
        '\u{200C}' => "ZERO WIDTH NON-JOINER",
        '\u{200D}' => "ZERO WIDTH JOINER",
        '\u{200E}' => "LEFT-TO-RIGHT MARK",
        '\u{200F}' => "RIGHT-TO-LEFT MARK",
        '\u{2028}' => "LINE SEPARATOR",
        '\u{2029}' => "PARAGRAPH SEPARATOR",
        '\u{202A}' => "LEFT-TO-RIGHT EMBEDDING",
        '\u{202B}' => "RIGHT-TO-LEFT EMBEDDING",
        '\u{202C}' => "POP DIRECTIONAL FORMATTING",
        '\u{202D}' => "LEFT-TO-RIGHT OVERRIDE",
        '\u{202E}' => "RIGHT-TO-LEFT OVERRIDE",
        '\u{2060}' => "WORD JOINER",
        '\u{2061}'..='\u{2065}' => "invisible operator",
        '\u{2066}' => "LEFT-TO-RIGHT ISOLATE",
        '\u{2067}' => "RIGHT-TO-LEFT ISOLATE",
        '\u{2068}' => "FIRST STRONG ISOLATE",
        '\u{2069}' => "POP DIRECTIONAL ISOLATE",
        '\u{206A}'..='\u{206F}' => "deprecated format character",
        '\u{FE00}'..='\u{FE0F}' | '\u{E0100}'..='\u{E01EF}' => "VARIATION SELECTOR",
        '\u{FEFF}' => "ZERO WIDTH NO-BREAK SPACE (byte order mark)",
        '\u{FFF9}'..='\u{FFFB}' => "interlinear annotation character",
        '\u{FFFD}' => "REPLACEMENT CHARACTER",
        '\u{FFFE}' | '\u{FFFF}' => "noncharacter",
        '\u{E0000}'..='\u{E007F}' => "TAG character",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_characters_are_named() {
        for (text, name) in [
            ("L-04\u{202E}17", "U+202E RIGHT-TO-LEFT OVERRIDE"),
            ("L\u{200B}1", "U+200B ZERO WIDTH SPACE"),
            ("L\u{7}1", "U+0007 control character"),
            ("A\u{FE0F}", "U+FE0F VARIATION SELECTOR"),
        ] {
            let error = label(text).unwrap_err();
            assert!(error.to_string().contains(name), "{error}");
        }
        assert_eq!(label("  W-12 ").unwrap(), "W-12");
        assert_eq!(label("Jose\u{301}").unwrap(), "Jos\u{e9}", "NFC");
        assert_eq!(label(" \t").unwrap_err(), TextError::Empty);
        assert!(matches!(label(&"x".repeat(201)), Err(TextError::TooLong { length: 201, .. })));
        assert_eq!(remark("two\nlines").unwrap(), "two\nlines");
    }
}
