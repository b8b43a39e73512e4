//! Failures as people and programs read them: what was not done, why, and what to do next.

use crate::exit;
use ledger::{DatabaseErrorKind, Error};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// A failure before it is printed.
#[derive(Debug)]
pub struct Failure {
    /// Stable name.
    pub code: String,
    /// What was not done.
    pub message: String,
    /// Why; may be empty.
    pub why: Vec<String>,
    /// What to do next.
    pub next: Vec<String>,
    /// Exit code.
    pub exit: u8,
    /// Whether the book has changed all the same.
    pub written: bool,
}

impl Failure {
    /// Failed for a reason that is neither rule nor input.
    pub fn failed(message: impl Into<String>) -> Self {
        Self {
            code: "failed".into(),
            message: message.into(),
            why: vec![],
            next: vec![],
            exit: exit::FAILED,
            written: false,
        }
    }

    /// Something typed was not understood.
    pub fn not_understood(message: impl Into<String>) -> Self {
        Self {
            code: "not-understood".into(),
            message: message.into(),
            why: vec![],
            next: vec![],
            exit: exit::NOT_UNDERSTOOD,
            written: false,
        }
    }

    /// What was asked for is not there.
    pub fn not_found(message: impl Into<String>) -> Self {
        Self { code: "not-found".into(), exit: exit::NOT_FOUND, ..Self::not_understood(message) }
    }

    /// Says that the book has changed all the same.
    #[must_use]
    pub fn but_written(mut self) -> Self {
        self.written = true;
        self
    }

    /// Adds what to do next.
    #[must_use]
    pub fn next(mut self, step: impl Into<String>) -> Self {
        self.next.push(step.into());
        self
    }

    /// For people.
    pub fn text(&self) -> String {
        let mut text = format!("Error: {}\n", self.message);
        for (i, why) in self.why.iter().enumerate() {
            let _ = writeln!(text, "{} {why}", if i == 0 { "  Why: " } else { "       " });
        }
        for (i, next) in self.next.iter().enumerate() {
            let _ = writeln!(text, "{} {next}", if i == 0 { "  Next:" } else { "       " });
        }
        text.push_str(if self.written {
            "  The entry is in the book all the same.\n"
        } else {
            "  Nothing was written.\n"
        });
        text
    }

    /// For programs.
    pub fn json(&self) -> Value {
        let mut error = json!({
            "code": self.code,
            "message": self.message,
            "why": self.why.join("\n"),
            "next": self.next,
        });
        if let (true, Value::Object(fields)) = (self.written, &mut error) {
            fields.insert("written".into(), json!(true));
        }
        json!({ "error": error })
    }
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        let message = sentence(&error.to_string());
        let failure = |code: &str, exit: u8| Failure {
            code: code.into(),
            message: message.clone(),
            why: vec![],
            next: vec![],
            exit,
            written: false,
        };
        match error {
            Error::Refused(refusals) => {
                let mut refusals = refusals.into_iter();
                let Some(first) = refusals.next() else {
                    return failure("refused", exit::REFUSED);
                };
                let mut all = Failure {
                    code: first.code.into(),
                    message: first.message,
                    why: vec![first.why],
                    next: first.next,
                    exit: exit::REFUSED,
                    written: false,
                };
                for also in refusals {
                    all.why.push(format!("also: {} {}", also.message, also.why));
                    for next in also.next {
                        if !all.next.contains(&next) {
                            all.next.push(next);
                        }
                    }
                }
                all
            }
            Error::NotFound { what, near, label } if ledger::is_identity(&label) && near.is_empty() => {
                let mut failure = failure("not-found", exit::NOT_FOUND);
                failure.why.push(format!("no {what} in this book has that identity."));
                failure
            }
            Error::NotFound { what, near, .. } => {
                let mut failure = failure("not-found", exit::NOT_FOUND);
                if near.is_empty() {
                    failure.why.push(format!("no {what} in this book is nearly called that either."));
                    failure.next.push(match what {
                        "lot" => "see what is there with: rodbook stock".into(),
                        "slip" | "quiver with an open slip" => "see what is out with: rodbook out".into(),
                        "person" => "enrol them with: rodbook enroll BADGE --name NAME --role ROLE".into(),
                        "entry" => "copy its short id from a receipt, or from a page such as: rodbook slip NUMBER".into(),
                        "joint" => "declare it with: rodbook joint NUMBER, or import joints.csv".into(),
                        other => format!("compare the {other} number with the paper"),
                    });
                } else {
                    failure.next.push(format!("did you mean {}?", near.join(", ")));
                }
                failure
            }
            Error::Ambiguous { what, meanings, .. } => {
                let mut failure = failure("ambiguous", exit::NOT_UNDERSTOOD);
                let several = if what == "entry" { "entries".to_owned() } else { format!("{what}s") };
                failure.why.push(format!("several {several} carry that label; the book never picks one:"));
                failure.why.extend(meanings.iter().map(|(label, line)| format!("  {label}   {line}")));
                failure.next.push("type one of the labels above".into());
                failure
            }
            Error::NotUnderstood { next, .. } => failure("not-understood", exit::NOT_UNDERSTOOD).next(next),
            Error::BadRows { rows, count } => {
                let mut failure = failure("bad-rows", exit::NOT_UNDERSTOOD);
                failure.message = match count {
                    1 => "nothing was imported: 1 cell or row cannot be taken.".into(),
                    n => format!("nothing was imported: {n} cells or rows cannot be taken."),
                };
                failure.why.extend(rows.iter().map(ToString::to_string));
                failure.next.push("correct them in the files and import again; --dry-run tries without writing".into());
                failure
            }
            Error::Damaged(_) => failure("damaged", exit::DAMAGED)
                .next("keep this file as it is; rodbook verify says where it is damaged, if it can be read at all")
                .next("continue from the last good copy with: rodbook --book NEW restore COPY"),
            Error::OutdatedFacts => failure("outdated-tables", exit::FAILED)
                .next("make them anew with: rodbook rebuild")
                .next("where the book cannot be written, use the version of the program that wrote it"),
            Error::Unmarked(_) => {
                let mut failure = failure("unmarked", exit::FAILED)
                    .next("do not do it again; make the folder of the mark writable, and check with: rodbook verify");
                failure.written = true;
                failure
            }
            Error::Busy => failure("busy", exit::BUSY).next("wait a moment and do it again"),
            Error::TooNew { .. } => {
                failure("too-new", exit::TOO_NEW).next("use the newer program; this one leaves the file alone")
            }
            Error::NoBook(_) => failure("no-book", exit::FAILED)
                .next("name the book with --book FILE or RODBOOK_BOOK")
                .next("or make a new one with: rodbook init --station NAME"),
            Error::Exists(_) => failure("exists", exit::FAILED)
                .next("name another file; a book or a copy is never written over one that is there"),
            Error::NotABook { why, .. } => {
                let mut failure = failure("not-a-book", exit::NOT_UNDERSTOOD).next("name the book with --book FILE");
                failure.why.push(why);
                failure
            }
            Error::NoKey { looked_in, .. } => {
                let mut failure = failure("no-key", exit::FAILED)
                    .next("write on the machine that has the key, or set RODBOOK_HOME to where it is")
                    .next("if that machine is gone, continue a copy here with: rodbook --book NEW restore COPY");
                failure.why.push(format!("no key in {}; reading and checking need none.", looked_in.display()));
                failure
            }
            Error::BadPlace { why, .. } => {
                let mut failure = failure("bad-place", exit::FAILED);
                failure.why.push(why);
                failure
            }
            Error::Io { source, .. } => {
                let mut failure = failure("io", exit::FAILED);
                failure.why.push(source.to_string());
                if source.kind() == std::io::ErrorKind::StorageFull {
                    failure.next.push("free some space on that disk, and do it again".into());
                }
                failure
            }
            Error::Sqlite(error) => sqlite(&error),
        }
    }
}

/// What the database said, in words.
fn sqlite(error: &ledger::DatabaseError) -> Failure {
    let mut failure = Failure::failed("the book could not be read or written.");
    failure.code = "database".into();
    failure.why.push(error.to_string());
    match ledger::database_error_kind(error) {
        DatabaseErrorKind::Full => {
            failure.code = "disk-full".into();
            failure.message = "the disk is full.".into();
            failure.next.push("free some space on the disk of the book, and do it again".into());
        }
        DatabaseErrorKind::ReadOnly => {
            failure.code = "read-only".into();
            failure.message = "the book cannot be written: it, or its folder, is read-only.".into();
            failure
                .next
                .push("ask whoever looks after this machine for the permission to write there".into());
        }
        DatabaseErrorKind::CannotOpen => {
            failure.code = "cannot-open".into();
            failure.message = "the book cannot be opened.".into();
            failure.next.push("look whether the file and its folder can be read and written by you".into());
        }
        DatabaseErrorKind::Other => {
            failure.next.push("find out what is wrong with: rodbook verify".into());
        }
    }
    failure
}

/// A message with a full stop.
fn sentence(text: &str) -> String {
    if text.ends_with(['.', '?', '!']) { text.to_owned() } else { format!("{text}.") }
}
