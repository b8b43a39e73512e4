//! How a text that was not understood is shown in a message.

/// Longest part of a text shown in a message, in characters.
const SHOWN_CHARS: usize = 60;

/// The text on one line: control characters escaped, cut after 60 characters.
pub(crate) fn shown(text: &str) -> String {
    let mut out = String::new();
    for (count, c) in text.chars().enumerate() {
        if count == SHOWN_CHARS {
            out.push('…');
            break;
        }
        if c.is_control() {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::shown;

    #[test]
    fn keeps_marks_and_escapes_controls() {
        assert_eq!(shown("3/32\" ×\t36"), "3/32\" ×\\t36");
        assert_eq!(shown(&"9".repeat(1000)).chars().count(), 61);
    }
}
