//! What people wrote down about a thing, and about the entries that make it up.

use super::corrections::Struck;
use super::reading::Reading;
use crate::error::Result;
use crate::log::{Place, entry_at};
use record::event::{Event, Subject};
use record::id::{JointId, LotId, PersonId, SlipId};
use record::{EntryId, Instant, When};

/// One note.
#[derive(Clone, Debug)]
pub struct Note {
    /// The entry.
    pub entry: EntryId,
    /// What it is about.
    pub about: Subject,
    /// What that was called, as typed.
    pub label: String,
    /// When, as claimed.
    pub at: When,
    /// Badge of who wrote it.
    pub by: String,
    /// When the station says that it was written.
    pub recorded: Instant,
    /// What was written.
    pub text: String,
    /// What strikes it, if something does: it is shown all the same.
    pub struck: Option<Struck>,
}

/// Entries that describe a joint, or that are about it alone or with others.
const OF_JOINT: &str = "SELECT place FROM fact_joint WHERE joint = ?1
    UNION SELECT place FROM fact_weld_joint WHERE joint = ?1
    UNION SELECT place FROM fact_spot_check WHERE joint = ?1
    UNION SELECT place FROM fact_unmarked_joint WHERE joint = ?1";
const OF_LOT: &str = "SELECT place FROM fact_lot WHERE lot = ?1
    UNION SELECT place FROM fact_lot_status WHERE lot = ?1
    UNION SELECT place FROM fact_scrap WHERE lot = ?1";
const OF_SLIP: &str = "SELECT place FROM fact_slip WHERE slip = ?1
    UNION SELECT place FROM fact_out WHERE slip = ?1
    UNION SELECT place FROM fact_reprint WHERE slip = ?1";
const OF_PERSON: &str = "SELECT place FROM fact_person WHERE person = ?1
    UNION SELECT place FROM fact_qualification WHERE welder = ?1
    UNION SELECT place FROM fact_clear WHERE welder = ?1";

impl Reading<'_> {
    /// Notes about a joint, and about its declarations, weld records and spot checks.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn notes_of_joint(&self, joint: JointId) -> Result<Vec<Note>> {
        self.notes_of(joint.bytes(), OF_JOINT)
    }

    /// Notes about a lot, and about its receipts, its statuses and what was scrapped of it in the crib.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn notes_of_lot(&self, lot: LotId) -> Result<Vec<Note>> {
        self.notes_of(lot.bytes(), OF_LOT)
    }

    /// Notes about a slip, and about its issue and what left it.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn notes_of_slip(&self, slip: SlipId) -> Result<Vec<Note>> {
        self.notes_of(slip.bytes(), OF_SLIP)
    }

    /// Notes about a person, and about their enrolment, qualifications and declarations.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn notes_of_person(&self, person: PersonId) -> Result<Vec<Note>> {
        self.notes_of(person.bytes(), OF_PERSON)
    }

    /// Notes about a thing, or about one of the entries that `entries` names; struck ones too, in the order of the record.
    fn notes_of(&self, thing: [u8; 16], entries: &str) -> Result<Vec<Note>> {
        let any: bool =
            self.conn().query_row("SELECT EXISTS (SELECT 1 FROM fact_note)", [], |row| row.get(0))?;
        if !any {
            return Ok(Vec::new());
        }
        let sql = format!(
            "SELECT place FROM fact_note WHERE thing = ?1
             UNION SELECT n.place FROM fact_note n JOIN entry e ON e.id = n.thing WHERE e.place IN ({entries})"
        );
        let places = self.places(&sql, [thing])?;
        // A note and its correction have one place in the order; the older of the two is read first.
        self.ordered(places)?.into_iter().filter_map(|(_, place)| self.note(place).transpose()).collect()
    }

    fn note(&self, place: Place) -> Result<Option<Note>> {
        let entry = entry_at(self.conn(), place)?;
        let Event::NoteWritten(note) = entry.event.effect() else {
            return Ok(None);
        };
        Ok(Some(Note {
            entry: self.id(place)?,
            about: note.about,
            label: note.label,
            at: note.at,
            by: entry.header.by,
            recorded: entry.header.time,
            text: note.text,
            struck: self.struck(&[place])?.pop(),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tell::declare::JointRequest;
    use crate::tell::init::Opening;
    use crate::tell::note::{About, NoteRequest};
    use crate::{Acting, Ledger};
    use record::event::{EntryCorrected, EntryVoided, Replacement};
    use record::person::Role;
    use record::{Event, Zone};

    #[test]
    fn a_note_that_was_voided_or_corrected_stays_struck() {
        let dir = tempfile::tempdir().unwrap();
        let (book, home) = (dir.path().join("shop.rodbook"), dir.path().join("home"));
        let acting =
            Acting { badge: "I-1".into(), now: Instant(1_780_272_000), dry_run: false, overriding: None };
        let opening = Opening {
            station: "crib".into(),
            shop: "Shop".into(),
            zone: Zone::named("UTC").unwrap(),
            shifts: Vec::new(),
            name: None,
            roles: vec![Role::Inspector],
        };
        Ledger::init(&book, &home, &acting, &opening).unwrap();
        let mut ledger = Ledger::open_for_writing(&book, &home).unwrap();
        let request = JointRequest { number: "J-1".into(), ..JointRequest::default() };
        let joint = ledger.declare_joint(&acting, &request).unwrap().value.joint;
        let note = |ledger: &mut Ledger, text: &str| {
            let request =
                NoteRequest { about: About::Joint, name: "J-1".into(), text: text.into(), at: None };
            ledger.note(&acting, &request).unwrap().entries[0].id
        };
        let (first, second) = (note(&mut ledger, "first"), note(&mut ledger, "secnd"));
        note(&mut ledger, "third");
        let shown = |ledger: &Ledger| -> Vec<(String, Option<bool>)> {
            let notes = ledger.ask(|reading| reading.notes_of_joint(joint)).unwrap();
            notes.into_iter().map(|n| (n.text, n.struck.map(|s| s.void))).collect()
        };
        let write = |ledger: &mut Ledger, event: Event| {
            ledger.write(&acting, |writing| writing.append(&event)).unwrap().value.id
        };
        let void = write(
            &mut ledger,
            Event::EntryVoided(EntryVoided { voids: first, why: "of another joint".into() }),
        );
        let event = Event::NoteWritten(record::event::NoteWritten {
            about: Subject::Joint(joint),
            at: When::now(acting.now),
            label: "J-1".into(),
            text: "second".into(),
        });
        write(
            &mut ledger,
            Event::EntryCorrected(EntryCorrected {
                changes: Vec::new(),
                corrects: second,
                replacement: Replacement { body: event.body().unwrap(), kind: event.kind().into() },
                why: "spelling".into(),
            }),
        );
        let said = |text: &str, struck| (text.to_owned(), struck);
        assert_eq!(
            shown(&ledger),
            [
                said("first", Some(true)),
                said("secnd", Some(false)),
                said("second", None),
                said("third", None)
            ]
        );
        // A void that is voided itself strikes nothing.
        write(&mut ledger, Event::EntryVoided(EntryVoided { voids: void, why: "it was of this one".into() }));
        assert_eq!(shown(&ledger)[0], said("first", None));
    }
}
