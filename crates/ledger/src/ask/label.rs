//! What a label means: exactly one thing, or the caller is asked.

use super::reading::Reading;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use record::number::{look_alike_key, search_key};
use rusqlite::params;

/// How many near matches are listed.
const NEAR: usize = 6;
/// How many labels are compared one by one when nothing nearer is found.
const COMPARED: usize = 200_000;

/// Identities that carry exactly this label, each once: by an entry that stands, or else by one that was struck, so
/// that a number that was corrected still finds the thing where nothing else carries it.
pub(crate) fn things(reading: &Reading<'_>, kind: LabelKind, label: &str) -> Result<Vec<[u8; 16]>> {
    let corrections = reading.corrections();
    let mut statement = reading.conn().prepare_cached(
        "SELECT thing, place FROM fact_label WHERE kind = ?1 AND key = ?2 AND label = ?3 ORDER BY thing",
    )?;
    let rows = statement
        .query_map(params![kind.word(), search_key(label), label], |row| {
            Ok((row.get(0)?, Place(row.get(1)?)))
        })?
        .collect::<rusqlite::Result<Vec<([u8; 16], Place)>>>()?;
    let any_stands = rows.iter().any(|(_, place)| corrections.stands(*place));
    let mut things: Vec<[u8; 16]> = rows
        .into_iter()
        .filter(|(_, place)| !any_stands || corrections.stands(*place))
        .map(|(thing, _)| thing)
        .collect();
    things.dedup();
    Ok(things)
}

/// Labels that are nearly this one: the same without blanks and dashes, the same to the eye, or one or two
/// characters away; nearest first.
pub(crate) fn near(reading: &Reading<'_>, kind: LabelKind, label: &str) -> Result<Vec<String>> {
    let key = search_key(label);
    let look = look_alike_key(&key);
    let mut found: Vec<(usize, String)> = Vec::new();
    let mut statement = reading
        .conn()
        .prepare_cached("SELECT DISTINCT key, label FROM fact_label WHERE kind = ?1 LIMIT ?2")?;
    let mut rows = statement.query(params![kind.word(), COMPARED as i64])?;
    while let Some(row) = rows.next()? {
        let (other, other_label): (String, String) = (row.get(0)?, row.get(1)?);
        if other_label == label {
            continue;
        }
        let distance = if other == key {
            0
        } else if other.len().abs_diff(key.len()) <= 2 {
            if look_alike_key(&other) == look {
                1
            } else {
                let edits = strsim::damerau_levenshtein(&other, &key);
                // Two wrong characters in a number of three leave nothing in common.
                if edits > 2 || edits * 2 > key.chars().count() {
                    continue;
                }
                1 + edits
            }
        } else {
            continue;
        };
        found.push((distance, other_label));
    }
    found.sort();
    found.dedup_by(|a, b| a.1 == b.1);
    Ok(found.into_iter().take(NEAR).map(|(_, label)| label).collect())
}

/// The one thing a label means, or [`Error::NotFound`] with near matches. Labels of which several things may carry
/// the same are resolved by their own modules.
pub(crate) fn one(
    reading: &Reading<'_>,
    kind: LabelKind,
    what: &'static str,
    label: &str,
) -> Result<[u8; 16]> {
    // Scanners add blanks.
    let label = label.trim();
    match things(reading, kind, label)?.as_slice() {
        [] => Err(Error::NotFound { what, label: label.to_owned(), near: near(reading, kind, label)? }),
        [one] => Ok(*one),
        several => Err(Error::Ambiguous {
            what,
            label: label.to_owned(),
            meanings: several
                .iter()
                .map(|thing| {
                    (uuid::Uuid::from_bytes(*thing).to_string(), format!("one of the {what}s of that number"))
                })
                .collect(),
        }),
    }
}

/// The one thing that a label or an identity means; `exists` is a query for the identity.
pub(crate) fn one_or_identity(
    reading: &Reading<'_>,
    kind: LabelKind,
    what: &'static str,
    label: &str,
    exists: &str,
) -> Result<[u8; 16]> {
    if let Some(id) = as_identity(label) {
        let known: bool = reading.conn().prepare_cached(exists)?.query_row([id], |row| row.get(0))?;
        return if known {
            Ok(id)
        } else {
            Err(Error::NotFound { what, label: label.to_owned(), near: Vec::new() })
        };
    }
    one(reading, kind, what, label)
}

/// A label that is an identity itself, as listings of ambiguous labels print it.
pub(crate) fn as_identity(label: &str) -> Option<[u8; 16]> {
    let id = uuid::Uuid::try_parse(label).ok()?;
    (id.hyphenated().to_string() == label).then(|| id.into_bytes())
}
