//! Delimited text into records, RFC 4180 with what spreadsheets do beyond it.
//!
//! A record is what a spreadsheet shows as one row: a line break inside quotes does not end it, and a blank line is a
//! row of its own. So the number of a record is the row number that a spreadsheet shows.

use std::borrow::Cow;

/// Where one cell is in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct CellAt {
    start: usize,
    end: usize,
    /// Whether a doubled quote stands in it, which means one.
    doubled: bool,
}

/// What is wrong with the quotes of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum QuoteFault {
    /// Text between a closing quote and the next delimiter.
    TextBehind,
    /// No closing quote before the end of the file.
    NeverClosed,
}

/// One record. Kept and filled anew, so that reading a file allocates once.
#[derive(Clone, Debug, Default)]
pub(super) struct Record {
    /// Row number; the first row of the file is 1.
    pub(super) row: u64,
    cells: Vec<CellAt>,
    start: usize,
    end: usize,
    /// The first fault of its quotes, with the number of the cell.
    pub(super) fault: Option<(usize, QuoteFault)>,
}

impl Record {
    /// How many cells it has.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    /// The bytes of a cell without its quotes.
    pub(super) fn bytes<'b>(&self, file: &'b [u8], at: usize) -> Cow<'b, [u8]> {
        let Some(cell) = self.cells.get(at) else {
            return Cow::Borrowed(&[]);
        };
        let bytes = file.get(cell.start..cell.end).unwrap_or_default();
        if !cell.doubled {
            return Cow::Borrowed(bytes);
        }
        let mut single = Vec::with_capacity(bytes.len());
        let mut rest = bytes.iter();
        while let Some(byte) = rest.next() {
            single.push(*byte);
            if *byte == b'"' {
                rest.next();
            }
        }
        Cow::Owned(single)
    }

    /// A cell of a file that is known to be UTF-8, without its quotes and the blanks around it.
    pub(super) fn text<'b>(&self, file: &'b str, at: usize) -> Cow<'b, str> {
        const BLANKS: [char; 4] = [' ', '\t', '\r', '\n'];
        let Some(cell) = self.cells.get(at) else {
            return Cow::Borrowed("");
        };
        let text = file.get(cell.start..cell.end).unwrap_or_default();
        if cell.doubled {
            Cow::Owned(text.replace("\"\"", "\"").trim_matches(BLANKS).to_owned())
        } else {
            Cow::Borrowed(text.trim_matches(BLANKS))
        }
    }

    /// The record as it stands in the file, without its line end.
    pub(super) fn raw<'b>(&self, file: &'b [u8]) -> &'b [u8] {
        file.get(self.start..self.end).unwrap_or_default()
    }

    /// Whether nothing but blanks stands in its cells.
    pub(super) fn is_blank(&self, file: &[u8]) -> bool {
        self.cells.iter().all(|cell| {
            file.get(cell.start..cell.end)
                .unwrap_or_default()
                .iter()
                .all(|b| matches!(b, b' ' | b'\t' | b'\r' | b'\n'))
        })
    }
}

/// Reads a file record by record.
#[derive(Clone, Debug)]
pub(super) struct Records<'b> {
    file: &'b [u8],
    delimiter: u8,
    at: usize,
    row: u64,
}

impl<'b> Records<'b> {
    /// Begins at the start of a file, behind a byte order mark.
    pub(super) fn new(file: &'b [u8], delimiter: u8) -> Self {
        Self { file, delimiter, at: if file.starts_with(b"\xEF\xBB\xBF") { 3 } else { 0 }, row: 0 }
    }

    fn byte(&self) -> Option<u8> {
        self.file.get(self.at).copied()
    }

    /// Fills `record` with the next record; false at the end of the file.
    pub(super) fn read(&mut self, record: &mut Record) -> bool {
        record.cells.clear();
        record.fault = None;
        if self.at >= self.file.len() {
            return false;
        }
        self.row += 1;
        record.row = self.row;
        record.start = self.at;
        loop {
            let cell = if self.byte() == Some(b'"') { self.quoted(record) } else { self.plain() };
            record.cells.push(cell);
            record.end = self.at;
            match self.byte() {
                Some(b) if b == self.delimiter => self.at += 1,
                Some(b'\r') => {
                    self.at += 1;
                    if self.byte() == Some(b'\n') {
                        self.at += 1;
                    }
                    return true;
                }
                // A line feed, or the end of the file.
                Some(_) | None => {
                    self.at += 1;
                    return true;
                }
            }
        }
    }

    /// A cell up to the next delimiter or line end. Quotes inside it are characters like any other.
    fn plain(&mut self) -> CellAt {
        let start = self.at;
        self.skip_to_cell_end();
        CellAt { start, end: self.at, doubled: false }
    }

    fn skip_to_cell_end(&mut self) {
        let rest = self.file.get(self.at..).unwrap_or_default();
        let length = rest.iter().position(|b| *b == self.delimiter || matches!(b, b'\n' | b'\r'));
        self.at += length.unwrap_or(rest.len());
    }

    /// A cell in quotes; stands behind it afterwards.
    fn quoted(&mut self, record: &mut Record) -> CellAt {
        self.at += 1;
        let start = self.at;
        let mut doubled = false;
        loop {
            let rest = self.file.get(self.at..).unwrap_or_default();
            let Some(length) = rest.iter().position(|b| *b == b'"') else {
                self.at = self.file.len();
                record.fault.get_or_insert((record.cells.len(), QuoteFault::NeverClosed));
                return CellAt { start, end: self.at, doubled };
            };
            self.at += length + 1;
            if self.byte() != Some(b'"') {
                break;
            }
            doubled = true;
            self.at += 1;
        }
        let end = self.at - 1;
        let behind = self.at;
        self.skip_to_cell_end();
        let blank = self.file.get(behind..self.at).unwrap_or_default().iter().all(|b| *b == b' ');
        if !blank {
            record.fault.get_or_insert((record.cells.len(), QuoteFault::TextBehind));
        }
        CellAt { start, end, doubled }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(file: &str, delimiter: u8) -> Vec<(u64, Vec<String>)> {
        let mut records = Records::new(file.as_bytes(), delimiter);
        let mut record = Record::default();
        let mut all = Vec::new();
        while records.read(&mut record) {
            assert_eq!(record.fault, None, "{file:?}");
            let cells = (0..record.len()).map(|i| record.text(file, i).into_owned()).collect();
            all.push((record.row, cells));
        }
        all
    }

    fn rows(file: &str) -> Vec<(u64, Vec<String>)> {
        read(file, b',')
    }

    fn owned(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|c| (*c).to_owned()).collect()
    }

    #[test]
    fn a_row_is_what_a_spreadsheet_shows() {
        let expected = vec![(1, owned(&["a", "b"])), (2, owned(&["1", "2\n3"])), (3, owned(&["4", "5"]))];
        for file in ["a,b\n1,\"2\n3\"\n4,5\n", "a,b\n1,\"2\n3\"\n4,5", "\u{FEFF}a,b\r\n1,\"2\n3\"\r\n4,5\r\n"]
        {
            assert_eq!(rows(file), expected, "{file:?}");
        }
        assert_eq!(rows("a\rb\r"), vec![(1, owned(&["a"])), (2, owned(&["b"]))], "old line ends");
    }

    #[test]
    fn a_blank_line_is_a_row() {
        assert_eq!(
            rows("a,b\n\n1,2\n"),
            vec![(1, owned(&["a", "b"])), (2, owned(&[""])), (3, owned(&["1", "2"]))]
        );
        assert!(rows("").is_empty());
    }

    #[test]
    fn quotes() {
        assert_eq!(
            rows("\"a \"\"b\"\"\",\"\",\"x\" ,3\" rod\n")[0].1,
            owned(&["a \"b\"", "", "x", "3\" rod"])
        );
        assert_eq!(read("a;\"b;c\"\n", b';')[0].1, owned(&["a", "b;c"]));
        let fault = |file: &str| {
            let mut record = Record::default();
            Records::new(file.as_bytes(), b',').read(&mut record);
            record.fault
        };
        assert_eq!(fault("a,\"b\"c,d\n"), Some((1, QuoteFault::TextBehind)));
        assert_eq!(fault("a,\"b,c\n1,2\n"), Some((1, QuoteFault::NeverClosed)));
    }

    proptest! {
        // The csv crate as a second reader of what it wrote itself: the same cells, in the same order.
        #[test]
        fn reads_what_another_writer_wrote(
            rows in prop::collection::vec(prop::collection::vec("[ -~\n\r\u{e9}]{0,12}", 2..5), 1..8),
            delimiter in prop::sample::select(vec![b',', b';', b'\t']),
        ) {
            let mut writer = csv::WriterBuilder::new().delimiter(delimiter).flexible(true).from_writer(Vec::new());
            for row in &rows {
                writer.write_record(row).unwrap();
            }
            let file = writer.into_inner().unwrap();
            let mut records = Records::new(&file, delimiter);
            let mut record = Record::default();
            for (i, row) in rows.iter().enumerate() {
                prop_assert!(records.read(&mut record));
                prop_assert_eq!(record.row, i as u64 + 1);
                prop_assert_eq!(record.fault, None);
                let cells: Vec<_> =
                    (0..record.len()).map(|c| String::from_utf8(record.bytes(&file, c).into_owned()).unwrap()).collect();
                prop_assert_eq!(&cells, row);
            }
            prop_assert!(!records.read(&mut record));
        }
    }
}
