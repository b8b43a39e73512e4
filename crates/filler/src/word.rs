//! Words of a fixed list: parsing them, and the error that lists them.

use crate::shown::shown;

/// A word that is not in its list.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a {what}; write one of: {choices}")]
pub struct WordError {
    /// The text, as shown in the message.
    text: String,
    /// What the word should name, such as "product form".
    what: &'static str,
    /// The words of the list.
    choices: String,
}

/// The value whose word is `text`, whatever its case and the blanks around it.
pub(crate) fn parse_word<T: Copy>(
    text: &str,
    what: &'static str,
    all: &[T],
    word: fn(T) -> &'static str,
) -> Result<T, WordError> {
    let trimmed = text.trim();
    all.iter().copied().find(|value| word(*value).eq_ignore_ascii_case(trimmed)).ok_or_else(|| WordError {
        text: shown(text),
        what,
        choices: all.iter().map(|value| word(*value)).collect::<Vec<_>>().join(", "),
    })
}

/// Gives an enum of words its word, list, parsing and display.
macro_rules! words {
    ($name:ident, $what:literal, $($variant:ident => $word:literal),+ $(,)?) => {
        impl $name {
            /// All values, in the order they are listed in messages.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word, as recorded and shown.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word),+
                }
            }

            /// Reads the word, in any case.
            ///
            /// # Errors
            /// When the word is not in the list; the message lists the words.
            pub fn parse(text: &str) -> Result<Self, $crate::word::WordError> {
                $crate::word::parse_word(text, $what, Self::ALL, Self::word)
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::word::WordError;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Self::parse(text)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }
    };
}
pub(crate) use words;
