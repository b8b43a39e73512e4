//! Filler-metal specifications by their number.

use crate::element::Element;

/// `A5.18` from `A5.18`, `SFA-5.18`, `AWS A5.18/A5.18M:2021` and the like; None when no A5 specification is named.
#[must_use]
pub fn normal_spec(spec: &str) -> Option<String> {
    let spec = spec.trim().to_uppercase();
    let mut rest = spec.as_str();
    for word in ["ASME", "AWS", "SFA", "A"] {
        rest = rest.strip_prefix(word).unwrap_or(rest).trim_start_matches([' ', '-', '/']);
    }
    let rest = rest.strip_prefix("5.")?;
    let number: String = rest.chars().take_while(char::is_ascii_digit).collect();
    if number.is_empty() { None } else { Some(format!("A5.{number}")) }
}

/// The element that the metal of a specification is based on: it is never one of the "other elements". None where the
/// specification has alloys of several bases.
pub(crate) fn base_element(spec: &str) -> Option<Element> {
    let symbol = match spec {
        "A5.1" | "A5.4" | "A5.5" | "A5.9" | "A5.17" | "A5.18" | "A5.20" | "A5.22" | "A5.23" | "A5.25"
        | "A5.26" | "A5.28" | "A5.29" => "Fe",
        "A5.3" | "A5.10" => "Al",
        "A5.6" | "A5.7" => "Cu",
        "A5.11" | "A5.14" => "Ni",
        "A5.16" => "Ti",
        "A5.19" => "Mg",
        "A5.24" => "Zr",
        _ => return None,
    };
    Element::parse(symbol).ok()
}

#[cfg(test)]
mod tests {
    use super::normal_spec;

    #[test]
    fn spellings_of_one_specification() {
        for text in ["A5.18", "a5.18", " SFA-5.18", "AWS A5.18/A5.18M:2021", "ASME SFA-5.18", "SFA 5.18"] {
            assert_eq!(normal_spec(text).as_deref(), Some("A5.18"), "{text}");
        }
        for text in ["", "A5", "A5.", "ISO 14343", "EN 12345", "A6.18"] {
            assert_eq!(normal_spec(text), None, "{text}");
        }
    }
}
