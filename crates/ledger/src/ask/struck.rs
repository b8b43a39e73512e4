//! What was struck, for whoever looks at a thing: it is never silently replaced.

use super::corrections::Struck;
use super::entry;
use super::reading::Reading;
use crate::error::Result;
use crate::log::Place;
use record::Zone;
use record::id::{EntryId, JointId, LotId, PersonId, SlipId};
use std::collections::HashMap;

/// A cell of a change as people read it: an empty one is seen.
#[must_use]
pub fn cell(cell: &str) -> &str {
    if cell.is_empty() { "(empty)" } else { cell }
}

impl Struck {
    /// In plain text: `slip S-00001 quantity: 24 rods -> 20 rods (2026-04-08, A-01: counted again)`, one such part for
    /// each value that changed, joined by `; `.
    #[must_use]
    pub fn plain(&self, zone: Zone) -> String {
        let thing = entry::thing(&self.event);
        let local = zone.local(self.when);
        let day = local.get(..10).unwrap_or(&local);
        let by = format!("({day}, {}: {})", self.by, self.why);
        let parts: Vec<String> = if self.changes.is_empty() {
            vec![format!("{}: {} {by}", entry::line(&self.event), self.word())]
        } else {
            let change = |c: &record::event::Change| {
                format!("{thing} {}: {} -> {} {by}", c.field, cell(&c.from), cell(&c.to))
            };
            self.changes.iter().map(change).collect()
        };
        parts.join("; ").replace(['\r', '\n'], " ")
    }

    /// How it was struck.
    #[must_use]
    pub fn word(&self) -> &'static str {
        if self.void { "void" } else { "corrected" }
    }
}

/// What was struck at a joint.
#[derive(Clone, Debug, Default)]
pub struct StruckAtJoint {
    /// Of its description.
    pub declared: Vec<Struck>,
    /// Of weld records that stand, by the id of the entry that stands.
    pub welds: HashMap<EntryId, Vec<Struck>>,
    /// Weld records that are void, or are at another joint now.
    pub gone: Vec<Struck>,
}

impl StruckAtJoint {
    /// Of one weld record.
    #[must_use]
    pub fn of_weld(&self, entry: EntryId) -> &[Struck] {
        self.welds.get(&entry).map_or(&[], Vec::as_slice)
    }
}

impl Reading<'_> {
    /// What was struck at a joint.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn struck_at_joint(&self, joint: JointId) -> Result<StruckAtJoint> {
        let mut found = StruckAtJoint::default();
        if self.corrections().is_empty() {
            return Ok(found);
        }
        found.declared = self
            .struck_places("SELECT place FROM fact_joint WHERE joint = ?1 ORDER BY place", joint.bytes())?;
        let places = self
            .places("SELECT place FROM fact_weld_joint WHERE joint = ?1 ORDER BY place", [joint.bytes()])?;
        let (standing, struck): (Vec<Place>, Vec<Place>) =
            places.into_iter().partition(|place| self.stands(*place));
        let origin = |place: Place| self.corrections().origin(place);
        let mut gone = struck.clone();
        for place in standing {
            let of_it: Vec<Place> =
                struck.iter().copied().filter(|other| origin(*other) == origin(place)).collect();
            if !of_it.is_empty() {
                gone.retain(|place| !of_it.contains(place));
                found.welds.insert(self.id(place)?, self.struck(&of_it)?);
            }
        }
        found.gone = self.struck(&gone)?;
        Ok(found)
    }

    /// What was struck of a lot: its receipts, what was said of its status, slips of it, scrapping in the crib, and weld
    /// records that named it.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn struck_of_lot(&self, lot: LotId) -> Result<Vec<Struck>> {
        self.struck_by_any(
            &[
                "SELECT place FROM fact_lot WHERE lot = ?1",
                "SELECT place FROM fact_lot_status WHERE lot = ?1",
                "SELECT place FROM fact_slip WHERE lot = ?1",
                "SELECT place FROM fact_scrap WHERE lot = ?1",
                "SELECT place FROM fact_weld WHERE lot = ?1",
            ],
            lot.bytes(),
        )
    }

    /// What was struck of a slip: its issue or hand-over, what left it, and weld records that named it.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn struck_of_slip(&self, slip: SlipId) -> Result<Vec<Struck>> {
        self.struck_by_any(
            &[
                "SELECT place FROM fact_slip WHERE slip = ?1",
                "SELECT place FROM fact_out WHERE slip = ?1",
                "SELECT place FROM fact_weld WHERE slip = ?1",
            ],
            slip.bytes(),
        )
    }

    /// What was struck of a welder: slips, what left them, their word that nothing is left, weld records, spot checks,
    /// qualifications and enrolments.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn struck_of_welder(&self, welder: PersonId) -> Result<Vec<Struck>> {
        self.struck_by_any(
            &[
                "SELECT place FROM fact_slip WHERE holder = ?1",
                "SELECT place FROM fact_out WHERE holder = ?1",
                "SELECT place FROM fact_clear WHERE welder = ?1",
                "SELECT place FROM fact_weld WHERE welder = ?1",
                "SELECT place FROM fact_spot_check WHERE welder = ?1",
                "SELECT place FROM fact_qualification WHERE welder = ?1",
                "SELECT place FROM fact_unmarked WHERE welder = ?1",
                "SELECT place FROM fact_person WHERE person = ?1",
            ],
            welder.bytes(),
        )
    }

    fn struck_places(&self, sql: &str, id: [u8; 16]) -> Result<Vec<Struck>> {
        self.struck(&self.places(sql, [id])?)
    }

    fn struck_by_any(&self, queries: &[&str], id: [u8; 16]) -> Result<Vec<Struck>> {
        if self.corrections().is_empty() {
            return Ok(Vec::new());
        }
        let mut places = Vec::new();
        for sql in queries {
            places.extend(self.places(sql, [id])?);
        }
        places.sort_unstable();
        places.dedup();
        self.struck(&places)
    }
}
