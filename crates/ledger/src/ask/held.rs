//! The slips that one holder can have had in hand over a stretch of time, read once for many weld records within it.

use super::reading::Reading;
use crate::error::Result;
use crate::log::Place;
use record::Instant;
use record::id::{PersonId, SlipId};
use rusqlite::Rows;
use std::collections::{BTreeMap, BTreeSet};

/// How long a slip is out before it counts among those that were out long, in seconds: a week. The schema has it too.
const LONG: i64 = 604_800;

/// The slips of one holder whose custody may overlap a stretch of time: a superset that leaves out only what is closed
/// for certain before it.
#[derive(Debug)]
pub(crate) struct Held {
    from: Instant,
    to: Instant,
    /// By issue, then identity.
    slips: Vec<HeldSlip>,
}

#[derive(Debug)]
struct HeldSlip {
    slip: [u8; 16],
    issued: i64,
    /// The first closing that stands and is not before the stretch.
    closed: Option<i64>,
}

impl Held {
    /// Reads them.
    pub(crate) fn read(reading: &Reading<'_>, holder: PersonId, from: Instant, to: Instant) -> Result<Self> {
        // A `clear` before the stretch closes everything issued before it, so nothing older needs a look.
        let oldest: i64 = reading
            .clears(holder)?
            .iter()
            .filter(|c| c.at.to < from.0)
            .map(|c| c.at.from)
            .fold(i64::MIN, i64::max);
        // What was issued more than a week before the stretch is found by how long it was out; the rest is read from
        // there on, not from the holder's first day.
        let since = oldest.max(from.0.saturating_sub(LONG));
        // Two range reads side by side: looking into an index for each slip that the holder ever had costs ten times
        // as much. Both go by time, so that what is open at any moment of it is a handful.
        let mut issues = reading.conn().prepare_cached(
            "SELECT slip, issued_from, place FROM fact_slip WHERE holder = ?1 AND issued_from BETWEEN ?2 AND ?3
             ORDER BY issued_from, slip",
        )?;
        let mut closings = reading.conn().prepare_cached(
            "SELECT slip, at_to, place FROM fact_out WHERE holder = ?1 AND closes = 1 AND at_to BETWEEN ?2 AND ?3
             ORDER BY at_to, slip",
        )?;
        let mut issues = issues.query((holder.bytes(), since, to.0))?;
        let mut closings = closings.query((holder.bytes(), since, to.0))?;
        let mut issue = next(reading, &mut issues)?;
        let mut closing = next(reading, &mut closings)?;
        // What is open when the stretch begins, and what is issued in it. Looked through from its end: what closes was
        // mostly issued last.
        let mut open: Vec<([u8; 16], i64)> = Vec::new();
        let mut closed_unissued: BTreeSet<[u8; 16]> = BTreeSet::new();
        let mut closed_within: BTreeMap<[u8; 16], i64> = BTreeMap::new();
        loop {
            match (issue, closing) {
                (Some((slip, issued)), later) if later.is_none_or(|(_, at)| issued <= at) => {
                    // What is issued later than it is closed is held at its issue.
                    if issued >= from.0 || !closed_unissued.contains(&slip) {
                        open.push((slip, issued));
                    }
                    issue = next(reading, &mut issues)?;
                }
                (_, Some((slip, at))) => {
                    if at >= from.0 {
                        closed_within.entry(slip).or_insert(at);
                    } else if let Some(found) = open.iter().rposition(|(other, _)| *other == slip) {
                        open.swap_remove(found);
                    } else {
                        closed_unissued.insert(slip);
                    }
                    closing = next(reading, &mut closings)?;
                }
                (_, None) => break,
            }
        }
        let mut slips: Vec<HeldSlip> = open
            .into_iter()
            .map(|(slip, issued)| HeldSlip { slip, issued, closed: closed_within.get(&slip).copied() })
            .collect();
        for (slip, issued) in long_out(reading, holder, (oldest, since), from)? {
            slips.push(HeldSlip { slip, issued, closed: None });
        }
        slips.sort_by_key(|held| (held.issued, held.slip));
        // Two stations may have corrected one issue: the slip is one all the same, from the first on.
        let mut seen = BTreeSet::new();
        slips.retain(|held| seen.insert(held.slip));
        Ok(Self { from, to, slips })
    }

    /// Whether a stretch of time lies within this one.
    pub(crate) fn covers(&self, from: Instant, to: Instant) -> bool {
        self.from <= from && to <= self.to
    }

    /// Those that may have been held at some moment of a stretch within this one.
    pub(crate) fn during(&self, from: Instant, to: Instant) -> Vec<SlipId> {
        self.slips
            .iter()
            .filter(|held| held.issued <= to.0)
            .filter(|held| held.issued >= from.0 || held.closed.is_none_or(|closed| closed >= from.0))
            .map(|held| SlipId::from_bytes(held.slip))
            .collect()
    }
}

/// The slips of a holder that were issued from the first moment on and before the second, and may be open at `at`: out
/// for longer than [`LONG`], never closed, or with a closing that was struck. With when they were issued.
fn long_out(
    reading: &Reading<'_>,
    holder: PersonId,
    (oldest, before): (i64, i64),
    at: Instant,
) -> Result<Vec<([u8; 16], i64)>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT slip FROM fact_span INDEXED BY fact_span_long
         WHERE holder = ?1 AND (closed_to IS NULL OR closed_to - issued_from > 604800)
           AND issued_from < ?2 AND (closed_to IS NULL OR closed_to >= ?3)",
    )?;
    let mut slips = statement
        .query_map((holder.bytes(), before, at.0), |row| row.get(0))?
        .collect::<rusqlite::Result<Vec<[u8; 16]>>>()?;
    slips.extend(reading.slips_of_struck_closings(holder)?.iter().map(|slip| slip.bytes()));
    let mut begun =
        reading.conn().prepare_cached("SELECT holder, issued_from, place FROM fact_slip WHERE slip = ?1")?;
    let mut long = Vec::new();
    for slip in slips {
        let mut rows = begun.query([slip])?;
        while let Some(row) = rows.next()? {
            let issued: i64 = row.get(1)?;
            let of_holder = row.get::<_, [u8; 16]>(0)? == holder.bytes();
            if of_holder && issued >= oldest && issued < before && reading.stands(Place(row.get(2)?)) {
                long.push((slip, issued));
            }
        }
    }
    Ok(long)
}

/// The next row of an entry that stands: the slip, and its time.
fn next(reading: &Reading<'_>, rows: &mut Rows<'_>) -> Result<Option<([u8; 16], i64)>> {
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(2)?)) {
            return Ok(Some((row.get(0)?, row.get(1)?)));
        }
    }
    Ok(None)
}
