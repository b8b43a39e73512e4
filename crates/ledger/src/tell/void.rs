//! Saying that an entry never was. It stays, struck.

use super::correct::named::word;
use super::correct::{Amended, amended, may, tell_amended, with_override};
use crate::ask::entry;
use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::log::Place;
use crate::{Acting, Done, Ledger, tell};
use record::EntryId;
use record::event::EntryVoided;
use record::rules::amend::{self, Act};

impl Ledger {
    /// Says that an entry never was, nor anything that corrects it. Of a void: what it names stands again. Of a
    /// correction: what it corrects does.
    ///
    /// # Errors
    /// When the entry is not known, or a rule refuses.
    pub fn void(&mut self, acting: &Acting, typed: &str, why: &str) -> Result<Done<Amended>> {
        let why = tell::remark("--why", why)?;
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let place = entry::find(&reading, typed)?;
            may(&reading, Act::Void, place, &actor)?;
            let chain = chain(&reading, place)?;
            let before = entry::at(&reading, chain.first().copied().unwrap_or(place))?;
            let voids = chain.into_iter().map(|place| reading.id(place)).collect::<Result<Vec<_>>>()?;
            let (applied, overridden) = amended(writing, acting, &actor, Act::Void, place, |overridden| {
                let why = match overridden {
                    Some(overridden) => with_override(&why, overridden),
                    None => why.clone(),
                };
                let void = |id: &EntryId| EntryVoided { voids: *id, why: why.clone() }.into();
                Ok(voids.iter().map(void).collect())
            })?;
            tell_amended(writing, before, &applied, Vec::new(), why, overridden)
        })
    }
}

/// From what stands in the place of an entry down to the entry itself, through every correction between.
fn chain(reading: &Reading<'_>, place: Place) -> Result<Vec<Place>> {
    let corrections = reading.corrections();
    let mut chain = Vec::new();
    for newest in corrections.newest(place) {
        let mut at = Some(newest);
        while let Some(correction) = at.filter(|at| *at != place) {
            chain.push(correction);
            at = corrections.corrects(correction);
        }
    }
    chain.push(place);
    Ok(chain)
}

/// Whether every description of a thing was voided. A slip is looked at by those who read it.
pub(crate) fn is_void(reading: &Reading<'_>, kind: LabelKind, id: [u8; 16]) -> Result<bool> {
    if reading.corrections().is_empty() {
        return Ok(false);
    }
    let sql = match kind {
        LabelKind::Lot | LabelKind::Heat | LabelKind::Certificate => {
            "SELECT place FROM fact_lot WHERE lot = ?1 ORDER BY place"
        }
        LabelKind::Joint => "SELECT place FROM fact_joint WHERE joint = ?1 ORDER BY place",
        LabelKind::Badge => "SELECT place FROM fact_person WHERE person = ?1 ORDER BY place",
        LabelKind::Wps => "SELECT place FROM fact_wps WHERE wps = ?1 ORDER BY place",
        LabelKind::Slip => "SELECT place FROM fact_slip WHERE slip = ?1 ORDER BY place",
    };
    Ok(reading.standing_places(sql, [id])?.is_empty())
}

/// Refuses to write about a thing that never was.
pub(crate) fn there(reading: &Reading<'_>, kind: LabelKind, label: &str, id: [u8; 16]) -> Result<()> {
    if is_void(reading, kind, id)? {
        return Err(amend::thing_void("nothing was written", word(kind), label).into());
    }
    Ok(())
}

/// Refuses that metal leaves a slip which never was.
pub(crate) fn not_void(what: &str, view: &SlipAndLot) -> Result<()> {
    if view.slip.void {
        Err(amend::slip_void(&format!("{what} was not recorded"), &view.slip.number).into())
    } else {
        Ok(())
    }
}
