//! Codes as the source has them, against those of the gallery: an error that nobody has shown is a gap.

use super::gallery::Shown;
use crate::venv;
use anyhow::{Context as _, Result};
use regex::Regex;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Where refusals and failures are made.
const CRATES: [&str; 3] = ["crates/record/src", "crates/ledger/src", "crates/cli/src"];

/// What the gallery lacks, and what it shows that the source has no more.
pub(crate) fn complaints(shown: &[Shown]) -> Result<Vec<String>> {
    let mut source = Source::default();
    for folder in CRATES {
        source.read_below(&venv::root().join(folder))?;
    }
    Ok(source.complaints(&shown.iter().map(|s| s.code.as_str()).collect()))
}

#[derive(Debug, Default)]
struct Source {
    /// Each code with the file that it was first seen in.
    codes: BTreeMap<String, String>,
    /// Places where a code is not written out.
    hidden: Vec<String>,
}

impl Source {
    fn read_below(&mut self, folder: &Path) -> Result<()> {
        for entry in fs::read_dir(folder).with_context(|| format!("reading {}", folder.display()))? {
            let path = entry?.path();
            if path.is_dir() {
                self.read_below(&path)?;
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(venv::root()).unwrap_or(&path).display().to_string();
                self.read(&name, &fs::read_to_string(&path)?)?;
            }
        }
        Ok(())
    }

    fn read(&mut self, file: &str, text: &str) -> Result<()> {
        // Tests may name codes that nothing prints.
        let text = text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
        let made = Regex::new(r#"\bRefusal::(?:absolute|overridable)\(\s*(?:"([a-z0-9-]+)")?"#)?;
        for found in made.captures_iter(text) {
            match found.get(1) {
                Some(code) => {
                    self.codes.entry(code.as_str().to_owned()).or_insert_with(|| file.to_owned());
                }
                None => self.hidden.push(format!("{file}: a refusal whose code is not written out there")),
            }
        }
        let named = Regex::new(r#"(?:\bfailure\(\s*|\bcode\s*=\s*|\bcode:\s*)"([a-z0-9-]+)""#)?;
        for code in named.captures_iter(text).filter_map(|found| found.get(1)) {
            self.codes.entry(code.as_str().to_owned()).or_insert_with(|| file.to_owned());
        }
        Ok(())
    }

    fn complaints(&self, shown: &BTreeSet<&str>) -> Vec<String> {
        let missing =
            self.codes.iter().filter(|(code, _)| !shown.contains(code.as_str())).map(|(code, file)| {
                format!(
                    "{code} ({file}) is not shown: add a scenario to crates/xtask/src/reference/scenarios.rs"
                )
            });
        let gone = shown
            .iter()
            .filter(|code| !self.codes.contains_key(**code))
            .map(|code| format!("{code} is shown, and no source has it"));
        self.hidden.iter().cloned().chain(missing).chain(gone).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_found_however_they_are_made() {
        let mut source = Source::default();
        let text = "Refusal::absolute(\"one\", m, w); Refusal::overridable(\n  \"two\",\n m, w); failure(\"three\", 1);
            failure.code = \"four\".into(); Failure { code: \"five\".into() } if refused.code == \"six\" {}
            #[cfg(test)]\nmod tests { Refusal::absolute(\"seven\", m, w) }";
        source.read("a.rs", text).unwrap();
        let codes: Vec<&str> = source.codes.keys().map(String::as_str).collect();
        assert_eq!(codes, ["five", "four", "one", "three", "two"]);
        assert_eq!(source.hidden, Vec::<String>::new());
        source.read("b.rs", "Refusal::overridable(CODE, m, w)").unwrap();
        assert_eq!(source.hidden, ["b.rs: a refusal whose code is not written out there"]);
    }

    #[test]
    fn a_gap_and_a_leftover_are_complained_of() {
        let mut source = Source::default();
        source.read("a.rs", "Refusal::absolute(\"one\", m, w); Refusal::absolute(\"two\", m, w)").unwrap();
        assert_eq!(source.complaints(&BTreeSet::from(["one", "two"])), Vec::<String>::new());
        let complaints = source.complaints(&BTreeSet::from(["two", "three"]));
        assert_eq!(complaints.len(), 2, "{complaints:?}");
        assert!(complaints[0].starts_with("one (a.rs) is not shown"), "{complaints:?}");
        assert_eq!(complaints[1], "three is shown, and no source has it");
    }

    #[test]
    fn the_source_has_many() {
        let mut source = Source::default();
        for folder in CRATES {
            source.read_below(&venv::root().join(folder)).unwrap();
        }
        assert!(source.codes.len() >= 35, "{:?}", source.codes);
        for code in ["slip-closed", "file-imported-before", "too-new", "disk-full", "command-line", "failed"]
        {
            assert!(source.codes.contains_key(code), "{code}");
        }
    }
}
