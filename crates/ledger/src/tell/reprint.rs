//! A slip printed again, with a number that says how many times.

use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, SlipReprinted};
use record::id::SlipId;
use record::{EntryId, Instant, When};

/// One time that a slip was printed again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reprint {
    /// The entry.
    pub entry: EntryId,
    /// When.
    pub at: When,
    /// Badge of who printed it.
    pub by: String,
    /// When the station says that it was written.
    pub recorded: Instant,
    /// Why, if said.
    pub why: String,
}

impl Reading<'_> {
    /// The times that a slip was printed again, in the order of the record.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn reprints(&self, slip: SlipId) -> Result<Vec<Reprint>> {
        let places = self.standing_places(
            "SELECT place FROM fact_reprint WHERE slip = ?1 ORDER BY place",
            [slip.bytes()],
        )?;
        let mut reprints = Vec::with_capacity(places.len());
        for (_, place) in self.ordered(places)? {
            let entry = crate::log::entry_at(self.conn(), place)?;
            if let Event::SlipReprinted(reprinted) = entry.event.effect() {
                reprints.push(Reprint {
                    entry: self.id(place)?,
                    at: reprinted.at,
                    by: entry.header.by,
                    recorded: entry.header.time,
                    why: reprinted.why,
                });
            }
        }
        Ok(reprints)
    }
}

impl Ledger {
    /// Records that a slip is printed again. Returns it with all the times that it was.
    ///
    /// # Errors
    /// When the slip is not known, or nobody enrolled is named as acting.
    pub fn reprint(
        &mut self,
        acting: &Acting,
        number: &str,
        why: Option<&str>,
    ) -> Result<Done<(SlipAndLot, Vec<Reprint>)>> {
        let why = why.map(|w| tell::remark("--why", w)).transpose()?.unwrap_or_default();
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let slip = tell::slip_ref(&reading, number)?;
            let id = slip.slip;
            writing.append(&Event::SlipReprinted(SlipReprinted { at: When::now(acting.now), slip, why }))?;
            let after = Reading::new(writing.conn())?;
            Ok((after.slip_and_lot(id)?, after.reprints(id)?))
        })
    }
}
