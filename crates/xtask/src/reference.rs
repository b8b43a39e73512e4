//! The reference pages in `docs/reference/`, made from the program itself: the command tree, the kinds of events, the
//! exit codes, and every error as it is printed.

mod codes;
mod commands;
mod errors;
mod events;
mod exit_codes;
mod findings;
mod gallery;
pub(crate) mod man;
mod mask;
mod scenarios;
mod shop;
mod starts;

use crate::venv;
use anyhow::{Context as _, Result, bail};
use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;

const WHO: &str = "cargo xtask reference";

/// Makes every page.
fn pages() -> Result<Vec<(&'static str, String)>> {
    let shown = gallery::run_all()?;
    let complaints = codes::complaints(&shown)?;
    if !complaints.is_empty() {
        bail!("the gallery of errors is not as the source:\n  {}", complaints.join("\n  "));
    }
    Ok(vec![
        ("README.md", contents()),
        ("commands.md", commands::page()),
        ("errors.md", errors::page(&shown)),
        ("events.md", events::page()?),
        ("exit-codes.md", exit_codes::page(&shown)),
        ("findings.md", findings::page()),
    ])
}

fn contents() -> String {
    let mut page = title("Reference");
    for (file, about) in [
        ("commands.md", "every verb: what it takes, with examples"),
        ("events.md", "every kind of event in the record, with a sample of its body"),
        (
            "findings.md",
            "what a person must look at: every kind of finding, its severity, and when there is one",
        ),
        ("exit-codes.md", "what a script should do about the outcome"),
        ("errors.md", "every refusal and every error, each with the smallest input that causes it"),
    ] {
        let _ = writeln!(page, "- [{file}]({file}): {about}");
    }
    page
}

/// The beginning of every page.
fn title(text: &str) -> String {
    format!("<!-- Made by `{WHO}`; changes by hand are lost. -->\n\n# {text}\n\n")
}

fn folder() -> PathBuf {
    venv::root().join("docs/reference")
}

/// Writes the pages.
pub(crate) fn write() -> Result<String> {
    let pages = pages()?;
    let folder = folder();
    fs::create_dir_all(&folder)?;
    for (name, text) in &pages {
        fs::write(folder.join(name), text).with_context(|| format!("writing {name}"))?;
    }
    Ok(format!("{} pages are in docs/reference", pages.len()))
}

/// Compares the pages with what would be written.
pub(crate) fn check() -> Result<String> {
    let pages = pages()?;
    let mut stale = Vec::new();
    for (name, text) in &pages {
        // Line ends may have been changed by version control.
        let there = fs::read_to_string(folder().join(name)).unwrap_or_default().replace("\r\n", "\n");
        if let Some(difference) = difference(&there, text) {
            stale.push(format!("docs/reference/{name} {difference}"));
        }
    }
    for entry in fs::read_dir(folder())? {
        let name = entry?.file_name();
        if !pages.iter().any(|(known, _)| name == *known) {
            stale.push(format!("docs/reference/{} is made by nothing", name.display()));
        }
    }
    if !stale.is_empty() {
        bail!("not as the program is; run `{WHO}` and commit the result:\n  {}", stale.join("\n  "));
    }
    Ok(format!("{} pages are as the program is", pages.len()))
}

/// The first line that differs; none where nothing does.
fn difference(there: &str, made: &str) -> Option<String> {
    if there == made {
        return None;
    }
    let (mut there, mut made) = (there.lines(), made.lines());
    let mut number = 0_u64;
    loop {
        number += 1;
        match (there.next(), made.next()) {
            (None, None) => return Some("differs in its line ends".into()),
            (old, new) if old == new => {}
            (old, new) => {
                let shown = |line: Option<&str>| line.map_or("the end".to_owned(), |l| format!("{l:?}"));
                return Some(format!("line {number}: has {}, should have {}", shown(old), shown(new)));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_difference_is_named() {
        assert_eq!(difference("a\nb\n", "a\nb\n"), None);
        assert_eq!(difference("a\nb\n", "a\nc\n").as_deref(), Some("line 2: has \"b\", should have \"c\""));
        assert_eq!(difference("a\n", "a\nc\n").as_deref(), Some("line 2: has the end, should have \"c\""));
        assert_eq!(difference("a", "a\n").as_deref(), Some("differs in its line ends"));
    }
}
