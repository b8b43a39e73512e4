//! Every cell and row that cannot be taken, up to a number that a person can read.

use crate::error::BadRow;

/// How many are listed.
const SHOWN: usize = 1_000;
/// Longest text of a cell that is shown, in characters.
const VALUE: usize = 80;

/// Collects bad rows, file by file.
#[derive(Debug, Default)]
pub(super) struct BadRows {
    kept: Vec<(usize, usize, BadRow)>,
    of_file: [usize; super::columns::LAYOUTS.len()],
    count: u64,
}

impl BadRows {
    /// Whether every row could be taken so far.
    pub(super) fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// How many there are, listed or not.
    pub(super) fn count(&self) -> u64 {
        self.count
    }

    /// Whether another bad row of this file would still be listed, so that it is worth saying much about it.
    pub(super) fn is_listed(&self, file: usize) -> bool {
        self.of_file.get(file).is_some_and(|n| *n < SHOWN)
    }

    /// Adds one. `file` and `column` are places in the order of files and of a file's columns.
    pub(super) fn add(&mut self, file: usize, column: usize, mut bad: BadRow) {
        self.count += 1;
        // The first of each file are enough: rows are read in order, and the list is cut off after sorting.
        if self.is_listed(file) {
            if bad.value.chars().count() > VALUE {
                bad.value = bad.value.chars().take(VALUE).chain(['…']).collect();
            }
            self.kept.push((file, column, bad));
        }
        if let Some(n) = self.of_file.get_mut(file) {
            *n += 1;
        }
    }

    /// The list by file, row and column; cut off with a last item that says how many more there are.
    pub(super) fn into_list(mut self) -> Vec<BadRow> {
        self.kept.sort_by_key(|(file, column, bad)| (*file, bad.row, *column));
        let mut list: Vec<BadRow> = self.kept.into_iter().take(SHOWN).map(|(_, _, bad)| bad).collect();
        let more = self.count.saturating_sub(list.len() as u64);
        if let (true, Some(last)) = (more > 0, list.last()) {
            let (file, row) = (last.file.clone(), last.row);
            list.push(BadRow {
                file,
                row,
                column: String::new(),
                value: String::new(),
                why: format!("and {more} more behind this one; correct these first and import again"),
            });
        }
        list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bad(file: &str, row: u64) -> BadRow {
        BadRow { file: file.into(), row, column: "c".into(), value: "v".repeat(200), why: "w".into() }
    }

    #[test]
    fn the_list_is_sorted_and_says_what_it_left_out() {
        let mut rows = BadRows::default();
        assert!(rows.is_empty());
        for row in (1..=1_500).rev() {
            rows.add(3, 0, bad("joints.csv", row));
        }
        rows.add(1, 2, bad("qualifications.csv", 7));
        rows.add(1, 1, bad("qualifications.csv", 7));
        let list = rows.into_list();
        assert_eq!(list.len(), SHOWN + 1);
        assert_eq!((list[0].file.as_str(), list[0].row), ("qualifications.csv", 7));
        assert_eq!(list[0].value.chars().count(), VALUE + 1);
        assert!(list.last().unwrap().why.starts_with("and 502 more"), "{}", list.last().unwrap());
    }
}
