//! The tasks that make the reference pages and the man pages, from outside.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test may panic")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn xtask(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_xtask")).args(words).output().unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The committed pages are what the program says of itself today. Errors are caused and printed anew for it.
#[cfg(target_os = "linux")]
#[test]
fn the_reference_pages_are_fresh() {
    let output = xtask(&["reference", "--check"]);
    assert!(output.status.success(), "{}", stderr(&output));
}

/// Every verb has a page that says what it does, and so have the verbs below it; nothing else has.
#[test]
fn every_verb_has_a_man_page() {
    let folder = tempfile::tempdir().unwrap();
    let output = xtask(&["man", folder.path().to_str().unwrap()]);
    assert!(output.status.success(), "{}", stderr(&output));
    let mut expected = vec![];
    pages_of(&rodbook_cli::command_tree(), "", &mut expected);
    for (name, about) in &expected {
        let file = folder.path().join(format!("{name}.1"));
        let page = fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        for section in [".TH", ".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION"] {
            assert!(page.lines().any(|line| line.starts_with(section)), "{name} has no {section}");
        }
        let unescaped = page.replace("\\*(Aq", "'").replace('\\', "");
        assert!(unescaped.contains(&format!("{name} - {about}")), "{name} does not say \"{about}\":\n{page}");
    }
    let mut made: Vec<String> = names(folder.path());
    let mut wanted: Vec<String> = expected.iter().map(|(name, _)| format!("{name}.1")).collect();
    made.sort();
    wanted.sort();
    assert_eq!(made, wanted);
    assert!(made.len() >= 25, "{made:?}");
}

fn pages_of(command: &clap::Command, before: &str, pages: &mut Vec<(String, String)>) {
    let name = format!("{before}{}", command.get_name());
    for verb in command.get_subcommands().filter(|v| !v.is_hide_set()) {
        pages_of(verb, &format!("{name}-"), pages);
    }
    pages.push((name, command.get_about().unwrap().to_string()));
}

fn names(folder: &Path) -> Vec<String> {
    fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
}

/// Man pages are shipped: nothing of the environment of whoever made them is in them.
#[test]
fn man_pages_do_not_show_the_environment() {
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_xtask"))
        .args(["man", folder.path().to_str().unwrap()])
        .env("RODBOOK_BY", "W-77-of-the-maker")
        .env("RODBOOK_BOOK", "book-of-the-maker")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", stderr(&output));
    for name in names(folder.path()) {
        assert!(!fs::read_to_string(folder.path().join(&name)).unwrap().contains("of-the-maker"), "{name}");
    }
    let page = fs::read_to_string(folder.path().join("rodbook-issue.1")).unwrap();
    assert!(page.contains("RODBOOK_BY"), "the variable itself is named:\n{page}");
}

#[test]
fn a_task_that_is_none_is_refused() {
    for words in [&["reference", "--chek"][..], &["man"]] {
        let output = xtask(words);
        assert!(!output.status.success());
        assert!(stderr(&output).contains("usage: cargo xtask TASK"), "{}", stderr(&output));
    }
}
