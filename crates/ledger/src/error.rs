//! What can go wrong with a book, by what a caller must do about it.

use record::Refusal;
use std::path::PathBuf;

/// Result of a ledger operation.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Why an operation did not happen. In every case nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Rules refused it: ask a person.
    #[error("{}", first_message(.0))]
    Refused(Vec<Refusal>),
    /// A label that means nothing in this book.
    #[error("no {what} is called {label:?}")]
    NotFound {
        /// What was looked for: lot, slip, joint, heat, certificate, person.
        what: &'static str,
        /// As typed.
        label: String,
        /// Labels that look or sound like it.
        near: Vec<String>,
    },
    /// A label that means several things.
    #[error("{label:?} means {} things", .meanings.len())]
    Ambiguous {
        /// What was looked for.
        what: &'static str,
        /// As typed.
        label: String,
        /// Each meaning, by a label that means only it, with a description.
        meanings: Vec<(String, String)>,
    },
    /// A value that was not understood.
    #[error("{message}")]
    NotUnderstood {
        /// What was not understood, with the text shown.
        message: String,
        /// What to write instead.
        next: String,
    },
    /// Rows of import files that cannot be taken.
    #[error("{count} cells or rows cannot be imported")]
    BadRows {
        /// The first of them, by file, row and column.
        rows: Vec<BadRow>,
        /// How many there are in all.
        count: u64,
    },
    /// The record is not what it was.
    #[error("{0}")]
    Damaged(String),
    /// The facts were made by another version of this program, and questions would be answered from them.
    #[error("the tables that answers are read from were made by another version of this program")]
    OutdatedFacts,
    /// The entry is committed, and the high-water mark could not follow.
    #[error("the entry is in the book, but the high-water mark could not follow: {0}")]
    Unmarked(String),
    /// Another process is writing.
    #[error("another program is writing in this book")]
    Busy,
    /// Written by a newer program.
    #[error("{what} was written by a newer program ({found}; this one knows {known})")]
    TooNew {
        /// The book or file.
        what: String,
        /// Version found.
        found: i64,
        /// Version known.
        known: i64,
    },
    /// No such file.
    #[error("there is no book at {}", .0.display())]
    NoBook(PathBuf),
    /// There already is a file.
    #[error("{} exists already", .0.display())]
    Exists(PathBuf),
    /// A file that is something else.
    #[error("{} is not a rodbook book", .path.display())]
    NotABook {
        /// The file.
        path: PathBuf,
        /// How that shows.
        why: String,
    },
    /// This machine has not got the key of the station that writes this book.
    #[error("this machine cannot write in this book: it has not got the key of station {station}")]
    NoKey {
        /// First digits of the station's id.
        station: String,
        /// Where the key was looked for.
        looked_in: PathBuf,
    },
    /// A place where a book cannot live.
    #[error("a book cannot be kept at {}", .path.display())]
    BadPlace {
        /// The path.
        path: PathBuf,
        /// Why not.
        why: String,
    },
    /// The operating system said no.
    #[error("{doing} failed")]
    Io {
        /// What was being done.
        doing: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The database said no.
    #[error("the book could not be read or written: {0}")]
    Sqlite(rusqlite::Error),
}

/// One row of an import file that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct BadRow {
    /// File name.
    pub file: String,
    /// Row as a spreadsheet counts, the header being 1; 0 where the whole file is meant.
    pub row: u64,
    /// Column name; empty where the whole row is meant.
    pub column: String,
    /// The text found.
    pub value: String,
    /// Why it cannot be taken, and what would do.
    pub why: String,
}

impl std::fmt::Display for BadRow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file)?;
        if self.row > 0 {
            write!(f, " row {}", self.row)?;
        }
        if !self.column.is_empty() {
            write!(f, " column {}", self.column)?;
        }
        write!(f, ": ")?;
        if !self.value.is_empty() {
            write!(f, "{:?}: ", self.value)?;
        }
        f.write_str(&self.why)
    }
}

fn first_message(refusals: &[Refusal]) -> String {
    refusals.first().map_or_else(|| "refused".into(), |r| r.message.clone())
}

impl Error {
    /// An error of the operating system, with what was being done.
    pub fn io(doing: impl Into<String>) -> impl FnOnce(std::io::Error) -> Self {
        let doing = doing.into();
        move |source| Self::Io { doing, source }
    }
}

impl From<Refusal> for Error {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(vec![refusal])
    }
}

impl From<rusqlite::Error> for Error {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged(format!("the book's file is damaged: {error}")),
            _ if is_not_as_made(&error) => {
                Self::Damaged(format!("the book's tables are not as this program makes them: {error}"))
            }
            _ => Self::Sqlite(error),
        }
    }
}

/// Whether a table or column was not there, or held another type, another length, or text that is not UTF-8. The queries
/// are this program's own, so it is the file that differs.
fn is_not_as_made(error: &rusqlite::Error) -> bool {
    if let rusqlite::Error::SqliteFailure(_, Some(message)) = error {
        return message.starts_with("no such ") || message == "unsupported file format";
    }
    matches!(
        error,
        rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::SqlInputError { .. }
            | rusqlite::Error::Utf8Error(..)
    )
}

impl From<record::entry::EntryError> for Error {
    fn from(error: record::entry::EntryError) -> Self {
        use record::entry::EntryError;
        match error {
            EntryError::Canonical(_) | EntryError::Body(_) => Self::NotUnderstood {
                message: format!("the entry cannot be kept: {error}"),
                next: "shorten the text, or split it over two entries".into(),
            },
            EntryError::Field { .. } | EntryError::ExtraField { .. } | EntryError::Format { .. } => {
                Self::Damaged(format!("a stored entry is not what the format says: {error}"))
            }
        }
    }
}

/// What the database said.
pub type DatabaseError = rusqlite::Error;

/// The database's errors by what a person does about them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DatabaseErrorKind {
    /// The disk is full.
    Full,
    /// File or folder cannot be written.
    ReadOnly,
    /// The file cannot be opened.
    CannotOpen,
    /// Anything else.
    Other,
}

/// The kind of a database error.
pub fn database_error_kind(error: &DatabaseError) -> DatabaseErrorKind {
    use rusqlite::ErrorCode;
    match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => DatabaseErrorKind::Full,
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => DatabaseErrorKind::ReadOnly,
        Some(ErrorCode::CannotOpen) => DatabaseErrorKind::CannotOpen,
        _ => DatabaseErrorKind::Other,
    }
}
