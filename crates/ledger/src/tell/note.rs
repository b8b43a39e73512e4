//! Something written down about a thing. The record keeps it for ever.

use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::log::Place;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, NoteWritten, Subject};
use record::{EntryId, When, rules, short_id};

/// What a note is about, by what people call it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// An entry, by its id, the beginning of it, or its short id.
    Entry,
    /// A joint, by its number.
    Joint,
    /// A lot, by a label of it.
    Lot,
    /// A slip, by its number.
    Slip,
    /// A person, by their badge.
    Welder,
}

/// A note as typed.
#[derive(Clone, Debug)]
pub struct NoteRequest {
    /// What kind of thing.
    pub about: About,
    /// What it is called.
    pub name: String,
    /// What is to be written down.
    pub text: String,
    /// When.
    pub at: Option<When>,
}

impl Ledger {
    /// Writes a note. Returns what the book now says.
    ///
    /// # Errors
    /// When the thing is not known, the text is not understood, or the time is in the future.
    pub fn note(&mut self, acting: &Acting, request: &NoteRequest) -> Result<Done<NoteWritten>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        let text = tell::remark("the note", &request.text)?;
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let name = request.name.trim();
            let (about, label) = match request.about {
                About::Entry => {
                    let (_, id) = entry_named(&reading, name)?;
                    (Subject::Entry(id), short_id::short(&id.0))
                }
                About::Joint => {
                    let joint = tell::joint_ref(&reading, name)?;
                    (Subject::Joint(joint.joint), joint.number)
                }
                About::Lot => (Subject::Lot(lot::one(&reading, name)?.id), name.to_owned()),
                About::Slip => {
                    let slip = tell::slip_ref(&reading, name)?;
                    (Subject::Slip(slip.slip), slip.number)
                }
                About::Welder => {
                    let person = tell::person_ref(&reading, name)?;
                    (Subject::Person(person.person), person.badge)
                }
            };
            rules::not_in_future("the note", &at, acting.now, reading.zone())?;
            let note = NoteWritten { about, at, label, text };
            writing.append(&Event::NoteWritten(note.clone()))?;
            Ok(note)
        })
    }
}

/// Fewest characters by which an entry is named.
const SHORTEST: usize = 8;

/// The entry of an id: whole, its first figures (at least eight), or the short form that is printed.
fn entry_named(reading: &Reading<'_>, typed: &str) -> Result<(Place, EntryId)> {
    let not_found = || Error::NotFound { what: "entry", label: typed.to_owned(), near: Vec::new() };
    let hex = typed.to_ascii_lowercase();
    let begins = if let Some(bits) = short_id::parse(typed) {
        // Sixteen figures may be either.
        let mut begins = vec![hex::encode(bits)];
        if is_hex(&hex) {
            begins.push(hex);
        }
        begins
    } else if is_hex(&hex) && (SHORTEST..=64).contains(&hex.len()) {
        vec![hex]
    } else {
        return Err(Error::NotUnderstood {
            message: format!("{typed:?} is no id of an entry"),
            next: "copy it from a slip, a receipt or an answer: XXXX-XXXX-XXXX-XXXX, or at least 8 figures of the long id"
                .into(),
        });
    };
    let mut found = Vec::new();
    for begin in &begins {
        let (from, to) = (format!("{begin:0<64}"), format!("{begin:f<64}"));
        let (Ok(from), Ok(to)) = (hex::decode(from), hex::decode(to)) else {
            return Err(not_found());
        };
        let mut statement = reading.conn().prepare_cached(
            "SELECT place, id FROM entry WHERE id BETWEEN ?1 AND ?2 ORDER BY place LIMIT 6",
        )?;
        let rows = statement
            .query_map([from, to], |row| Ok((Place(row.get(0)?), EntryId(row.get(1)?))))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        found.extend(rows);
    }
    found.sort_by_key(|(place, _)| *place);
    found.dedup();
    match found.as_slice() {
        [] => Err(not_found()),
        [one] => Ok(*one),
        several => Err(Error::Ambiguous {
            what: "entry",
            label: typed.to_owned(),
            meanings: several
                .iter()
                .map(|(place, id)| Ok((id.to_string(), reading.event(*place)?.kind().to_owned())))
                .collect::<Result<_>>()?,
        }),
    }
}

fn is_hex(text: &str) -> bool {
    text.bytes().all(|b| b.is_ascii_hexdigit())
}
