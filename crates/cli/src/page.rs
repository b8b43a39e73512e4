//! Text pages for a narrow screen: words are wrapped, nothing is cut off.

use std::fmt::Write as _;

/// Width of the pages that are read on a phone-wide terminal, in characters.
pub const NARROW: usize = 60;

/// A page under construction.
#[derive(Debug)]
pub struct Page {
    text: String,
    width: usize,
}

impl Page {
    /// An empty page of the narrow width.
    pub fn narrow() -> Self {
        Self { text: String::new(), width: NARROW }
    }

    /// A paragraph, wrapped, every line indented by `indent` blanks.
    pub fn line(&mut self, indent: usize, text: impl AsRef<str>) -> &mut Self {
        self.hanging(indent, indent, text)
    }

    /// A paragraph whose further lines are indented by `hang` blanks.
    pub fn hanging(&mut self, indent: usize, hang: usize, text: impl AsRef<str>) -> &mut Self {
        for paragraph in text.as_ref().split('\n') {
            let mut column = 0;
            let mut room = self.width.saturating_sub(indent);
            let mut blanks = 0;
            let _ = write!(self.text, "{:indent$}", "");
            for word in paragraph.split(' ') {
                if word.is_empty() {
                    // Runs of blanks line up columns; they are kept, except where a line breaks.
                    blanks += 1;
                    continue;
                }
                let length = word.chars().count();
                if column > 0 && column + blanks + length > room {
                    room = self.width.saturating_sub(hang);
                    let _ = write!(self.text, "\n{:hang$}", "");
                    column = 0;
                } else if column > 0 {
                    let _ = write!(self.text, "{:blanks$}", "");
                    column += blanks;
                }
                self.text.push_str(word);
                column += length;
                blanks = 1;
            }
            self.text.push('\n');
        }
        self
    }

    /// Left text and right text on one line if they fit, else the right one on the next line.
    pub fn split(&mut self, left: &str, right: &str) -> &mut Self {
        let used = left.chars().count() + right.chars().count();
        if used < self.width {
            let gap = self.width - used;
            let _ = writeln!(self.text, "{left}{:gap$}{right}", "");
        } else {
            self.line(0, left);
            self.line(2, right);
        }
        self
    }

    /// An empty line.
    pub fn gap(&mut self) -> &mut Self {
        self.text.push('\n');
        self
    }

    /// A line across the page.
    pub fn rule(&mut self) -> &mut Self {
        let _ = writeln!(self.text, "{}", "-".repeat(self.width));
        self
    }

    /// The page.
    pub fn finish(self) -> String {
        self.text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_wrapped_and_never_cut() {
        let mut page = Page::narrow();
        page.line(2, "a ".repeat(70)).line(0, "x".repeat(80));
        let text = page.finish();
        assert!(text.lines().take(3).all(|l| l.chars().count() <= NARROW), "{text}");
        assert!(text.contains(&"x".repeat(80)), "a long word stays whole");
    }

    #[test]
    fn blanks_that_line_up_columns_are_kept() {
        let mut page = Page::narrow();
        page.hanging(2, 4, "out       2026-03-02 14:30");
        assert_eq!(page.finish(), "  out       2026-03-02 14:30\n");
    }

    #[test]
    fn left_and_right() {
        let mut page = Page::narrow();
        page.split("SLIP S-00001", "Shop");
        assert_eq!(page.finish().trim_end().chars().count(), NARROW);
    }
}
