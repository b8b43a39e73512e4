//! `events.md`: every kind of event, from the comments beside its definition and the golden entry of the kind.

use super::title;
use crate::venv;
use anyhow::{Context as _, Result, bail};
use record::Event;
use serde_json::Value;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;

/// Where events are listed; bodies are defined there, or in the folder of the same name.
const SOURCE: &str = "crates/record/src/event.rs";

pub(crate) fn page() -> Result<String> {
    let source = source()?;
    let kinds = kinds(&source);
    let mut page = title("Events");
    page.push_str(
        "Everything that can be in the record, in the words of its definition, with a sample of the body. What stands around\n\
         a body, and how it is hashed, is in [format.md](../format.md). A field that may be empty says what was stated: a\n\
         value, or that it was not asked, not applicable, unknown or illegible.\n",
    );
    for kind in Event::KINDS {
        let found = kinds.iter().find(|k| k.kind == *kind);
        let found = found.with_context(|| format!("{kind} is not in the list of {SOURCE}"))?;
        if found.about.is_empty() {
            bail!("{kind} has no comment in {SOURCE}");
        }
        let body = body(kind)?;
        let fields = fields(&source, &found.body);
        let _ = write!(page, "\n## `{kind}`\n\n{}\n\n", found.about);
        same_fields(kind, &fields, &body)?;
        page.push_str("| field | meaning |\n|---|---|\n");
        for (name, about) in &fields {
            let _ = writeln!(page, "| `{name}` | {} |", about.replace('|', "\\|"));
        }
        let _ = write!(page, "\n```json\n{}\n```\n", serde_json::to_string_pretty(&body)?);
    }
    Ok(page)
}

/// The list and all definitions.
fn source() -> Result<String> {
    let list = venv::root().join(SOURCE);
    let mut source = fs::read_to_string(&list).with_context(|| format!("reading {SOURCE}"))?;
    let folder = list.with_extension("");
    if folder.is_dir() {
        let files = fs::read_dir(folder)?.map(|entry| Ok(entry?.path())).collect::<Result<BTreeSet<_>>>()?;
        for file in files {
            source.push('\n');
            source.push_str(&fs::read_to_string(file)?);
        }
    }
    Ok(source)
}

/// The body of the kind's golden entry, with the keys that the kind was given later: `KIND.KEY.txt` is an entry with them.
fn body(kind: &str) -> Result<Value> {
    let name = kind.replace('/', "-");
    let mut body = body_in(kind, &format!("{name}.txt"))?;
    let folder = venv::root().join("fixtures/entries");
    let mut files: Vec<String> = fs::read_dir(&folder)?
        .map(|file| Ok(file?.file_name().to_string_lossy().into_owned()))
        .collect::<Result<_>>()?;
    files.sort();
    for file in files {
        let later = file.strip_prefix(&format!("{name}.")).and_then(|rest| rest.strip_suffix(".txt"));
        if later.is_none_or(|key| key.contains('.')) {
            continue;
        }
        if let (Value::Object(body), Value::Object(with_later)) = (&mut body, body_in(kind, &file)?) {
            for (key, value) in with_later {
                body.entry(key).or_insert(value);
            }
        }
    }
    Ok(body)
}

fn body_in(kind: &str, file: &str) -> Result<Value> {
    let file = format!("fixtures/entries/{file}");
    let text = fs::read_to_string(venv::root().join(&file)).with_context(|| format!("reading {file}"))?;
    let line = text.lines().next().unwrap_or_default();
    let entry: Value = serde_json::from_str(line).with_context(|| format!("the first line of {file}"))?;
    if entry.get("kind").and_then(Value::as_str) != Some(kind) {
        bail!("{file} is of another kind");
    }
    entry.get("body").cloned().with_context(|| format!("{file} has no body"))
}

#[derive(Debug, PartialEq, Eq)]
struct Kind {
    kind: String,
    /// Name of the body's type.
    body: String,
    about: String,
}

/// The list of kinds: comments, then `"kind" => Body,`.
fn kinds(source: &str) -> Vec<Kind> {
    let list = source.split("\nevents! {\n").nth(1).and_then(|s| s.split("\n}\n").next()).unwrap_or_default();
    let mut kinds = Vec::new();
    let mut about = Vec::new();
    for line in list.lines().map(str::trim) {
        if let Some(comment) = line.strip_prefix("///") {
            about.push(comment.trim());
        } else if let Some((kind, body)) = line.split_once(" => ") {
            kinds.push(Kind {
                kind: kind.trim_matches('"').to_owned(),
                body: body.trim_end_matches(',').to_owned(),
                about: about.join(" "),
            });
            about.clear();
        }
    }
    kinds
}

/// The public fields of a body's type, with their comments.
fn fields(source: &str, body: &str) -> Vec<(String, String)> {
    let head = format!("\npub struct {body} {{\n");
    let inside = source.split(&head).nth(1).and_then(|s| s.split("\n}\n").next()).unwrap_or_default();
    let mut fields = Vec::new();
    let mut about = Vec::new();
    for line in inside.lines().map(str::trim) {
        if let Some(comment) = line.strip_prefix("///") {
            about.push(comment.trim());
        } else if let Some((name, _)) = line.strip_prefix("pub ").and_then(|l| l.split_once(": ")) {
            fields.push((name.to_owned(), about.join(" ")));
            about.clear();
        }
    }
    fields
}

/// The definition and the golden entry must name the same fields, or one of them was read wrongly.
fn same_fields(kind: &str, fields: &[(String, String)], body: &Value) -> Result<()> {
    let defined: BTreeSet<&str> = fields.iter().map(|(name, _)| name.as_str()).collect();
    let golden: BTreeSet<&str> =
        body.as_object().map(|o| o.keys().map(String::as_str).collect()).unwrap_or_default();
    if defined != golden || defined.is_empty() {
        bail!("{kind}: {SOURCE} has the fields {defined:?}, the golden entry {golden:?}");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_read_from_its_definition() {
        let source = source().unwrap();
        let names: Vec<String> = kinds(&source).into_iter().map(|k| k.kind).collect();
        assert_eq!(names, Event::KINDS);
        let issued = fields(&source, "RodIssued");
        assert!(issued.contains(&("holder".to_owned(), "Who it was handed to.".to_owned())), "{issued:?}");
    }

    #[test]
    fn fields_that_differ_are_not_passed_over() {
        let fields = [("at".to_owned(), String::new())];
        assert!(same_fields("x", &fields, &serde_json::json!({"at": 1})).is_ok());
        assert!(same_fields("x", &fields, &serde_json::json!({"at": 1, "by": 2})).is_err());
        assert!(same_fields("x", &[], &serde_json::json!({})).is_err());
    }
}
