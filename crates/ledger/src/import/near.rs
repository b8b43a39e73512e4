//! Labels that are nearly the one that was not found.

use crate::ask::label;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use record::number::{look_alike_key, search_key};
use std::collections::HashMap;

/// How many are shown.
const SHOWN: usize = 3;
/// How many labels of the files are compared in one import, over all labels not found.
const COMPARED: usize = 2_000_000;
/// How many times the labels of the book are compared.
const BOOK_ASKED: usize = 20;

/// Looks for near labels, within bounds: a file whose every row is wrong must not take minutes to refuse.
#[derive(Debug)]
pub(super) struct Near {
    left: usize,
    book_left: usize,
    told: HashMap<String, String>,
}

impl Default for Near {
    fn default() -> Self {
        Self { left: COMPARED, book_left: BOOK_ASKED, told: HashMap::new() }
    }
}

impl Near {
    /// `; near it: A, B`, or nothing.
    pub(super) fn told<'a>(
        &mut self,
        book: &Reading<'_>,
        kind: LabelKind,
        wanted: &str,
        in_files: impl Iterator<Item = &'a str>,
    ) -> Result<String> {
        if let Some(told) = self.told.get(wanted) {
            return Ok(told.clone());
        }
        if self.left == 0 && self.book_left == 0 {
            return Ok(String::new());
        }
        let mut found = Vec::new();
        let key = search_key(wanted);
        let look = look_alike_key(&key);
        for other in in_files {
            if self.left == 0 {
                break;
            }
            self.left -= 1;
            // Dashes and blanks do not count below, so a few more characters may still be the same label.
            if other.len().abs_diff(wanted.len()) <= 4
                && let Some(distance) = distance(&key, &look, other)
            {
                found.push((distance, other.to_owned()));
            }
        }
        found.sort();
        if self.book_left > 0 {
            self.book_left -= 1;
            // Sorted by the same measure, which is not handed out; behind the nearest of the files.
            found.extend(label::near(book, kind, wanted)?.into_iter().map(|l| (usize::MAX, l)));
        }
        let mut labels: Vec<String> = Vec::new();
        for (_, label) in found {
            if labels.len() < SHOWN && !labels.contains(&label) {
                labels.push(label);
            }
        }
        let told =
            if labels.is_empty() { String::new() } else { format!("; near it: {}", labels.join(", ")) };
        self.told.insert(wanted.to_owned(), told.clone());
        Ok(told)
    }
}

fn distance(key: &str, look: &str, other: &str) -> Option<usize> {
    let other = search_key(other);
    if other == key {
        return Some(0);
    }
    if other.len().abs_diff(key.len()) > 2 {
        return None;
    }
    if look_alike_key(&other) == look {
        return Some(1);
    }
    let edits = strsim::damerau_levenshtein(&other, key);
    // Two wrong characters in a number of three leave nothing in common.
    (edits <= 2 && edits * 2 <= key.chars().count()).then_some(1 + edits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_first() {
        let d = |a: &str, b: &str| distance(&search_key(a), &look_alike_key(&search_key(a)), b);
        assert_eq!(d("R-1028", "R 1028"), Some(0));
        assert_eq!(d("R-1O28", "R-1028"), Some(1), "the letter O");
        assert_eq!(d("R-1028", "R-1082"), Some(2), "two digits swapped");
        assert_eq!(d("R-1028", "S-2044"), None);
        assert_eq!(d("AB", "CD"), None);
    }
}
