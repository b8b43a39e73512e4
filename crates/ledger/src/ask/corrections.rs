//! Which entries stand, and which are struck by a later one.
//!
//! A correction says an entry anew: it strikes the entry that it names, and its replacement holds in that entry's
//! place, also in the order of the record. A void says that an entry never was. A void that is voided itself strikes
//! nothing; neither does a correction that is voided, so what it had replaced stands again. A correction that was
//! corrected in its turn still strikes what it named: the newest of such a chain is what holds. All of this depends on
//! the set of entries alone, not on the order in which they arrived.

use super::reading::Reading;
use crate::error::{Error, Result};
use crate::log::{self, Place, entry_at};
use record::event::{Change, Event};
use record::{EntryId, Instant};
use rusqlite::Connection;
use std::collections::{HashMap, HashSet};
use trace::Order;

/// The strikes of a book.
#[derive(Debug, Default)]
pub(crate) struct Corrections {
    /// From an entry to the corrections that stand in its place.
    replaced: HashMap<Place, Vec<Place>>,
    /// From an entry to the void that says it never was.
    voided: HashMap<Place, Place>,
    /// From every correction to what it names.
    corrects: HashMap<Place, Place>,
}

impl Corrections {
    /// Reads them. `order` is that of the record, by clock.
    pub(crate) fn read(conn: &Connection, order: impl Fn(Place) -> Result<Order>) -> Result<Self> {
        // An entry that is named and not here, of a station not yet heard of, strikes nothing.
        let mut statement = conn.prepare_cached(
            "SELECT c.place, e.place, c.void FROM fact_correction c JOIN entry e ON e.id = c.target",
        )?;
        let rows = statement
            .query_map([], |row| Ok((Place(row.get(0)?), Place(row.get(1)?), row.get::<_, bool>(2)?)))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        let mut strikes = rows
            .into_iter()
            .map(|(place, target, void)| Ok((order(place)?, place, target, void)))
            .collect::<Result<Vec<_>>>()?;
        // Whatever names an entry is later in the record than it: from the last one back, each void is decided before
        // what it strikes.
        strikes.sort_unstable_by_key(|(order, ..)| std::cmp::Reverse(*order));
        let mut this = Self::default();
        for (_, place, target, void) in &strikes {
            if !void {
                this.corrects.insert(*place, *target);
            } else if !this.voided.contains_key(place) {
                this.voided.insert(*target, *place);
            }
        }
        for (_, place, target, void) in strikes.iter().rev() {
            if !void && !this.voided.contains_key(place) {
                this.replaced.entry(*target).or_default().push(*place);
            }
        }
        Ok(this)
    }

    /// Whether there are none.
    pub(crate) fn is_empty(&self) -> bool {
        self.voided.is_empty() && self.corrects.is_empty()
    }

    /// How many entries are struck.
    pub(crate) fn count(&self) -> usize {
        let replaced = self.replaced.keys().filter(|place| !self.voided.contains_key(place)).count();
        replaced + self.voided.len()
    }

    /// Every entry that is struck, in no order.
    pub(crate) fn struck_places(&self) -> impl Iterator<Item = Place> {
        self.replaced.keys().chain(self.voided.keys()).copied()
    }

    /// Whether an entry stands: nothing that stands corrects it or says that it never was.
    pub(crate) fn stands(&self, place: Place) -> bool {
        !self.replaced.contains_key(&place) && !self.voided.contains_key(&place)
    }

    /// Those of the places whose entries stand; all of them where none does, with `false`: the thing is void, and what
    /// was said of it is still there to be read.
    pub(crate) fn standing(&self, places: Vec<Place>) -> (Vec<Place>, bool) {
        if self.is_empty() || places.iter().all(|p| self.stands(*p)) {
            return (places, true);
        }
        let standing: Vec<Place> = places.iter().copied().filter(|p| self.stands(*p)).collect();
        if standing.is_empty() { (places, false) } else { (standing, true) }
    }

    /// The first entry of the chain of corrections that an entry is in; itself if it corrects nothing.
    pub(crate) fn origin(&self, place: Place) -> Place {
        let mut seen = HashSet::new();
        let mut at = place;
        while let Some(before) = self.corrects.get(&at) {
            if !seen.insert(at) {
                break;
            }
            at = *before;
        }
        at
    }

    /// The entries that stand at the end of the chain of corrections of an entry: itself, its corrections, or none.
    pub(crate) fn newest(&self, place: Place) -> Vec<Place> {
        let mut ends = Vec::new();
        let mut open = vec![place];
        let mut seen = HashSet::new();
        while let Some(at) = open.pop() {
            if !seen.insert(at) || self.voided.contains_key(&at) {
                continue;
            }
            match self.replaced.get(&at) {
                Some(next) => open.extend(next),
                None => ends.push(at),
            }
        }
        ends.sort_unstable();
        ends
    }

    /// What a correction corrects; none for any other entry.
    pub(crate) fn corrects(&self, place: Place) -> Option<Place> {
        self.corrects.get(&place).copied()
    }

    /// The void that strikes an entry, if one does.
    pub(crate) fn voided_by(&self, place: Place) -> Option<Place> {
        self.voided.get(&place).copied()
    }

    /// The corrections that strike an entry.
    pub(crate) fn replaced_by(&self, place: Place) -> &[Place] {
        self.replaced.get(&place).map_or(&[], Vec::as_slice)
    }

    /// What strikes an entry, if something does: the void, else the first correction.
    pub(crate) fn struck_by(&self, place: Place) -> Option<Place> {
        self.voided.get(&place).copied().or_else(|| self.replaced.get(&place)?.first().copied())
    }
}

/// An entry that was struck, and by what.
#[derive(Clone, Debug)]
pub struct Struck {
    /// The entry that no longer holds.
    pub entry: EntryId,
    /// What it said.
    pub event: Event,
    /// The entry that strikes it.
    pub by_entry: EntryId,
    /// Badge of who struck it.
    pub by: String,
    /// When the station says that it was struck.
    pub when: Instant,
    /// Why.
    pub why: String,
    /// What was changed; empty where it was voided.
    pub changes: Vec<Change>,
    /// Whether it never was; else it was said anew.
    pub void: bool,
}

impl Reading<'_> {
    /// Those of the places that are struck, with what strikes them, in the order of the record.
    pub(crate) fn struck(&self, places: &[Place]) -> Result<Vec<Struck>> {
        let mut struck = Vec::new();
        for place in places {
            if let Some(by) = self.corrections().struck_by(*place) {
                struck.push((log::id_and_clock(self.conn(), by)?.1, self.struck_by(*place, by)?));
            }
        }
        struck.sort_by_key(|(clock, s)| (*clock, s.by_entry, s.entry));
        Ok(struck.into_iter().map(|(_, s)| s).collect())
    }

    /// When the station says that something was first written down: what corrects it since does not make it late.
    pub(crate) fn first_recorded(&self, place: Place) -> Result<Instant> {
        Ok(entry_at(self.conn(), self.corrections().origin(place))?.header.time)
    }

    fn struck_by(&self, place: Place, by: Place) -> Result<Struck> {
        let entry = entry_at(self.conn(), by)?;
        let (why, changes, void) = if let Event::EntryCorrected(e) = entry.event {
            (e.why, e.changes, false)
        } else if let Event::EntryVoided(e) = entry.event {
            (e.why, Vec::new(), true)
        } else {
            return Err(Error::Damaged(format!("an entry is struck by one of kind {}", entry.event.kind())));
        };
        Ok(Struck {
            entry: self.id(place)?,
            event: self.event(place)?,
            by_entry: self.id(by)?,
            by: entry.header.by,
            when: entry.header.time,
            why,
            changes,
            void,
        })
    }
}
