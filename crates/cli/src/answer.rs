//! What a command answers, once, for all output formats.

use serde_json::Value;

/// An answer before it is printed.
#[derive(Debug, Default)]
pub struct Answer {
    /// For people.
    pub text: String,
    /// For programs; an object with a `schema`.
    pub json: Value,
    /// For spreadsheets, where the answer is a table.
    pub table: Option<Table>,
    /// Bytes that are printed as they are whatever the format: an export to standard output.
    pub raw: Option<Vec<u8>>,
    /// Warnings, on standard error.
    pub warnings: Vec<String>,
    /// Exit code.
    pub exit: u8,
    /// Whether the book has changed.
    pub written: bool,
}

/// A table with named columns; every cell is text.
#[derive(Debug, Default)]
pub struct Table {
    /// Column names, stable.
    pub columns: Vec<&'static str>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table of these columns.
    pub fn new(columns: &[&'static str]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new() }
    }

    /// The table as CSV (RFC 4180, CRLF).
    ///
    /// # Errors
    /// When a row has not the number of cells of the header.
    pub fn csv(&self) -> anyhow::Result<Vec<u8>> {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        writer.write_record(&self.columns)?;
        for row in &self.rows {
            writer.write_record(row)?;
        }
        Ok(writer.into_inner()?)
    }

    /// The table for people, no wider than `width`.
    pub fn text(&self, headings: &[&str], width: u16) -> String {
        let mut table = comfy_table::Table::new();
        table
            .load_style(comfy_table::presets::NOTHING)
            .set_content_arrangement(comfy_table::ContentArrangement::Dynamic)
            .set_width(width)
            .set_header(headings);
        for row in &self.rows {
            table.add_row(row);
        }
        let text = table.to_string();
        let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
        lines.join("\n") + "\n"
    }
}
