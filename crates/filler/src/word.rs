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
