//! Cells that a spreadsheet would not leave as they are.
//!
//! Quoting does not help: a spreadsheet runs `"=1+1"` as a formula and turns the heat `"00123E4"` into a number. A
//! leading apostrophe makes it take the cell as text. Cells that need one begin with `=`, `+`, `-`, `@`, TAB or NUL (OWASP
//! Application Security Verification Standard 5.0, requirement 1.2.10), with CR, LF or a full-width form of the four
//! signs (OWASP, *CSV Injection*, from memory). An apostrophe changes the data, so only the spreadsheet form of an export
//! has them, and its first column names the columns they are in.

use std::borrow::Cow;

/// What a column holds, as far as a spreadsheet's guesses matter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Content {
    /// Numbers and texts that people gave to things: text, whatever it looks like.
    Label,
    /// Numbers, times and words that are meant as such.
    Plain,
}

/// Header of the first column: its name, and what the reader must know.
pub const HEADER: &str = "spreadsheet_form: this file is made for a spreadsheet. In the columns named below an \
                          apostrophe was put before text that a spreadsheet would take for a formula, a number or a \
                          date; without --for spreadsheet the list is exact";

/// What a spreadsheet looks for at the beginning of a file to know that it is UTF-8.
pub const BYTE_ORDER_MARK: &[u8] = "\u{FEFF}".as_bytes();

/// The cell as a spreadsheet leaves it alone; borrowed where nothing had to be changed.
#[must_use]
pub fn neutral(cell: &str, content: Content) -> Cow<'_, str> {
    match content {
        Content::Label if is_taken_for_a_value(cell) => Cow::Owned(format!("'{cell}")),
        Content::Label | Content::Plain => without_formulas(cell),
    }
}

/// Puts an apostrophe before each sign that begins a formula: at the beginning of the cell, and after what a
/// spreadsheet set to another list separator takes for the end of a cell.
fn without_formulas(cell: &str) -> Cow<'_, str> {
    let mut neutral = String::new();
    let mut begins = true;
    let mut copied = 0;
    for (at, c) in cell.char_indices() {
        // Control characters begin a formula and end a cell, both.
        let control = matches!(c, '\t' | '\r' | '\n' | '\0');
        if begins && (control || matches!(c, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠')) {
            neutral.push_str(cell.get(copied..at).unwrap_or_default());
            neutral.push('\'');
            copied = at;
        }
        begins = control || matches!(c, ';' | ',') || (begins && (c.is_whitespace() || c == '"'));
    }
    if copied == 0 && neutral.is_empty() {
        return Cow::Borrowed(cell);
    }
    neutral.push_str(cell.get(copied..).unwrap_or_default());
    Cow::Owned(neutral)
}

/// Whether some spreadsheet, in some language, reads a number, fraction, date, time, percentage, amount of money or
/// truth value in this text. In doubt yes: an apostrophe too many can be seen, a heat number turned into a float cannot
/// be brought back.
fn is_taken_for_a_value(text: &str) -> bool {
    let text = text.trim().to_lowercase();
    if matches!(text.as_str(), "true" | "false") {
        return true;
    }
    if !text.contains(char::is_numeric) {
        return false;
    }
    // Without its figures and signs nothing is left of a number, and of a date or time only words of the calendar.
    let is_sign = |c: char| c.is_whitespace() || ".,:/-+%()'’$€£¥_*".contains(c);
    let mut words = text.split(|c: char| c.is_numeric() || is_sign(c)).filter(|word| !word.is_empty());
    words.all(|word| match word {
        "e" => has_exponent(&text),
        "a" | "p" | "am" | "pm" => text.contains([' ', ':']),
        "t" | "z" => text.contains(':'),
        other => is_month(other),
    })
}

/// Whether an `e` stands between a figure and a figure or its sign.
fn has_exponent(text: &str) -> bool {
    text.match_indices('e').any(|(at, e)| {
        let before = text.get(..at).unwrap_or_default();
        let after = text.get(at + e.len()..).unwrap_or_default();
        before.ends_with(|c: char| c.is_numeric() || c == '.' || c == ',')
            && after.strip_prefix(['+', '-']).unwrap_or(after).starts_with(char::is_numeric)
    })
}

/// Whether the word begins as the name of a month in one of the languages of the larger spreadsheet communities.
fn is_month(word: &str) -> bool {
    const BEGINNINGS: &[&str] = &[
        "jan", "ene", "gen", "feb", "fév", "fev", "mar", "mär", "mrz", "maa", "apr", "avr", "abr", "may",
        "mai", "mag", "maj", "mei", "jun", "jui", "giu", "jul", "lug", "aug", "aoû", "ago", "sep", "set",
        "oct", "okt", "ott", "out", "nov", "dec", "déc", "dez", "dic",
    ];
    BEGINNINGS.iter().any(|beginning| word.starts_with(beginning))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_neutralised_in_every_column() {
        // OWASP ASVS 5.0, requirement 1.2.10: the first five and NUL. The others are OWASP, CSV Injection, from memory.
        for (cell, expected) in [
            ("=cmd", "'=cmd"),
            ("+1", "'+1"),
            ("-1", "'-1"),
            ("@x", "'@x"),
            ("\tx", "'\tx"),
            ("\0x", "'\0x"),
            ("\rx", "'\rx"),
            ("\nx", "'\nx"),
            ("＝x", "'＝x"),
            ("＋x", "'＋x"),
            ("－x", "'－x"),
            ("＠x", "'＠x"),
            (" =x", " '=x"),
            ("\"=x", "\"'=x"),
            ("H1;=x", "H1;'=x"),
            ("H1,@x", "H1,'@x"),
            ("a\n=x", "a\n'=x"),
        ] {
            assert_eq!(neutral(cell, Content::Plain), expected, "{cell:?}");
        }
        for cell in ["", "a=b", "E7018-1 H4R", "n/a", "2026-03-02T01:30:00Z", "3", "H1;H2", "'x"] {
            assert!(matches!(neutral(cell, Content::Plain), Cow::Borrowed(same) if same == cell), "{cell:?}");
        }
    }

    #[test]
    fn what_looks_like_a_value_stays_text_in_a_column_of_labels() {
        for cell in [
            "00123E4",
            "3-11",
            "1/2",
            "7",
            "0417",
            "1.5",
            "3,1",
            "1e5",
            "12:30",
            "12 am",
            "MAR-12",
            "12-Okt",
            "1 mai",
            "5%",
            "(5)",
            "$5",
            "TRUE",
            "false",
            "１２",
            "½",
            "3.1",
            "+1",
            "-1",
            "2026-03-02",
            "20E-3",
            "1'000",
            "2026-03-02T14:30:00Z",
            "2 Mar 2026 3:30 pm",
            "7.E2",
        ] {
            assert_eq!(neutral(cell, Content::Label), format!("'{cell}"), "{cell:?}");
        }
        for cell in [
            "",
            "L-0417",
            "7H221",
            "30-118/7A",
            "30-118/7E",
            "7A",
            "12D",
            "S-00001",
            "n/a",
            "unknown",
            "E308L-16",
            "ER70S-2",
            "A5.18",
            "3/32 in x 36 in",
            "root",
            "R1",
            "00123E4;00456",
        ] {
            assert!(matches!(neutral(cell, Content::Label), Cow::Borrowed(same) if same == cell), "{cell:?}");
        }
    }

    #[test]
    fn the_header_itself_is_harmless() {
        assert_eq!(neutral(HEADER, Content::Label), HEADER);
    }
}
