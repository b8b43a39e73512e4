//! Running numbers: which are missing between the first and the last.
//!
//! A pad of numbered slips is a control: a number that is nowhere is a slip that nobody entered. Numbers of the form
//! prefix and digits are taken together where prefix and count of digits are the same; a number of another form belongs
//! to no row.

use std::collections::BTreeMap;

/// Digits beyond this do not fit a running number; nobody's pad has so many.
const MOST_DIGITS: usize = 18;

/// Missing numbers that follow each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// The first that is missing.
    pub first: String,
    /// The last.
    pub last: String,
    /// How many.
    pub count: u64,
}

/// A number that is in the book and belongs to no slip that stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explained {
    /// The number.
    pub number: String,
    /// What became of it.
    pub why: String,
}

/// The numbers of one row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Numbering {
    /// What stands before the digits.
    pub prefix: String,
    /// The first number in the book.
    pub first: String,
    /// The last number in the book.
    pub last: String,
    /// How many of them the book has, explained ones included.
    pub there: u64,
    /// Those that are nowhere.
    pub missing: Vec<Run>,
    /// Those that are explained.
    pub explained: Vec<Explained>,
}

impl Numbering {
    /// How many are missing.
    pub fn missing_count(&self) -> u64 {
        self.missing.iter().fold(0, |sum, run| sum.saturating_add(run.count))
    }
}

/// The rows of these numbers, by prefix and length, and how many numbers belong to none. Each number comes with what
/// explains it, where no slip that stands carries it; `own` tells of a number that this program gives, whose digits may
/// grow in count.
pub(super) fn rows(
    numbers: impl IntoIterator<Item = (String, Option<String>)>,
    own: impl Fn(&str, u64) -> bool,
) -> (Vec<Numbering>, u64) {
    /// A row: by running number the number as it is written, and what explains it.
    type Row = BTreeMap<u64, (String, Option<String>)>;
    let mut rows: BTreeMap<(String, usize), Row> = BTreeMap::new();
    let mut of_no_row = 0_u64;
    for (number, explained) in numbers {
        let Some((prefix, digits)) = split(&number) else {
            of_no_row = of_no_row.saturating_add(1);
            continue;
        };
        let Ok(running) = digits.parse::<u64>() else {
            of_no_row = of_no_row.saturating_add(1);
            continue;
        };
        let width = if own(&number, running) { 0 } else { digits.len() };
        let row = rows.entry((prefix.to_owned(), width)).or_default();
        let slot = row.entry(running).or_insert_with(|| (number, explained.clone()));
        if explained.is_none() {
            // Where a slip that stands carries it, nothing needs explaining.
            slot.1 = None;
        }
    }
    let rows = rows.into_iter().filter_map(|((prefix, width), row)| numbering(prefix, width, &row)).collect();
    (rows, of_no_row)
}

fn numbering(
    prefix: String,
    width: usize,
    row: &BTreeMap<u64, (String, Option<String>)>,
) -> Option<Numbering> {
    let (first, last) = (row.first_key_value()?.1.0.clone(), row.last_key_value()?.1.0.clone());
    // Digits that may grow are written with the least count that this program gives.
    let width = if width == 0 { OWN_WIDTH } else { width };
    let written = |running: u64| format!("{prefix}{running:0width$}");
    let mut missing = Vec::new();
    for (before, after) in row.keys().zip(row.keys().skip(1)) {
        let count = after - before - 1;
        if count > 0 {
            missing.push(Run { first: written(before + 1), last: written(after - 1), count });
        }
    }
    let explained = row
        .values()
        .filter_map(|(number, why)| Some(Explained { number: number.clone(), why: why.clone()? }))
        .collect();
    Some(Numbering { prefix: prefix.clone(), first, last, there: row.len() as u64, missing, explained })
}

/// Least count of digits of a number that this program gives.
const OWN_WIDTH: usize = 5;

/// A number as prefix and the digits at its end.
fn split(number: &str) -> Option<(&str, &str)> {
    let digits = number.bytes().rev().take_while(u8::is_ascii_digit).count();
    if digits == 0 || digits > MOST_DIGITS {
        return None;
    }
    number.split_at_checked(number.len() - digits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn own(number: &str, running: u64) -> bool {
        number == format!("S-{running:05}")
    }

    fn of(numbers: &[(&str, Option<&str>)]) -> (Vec<Numbering>, u64) {
        rows(numbers.iter().map(|(n, why)| ((*n).to_owned(), why.map(str::to_owned))), own)
    }

    fn missing(numbers: &[&str]) -> Vec<(String, String, u64)> {
        let numbers: Vec<_> = numbers.iter().map(|n| (*n, None)).collect();
        of(&numbers)
            .0
            .into_iter()
            .flat_map(|row| row.missing)
            .map(|run| (run.first, run.last, run.count))
            .collect()
    }

    fn run(first: &str, last: &str, count: u64) -> (String, String, u64) {
        (first.into(), last.into(), count)
    }

    #[test]
    fn table() {
        assert_eq!(missing(&[]), []);
        assert_eq!(missing(&["S-00001", "S-00002"]), []);
        assert_eq!(missing(&["S-00001", "S-00003"]), [run("S-00002", "S-00002", 1)]);
        assert_eq!(missing(&["S-00009", "S-00004"]), [run("S-00005", "S-00008", 4)]);
        // Another prefix or another count of digits is another pad.
        assert_eq!(missing(&["S-00001", "T-00003", "S-004"]), []);
        assert_eq!(missing(&["N-07", "N-09", "N-101"]), [run("N-08", "N-08", 1)]);
        assert_eq!(missing(&["4711", "4713"]), [run("4712", "4712", 1)]);
        // The program's own numbers go on after five digits.
        assert_eq!(missing(&["S-99998", "S-100001"]), [run("S-99999", "S-100000", 2)]);
        // No digits, too many digits, digits not at the end, digits of another script.
        let odd = [("night", None), ("1234567890123456789", None), ("S-7a", None), ("S-٣", None), ("", None)];
        assert_eq!(of(&odd), (vec![], 5));
        let far = missing(&["000000000000000001", "999999999999999999"]);
        assert_eq!(far, [run("000000000000000002", "999999999999999998", 999_999_999_999_999_997)]);
    }

    #[test]
    fn what_is_explained_is_not_missing() {
        let (rows, _) = of(&[("S-00001", None), ("S-00002", Some("voided")), ("S-00003", None)]);
        assert_eq!(rows[0].missing, []);
        assert_eq!(rows[0].explained, [Explained { number: "S-00002".into(), why: "voided".into() }]);
        // Voided and given again.
        for both in [[("A-1", Some("voided")), ("A-1", None)], [("A-1", None), ("A-1", Some("voided"))]] {
            assert_eq!(of(&both).0[0].explained, []);
        }
        // A voided number at the end still says how far the pad was used.
        let (rows, _) = of(&[("A-1", None), ("A-4", Some("voided"))]);
        assert_eq!((rows[0].missing_count(), rows[0].last.as_str()), (2, "A-4"));
    }

    proptest! {
        /// Present and missing together are every number from the first to the last, each once.
        #[test]
        fn nothing_is_left_out(there in prop::collection::btree_set(0_u64..400, 1..60)) {
            let numbers: Vec<String> = there.iter().map(|n| format!("P{n:03}")).collect();
            let (rows, odd) = rows(numbers.into_iter().map(|n| (n, None)), own);
            prop_assert_eq!((rows.len(), odd), (1, 0));
            let mut all: BTreeSet<u64> = there.clone();
            for run in &rows[0].missing {
                let digits = |n: &str| n.trim_start_matches('P').parse::<u64>().unwrap();
                let (first, last) = (digits(&run.first), digits(&run.last));
                prop_assert_eq!(last - first + 1, run.count);
                for n in first..=last {
                    prop_assert!(all.insert(n), "{} is there or named twice", n);
                }
            }
            let (first, last) = (*there.first().unwrap(), *there.last().unwrap());
            prop_assert_eq!(all, (first..=last).collect::<BTreeSet<_>>());
            prop_assert_eq!(rows[0].there + rows[0].missing_count(), last - first + 1);
        }
    }
}
