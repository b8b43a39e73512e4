//! Every session of the README, typed as it stands there, prints what stands there.
//!
//! A session is a block fenced as `console`. A line `$ rodbook …` is a command; the lines after it are what it prints;
//! `…` inside a line stands for any text, a line that is only `…` for any number of lines, and `(exit 3)` ends the
//! output of a command whose exit code is not 0.

use crate::shop::{RODBOOK, Shop, root, words};
use std::fmt::Write as _;
use std::io::Read as _;

/// One command of a document.
#[derive(Debug, PartialEq, Eq)]
struct Step {
    /// Line of the document, counted from 1.
    at: usize,
    command: String,
    expected: Vec<String>,
    exit: i32,
}

/// The commands of a document's sessions, in order.
fn steps(text: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut inside = false;
    for (n, line) in text.lines().enumerate() {
        let at = n + 1;
        if !inside {
            inside = line.trim_end() == "```console";
            // A block begins with a command.
            if inside {
                steps.push(Step { at, command: String::new(), expected: Vec::new(), exit: 0 });
            }
        } else if line.trim_end() == "```" {
            inside = false;
        } else if let Some(command) = line.strip_prefix("$ ") {
            steps.push(Step { at, command: command.to_owned(), expected: Vec::new(), exit: 0 });
        } else {
            let step = steps.last_mut().unwrap();
            match line.strip_prefix("(exit ").and_then(|l| l.strip_suffix(')')).and_then(|l| l.parse().ok()) {
                Some(exit) => step.exit = exit,
                None => step.expected.push(line.to_owned()),
            }
        }
    }
    assert!(!inside, "a console block does not end");
    steps.retain(|step| {
        assert!(
            !step.command.is_empty() || step.expected.is_empty(),
            "line {}: output before any command",
            step.at
        );
        !step.command.is_empty()
    });
    steps
}

/// Whether a line is as it stands in the document.
fn line_fits(expected: &str, found: &str) -> bool {
    let mut parts = expected.split('…');
    let Some(mut rest) = parts.next().and_then(|first| found.strip_prefix(first)) else {
        return false;
    };
    let parts: Vec<&str> = parts.collect();
    let Some((last, middle)) = parts.split_last() else {
        return rest.is_empty();
    };
    for part in middle {
        match rest.find(part) {
            Some(at) => rest = &rest[at + part.len()..],
            None => return false,
        }
    }
    rest.ends_with(last)
}

/// Whether the lines are as they stand in the document; if not, how many expected lines could be found.
fn fits(expected: &[String], found: &[&str]) -> Result<(), usize> {
    // reached[k]: the first k expected lines can stand for the found lines so far.
    let mut furthest = 0;
    let mut reached = vec![false; expected.len() + 1];
    reached[0] = true;
    let skip = |reached: &mut Vec<bool>| {
        for k in 0..expected.len() {
            if reached[k] && expected[k] == "…" {
                reached[k + 1] = true;
            }
        }
    };
    skip(&mut reached);
    for line in found {
        let mut next = vec![false; expected.len() + 1];
        for k in 0..expected.len() {
            if reached[k] {
                furthest = furthest.max(k);
                if expected[k] == "…" {
                    next[k] = true;
                } else if line_fits(&expected[k], line) {
                    next[k + 1] = true;
                }
            }
        }
        reached = next;
        skip(&mut reached);
    }
    if reached[expected.len()] {
        Ok(())
    } else {
        Err(furthest.max(reached.iter().rposition(|r| *r).unwrap_or(0)))
    }
}

/// Runs the sessions of a document in one folder with one home; returns what went otherwise, and how many commands ran.
fn run(name: &str, text: &str) -> (String, usize) {
    let shop = Shop::empty();
    let mut wrong = String::new();
    let steps = steps(text);
    for step in &steps {
        let mut typed = words(&step.command);
        assert!(
            !typed.is_empty() && typed.remove(0) == "rodbook",
            "{name} line {}: only rodbook is run: {}",
            step.at,
            step.command
        );
        // One pipe for both streams: what a person sees, in the order in which they see it.
        let (mut reader, writer) = std::io::pipe().unwrap();
        let mut command = shop.program(RODBOOK);
        command.args(&typed).stdout(writer.try_clone().unwrap()).stderr(writer);
        let mut child = command.spawn().unwrap();
        drop(command);
        let mut printed = String::new();
        reader.read_to_string(&mut printed).unwrap();
        let exit = child.wait().unwrap().code();
        let found: Vec<&str> = printed.trim_end_matches('\n').lines().map(str::trim_end).collect();
        let mut expected = step.expected.clone();
        while expected.last().is_some_and(String::is_empty) {
            expected.pop();
        }
        let found = if printed.is_empty() { Vec::new() } else { found };
        if exit != Some(step.exit) {
            let _ = writeln!(
                wrong,
                "\n{name} line {}: $ {}\nends with {exit:?}, not with {}, and prints:\n{printed}",
                step.at, step.command, step.exit
            );
        } else if let Err(furthest) = fits(&expected, &found) {
            let _ = writeln!(wrong, "\n{name} line {}: $ {}", step.at, step.command);
            for (k, line) in expected.iter().enumerate() {
                let mark = if k == furthest { "first line that is otherwise >" } else { "" };
                let _ = writeln!(wrong, "{mark:>30} {line}");
            }
            let _ = writeln!(
                wrong,
                "prints:\n{}",
                found.iter().map(|l| format!("{:>30} {l}\n", "")).collect::<String>()
            );
        }
    }
    (wrong, steps.len())
}

#[test]
fn the_readme_is_true() {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let (wrong, ran) = run("README.md", &text);
    assert!(ran >= 8, "the README has {ran} commands");
    assert!(wrong.is_empty(), "{wrong}");
}

/// Sessions of the other documents, each in a folder of its own.
#[test]
fn the_documents_are_true() {
    let mut wrong = String::new();
    for document in crate::docs_check::documents() {
        let name = document.strip_prefix(root()).unwrap().display().to_string();
        if name != "README.md" {
            wrong.push_str(&run(&name, &std::fs::read_to_string(&document).unwrap()).0);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// The runner itself: what it must find, it finds.
#[test]
fn a_stale_document_is_found() {
    let document = "text\n```console\n$ rodbook init --station s --zone UTC --by A-1\nNew book …, station s, zone UTC.\n…\nEntries up to 1  …\n\n$ rodbook stock\n\
                    No lot is booked in.\n$ rodbook trace lot X\n…\n(exit 4)\n```\n";
    assert_eq!(run("good", document), (String::new(), 3));
    for (good, stale) in [
        ("No lot is booked in.", "No lot is there."),
        ("No lot is booked in.", "No lot is booked in.\nand more"),
        ("(exit 4)", "(exit 3)"),
        ("(exit 4)\n", ""),
        ("Entries up to 1  …", "Entries up to 2  …"),
        ("zone UTC.\n…\n", "zone UTC.\n"),
        ("stock\n", "stock --class 7018 --colour\n"),
    ] {
        let (wrong, _) = run("stale", &document.replacen(good, stale, 1));
        assert!(wrong.contains("stale line"), "{stale:?} is not found");
    }
}

#[test]
fn lines_fit_as_documented() {
    assert!(line_fits("Entry 2  …", "Entry 2  XXXX"));
    assert!(line_fits("a … b … c", "a x b y c"));
    assert!(!line_fits("a … b", "a x"));
    assert!(!line_fits("a", "a x"));
    assert!(line_fits("…", ""));
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(fits(&lines("a\n…\nz"), &["a", "z"]), Ok(()));
    assert_eq!(fits(&lines("a\n…\nz"), &["a", "b", "z", "z"]), Ok(()));
    assert_eq!(fits(&lines("a\n…\nz"), &["a", "b"]), Err(2));
    assert_eq!(fits(&lines("a\n…"), &["a"]), Ok(()));
    assert_eq!(fits(&lines("…"), &[]), Ok(()));
    assert_eq!(fits(&[], &["a"]), Err(0));
}
