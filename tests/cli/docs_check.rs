//! What the documents say about the files: paths that they name are there, kinds have their golden entry, and nothing
//! points outside the project.

use crate::shop::root;
use regex::Regex;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Every document of the project.
pub(crate) fn documents() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(root())
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "md"))
        .collect();
    for folder in ["docs", "migrations", "fixtures", "tests"] {
        below(&root().join(folder), &mut |file| {
            if file.extension().is_some_and(|e| e == "md") {
                found.push(file.to_owned());
            }
        });
    }
    found.sort();
    assert!(
        found.iter().any(|f| f.ends_with("README.md")) && found.iter().any(|f| f.ends_with("DEVELOPERS.md"))
    );
    found
}

fn below(dir: &Path, each: &mut dyn FnMut(&Path)) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            below(&path, each);
        } else {
            each(&path);
        }
    }
}

/// Words in backticks that can only be paths of the project: they begin with a folder or file of its root, or end as a
/// source or document does.
fn paths_in(text: &str, top: &BTreeSet<String>) -> Vec<String> {
    let quoted = Regex::new("`([^`\n]+)`").unwrap();
    let path = Regex::new(r"^[A-Za-z0-9_.][A-Za-z0-9_./-]*$").unwrap();
    quoted
        .captures_iter(text)
        .map(|c| c[1].to_owned())
        .filter(|word| path.is_match(word) && !word.contains("NNNN"))
        .filter(|word| {
            let first = word.split('/').next().unwrap_or_default();
            let ends = [".rs", ".md", ".sql", ".toml", ".py"].iter().any(|e| word.ends_with(e));
            ends || (top.contains(first) && (word.contains('/') || word.contains('.')))
        })
        .collect()
}

#[test]
fn every_path_in_the_documents_is_there() {
    let root = root();
    let top: BTreeSet<String> =
        fs::read_dir(&root).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    let mut names = BTreeSet::new();
    for folder in ["crates", "docs", "migrations", "fixtures", "tests"] {
        below(&root.join(folder), &mut |file| {
            names.insert(file.file_name().unwrap().to_string_lossy().into_owned());
        });
    }
    let mut missing = Vec::new();
    let mut checked = 0;
    for document in documents() {
        let text = fs::read_to_string(&document).unwrap();
        for path in paths_in(&text, &top) {
            checked += 1;
            let there = root.join(&path).exists()
                || document.parent().unwrap().join(&path).exists()
                || (!path.contains('/') && (top.contains(&path) || names.contains(&path)));
            if !there {
                missing.push(format!("{}: {path}", document.strip_prefix(&root).unwrap().display()));
            }
        }
    }
    assert!(missing.is_empty(), "named and not there:\n{}", missing.join("\n"));
    assert!(checked >= 40, "only {checked} paths were found in the documents");
}

#[test]
fn paths_are_told_from_other_words() {
    let top = BTreeSet::from(["docs".to_owned(), "crates".to_owned(), "Cargo.toml".to_owned()]);
    let text = "`docs/format.md` `rodbook/1` `name/2` `Area/City` `people.csv` `crates/cli/` `A5.18` `verify.py` `--out` `docs` `a b.rs` `Cargo.toml` `gone.rs`";
    assert_eq!(paths_in(text, &top), ["docs/format.md", "crates/cli/", "verify.py", "Cargo.toml", "gone.rs"]);
}

#[test]
fn links_in_the_documents_lead_somewhere() {
    let link = Regex::new(r"\]\(([^)#\s]+)(#[^)]*)?\)").unwrap();
    for document in documents() {
        for found in link.captures_iter(&fs::read_to_string(&document).unwrap()) {
            let target = &found[1];
            if !target.contains("://") {
                assert!(document.parent().unwrap().join(target).exists(), "{}: {target}", document.display());
            }
        }
    }
}

#[test]
fn every_kind_of_entry_has_a_golden_one() {
    let folder = root().join("fixtures/entries");
    for kind in record::Event::KINDS {
        let file = folder.join(format!("{}.txt", kind.replace('/', "-")));
        let text = fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        assert!(text.contains(&format!("\"kind\":\"{kind}\"")), "{}", file.display());
    }
    for file in fs::read_dir(&folder).unwrap() {
        let name = file.unwrap().file_name().into_string().unwrap();
        let of_kind = |kind: &&str| {
            // `KIND.txt`, and `KIND.KEY.txt` with a key that the kind was given later.
            let rest = name.strip_prefix(&kind.replace('/', "-")).and_then(|rest| rest.strip_suffix(".txt"));
            rest.is_some_and(|rest| {
                rest.is_empty() || rest.strip_prefix('.').is_some_and(|key| !key.contains('.'))
            })
        };
        assert!(record::Event::KINDS.iter().any(of_kind), "{name}: a golden entry of a kind that is not");
    }
}

/// No path of somebody's machine, and no name of what was not made here. The words are written in two halves, so that this
/// file may be searched too.
#[test]
fn nothing_points_at_a_machine_or_outside() {
    let forbidden: Vec<String> = [
        ("/wor", "k/"),
        ("/tm", "p/"),
        ("/hom", "e/"),
        ("/roo", "t/"),
        ("/User", "s/"),
        ("crates", ".io"),
        ("pypi", ".org"),
        ("docs", ".rs/"),
        ("Clau", "de"),
        ("AI as", "sistant"),
        ("Chat", "GPT"),
        ("language ", "model"),
    ]
    .iter()
    .map(|(a, b)| format!("{a}{b}"))
    .collect();
    let mut files = documents();
    let source = ["rs", "sql", "py", "toml", "csv", "txt", "snap", "yml", "yaml"];
    for folder in ["crates", "migrations", "fixtures", "docs", "tests"] {
        below(&root().join(folder), &mut |file| {
            if file.extension().is_some_and(|e| source.iter().any(|s| e == *s)) {
                files.push(file.to_owned());
            }
        });
    }
    let mut found = Vec::new();
    for file in files {
        let Ok(text) = fs::read_to_string(&file) else { continue };
        for (n, line) in text.lines().enumerate() {
            for word in &forbidden {
                if line.contains(word.as_str()) {
                    found.push(format!("{}:{}: {word}", file.strip_prefix(root()).unwrap().display(), n + 1));
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}
