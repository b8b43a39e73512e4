//! Rows that stand twice in one file.

use std::collections::HashSet;
use std::hash::{BuildHasher as _, RandomState};

/// How many rows a warning names.
const NAMED: usize = 5;

/// Finds rows that are the same as an earlier one of the file, character for character.
#[derive(Default)]
pub(super) struct Repeats {
    hasher: RandomState,
    seen: HashSet<u64>,
    rows: Vec<u64>,
    count: u64,
}

impl Repeats {
    /// A number that two different rows do not share, but for an accident of 1 in 2^64.
    pub(super) fn print(&self, raw: &[u8]) -> u64 {
        self.hasher.hash_one(raw)
    }

    /// Notes a row; true if an earlier one was the same.
    pub(super) fn is_repeat(&mut self, raw: &[u8], row: u64) -> bool {
        let repeat = !self.seen.insert(self.print(raw));
        if repeat {
            self.note(row);
        }
        repeat
    }

    /// Notes that a row repeats an earlier one.
    pub(super) fn note(&mut self, row: u64) {
        self.count += 1;
        if self.rows.len() < NAMED {
            self.rows.push(row);
        }
    }

    /// The warning, if there were any; `and_so` says what was done.
    pub(super) fn warning(&self, file: &str, and_so: &str) -> Option<String> {
        self.told(file, "the same as an earlier row", and_so)
    }

    /// The warning that rows describe the same things differently; the rows were noted with [`Repeats::note`].
    pub(super) fn described_again(&self, file: &str, what: &str) -> Option<String> {
        let how = format!("another description of a {what} of an earlier row");
        self.told(file, &how, "the later one holds")
    }

    fn told(&self, file: &str, how: &str, and_so: &str) -> Option<String> {
        if self.count == 0 {
            return None;
        }
        let rows: Vec<String> = self.rows.iter().map(u64::to_string).collect();
        let more = if self.count > NAMED as u64 { ", …" } else { "" };
        Some(if self.count == 1 {
            format!("{file}: row {} is {how}; {and_so}", rows.join(""))
        } else {
            format!("{file}: {} rows are {how} (rows {}{more}); {and_so}", self.count, rows.join(", "))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_warning_counts_and_names() {
        let mut repeats = Repeats::default();
        assert!(!repeats.is_repeat(b"a", 2));
        assert_eq!(repeats.warning("welds.csv", "taken"), None);
        assert!(repeats.is_repeat(b"a", 3));
        assert_eq!(
            repeats.warning("welds.csv", "taken").unwrap(),
            "welds.csv: row 3 is the same as an earlier row; taken"
        );
        for row in 4..10 {
            assert!(repeats.is_repeat(b"a", row));
        }
        assert_eq!(
            repeats.warning("welds.csv", "taken").unwrap(),
            "welds.csv: 7 rows are the same as an earlier row (rows 3, 4, 5, 6, 7, …); taken"
        );
    }
}
