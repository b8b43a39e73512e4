//! Writing an amendment down, with everything that follows from it: what metal left a slip carries the lot and the
//! holder of the slip, and the deliveries of one lot are described alike.

use super::touched::Touched;
use crate::ask::entry;
use crate::ask::reading::Reading;
use crate::ask::slip::{Leaving, Slip, Way};
use crate::error::{Error, Result};
use crate::log::{Place, Writing};
use crate::tell::receive::piece_mass;
use record::event::{Change, EntryCorrected, Event, LotReceived, LotRef, PieceOrigin, Replacement};
use record::id::{EntryId, LotId, PersonId, SlipId};
use record::short_id;
use std::collections::HashMap;

/// An entry that was corrected because another one was amended.
#[derive(Clone, Debug)]
pub struct Followed {
    /// The entry that was corrected.
    pub corrects: EntryId,
    /// The entry that corrects it.
    pub entry: EntryId,
    /// What it says now, in one line.
    pub line: String,
    /// What changed.
    pub changes: Vec<Change>,
}

/// What was written.
pub(in crate::tell) struct Applied {
    /// The entry that stands in the place of the one amended, if one does.
    pub(super) stands: Option<Place>,
    /// The entry that a void strikes, if it comes to that.
    pub(super) struck: Option<Place>,
    /// The entry that a void lets stand again, before what followed from that.
    pub(super) revived: Option<Place>,
    /// What followed from it.
    pub(super) followed: Vec<Followed>,
    /// Everything that it is about.
    pub(super) touched: Touched,
}

/// The correction of an entry.
pub(super) fn correction(
    corrects: EntryId,
    changes: Vec<Change>,
    event: &Event,
    why: String,
) -> Result<Event> {
    let body = event
        .body()
        .map_err(|e| Error::Damaged(format!("an entry of kind {} has no body: {e}", event.kind())))?;
    let replacement = Replacement { body, kind: event.kind().to_owned() };
    Ok(EntryCorrected { changes, corrects, replacement, why }.into())
}

/// Appends the amendments of a chain of entries, the newest first, down to the entry at `place`, and what follows from
/// them. A correction is the only one of its chain; voids may be several.
pub(super) fn apply(writing: &mut Writing<'_>, place: Place, amendments: &[Event]) -> Result<Applied> {
    let mut touched = Touched::default();
    let reading = Reading::new(writing.conn())?;
    for from in reading.corrections().newest(place).into_iter().chain([place]) {
        behind(&reading, from, &mut touched)?;
    }
    let effect = effect_of_void(&reading, place)?;
    let mut corrected = false;
    let mut written = None;
    for amendment in amendments {
        touched.add(amendment);
        corrected |= matches!(amendment, Event::EntryCorrected(_));
        written = Some(writing.append(amendment)?);
    }
    let Some(written) = written else {
        return Err(Error::Damaged("an amendment of nothing".into()));
    };
    let reading = Reading::new(writing.conn())?;
    let (stands, struck, revived) = if corrected {
        (Some(written.place), None, None)
    } else {
        // An entry may be void twice over: then it stays void when one of the voids is void itself.
        let is_void = |place: Place| reading.corrections().voided_by(place).is_some();
        match effect {
            Effect::Struck(struck) if is_void(struck) => {
                let revived = reading.corrections().corrects(struck);
                (revived, Some(struck), revived)
            }
            Effect::Revived(revived) if is_void(revived) => (None, None, None),
            Effect::Struck(stands) => (Some(stands), None, None),
            Effect::Revived(revived) => (Some(revived), None, Some(revived)),
        }
    };
    let was_void = revived.is_some() && struck.is_none();
    let mut applied = Applied { stands, struck, revived, followed: Vec::new(), touched };
    let cause = format!("follows from entry {}", short_id::short(&written.id.0));
    if let Some(stands) = applied.stands {
        applied.stands = reading.corrections().newest(stands).first().copied();
    }
    if let Some(stands) = applied.stands
        && let Event::LotReceived(received) = reading.event(stands)?
    {
        // What stands again after having been void takes the description that the lot has meanwhile.
        deliveries(writing, stands, &received, was_void, &cause, &mut applied)?;
    }
    let slips: Vec<SlipId> = applied.touched.slips.iter().copied().collect();
    carry(writing, slips, &cause, &mut applied)?;
    if let Some(stands) = applied.stands {
        let reading = Reading::new(writing.conn())?;
        applied.stands = reading.corrections().newest(stands).first().copied();
    }
    Ok(applied)
}

/// What voiding an entry comes to, through voids of voids.
enum Effect {
    /// An entry that is no void is struck.
    Struck(Place),
    /// An entry that is no void and was void stands again.
    Revived(Place),
}

fn effect_of_void(reading: &Reading<'_>, place: Place) -> Result<Effect> {
    let (mut at, mut struck) = (place, true);
    while let Event::EntryVoided(void) = crate::log::entry_at(reading.conn(), at)?.event {
        let Some(target) = reading.place_of(void.voids)? else {
            break;
        };
        (at, struck) = (target, !struck);
    }
    Ok(if struck { Effect::Struck(at) } else { Effect::Revived(at) })
}

/// Adds what the entry at a place is about, and everything behind it that it had struck.
fn behind(reading: &Reading<'_>, place: Place, touched: &mut Touched) -> Result<()> {
    let mut at = Some(place);
    while let Some(place) = at {
        touched.add(&crate::log::entry_at(reading.conn(), place)?.event);
        at = names(reading, place)?;
    }
    Ok(())
}

/// The entry that a correction or a void names.
fn names(reading: &Reading<'_>, place: Place) -> Result<Option<Place>> {
    let event = crate::log::entry_at(reading.conn(), place)?.event;
    if let Event::EntryCorrected(e) = &event {
        reading.place_of(e.corrects)
    } else if let Event::EntryVoided(e) = &event {
        reading.place_of(e.voids)
    } else {
        Ok(None)
    }
}

/// Corrects what left the slips where it carries another lot or holder than its slip has now; and where it was handed
/// over, what left the new slip.
fn carry(writing: &mut Writing<'_>, slips: Vec<SlipId>, cause: &str, applied: &mut Applied) -> Result<()> {
    let mut open = slips;
    let mut carried: HashMap<SlipId, (LotId, PersonId)> = HashMap::new();
    while let Some(id) = open.pop() {
        let reading = Reading::new(writing.conn())?;
        let slip = reading.slip(id)?;
        let now = (slip.lot, slip.holder.person);
        if slip.void || carried.insert(id, now) == Some(now) {
            continue;
        }
        for out in &slip.outs {
            let Some((event, changes)) = as_its_slip(&reading, &slip, out)? else {
                continue;
            };
            if let Event::RodHandedOver(e) = &event {
                open.push(e.new_slip.slip);
            }
            write_down(writing, out.entry, event, changes, cause, applied)?;
        }
    }
    Ok(())
}

/// What left a slip, with the lot and holder that the slip has; none where it carries them already.
fn as_its_slip(reading: &Reading<'_>, slip: &Slip, out: &Leaving) -> Result<Option<(Event, Vec<Change>)>> {
    let holder = slip.holder.person;
    let (lot_was, holder_was) = match &out.way {
        Way::Returned(e) => (e.lot, e.holder),
        Way::HandedOver(e) => (e.lot, e.from),
        Way::Scrapped(e) => (e.lot.lot, e.slip.as_ref().map_or(holder, |s| s.holder)),
    };
    let mut changes = Vec::new();
    if lot_was != slip.lot {
        changes.push(Change {
            field: "lot".into(),
            from: reading.lot(lot_was)?.received.code.clone(),
            to: reading.lot(slip.lot)?.received.code.clone(),
        });
    }
    if holder_was != holder {
        changes.push(Change {
            field: "welder".into(),
            from: reading.person(holder_was)?.badge.clone(),
            to: slip.holder.badge.clone(),
        });
    }
    if changes.is_empty() {
        return Ok(None);
    }
    let event = match out.way.clone() {
        Way::Returned(mut e) => {
            (e.lot, e.holder) = (slip.lot, holder);
            Event::from(e)
        }
        Way::HandedOver(mut e) => {
            (e.lot, e.from) = (slip.lot, holder);
            Event::from(e)
        }
        Way::Scrapped(mut e) => {
            if lot_was != slip.lot {
                e.lot = LotRef { label: reading.lot(slip.lot)?.received.code.clone(), lot: slip.lot };
            }
            if let Some(from) = &mut e.slip {
                from.holder = holder;
            }
            Event::from(e)
        }
    };
    Ok(Some((event, changes)))
}

/// Describes the deliveries of one lot alike: the others as the one at `stands`, or that one as the others.
fn deliveries(
    writing: &mut Writing<'_>,
    stands: Place,
    received: &LotReceived,
    as_the_others: bool,
    cause: &str,
    applied: &mut Applied,
) -> Result<()> {
    let reading = Reading::new(writing.conn())?;
    let places = reading.standing_places(
        "SELECT place FROM fact_lot WHERE lot = ?1 ORDER BY place",
        [received.lot.bytes()],
    )?;
    let others: Vec<Place> = places.into_iter().filter(|place| *place != stands).collect();
    let pairs: Vec<(Place, LotReceived)> = if as_the_others {
        match others.first() {
            Some(other) => {
                let event = reading.event(*other)?;
                if let Event::LotReceived(other) = event {
                    vec![(stands, other)]
                } else {
                    return Err(Error::Damaged(format!(
                        "a lot is received by an entry of kind {}",
                        event.kind()
                    )));
                }
            }
            None => Vec::new(),
        }
    } else {
        others.into_iter().map(|place| (place, received.clone())).collect()
    };
    for (place, like) in pairs {
        let Event::LotReceived(mut delivery) = reading.event(place)? else {
            continue;
        };
        let changes = describe_alike(&mut delivery, &like);
        if changes.is_empty() {
            continue;
        }
        write_down(writing, reading.id(place)?, Event::from(delivery), changes, cause, applied)?;
    }
    Ok(())
}

/// Gives a delivery the code and identity of another of the same lot.
fn describe_alike(delivery: &mut LotReceived, like: &LotReceived) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut change = |field: &str, from: String, to: String| {
        changes.push(Change { field: field.into(), from, to });
    };
    if delivery.code != like.code {
        change("lot", delivery.code.clone(), like.code.clone());
        delivery.code.clone_from(&like.code);
    }
    if delivery.maker != like.maker {
        change("maker", delivery.maker.cell(), like.maker.cell());
        delivery.maker.clone_from(&like.maker);
    }
    if delivery.maker_lot != like.maker_lot {
        change("maker_lot", delivery.maker_lot.cell(), like.maker_lot.cell());
        delivery.maker_lot.clone_from(&like.maker_lot);
    }
    if delivery.classification != like.classification {
        change("classification", delivery.classification.cell(), like.classification.cell());
        delivery.classification.clone_from(&like.classification);
    }
    if delivery.size.clone().map(|s| s.size) != like.size.clone().map(|s| s.size) {
        change("size", delivery.size.cell(), like.size.cell());
        delivery.size.clone_from(&like.size);
    }
    if delivery.form != like.form {
        change("form", delivery.form.cell(), like.form.cell());
        delivery.form.clone_from(&like.form);
    }
    let computed = delivery.piece.as_ref().is_none_or(|p| p.origin == PieceOrigin::Computed);
    if computed && !changes.is_empty() {
        let d = &delivery;
        delivery.piece = piece_mass(None, &d.form, &d.size, &d.spec, &d.classification);
    }
    changes
}

fn write_down(
    writing: &mut Writing<'_>,
    corrects: EntryId,
    event: Event,
    changes: Vec<Change>,
    cause: &str,
    applied: &mut Applied,
) -> Result<()> {
    let reading = Reading::new(writing.conn())?;
    if let Some(place) = reading.place_of(corrects)? {
        behind(&reading, place, &mut applied.touched)?;
    }
    let line = entry::line(&event);
    let amendment = correction(corrects, changes.clone(), &event, cause.to_owned())?;
    applied.touched.add(&amendment);
    let written = writing.append(&amendment)?;
    applied.followed.push(Followed { corrects, entry: written.id, line, changes });
    Ok(())
}
