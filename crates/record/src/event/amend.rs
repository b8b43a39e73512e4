//! What is said about other entries: corrections, voids, dispositions, notes.

use super::{Event, LotRef, PersonRef};
use crate::finding::FindingId;
use crate::id::{EntryId, JointId, LotId, PersonId, SlipId};
use crate::stated::Stated;
use crate::time::When;
use serde::{Deserialize, Serialize};

/// One value that a correction changes, as people read it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Name of the field, as the import files name it.
    pub field: String,
    /// The struck value.
    pub from: String,
    /// The value in its place.
    pub to: String,
}

/// What an entry says after its correction: a kind and its whole body, as an entry of its own would have them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replacement {
    /// The body.
    pub body: serde_json::Value,
    /// The kind; that of the entry corrected.
    pub kind: String,
}

/// See [`super::Event::EntryCorrected`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryCorrected {
    /// What changes, for people; the replacement is what holds.
    pub changes: Vec<Change>,
    /// The entry that said something wrong.
    pub corrects: EntryId,
    /// What holds in its place.
    pub replacement: Replacement,
    /// Why.
    pub why: String,
}

impl EntryCorrected {
    /// The event that holds in place of the one corrected. A correction replaces what was said; it cannot stand for
    /// another correction or for a void, whose meaning is the entry that they name.
    pub fn event(&self) -> Event {
        let event = Event::from_parts(&self.replacement.kind, &self.replacement.body);
        if matches!(event, Event::EntryCorrected(_) | Event::EntryVoided(_)) {
            return Event::NotUnderstood(super::NotUnderstood {
                kind: self.replacement.kind.clone(),
                body: self.replacement.body.clone(),
            });
        }
        event
    }
}

/// See [`super::Event::EntryVoided`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryVoided {
    /// The entry that never was.
    pub voids: EntryId,
    /// Why.
    pub why: String,
}

/// How a finding ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Disposition {
    /// What it was is proved; the reason says by what.
    Proved,
    /// It stays as it is, by the decision of whoever may decide that.
    Accepted,
    /// The weld was cut out.
    CutOut,
    /// The metal was marked anew, with proof of what it is.
    ReMarked,
    /// The metal is out for good.
    Scrapped,
    /// There was nothing to find: the record or the look at it was wrong.
    Mistaken,
}

impl Disposition {
    /// All of them.
    pub const ALL: [Disposition; 6] = [
        Disposition::Proved,
        Disposition::Accepted,
        Disposition::CutOut,
        Disposition::ReMarked,
        Disposition::Scrapped,
        Disposition::Mistaken,
    ];

    /// The word in every output; stable.
    pub fn word(self) -> &'static str {
        match self {
            Disposition::Proved => "proved",
            Disposition::Accepted => "accepted",
            Disposition::CutOut => "cut-out",
            Disposition::ReMarked => "re-marked",
            Disposition::Scrapped => "scrapped",
            Disposition::Mistaken => "mistaken",
        }
    }
}

/// See [`super::Event::FindingDisposed`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindingDisposed {
    /// When.
    pub at: When,
    /// Who decided.
    pub by: PersonRef,
    /// Classification that the metal was marked with, where it was re-marked and only the class is proved.
    pub classification: Stated<String>,
    /// Code of the finding.
    pub code: String,
    /// How it ended.
    pub disposition: Disposition,
    /// The entries that make the finding, sorted.
    pub entries: Vec<EntryId>,
    /// The finding.
    pub finding: FindingId,
    /// Lot that the metal was marked with, where it was re-marked and custody proves the lot.
    pub lot: Stated<LotRef>,
    /// What the finding said when it was disposed of.
    pub said: String,
    /// Why.
    pub why: String,
}

/// What a note is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// An entry.
    Entry(EntryId),
    /// A joint.
    Joint(JointId),
    /// A lot.
    Lot(LotId),
    /// A person.
    Person(PersonId),
    /// A slip.
    Slip(SlipId),
}

/// See [`super::Event::NoteWritten`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteWritten {
    /// What it is about.
    pub about: Subject,
    /// When.
    pub at: When,
    /// What it is called, as typed.
    pub label: String,
    /// What was written.
    pub text: String,
}
