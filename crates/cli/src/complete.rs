//! Completion while somebody types: what a shell is offered, live from the book.
//!
//! The script of `rodbook completions SHELL` calls the program again at every request, with [`VARIABLE`] naming the
//! shell and the words typed so far. What is offered comes from the command tree, and where an argument names a lot, a
//! slip, a joint or a person, from the book. Nothing is ever said about a book that is not there or cannot be read: a
//! message in the middle of a half-typed line helps nobody.

use crate::exit;
use clap::{Arg, Command};
use clap_complete::engine::{ArgValueCandidates, ArgValueCompleter, CompletionCandidate};
use clap_complete::env::{EnvCompleter, Shells};
use ledger::Ledger;
use ledger::ask::labels::LabelKind;
use record::finding::Code;
use std::ffi::{OsStr, OsString};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Environment variable by which a script asks: the name of the shell.
pub const VARIABLE: &str = "RODBOOK_COMPLETE";

/// How many labels are offered at most; more is no help, and slow in some shells.
const MOST: u32 = 1_000;

/// The script that makes a shell ask this program.
///
/// # Errors
/// When it cannot be written, or the shell is not one of those known.
pub fn script(shell: &str) -> std::io::Result<Vec<u8>> {
    let shells = Shells::builtins();
    let known = shells.completer(shell).ok_or_else(|| std::io::Error::other("no such shell"))?;
    let mut text = Vec::new();
    known.write_registration(VARIABLE, "rodbook", "rodbook", "rodbook", &mut text)?;
    Ok(text)
}

/// Answers where it was a script that called; none where it was somebody with a command line.
pub fn answer(args: &[OsString]) -> Option<u8> {
    let shell = std::env::var(VARIABLE).ok().filter(|name| !name.is_empty())?;
    // What cannot be completed is completed with nothing.
    let offered = offered(&shell, args).unwrap_or_default();
    let _ = std::io::stdout().lock().write_all(&offered);
    Some(exit::DONE)
}

fn offered(shell: &str, args: &[OsString]) -> Option<Vec<u8>> {
    let shells = Shells::builtins();
    let known: &dyn EnvCompleter = shells.completer(shell)?;
    // The words typed stand after `--`; the first of them is the program's name.
    let typed: Vec<OsString> = args.iter().skip_while(|a| *a != "--").skip(1).cloned().collect();
    if typed.is_empty() {
        return None;
    }
    let book = Book {
        path: book_named(&typed),
        quoting: match known.name() {
            "bash" => Quoting::Backslash,
            "powershell" => Quoting::Single,
            _ => Quoting::ByTheShell,
        },
    };
    let mut command = with_candidates(crate::command_tree(), "", &Arc::new(book));
    let here = std::env::current_dir().ok();
    let mut text = Vec::new();
    known.write_complete(&mut command, typed, here.as_deref(), &mut text).ok()?;
    Some(text)
}

/// The book that the typed line means.
fn book_named(typed: &[OsString]) -> PathBuf {
    let mut words = typed.iter();
    let mut named = None;
    while let Some(word) = words.next() {
        if word == "--book" {
            named = words.next().map(PathBuf::from);
        } else if let Some(path) = word.to_str().and_then(|w| w.strip_prefix("--book=")) {
            named = Some(path.into());
        }
    }
    named
        .filter(|path| path.is_file())
        .or_else(|| std::env::var_os("RODBOOK_BOOK").filter(|b| !b.is_empty()).map(PathBuf::from))
        .unwrap_or_else(|| "shop.rodbook".into())
}

/// The command tree, where every argument that names something of the book offers what is in it.
fn with_candidates(command: Command, verb: &str, book: &Arc<Book>) -> Command {
    let below = |sub: Command| {
        let name = sub.get_name().to_owned();
        with_candidates(sub, &name, book)
    };
    command.mut_subcommands(below).mut_args(|arg| match labelled(verb, &arg) {
        Some(of) => {
            let book = Arc::clone(book);
            arg.add(ArgValueCompleter::new(move |typed: &OsStr| book.candidates(of, typed)))
        }
        None if verb == "findings" && arg.get_id() == "code" => arg.add(ArgValueCandidates::new(|| {
            Code::ALL.iter().map(|code| CompletionCandidate::new(code.word())).collect()
        })),
        None => arg,
    })
}

/// What an argument of a verb names, if that is something of the book.
pub fn labelled(verb: &str, arg: &Arg) -> Option<LabelKind> {
    let value = arg.get_value_names().and_then(<[_]>::first).map_or("", |name| name.as_str());
    match arg.get_id().as_str() {
        // A number that is written on a new slip is not in the book yet.
        "slip" if value == "NUMBER" => None,
        "slip" => Some(LabelKind::Slip),
        "lot" => Some(LabelKind::Lot),
        "joint" | "also" | "renumbers" => Some(LabelKind::Joint),
        "welder" | "holder" | "badge" | "by" => Some(LabelKind::Badge),
        "heat" => Some(LabelKind::Heat),
        "certificate" | "cert" => Some(LabelKind::Certificate),
        "wps" => Some(LabelKind::Wps),
        "number" | "label" => match verb {
            "joint" => Some(LabelKind::Joint),
            "lot" => Some(LabelKind::Lot),
            "slip" => Some(LabelKind::Slip),
            _ => None,
        },
        _ => match value {
            "LOT" => Some(LabelKind::Lot),
            "SLIP" => Some(LabelKind::Slip),
            "JOINT" => Some(LabelKind::Joint),
            "BADGE" | "WELDER" => Some(LabelKind::Badge),
            _ => None,
        },
    }
}

/// Who puts quotes around a candidate that needs them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Quoting {
    /// The shell itself.
    ByTheShell,
    /// This program, with backslashes.
    Backslash,
    /// This program, with single quotes.
    Single,
}

/// Where candidates come from.
#[derive(Debug)]
struct Book {
    path: PathBuf,
    quoting: Quoting,
}

impl Book {
    fn candidates(&self, of: LabelKind, typed: &OsStr) -> Vec<CompletionCandidate> {
        let Some(typed) = typed.to_str() else { return Vec::new() };
        // Shells hand over a word as it stands on the line.
        let beginning = match self.quoting {
            Quoting::Single => typed.to_owned(),
            Quoting::ByTheShell | Quoting::Backslash => without_backslashes(typed),
        };
        self.labels(of, &beginning)
            .unwrap_or_default()
            .into_iter()
            .filter_map(|(label, help)| {
                let shown = self.quoting.shown(&label)?;
                Some(CompletionCandidate::new(shown).help(help.map(Into::into)))
            })
            .collect()
    }

    /// Labels with a word about each. No key is needed to read them.
    fn labels(&self, of: LabelKind, beginning: &str) -> ledger::Result<Vec<(String, Option<String>)>> {
        let ledger = Ledger::open(&self.path, Path::new(""))?;
        ledger.ask(|reading| {
            let mut found: Vec<(String, Option<String>)> = Vec::new();
            if of == LabelKind::Slip {
                let open = reading.out()?.into_iter().filter(|v| v.slip.number.starts_with(beginning));
                found.extend(open.map(|v| {
                    let about = format!(
                        "{} with {}, {} out",
                        v.lot.received.code,
                        v.slip.holder.badge,
                        v.slip.left_shown(&v.lot)
                    );
                    (v.slip.number.clone(), Some(about))
                }));
            }
            for label in reading.labels(of, beginning, MOST)? {
                if !found.iter().any(|(known, _)| *known == label) {
                    found.push((label, None));
                }
            }
            Ok(found)
        })
    }
}

impl Quoting {
    /// A label as the shell must get it, so that it stays one word and nothing in it is run: a book may come from
    /// anywhere. None where the shell cannot be given it.
    fn shown(self, label: &str) -> Option<String> {
        if label.chars().any(char::is_control) {
            return None;
        }
        let plain = |c: char| c.is_alphanumeric() || "-_./+,@%".contains(c);
        match self {
            Quoting::ByTheShell => Some(label.to_owned()),
            // It takes a colon or an equals sign for the end of a word, and would write what stands before it twice.
            Quoting::Backslash if label.contains([':', '=']) => None,
            Quoting::Backslash => {
                Some(label.chars().flat_map(|c| (!plain(c)).then_some('\\').into_iter().chain([c])).collect())
            }
            Quoting::Single if label.chars().all(plain) => Some(label.to_owned()),
            // Its typographic quotes end a quoted text as the plain one does.
            Quoting::Single => {
                let quote = |c: char| "'\u{2018}\u{2019}\u{201A}\u{201B}".contains(c);
                let inner: String =
                    label.chars().flat_map(|c| quote(c).then_some(c).into_iter().chain([c])).collect();
                Some(format!("'{inner}'"))
            }
        }
    }
}

fn without_backslashes(typed: &str) -> String {
    let mut text = String::new();
    let mut chars = typed.chars();
    while let Some(c) = chars.next() {
        text.extend(if c == '\\' { chars.next() } else { Some(c) });
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_shell_would_run_or_split_is_quoted() {
        let bash = |label| Quoting::Backslash.shown(label);
        assert_eq!(bash("R-1028").as_deref(), Some("R-1028"));
        assert_eq!(bash("30-118/7").as_deref(), Some("30-118/7"));
        assert_eq!(bash("7K 22").as_deref(), Some("7K\\ 22"));
        assert_eq!(bash("$(x)").as_deref(), Some("\\$\\(x\\)"));
        assert_eq!(bash("a`b'c\"d;e&f|g~h#i!").as_deref(), Some("a\\`b\\'c\\\"d\\;e\\&f\\|g\\~h\\#i\\!"));
        assert_eq!(bash("A:B"), None);
        assert_eq!(bash("A\nB"), None);
        let power = |label| Quoting::Single.shown(label);
        assert_eq!(power("R-1028").as_deref(), Some("R-1028"));
        assert_eq!(power("7K 22").as_deref(), Some("'7K 22'"));
        assert_eq!(power("O'Neil $(x)").as_deref(), Some("'O''Neil $(x)'"));
        assert_eq!(power("a\u{2019}b").as_deref(), Some("'a\u{2019}\u{2019}b'"));
        assert_eq!(Quoting::ByTheShell.shown("7K 22").as_deref(), Some("7K 22"));
        assert_eq!(Quoting::ByTheShell.shown("\u{1b}[2J"), None);
        assert_eq!(without_backslashes("7K\\ 2\\"), "7K 2");
    }
}
