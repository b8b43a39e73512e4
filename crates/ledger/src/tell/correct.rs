//! Saying an entry anew. The old one stays, struck.

mod apply;
mod bear;
mod edit;
mod fields;
pub(crate) mod named;
mod touched;

pub use apply::Followed;

use crate::ask::entry::{self, Entry};
use crate::ask::reading::{Person, Reading};
use crate::error::{Error, Result};
use crate::log::{self, Place, Writing};
use crate::{Acting, Done, Ledger, settle, tell};
use apply::{Applied, apply, correction};
use bear::{Amended as Bears, told, troubles};
use edit::Edit;
use record::event::{Change, Event, Override};
use record::id::{EntryId, SlipId};
use record::rules::amend::{self, Act, StruckBy};
use record::{Refusal, short_id};

/// A correction as typed.
#[derive(Clone, Debug)]
pub struct CorrectRequest {
    /// The entry: id, its beginning, short id, or sequence number of this station.
    pub entry: String,
    /// Fields and their new cells.
    pub set: Vec<(String, String)>,
    /// Why.
    pub why: String,
}

/// What there is to tell about a correction or a void.
#[derive(Clone, Debug)]
pub struct Amended {
    /// The entry as it was.
    pub before: Entry,
    /// The entry that stands in its place, if one does.
    pub after: Option<Entry>,
    /// What changed; empty for a void.
    pub changes: Vec<Change>,
    /// Why.
    pub why: String,
    /// What was corrected because of it.
    pub followed: Vec<Followed>,
    /// Weld records that it leaves at odds with a slip that they name.
    pub at_odds: Vec<AtOdds>,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

/// A weld record that names a slip, and does not agree with it.
#[derive(Clone, Debug)]
pub struct AtOdds {
    /// The weld record.
    pub entry: EntryId,
    /// What it says, in one line.
    pub line: String,
    /// Number of the slip.
    pub slip: String,
    /// Code of the lot that the slip is of; none where the slip is void.
    pub lot: Option<String>,
}

impl Ledger {
    /// Says an entry anew, with everything that follows from it: what left a slip carries its lot and holder.
    ///
    /// # Errors
    /// When the entry or a label is not known, a field is not one of its own, or a rule refuses.
    pub fn correct(&mut self, acting: &Acting, request: &CorrectRequest) -> Result<Done<Amended>> {
        let why = tell::remark("--why", &request.why)?;
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let place = entry::find(&reading, &request.entry)?;
            may(&reading, Act::Correct, place, &actor)?;
            let before = entry::at(&reading, place)?;
            let mut event = before.event.clone();
            let mut edit = Edit::begin(&reading, &request.set)?;
            if !fields::set(&mut event, &mut edit)? {
                return Err(Error::Damaged(format!("an entry of kind {} has no fields", event.kind())));
            }
            let changes = edit.end()?;
            if changes.is_empty() {
                let given: Vec<String> = request.set.iter().map(|(field, _)| field.clone()).collect();
                return Err(amend::nothing_to_correct(&short(before.id), &given).into());
            }
            let corrects = before.id;
            let (applied, overridden) =
                amended(writing, acting, &actor, Act::Correct, place, |overridden| {
                    let (mut event, mut why) = (event.clone(), why.clone());
                    if let Some(overridden) = overridden
                        && !set_aside(&mut event, overridden)
                    {
                        why = with_override(&why, overridden);
                    }
                    Ok(vec![correction(corrects, changes.clone(), &event, why)?])
                })?;
            tell_amended(writing, before, &applied, changes, why, overridden)
        })
    }
}

pub(super) fn short(id: EntryId) -> String {
    short_id::short(&id.0)
}

/// Refuses an act on an entry that is not for it, that does not stand, or that the person may not amend.
pub(super) fn may(reading: &Reading<'_>, act: Act, place: Place, actor: &Person) -> Result<()> {
    let id = short(reading.id(place)?);
    // A correction is corrected as what it says; it is voided as what it is.
    let own = log::entry_at(reading.conn(), place)?.event;
    let event = match act {
        Act::Correct => own.clone().effect(),
        Act::Void => own.clone(),
    };
    let mut says = own;
    // A void of a void is about what the last of them names.
    while let Event::EntryVoided(void) = &says {
        match reading.place_of(void.voids)? {
            Some(place) => says = log::entry_at(reading.conn(), place)?.event,
            None => break,
        }
    }
    amend::may(act, &id, &event, &says, &actor.badge, &actor.roles)?;
    let Some(struck) = reading.struck(&[place])?.into_iter().next() else {
        return Ok(());
    };
    let corrections = reading.corrections();
    if act == Act::Void && !corrections.newest(place).is_empty() {
        // What corrects it never was either.
        return Ok(());
    }
    let mut ends = corrections.newest(place);
    if ends.is_empty() {
        ends = corrections.newest(corrections.origin(place));
    }
    let struck = StruckBy {
        entry: short(struck.by_entry),
        void: struck.void,
        by: format!("{}, {}", struck.by, reading.zone().local_with_zone(struck.when)),
        why: struck.why,
        stands_now: ends.into_iter().map(|place| told(reading, place)).collect::<Result<_>>()?,
    };
    Err(amend::already_struck(act, &id, &struck).into())
}

/// Writes an amendment down, if the record can bear it or an inspector sets aside what speaks against it. `make` makes
/// the entry, with the rule that is set aside.
pub(super) fn amended(
    writing: &mut Writing<'_>,
    acting: &Acting,
    actor: &Person,
    act: Act,
    place: Place,
    make: impl Fn(Option<&Override>) -> Result<Vec<Event>>,
) -> Result<(Applied, bool)> {
    let entry = short(Reading::new(writing.conn())?.id(place)?);
    let bears = |reading: &Reading<'_>, stands: Option<Place>| -> Result<Bears<'_>> {
        let stands = stands.map(|place| Ok::<_, Error>((place, reading.event(place)?))).transpose()?;
        Ok(Bears { act, entry: &entry, stands, now: acting.now })
    };
    let amendments = make(None)?;
    let reading = Reading::new(writing.conn())?;
    let stood_at = reading.corrections().newest(place).first().copied().unwrap_or(place);
    let stood = reading.event(stood_at)?;
    let (touched, after) = writing.attempt(|writing| {
        let applied = apply(writing, place, &amendments)?;
        let reading = Reading::new(writing.conn())?;
        if let Some(refusal) = not_again(&reading, &entry, &applied, &stood)? {
            return Err(refusal.into());
        }
        let after = troubles(&reading, &applied.touched, &bears(&reading, applied.stands)?)?;
        Ok((applied.touched, after))
    })?;
    let before = troubles(&reading, &touched, &bears(&reading, Some(stood_at))?)?;
    let overridden = settle(amend::worse(&before, after), acting, actor)?;
    let amendments = match &overridden {
        Some(overridden) => make(Some(overridden))?,
        None => amendments,
    };
    Ok((apply(writing, place, &amendments)?, overridden.is_some()))
}

/// Why what a void would let stand again cannot stand.
fn not_again(
    reading: &Reading<'_>,
    entry: &str,
    applied: &Applied,
    stood: &Event,
) -> Result<Option<Refusal>> {
    let corrections = reading.corrections();
    // Struck again by a void that was void for a while.
    if let Some(other) = applied.struck.and_then(|struck| corrections.replaced_by(struck).first()) {
        return Ok(Some(amend::corrected_otherwise(entry, &told(reading, *other)?)));
    }
    let Some(revived) = applied.revived else {
        return Ok(None);
    };
    if let (Some(_), Some(stands)) = (applied.struck, applied.stands)
        && stands != revived
        && reading.event(stands)? == *stood
    {
        let first = told(reading, corrections.origin(revived))?;
        return Ok(Some(amend::follows_its_slip(entry, &first)));
    }
    let Some(corrects) = corrections.corrects(revived) else {
        return Ok(None);
    };
    if let Some(void) = corrections.voided_by(corrects) {
        let (corrects, void) = (short(reading.id(corrects)?), short(reading.id(void)?));
        return Ok(Some(amend::corrects_what_is_void(entry, &corrects, &void)));
    }
    match corrections.replaced_by(corrects).iter().find(|other| **other != revived) {
        Some(other) => Ok(Some(amend::corrected_otherwise(entry, &told(reading, *other)?))),
        None => Ok(None),
    }
}

/// What there is to tell.
pub(super) fn tell_amended(
    writing: &Writing<'_>,
    before: Entry,
    applied: &Applied,
    changes: Vec<Change>,
    why: String,
    overridden: bool,
) -> Result<Amended> {
    let reading = Reading::new(writing.conn())?;
    let mut at_odds = Vec::new();
    for slip in &applied.touched.slips {
        at_odds.extend(welds_at_odds(&reading, *slip)?);
    }
    Ok(Amended {
        before,
        after: applied.stands.map(|place| entry::at(&reading, place)).transpose()?,
        changes,
        why,
        followed: applied.followed.clone(),
        at_odds,
        overridden,
    })
}

/// Weld records that name a slip which is void, or a lot beside it which it is not of.
fn welds_at_odds(reading: &Reading<'_>, id: SlipId) -> Result<Vec<AtOdds>> {
    let slip = reading.slip(id)?;
    let places = reading
        .standing_places("SELECT place FROM fact_weld WHERE slip = ?1 ORDER BY place", [id.bytes()])?;
    let mut at_odds = Vec::new();
    for place in places {
        let event = reading.event(place)?;
        let Event::JointWelded(weld) = &event else {
            continue;
        };
        let other_lot = weld.lot.value().is_some_and(|named| named.lot != slip.lot);
        if slip.void || other_lot {
            let lot = if slip.void { None } else { Some(reading.lot(slip.lot)?.received.code.clone()) };
            at_odds.push(AtOdds {
                entry: reading.id(place)?,
                line: entry::line(&event),
                slip: slip.number.clone(),
                lot,
            });
        }
    }
    Ok(at_odds)
}

/// Puts a rule that is set aside where the entry has a place for it; what was set aside before stays beside it.
fn set_aside(event: &mut Event, new: &Override) -> bool {
    let place = if let Event::RodIssued(e) = event {
        &mut e.overridden
    } else if let Event::RodReturned(e) = event {
        &mut e.overridden
    } else if let Event::RodHandedOver(e) = event {
        &mut e.overridden
    } else if let Event::RodScrapped(e) = event {
        &mut e.overridden
    } else if let Event::JointWelded(e) = event {
        &mut e.overridden
    } else {
        return false;
    };
    *place = Some(match place.take() {
        None => new.clone(),
        Some(before) => {
            let mut rules = before.rules;
            for rule in &new.rules {
                if !rules.contains(rule) {
                    rules.push(rule.clone());
                }
            }
            Override { rules, why: format!("{}; at the correction: {}", before.why, new.why) }
        }
    });
    true
}

/// The reason of an amendment with the rules that were set aside for it, for entries that have no other place for them.
pub(super) fn with_override(why: &str, overridden: &Override) -> String {
    format!("{why} [set aside {}: {}]", overridden.rules.join(", "), overridden.why)
}
