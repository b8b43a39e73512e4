//! Cells into values. Every cell of a row that cannot be taken is reported, not only the first.

use super::bad_rows::BadRows;
use super::columns::Column;
use super::table::Row;
use crate::error::{BadRow, Error};
use filler::{MAX_INTEGER, Quantity};
use record::event::{Imported, PrintedSize};
use record::time::{self, Shift};
use record::{Stated, When, Zone};
use std::borrow::Cow;

/// Reads the cells of one row.
pub(super) struct Cells<'r, 't, 'b> {
    row: &'r Row<'t, 'b>,
    bad: &'r mut BadRows,
    zone: Zone,
    sound: bool,
}

impl<'r, 't, 'b> Cells<'r, 't, 'b> {
    /// Begins with a row; times without an offset are of `zone`.
    pub(super) fn new(row: &'r Row<'t, 'b>, bad: &'r mut BadRows, zone: Zone) -> Self {
        Self { row, bad, zone, sound: true }
    }

    /// Whether every cell read so far could be taken.
    pub(super) fn are_sound(&self) -> bool {
        self.sound
    }

    /// Whether a long message about this row would be listed.
    pub(super) fn is_listed(&self) -> bool {
        self.bad.is_listed(self.row.file())
    }

    /// File and row, as entries name them.
    pub(super) fn imported(&self) -> Option<Imported> {
        Some(Imported { file: self.row.file_name().into(), row: self.row.number() })
    }

    /// Reports a cell.
    pub(super) fn refuse(&mut self, column: Column, why: impl Into<String>) {
        let value = self.row.cell(column).into_owned();
        let why = why.into();
        // The value is shown beside the reason; many reasons begin with it.
        let why = match why.strip_prefix(&format!("{value:?} ")) {
            Some(rest) => format!("it {rest}"),
            None => why,
        };
        self.sound = false;
        self.bad.add(
            self.row.file(),
            column.at,
            BadRow {
                file: self.row.file_name().into(),
                row: self.row.number(),
                column: column.name.into(),
                value,
                why,
            },
        );
    }

    /// Marks the row as one that cannot be taken because of another row, which is reported itself.
    pub(super) fn give_up(&mut self) {
        self.sound = false;
    }

    /// A value or one of the four silences.
    pub(super) fn stated<T>(
        &mut self,
        column: Column,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Stated<T> {
        let cell = self.row.cell(column);
        match silence(&cell) {
            Some(silence) => silence,
            None => match read(&cell) {
                Ok(value) => Stated::Value(value),
                Err(why) => {
                    self.refuse(column, why);
                    Stated::NotAsked
                }
            },
        }
    }

    /// A value that no row can do without; `what` it is, for the message.
    pub(super) fn needed<T>(
        &mut self,
        column: Column,
        what: &str,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Option<T> {
        let cell = self.row.cell(column);
        if silence::<T>(&cell).is_some() {
            self.refuse(column, format!("{what} is needed"));
            return None;
        }
        match read(&cell) {
            Ok(value) => Some(value),
            Err(why) => {
                self.refuse(column, why);
                None
            }
        }
    }

    /// A label or short text.
    pub(super) fn text(&mut self, column: Column) -> Stated<String> {
        self.stated(column, |cell| label(cell).map(Cow::into_owned))
    }

    /// A reason, in which line breaks may stand; the words for a silence are kept as they are.
    pub(super) fn remark(&mut self, column: Column) -> String {
        let said = self.stated(column, |cell| record::text::remark(cell).map_err(|e| e.to_string()));
        said.cell()
    }

    /// Whether a cell names nothing: it is empty, or a word for a silence.
    pub(super) fn names_nothing(&self, column: Column) -> bool {
        silence::<()>(&self.row.cell(column)).is_some()
    }

    /// A label that must be there.
    pub(super) fn needed_label(&mut self, column: Column, what: &str) -> Option<Cow<'b, str>> {
        let cell = self.row.cell(column);
        self.needed(column, what, |_| label_of(cell))
    }

    /// A label, or why there is none.
    pub(super) fn label(&mut self, column: Column) -> Stated<Cow<'b, str>> {
        let cell = self.row.cell(column);
        self.stated(column, |_| label_of(cell))
    }

    /// A list of labels separated by `;`, each once, or why there is none.
    pub(super) fn labels(&mut self, column: Column) -> Stated<Vec<String>> {
        self.stated(column, |cell| {
            let mut labels: Vec<String> = Vec::new();
            for item in cell.split(';').map(|item| item.trim_matches(BLANKS)).filter(|i| !i.is_empty()) {
                if silence::<()>(item).is_some() {
                    return Err(format!("{item:?} stands for a whole cell, not for one of a list"));
                }
                let label = label(item).map_err(|why| format!("{item:?}: {why}"))?.into_owned();
                if !labels.contains(&label) {
                    labels.push(label);
                }
            }
            Ok(labels)
        })
    }

    /// A list, each item read by `read`; empty where nothing is named.
    pub(super) fn list<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Vec<T> {
        let labels = self.labels(column).into_value().unwrap_or_default();
        let mut items = Vec::with_capacity(labels.len());
        for label in labels {
            match read(&label) {
                Ok(item) => items.push(item),
                Err(why) => self.refuse(column, why),
            }
        }
        items
    }

    /// A claimed time. `shifts` are those of the shop for a weld's times, else none.
    pub(super) fn time(&mut self, column: Column, shifts: &[Shift]) -> Stated<When> {
        let zone = self.zone;
        self.stated(column, |cell| time::read(cell, zone, shifts).map_err(|e| e.to_string()))
    }

    /// A claimed time that must be there.
    pub(super) fn needed_time(&mut self, column: Column, shifts: &[Shift]) -> Option<When> {
        let zone = self.zone;
        self.needed(column, "a time, or at least a date,", |cell| {
            time::read(cell, zone, shifts).map_err(|e| e.to_string())
        })
    }

    /// A quantity.
    pub(super) fn quantity(&mut self, column: Column) -> Stated<Quantity> {
        self.stated(column, |cell| Quantity::parse(cell).map_err(|e| e.to_string()))
    }

    /// A size as printed.
    pub(super) fn size(&mut self, column: Column) -> Stated<PrintedSize> {
        self.stated(column, printed_size)
    }

    /// Grams as whole milligrams.
    pub(super) fn grams(&mut self, column: Column) -> Stated<i64> {
        self.stated(column, |cell| filler::grams_to_mg(cell).map_err(|e| e.to_string()))
    }

    /// A count of zero or more.
    pub(super) fn count(&mut self, column: Column) -> Stated<i64> {
        self.stated(column, |cell| {
            let digits = !cell.is_empty() && cell.bytes().all(|b| b.is_ascii_digit());
            digits
                .then(|| cell.parse::<i64>().ok())
                .flatten()
                .filter(|n| *n <= MAX_INTEGER)
                .ok_or_else(|| format!("it is not a count; write a whole number from 0 to {MAX_INTEGER}"))
        })
    }

    /// One word of a list.
    pub(super) fn word<T: Copy>(
        &mut self,
        column: Column,
        words: &[T],
        word: impl Fn(T) -> &'static str,
    ) -> Stated<T> {
        self.stated(column, |cell| {
            words.iter().copied().find(|w| word(*w).eq_ignore_ascii_case(cell)).ok_or_else(|| {
                let all: Vec<_> = words.iter().map(|w| word(*w)).collect();
                format!("write one of: {}", all.join(", "))
            })
        })
    }

    /// `yes` or `no`; an empty cell is `empty`, where that is allowed.
    pub(super) fn yes_or_no(&mut self, column: Column, empty: Option<bool>) -> Option<bool> {
        let cell = self.row.cell(column);
        let word = if cell.eq_ignore_ascii_case("yes") {
            Some(true)
        } else if cell.eq_ignore_ascii_case("no") {
            Some(false)
        } else if cell.is_empty() {
            empty
        } else {
            None
        };
        if word.is_none() {
            let or_empty = match empty {
                Some(true) => ", or leave it empty for yes",
                Some(false) => ", or leave it empty for no",
                None => "",
            };
            self.refuse(column, format!("write yes or no{or_empty}"));
        }
        word
    }
}

const BLANKS: [char; 4] = [' ', '\t', '\r', '\n'];

/// The silence that a cell stands for, in any case of its letters.
fn silence<T>(cell: &str) -> Option<Stated<T>> {
    match cell.len() {
        0 => Some(Stated::NotAsked),
        3 | 7 | 9 => Stated::silence(&cell.to_ascii_lowercase()),
        _ => None,
    }
}

/// A label in the form that is kept. Printable ASCII is in that form already.
pub(super) fn label(cell: &str) -> Result<Cow<'_, str>, String> {
    let plain = |b: u8| matches!(b, b' '..=b'~');
    if !cell.is_empty()
        && cell.len() <= record::text::MAX_LABEL
        && cell.bytes().all(plain)
        && !cell.starts_with(' ')
        && !cell.ends_with(' ')
    {
        return Ok(Cow::Borrowed(cell));
    }
    record::text::label(cell).map(Cow::Owned).map_err(|e| e.to_string())
}

fn label_of(cell: Cow<'_, str>) -> Result<Cow<'_, str>, String> {
    match cell {
        Cow::Borrowed(cell) => label(cell),
        Cow::Owned(cell) => label(&cell).map(|l| Cow::Owned(l.into_owned())),
    }
}

/// A size as printed and what it is.
pub(super) fn printed_size(cell: &str) -> Result<PrintedSize, String> {
    crate::tell::receive::printed_size(cell).map_err(|e| {
        if let Error::NotUnderstood { message, next } = e {
            format!("{message}; {next}")
        } else {
            e.to_string()
        }
    })
}

/// A process: its letters, or any other text as typed.
pub(super) fn process(cell: &str) -> Result<filler::Process, String> {
    filler::Process::parse(&label(cell)?).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn silences_in_any_case_and_nothing_else() {
        for (cell, expected) in [
            ("", Some(Stated::NotAsked)),
            ("n/a", Some(Stated::NotApplicable)),
            ("N/A", Some(Stated::NotApplicable)),
            ("Unknown", Some(Stated::Unknown)),
            ("illegible", Some(Stated::Illegible)),
            ("na", None),
            ("n/a ", None),
            ("not known", None),
        ] {
            assert_eq!(silence::<()>(cell), expected, "{cell}");
        }
    }

    proptest! {
        // The short way for printable ASCII gives what the record's own reading gives.
        #[test]
        fn labels_are_the_records_labels(cell in "[ -~]{0,12}|.{0,12}|x{195,205}") {
            prop_assert_eq!(
                label(&cell).map(Cow::into_owned),
                record::text::label(&cell).map_err(|e| e.to_string())
            );
        }
    }
}
