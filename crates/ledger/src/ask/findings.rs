//! Which findings there are: in the whole book, or touching one answer.
//!
//! Both ways ask the same functions of `finding` about each cause, so that a page and the list never disagree.

use super::at_risk;
use super::finding::weld::{Evidence, Fed};
use super::finding::{Finding, closed_and_sorted, late, mass, number, slip, weld, wire};
use super::joint_trace::{self, JointTrace, Record, WeldTrace};
use super::lot::Lot;
use super::mass_check::joint_need;
use super::mass_check::system;
use super::reading::{Joint, Reading};
use super::slip::SlipAndLot;
use super::where_used::{
    Link, SlipUse, WelderTrace, WhereUsed, joints_of_weld, slips_of_lot, welds_during, welds_naming_slip,
};
use super::whole_book::{Held, WholeBook};
use crate::error::{Error, Result};
use crate::log::Place;
use record::Instant;
use record::finding::{Code, Severity};
use record::id::{JointId, LotId, SlipId};
use std::collections::HashSet;
use std::rc::Rc;
use trace::Interval;

impl Reading<'_> {
    /// Every finding of the book, open or closed, by severity, code and id. `now` decides what is overdue.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn findings(&self, now: Instant) -> Result<Vec<Finding>> {
        let held = Held::read(self)?;
        let whole = WholeBook::new(&held);
        closed_and_sorted(self, in_whole_book(self, &whole, now)?)
    }

    /// The findings that touch the answer about a joint.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn findings_of_joint(&self, trace: &JointTrace, now: Instant) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        for weld in &trace.welds {
            found.extend(of_record(self, weld.place)?);
            found.extend(of_sources(self, &weld.sources, now)?);
            found.extend(of_sources(self, &weld.flux, now)?);
        }
        found.extend(of_joint(self, &trace.joint, trace.welds.is_empty())?);
        for (place, check) in wire::checks(self, Some(trace.joint.id))? {
            found.extend(wire::of_check(self, place, &check)?);
        }
        for (place, find) in wire::finds(self)? {
            let named = find.joints.iter().any(|j| j.joint == trace.joint.id);
            if named || at_risk::can_touch(self, &find, &trace.welds)? {
                found.extend(wire::of_find(self, place, &find)?);
            }
        }
        let lots = trace.welds.iter().flat_map(|w| w.sources.iter().chain(&w.flux));
        found.extend(number::of_lots(self, lots.map(|s| &*s.lot))?);
        found.extend(of_systems(self, [], trace.welds.iter().map(|w| w.place))?);
        closed_and_sorted(self, found)
    }

    /// The findings that touch the answer about lots.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn findings_of_lots(&self, used: &WhereUsed, now: Instant) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        let mut seen = HashSet::new();
        for weld in used.welds.iter().filter(|u| matches!(u.link, Link::Source | Link::Named | Link::Flux)) {
            if seen.insert(weld.weld.place) {
                found.extend(of_record(self, weld.weld.place)?);
            }
        }
        let fed = Uses::of(self, used.welds.iter().map(|u| &u.weld))?;
        let mut slips = Vec::new();
        for lot in &used.lots {
            found.extend(late::of_lot(self, lot.lot.id)?);
            for slip in slips_of_lot(self, lot.lot.id)? {
                found.extend(of_slip_among(self, slip, &fed, now)?);
                slips.push(slip);
            }
        }
        found.extend(of_systems(self, slips, seen)?);
        found.extend(number::of_lots(self, used.lots.iter().map(|l| &*l.lot))?);
        closed_and_sorted(self, found)
    }

    /// The findings that touch the answer about a slip.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn findings_of_slip(
        &self,
        view: &SlipAndLot,
        uses: &[SlipUse],
        now: Instant,
    ) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        let mut seen = HashSet::new();
        for weld in uses.iter().filter(|u| u.link != Link::Other) {
            if seen.insert(weld.weld.place) {
                found.extend(of_record(self, weld.weld.place)?);
            }
        }
        let fed = Uses::of(self, uses.iter().map(|u| &u.weld))?;
        found.extend(of_slip_among(self, view.slip.id, &fed, now)?);
        found.extend(number::of_lots(self, [&*view.lot])?);
        found.extend(of_systems(self, [view.slip.id], seen)?);
        closed_and_sorted(self, found)
    }

    /// The findings that touch the answer about a welder.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn findings_of_welder(&self, trace: &WelderTrace, now: Instant) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        let mut seen = HashSet::new();
        for (_, weld) in &trace.welds {
            if seen.insert(weld.place) {
                found.extend(of_record(self, weld.place)?);
            }
        }
        let fed = Uses::of(self, trace.welds.iter().map(|(_, w)| w))?;
        for view in &trace.slips {
            found.extend(of_slip_among(self, view.slip.id, &fed, now)?);
        }
        for (place, check) in wire::checks(self, None)? {
            if check.welder.person == trace.welder.id {
                found.extend(wire::of_check(self, place, &check)?);
            }
        }
        for (place, find) in wire::finds(self)? {
            if find.welder.value().is_some_and(|w| w.person == trace.welder.id) {
                found.extend(wire::of_find(self, place, &find)?);
            }
        }
        found.extend(of_systems(self, trace.slips.iter().map(|view| view.slip.id), seen)?);
        closed_and_sorted(self, found)
    }
}

/// The one of these findings whose id begins with the digits typed.
///
/// # Errors
/// [`Error::NotFound`] or [`Error::Ambiguous`].
pub fn named(all: &[Finding], typed: &str) -> Result<Finding> {
    let digits = typed.trim().to_ascii_lowercase();
    let what = "finding";
    // Fewer digits may mean one finding today and two tomorrow.
    let long_enough = digits.len() >= 8 && digits.bytes().all(|b| b.is_ascii_hexdigit());
    let found: Vec<&Finding> =
        all.iter().filter(|f| long_enough && f.id.to_string().starts_with(&digits)).collect();
    match found.as_slice() {
        [one] => Ok((*one).clone()),
        [] => Err(Error::NotFound { what, label: typed.to_owned(), near: near(all, &digits) }),
        several => Err(Error::Ambiguous {
            what,
            label: typed.to_owned(),
            meanings: several.iter().map(|f| (f.id.to_string(), f.why.clone())).collect(),
        }),
    }
}

/// Ids that begin alike.
fn near(all: &[Finding], digits: &str) -> Vec<String> {
    let start = digits.get(..4).unwrap_or(digits);
    all.iter()
        .map(|f| f.id.to_string())
        .filter(|id| !start.is_empty() && id.starts_with(start))
        .take(6)
        .collect()
}

/// Every finding of the book, before dispositions.
pub(crate) fn in_whole_book(
    reading: &Reading<'_>,
    whole: &WholeBook<'_>,
    now: Instant,
) -> Result<Vec<Finding>> {
    let mut found = Vec::new();
    let mut used: HashSet<SlipId> = HashSet::new();
    let mut welded: HashSet<JointId> = HashSet::new();
    let any_need = reading.any_need()?;
    let mut links = Vec::new();
    for place in reading.standing_places("SELECT place FROM fact_weld ORDER BY place", [])? {
        let feds = fed(reading, whole, &Record::read(reading, place)?)?;
        for fed in &feds {
            welded.insert(fed.joint.id);
            used.extend(fed.sources.iter().map(|(id, _)| *id));
            used.extend(&fed.flux);
            used.extend(fed.record.slip.value().map(|s| s.slip));
            if let Some(lot) = fed.record.lot.value() {
                let when = Interval { from: fed.covers.0.0, to: fed.covers.1.0 };
                let held = whole.holdings.during(fed.record.welder.person.number(), when);
                used.extend(
                    held.filter(|(slip, _)| slip.lot == lot.lot.number())
                        .map(|(slip, _)| SlipId::from_number(slip.id)),
                );
            }
        }
        if any_need {
            links.extend(feds.iter().map(joint_need::Link::of_fed));
        }
        found.extend(weld::of_weld(reading, &feds)?);
    }
    for system in system::all(reading, links)? {
        found.extend(mass::of_system(reading, &system)?);
    }
    let mut slips: Vec<SlipId> = whole.slips().map(|(slip, _)| SlipId::from_number(slip.id)).collect();
    slips.sort_unstable();
    for id in slips {
        let view = reading.slip_and_lot(id)?;
        found.extend(slip::of_slip(reading, &view, || Ok(used.contains(&id)), now)?);
    }
    for joint in joints(reading)? {
        found.extend(of_joint(reading, &joint, !welded.contains(&joint.id))?);
    }
    for (place, check) in wire::checks(reading, None)? {
        found.extend(wire::of_check(reading, place, &check)?);
    }
    for (place, find) in wire::finds(reading)? {
        found.extend(wire::of_find(reading, place, &find)?);
    }
    found.extend(number::all(reading)?);
    found.extend(late::of_the_rest(reading)?);
    Ok(found)
}

/// The findings of the closed systems that these slips and weld records are in.
fn of_systems(
    reading: &Reading<'_>,
    slips: impl IntoIterator<Item = SlipId>,
    records: impl IntoIterator<Item = Place>,
) -> Result<Vec<Finding>> {
    if !reading.any_need()? {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    for system in system::around(reading, slips, records)? {
        found.extend(mass::of_system(reading, &system)?);
    }
    Ok(found)
}

/// Every weld record of the book at each of its joints, as far as masses ask.
pub(crate) fn mass_links(reading: &Reading<'_>) -> Result<Vec<joint_need::Link>> {
    let held = Held::read(reading)?;
    let whole = WholeBook::new(&held);
    let mut links = Vec::new();
    for place in reading.standing_places("SELECT place FROM fact_weld ORDER BY place", [])? {
        let feds = fed(reading, &whole, &Record::read(reading, place)?)?;
        links.extend(feds.iter().map(joint_need::Link::of_fed));
    }
    Ok(links)
}

/// A weld record at each of its joints, answered from the whole book.
fn fed(reading: &Reading<'_>, whole: &WholeBook<'_>, found: &Record) -> Result<Vec<Fed>> {
    let of_joint = |joint: JointId| -> Result<Fed> {
        let weld = joint_trace::to_trace(reading, found.order, &found.record, joint)?;
        let answer = whole.answer(reading, &weld)?;
        let source = |id: &trace::Id| -> Result<(SlipId, Rc<Lot>)> {
            let lot = reading.lot(LotId::from_number(whole.slip(*id)?.0.lot))?;
            Ok((SlipId::from_number(*id), lot))
        };
        Ok(Fed {
            place: found.place,
            record: Rc::clone(&found.record),
            covers: found.record.covers(),
            joint: reading.joint(joint)?,
            certainty: answer.certainty,
            sources: answer.sources.iter().map(source).collect::<Result<_>>()?,
            flux: answer.flux.iter().map(|id| SlipId::from_number(*id)).collect(),
            evidence: Evidence::against(&answer.reasons),
        })
    };
    found.joints().into_iter().map(of_joint).collect()
}

/// Every joint that an entry describes and that stands.
fn joints(reading: &Reading<'_>) -> Result<Vec<Rc<Joint>>> {
    let ids = reading.standing_things("SELECT joint, place FROM fact_joint", [])?;
    ids.into_iter().map(|id| reading.joint(JointId::from_bytes(id))).collect()
}

/// The findings of a weld record, traced by itself.
fn of_record(reading: &Reading<'_>, place: Place) -> Result<Vec<Finding>> {
    let feds = joints_of_weld(reading, place)?
        .into_iter()
        .map(|joint| Fed::of_trace(reading, &joint_trace::of_weld(reading, place, joint)?))
        .collect::<Result<Vec<_>>>()?;
    weld::of_weld(reading, &feds)
}

/// The findings of slips that are sources of a weld record, and so are used.
fn of_sources(reading: &Reading<'_>, sources: &[SlipAndLot], now: Instant) -> Result<Vec<Finding>> {
    let mut found = Vec::new();
    for view in sources {
        found.extend(slip::of_slip(reading, view, || Ok(true), now)?);
    }
    Ok(found)
}

/// The slips that some weld records used for certain: their sources, their flux, and what they name.
struct Uses {
    slips: HashSet<SlipId>,
}

impl Uses {
    fn of<'w>(reading: &Reading<'_>, welds: impl Iterator<Item = &'w WeldTrace>) -> Result<Self> {
        let mut slips = HashSet::new();
        for weld in welds {
            let fed = Fed::of_trace(reading, weld)?;
            slips.extend(fed.sources.iter().map(|(id, _)| *id));
            slips.extend(&fed.flux);
            slips.extend(fed.record.slip.value().map(|s| s.slip));
        }
        Ok(Self { slips })
    }
}

/// The findings of a slip; whether it was used is looked up among these weld records first, then in the book.
fn of_slip_among(reading: &Reading<'_>, id: SlipId, uses: &Uses, now: Instant) -> Result<Vec<Finding>> {
    let view = reading.slip_and_lot(id)?;
    let used = || -> Result<bool> {
        if uses.slips.contains(&id) {
            return Ok(true);
        }
        let mut places = welds_naming_slip(reading, id)?;
        places.extend(welds_during(reading, &view)?);
        for place in places.into_iter().map(Place) {
            for joint in joints_of_weld(reading, place)? {
                if Fed::of_trace(reading, &joint_trace::of_weld(reading, place, joint)?)?.uses(&view) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    };
    slip::of_slip(reading, &view, used, now)
}

/// The finding of a joint that nobody wrote a weld record for.
fn of_joint(reading: &Reading<'_>, joint: &Joint, bare: bool) -> Result<Option<Finding>> {
    if !bare {
        return Ok(None);
    }
    let places =
        reading.standing_places("SELECT place FROM fact_joint WHERE joint = ?1", [joint.id.bytes()])?;
    let Some((_, first)) = reading.ordered(places)?.first().copied() else {
        return Ok(None);
    };
    let why = format!("The book has no weld record of {}.", joint.declared.number);
    let finding =
        Finding::new(Code::JointWithoutWeldRecord, Severity::Note, vec![reading.origin_id(first)?], why);
    Ok(Some(finding.at_joints(&[joint])))
}
