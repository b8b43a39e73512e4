//! One file as a table: its encoding, its delimiter, its header.

use super::bad_rows::BadRows;
use super::columns::{Column, Layout};
use super::records::{QuoteFault, Record, Records};
use super::source::Source;
use crate::error::{BadRow, Result};
use std::borrow::Cow;

/// Delimiters that spreadsheets write, the usual one first.
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// A file whose header is understood.
#[derive(Debug)]
pub(super) struct Table<'b> {
    /// Place in the order of files.
    pub(super) file: usize,
    /// Name and columns.
    pub(super) layout: Layout,
    /// Number of rows below the header that are not blank.
    pub(super) rows: u64,
    text: &'b str,
    delimiter: u8,
    /// Where each column of the layout is in this file.
    places: Vec<Option<usize>>,
    /// Columns of the file without a name.
    nameless: Vec<usize>,
    width: usize,
}

/// One row of a table.
#[derive(Debug)]
pub(super) struct Row<'t, 'b> {
    table: &'t Table<'b>,
    record: &'t Record,
}

impl<'b> Row<'_, 'b> {
    /// A cell without the blanks around it; empty where the file has not got the column.
    pub(super) fn cell(&self, column: Column) -> Cow<'b, str> {
        match self.table.places.get(column.at).copied().flatten() {
            Some(place) => self.record.text(self.table.text, place),
            None => Cow::Borrowed(""),
        }
    }

    /// Row number.
    pub(super) fn number(&self) -> u64 {
        self.record.row
    }

    /// Name of the file.
    pub(super) fn file_name(&self) -> &'static str {
        self.table.layout.file
    }

    /// Place of the file in the order of files.
    pub(super) fn file(&self) -> usize {
        self.table.file
    }

    /// The row as it stands in the file.
    pub(super) fn raw(&self) -> &'b [u8] {
        self.record.raw(self.table.text.as_bytes())
    }
}

impl<'b> Table<'b> {
    /// Reads encoding and header, and counts the rows. None, with the reasons in `bad`, when the file is not such a
    /// table.
    pub(super) fn open(source: &'b Source, bad: &mut BadRows) -> Option<Self> {
        let text = decoded(source, bad)?;
        let delimiter = delimiter(text, &source.layout);
        let mut records = Records::new(text.as_bytes(), delimiter);
        let mut header = Record::default();
        loop {
            if !records.read(&mut header) {
                let why = format!("the header row is missing; its columns are {}", source.layout.listed());
                whole_row(source, 1, why, bad);
                return None;
            }
            if !header.is_blank(text.as_bytes()) {
                break;
            }
        }
        let (places, nameless) = columns(source, text, &header, bad)?;
        let mut rows = 0;
        let width = header.len();
        let mut record = header;
        while records.read(&mut record) {
            if !record.is_blank(text.as_bytes()) {
                rows += 1;
            }
        }
        Some(Self {
            file: source.file,
            layout: source.layout,
            rows,
            text,
            delimiter,
            places,
            nameless,
            width,
        })
    }

    /// Gives every row below the header that is not blank to `take`. A row that is not whole goes to `bad` instead.
    pub(super) fn for_each<S>(
        &self,
        state: &mut S,
        bad: impl Fn(&mut S) -> &mut BadRows,
        mut take: impl FnMut(&mut S, &Row<'_, 'b>) -> Result<()>,
    ) -> Result<()> {
        let file = self.text.as_bytes();
        let mut records = Records::new(file, self.delimiter);
        let mut record = Record::default();
        let mut header_seen = false;
        while records.read(&mut record) {
            if record.is_blank(file) {
                continue;
            }
            if !header_seen {
                header_seen = true;
                continue;
            }
            match self.not_whole(&record) {
                None => take(state, &Row { table: self, record: &record })?,
                Some((column, name, why)) => bad(state).add(
                    self.file,
                    column,
                    BadRow {
                        file: self.layout.file.into(),
                        row: record.row,
                        column: name,
                        value: String::new(),
                        why,
                    },
                ),
            }
        }
        Ok(())
    }

    /// Why a record is not a row of this table, if it is not; with the column, where it is one.
    fn not_whole(&self, record: &Record) -> Option<(usize, String, String)> {
        if let Some((cell, fault)) = record.fault {
            let column = self.places.iter().position(|p| *p == Some(cell));
            let name = column.and_then(|c| self.layout.columns.get(c)).map_or("", |(name, _)| name);
            let why = match fault {
                QuoteFault::TextBehind => {
                    "there is text behind the closing quote; write a quote inside a cell twice"
                }
                QuoteFault::NeverClosed => {
                    "a quote is opened here and never closed; everything below is inside it"
                }
            };
            return Some((column.unwrap_or(0), name.into(), why.into()));
        }
        if record.len() != self.width {
            let semicolons = if self.delimiter == b';' { "; put a list into quotes: \"A;B\"" } else { "" };
            let why = format!(
                "the row has {} cells and the header has {}: a delimiter is missing or one too many, or a cell \
                 that contains one is not in quotes{semicolons}",
                record.len(),
                self.width
            );
            return Some((0, String::new(), why));
        }
        let stray =
            self.nameless.iter().find(|at| !record.bytes(self.text.as_bytes(), **at).trim_ascii().is_empty());
        stray.map(|at| {
            (0, String::new(), format!("cell {} stands in a column that has no name in the header", at + 1))
        })
    }
}

/// The text of a file, or what is wrong with its encoding.
fn decoded<'b>(source: &'b Source, bad: &mut BadRows) -> Option<&'b str> {
    let bytes = source.bytes.as_slice();
    let other = [
        (b"PK\x03\x04".as_slice(), "this is a spreadsheet or an archive, not text"),
        (b"\xD0\xCF\x11\xE0", "this is an old spreadsheet file, not text"),
        (b"\xFF\xFE", "the text is encoded as UTF-16"),
        (b"\xFE\xFF", "the text is encoded as UTF-16"),
    ];
    if let Some((_, what)) = other.iter().find(|(mark, _)| bytes.starts_with(mark)) {
        whole_row(source, 1, format!("{what}; save it as \"CSV UTF-8\""), bad);
        return None;
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Some(text);
    }
    // Not UTF-8 throughout: say where. The header tells the columns if it can be read itself.
    let first_line = bytes.split(|b| matches!(b, b'\n' | b'\r')).next().unwrap_or_default();
    let header_text = String::from_utf8_lossy(first_line);
    let delimiter = delimiter(&header_text, &source.layout);
    let mut records = Records::new(bytes, delimiter);
    let mut record = Record::default();
    let mut names: Option<Vec<String>> = None;
    while records.read(&mut record) {
        let mut cells = Vec::with_capacity(record.len());
        for at in 0..record.len() {
            let cell = record.bytes(bytes, at);
            let shown = String::from_utf8_lossy(&cell).trim().to_owned();
            if std::str::from_utf8(&cell).is_err() {
                let name = names.as_ref().and_then(|n| n.get(at)).cloned().unwrap_or_default();
                let column = source.layout.columns.iter().position(|(n, _)| *n == name);
                bad.add(
                    source.file,
                    column.unwrap_or(0),
                    BadRow {
                        file: source.layout.file.into(),
                        row: record.row,
                        column: name,
                        value: shown.clone(),
                        why: "it is not UTF-8, so its letters cannot be told; save the file as \"CSV UTF-8\""
                            .into(),
                    },
                );
            }
            cells.push(shown.to_ascii_lowercase());
        }
        if names.is_none() && cells.iter().any(|c| !c.is_empty()) {
            names = Some(cells);
        }
    }
    None
}

/// The delimiter that makes most of the first line's cells names of columns.
fn delimiter(text: &str, layout: &Layout) -> u8 {
    let known = |delimiter: u8| {
        let mut records = Records::new(text.as_bytes(), delimiter);
        let mut record = Record::default();
        while records.read(&mut record) {
            if record.is_blank(text.as_bytes()) {
                continue;
            }
            return (0..record.len())
                .filter(|at| {
                    let name = record.text(text, *at);
                    layout.columns.iter().any(|(n, _)| n.eq_ignore_ascii_case(&name))
                })
                .count();
        }
        0
    };
    let mut best = (0, b',');
    for delimiter in DELIMITERS {
        let names = known(delimiter);
        if names > best.0 {
            best = (names, delimiter);
        }
    }
    if best.0 > 0 {
        return best.1;
    }
    // No name is known, so the message about them is better for the delimiter that is there at all.
    let line = text.lines().find(|l| !l.trim().is_empty()).unwrap_or_default();
    let count = |d: u8| line.bytes().filter(|b| *b == d).count();
    DELIMITERS.into_iter().rev().max_by_key(|d| count(*d)).unwrap_or(b',')
}

type Places = (Vec<Option<usize>>, Vec<usize>);

/// Where the columns are, or what is wrong with the header.
fn columns(source: &Source, text: &str, header: &Record, bad: &mut BadRows) -> Option<Places> {
    let layout = &source.layout;
    let mut places = vec![None; layout.columns.len()];
    let mut nameless = Vec::new();
    let mut sound = true;
    let mut tell = |column: usize, name: &str, why: String| {
        sound = false;
        bad.add(
            source.file,
            column,
            BadRow {
                file: layout.file.into(),
                row: header.row,
                column: name.to_owned(),
                value: String::new(),
                why,
            },
        );
    };
    if let Some((at, fault)) = header.fault {
        let what = match fault {
            QuoteFault::TextBehind => "has text behind its closing quote",
            QuoteFault::NeverClosed => "has a quote that is never closed",
        };
        tell(0, "", format!("cell {} of the header {what}", at + 1));
        return None;
    }
    for at in 0..header.len() {
        let name = header.text(text, at);
        if name.is_empty() {
            nameless.push(at);
            continue;
        }
        let known = layout.columns.iter().position(|(n, _)| n.eq_ignore_ascii_case(&name));
        match known.and_then(|c| places.get_mut(c).map(|place| (c, place))) {
            Some((_, place @ None)) => *place = Some(at),
            Some((c, Some(_))) => {
                tell(c, &name, "the column stands in the header twice; remove one of the two".into());
            }
            None => {
                let shown: String = name.chars().take(40).collect();
                tell(layout.columns.len(), &shown, unknown_column(&name, layout));
            }
        }
    }
    for (c, (name, must)) in layout.columns.iter().enumerate() {
        if *must && places.get(c) == Some(&None) {
            tell(c, name, "the column is missing; without it no row can be taken".into());
        }
    }
    sound.then_some((places, nameless))
}

fn unknown_column(name: &str, layout: &Layout) -> String {
    let typed = name.to_ascii_lowercase().replace([' ', '-'], "_");
    let near = layout
        .columns
        .iter()
        .map(|(n, _)| (strsim::damerau_levenshtein(n, &typed), *n))
        .filter(|(edits, n)| *edits * 3 <= n.len().max(3))
        .min();
    match near {
        Some((_, near)) => format!("no column has this name; did you mean {near}?"),
        None => format!("no column has this name; remove it, or use one of {}", layout.listed()),
    }
}

/// Says something about a row as a whole.
fn whole_row(source: &Source, row: u64, why: String, bad: &mut BadRows) {
    let file = source.layout.file.into();
    bad.add(source.file, 0, BadRow { file, row, column: String::new(), value: String::new(), why });
}

#[cfg(test)]
mod tests {
    use super::super::columns::{people, returns};
    use super::*;

    fn source(layout: Layout, bytes: &[u8]) -> Source {
        Source { file: 0, layout, bytes: bytes.to_vec(), sha256: String::new() }
    }

    /// Rows as read, or the first thing that is wrong.
    fn people_of(bytes: &[u8]) -> Result<Vec<(u64, String, String)>, String> {
        let source = source(people::LAYOUT, bytes);
        let mut state = (BadRows::default(), Vec::new());
        if let Some(table) = Table::open(&source, &mut state.0) {
            table
                .for_each(
                    &mut state,
                    |s| &mut s.0,
                    |s, row| {
                        let cell = |c| row.cell(c).into_owned();
                        s.1.push((row.number(), cell(people::BADGE), cell(people::NAME)));
                        Ok(())
                    },
                )
                .unwrap();
            assert_eq!(table.rows, state.1.len() as u64 + u64::from(!state.0.is_empty()));
        }
        match state.0.into_list().first() {
            None => Ok(state.1),
            Some(bad) => Err(bad.to_string()),
        }
    }

    #[test]
    fn encodings_delimiters_and_orders_of_columns() {
        let expected = Ok(vec![(2, "W-1".to_owned(), "\u{c5}sa".to_owned())]);
        for file in [
            "badge,name\nW-1,\u{c5}sa\n",
            "\u{FEFF}name;badge\r\n\u{c5}sa;W-1",
            "Badge\tNAME\troles\r\nW-1\t\u{c5}sa\t\r\n",
            " badge , name \n\"W-1\" , \u{c5}sa \n",
        ] {
            assert_eq!(people_of(file.as_bytes()), expected, "{file:?}");
        }
        assert_eq!(people_of(b"badge,name\n"), Ok(Vec::new()));
    }

    #[test]
    fn blank_rows_are_counted_and_left_out() {
        let rows = people_of(b"badge,name,\n\nA,a,\n,,\n , ,\nB,b,\n").unwrap();
        assert_eq!(rows.iter().map(|r| r.0).collect::<Vec<_>>(), [3, 6]);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place() {
        for (file, expected) in [
            (b"".as_slice(), "people.csv row 1: the header row is missing"),
            (b"\xFF\xFEb\0", "people.csv row 1: the text is encoded as UTF-16; save it as \"CSV UTF-8\""),
            (b"PK\x03\x04", "people.csv row 1: this is a spreadsheet or an archive"),
            (b"badge,name\nA,\xC5sa\n", "people.csv row 2 column name: \"\u{FFFD}sa\": it is not UTF-8"),
            (b"badge,name,Name\n", "people.csv row 1 column Name: the column stands in the header twice"),
            (b"badge\n", "people.csv row 1 column name: the column is missing"),
            (
                b"badge,name,role\n",
                "people.csv row 1 column role: no column has this name; did you mean roles?",
            ),
            (b"badge,name,colour\n", "people.csv row 1 column colour: no column has this name; remove it"),
            (b"badge,name\nA\n", "people.csv row 2: the row has 1 cells and the header has 2"),
            (b"badge;name\nA;B;C\n", "people.csv row 2: the row has 3 cells and the header has 2"),
            (
                b"badge,name\nA,\"b\"c\n",
                "people.csv row 2 column name: there is text behind the closing quote",
            ),
            (b"badge,name\nA,\"b\nC,c\n", "people.csv row 2 column name: a quote is opened here"),
            (b"badge,name,\nA,b,c\n", "people.csv row 2: cell 3 stands in a column that has no name"),
        ] {
            let shown = String::from_utf8_lossy(file);
            let error = people_of(file).unwrap_err();
            assert!(error.starts_with(expected), "{shown:?}: {error}");
        }
    }

    #[test]
    fn a_column_that_is_not_there_is_empty() {
        let source = source(returns::LAYOUT, b"slip,returned_at\nS-1,2026-03-02\n");
        let mut bad = BadRows::default();
        let table = Table::open(&source, &mut bad).unwrap();
        let mut state = (bad, 0);
        table
            .for_each(
                &mut state,
                |s| &mut s.0,
                |s, row| {
                    assert_eq!(row.cell(returns::STUBS), "");
                    s.1 += 1;
                    Ok(())
                },
            )
            .unwrap();
        assert_eq!(state.1, 1);
    }
}
