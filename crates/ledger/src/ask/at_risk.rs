//! Unmarked wire: which welds it, or wire like it, can have gone into.

use super::finding::Finding;
use super::joint_trace::{self, WeldTrace};
use super::metal::MetalReading;
use super::reading::{Joint, Reading};
use super::slip;
use super::where_used::joints_of_weld;
use crate::error::Result;
use crate::log::Place;
use record::event::{Event, WireFoundUnmarked};
use record::finding::Code;
use record::id::{LotId, PersonId, SlipId};
use record::{EntryId, Instant};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use trace::{HandOver, Interval, SpotCheck, UnmarkedWire, Weld};

/// A weld record that is at risk, at one of its joints.
#[derive(Clone, Debug)]
pub struct WeldAtRisk {
    /// The joint.
    pub joint: Rc<Joint>,
    /// The weld record, with what can have fed it.
    pub weld: WeldTrace,
    /// From when on all that this welder welded is at risk; none is from the first day.
    pub since: Option<Instant>,
    /// Numbers of the slips that the metal went through, from the welder with the wire to the one who welded.
    pub through: Vec<String>,
}

/// Where unmarked wire leads.
#[derive(Clone, Debug)]
pub struct AtRisk {
    /// Badge of the welder who had it; none where nobody knows, and then no weld can be told.
    pub welder: Option<String>,
    /// Their last clean spot check before it.
    pub since: Option<Instant>,
    /// Weld records at risk, by start.
    pub welds: Vec<WeldAtRisk>,
    /// Codes of the lots that the welder held since then: what the wire can be of, as far as slips say.
    pub lots: Vec<(LotId, String)>,
    /// Readings of the wire itself: of its class, never of its lot.
    pub readings: Vec<MetalReading>,
}

impl AtRisk {
    /// Of wire that nobody knows whose it was: no weld can be told.
    #[must_use]
    pub fn of_nobody() -> Self {
        AtRisk { welder: None, since: None, welds: Vec::new(), lots: Vec::new(), readings: Vec::new() }
    }
}

/// Whose wire a finding is about, and when.
fn wire_of(reading: &Reading<'_>, finding: &Finding) -> Result<Option<(Option<PersonId>, Interval)>> {
    if finding.code != Code::UnmarkedWire {
        return Ok(None);
    }
    for entry in &finding.entries {
        if let Some(found) = wire_of_entry(reading, *entry)? {
            return Ok(Some(found));
        }
    }
    Ok(None)
}

fn wire_of_entry(reading: &Reading<'_>, entry: EntryId) -> Result<Option<(Option<PersonId>, Interval)>> {
    let Some(first) = reading.place_of(entry)? else {
        return Ok(None);
    };
    for place in reading.corrections().newest(first) {
        let event = reading.event(place)?;
        let found = if let Event::WireFoundUnmarked(e) = event {
            Some((e.welder.value().map(|w| w.person), slip::interval(&e.at)))
        } else if let Event::MarkSpotChecked(e) = event {
            Some((Some(e.welder.person), slip::interval(&e.at)))
        } else if let Event::RodReturned(e) = event {
            Some((Some(e.holder), slip::interval(&e.at)))
        } else if let Event::JointWelded(e) = event {
            let (from, to) = e.covers();
            Some((Some(e.welder.person), Interval { from: from.0, to: to.0 }))
        } else {
            None
        };
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

impl Reading<'_> {
    /// The welds that the wire of an `unmarked-wire` finding puts at risk; none for other findings.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn at_risk(&self, finding: &Finding) -> Result<Option<AtRisk>> {
        match wire_of(self, finding)? {
            None => Ok(None),
            Some((welder, at)) => {
                let mut risk = match welder {
                    None => AtRisk::of_nobody(),
                    Some(welder) => of_wire(self, welder, at)?,
                };
                for entry in &finding.entries {
                    risk.readings.extend(self.metal_read_on(&entry.0)?.iter().cloned());
                }
                Ok(Some(risk))
            }
        }
    }
}

/// The welds at risk from wire in a welder's hands.
pub(crate) fn of_wire(reading: &Reading<'_>, welder: PersonId, at: Interval) -> Result<AtRisk> {
    let known = Known::read(reading, welder, at)?;
    let wire = UnmarkedWire { welder: welder.number(), at };
    let clears = reading.clears(welder)?;
    let mut lots = wire
        .lots_held(&known.slips, &clears, &known.checks)
        .into_iter()
        .map(|lot| {
            let id = LotId::from_number(lot);
            Ok((id, reading.lot(id)?.received.code.clone()))
        })
        .collect::<Result<Vec<_>>>()?;
    lots.sort_by(|a, b| (&a.1, a.0).cmp(&(&b.1, b.0)));
    let mut welds = Vec::new();
    for risk in wire.at_risk(&known.slips, &known.checks, &known.hand_overs, &known.welds) {
        let Some(place) = known.places.get(risk.weld) else {
            continue;
        };
        let through = risk
            .through
            .iter()
            .map(|id| Ok(reading.slip(SlipId::from_number(*id))?.number.clone()))
            .collect::<Result<Vec<_>>>()?;
        for joint in joints_of_weld(reading, *place)? {
            welds.push(WeldAtRisk {
                joint: reading.joint(joint)?,
                weld: joint_trace::of_weld(reading, *place, joint)?,
                since: risk.since.map(Instant),
                through: through.clone(),
            });
        }
    }
    Ok(AtRisk {
        welder: Some(reading.person(welder)?.badge.clone()),
        since: wire.since(&known.checks).map(Instant),
        welds,
        lots,
        readings: Vec::new(),
    })
}

/// What the pure computation looks at: the welder's slips, what was handed on from them and to whom, and the spot
/// checks and weld records of all who had any of it.
struct Known {
    slips: Vec<trace::Slip>,
    hand_overs: Vec<HandOver>,
    checks: Vec<SpotCheck>,
    welds: Vec<Weld>,
    places: Vec<Place>,
}

impl Known {
    fn read(reading: &Reading<'_>, welder: PersonId, at: Interval) -> Result<Self> {
        let mut this = Self {
            slips: Vec::new(),
            hand_overs: Vec::new(),
            checks: checks_of(reading, welder)?,
            welds: Vec::new(),
            places: Vec::new(),
        };
        let since = UnmarkedWire { welder: welder.number(), at }.since(&this.checks).unwrap_or(i64::MIN);
        let mut people = BTreeSet::from([welder]);
        let mut open: Vec<SlipId> = slips_of(reading, welder, at.to)?;
        let mut seen: BTreeSet<SlipId> = BTreeSet::new();
        while let Some(id) = open.pop() {
            if !seen.insert(id) {
                continue;
            }
            this.slips.push((*reading.traced(id)?).clone());
            for (child, holder, when) in handed_on(reading, id)? {
                this.hand_overs.push(HandOver { from_slip: id.number(), to_slip: child.number(), at: when });
                people.insert(holder);
                open.push(child);
            }
        }
        for person in people {
            if person != welder {
                this.checks.extend(checks_of(reading, person)?);
            }
            this.read_welds(reading, person, since, at.to)?;
        }
        let mut order: BTreeMap<(i64, u128), (Weld, Place)> = BTreeMap::new();
        for (weld, place) in std::mem::take(&mut this.welds).into_iter().zip(std::mem::take(&mut this.places))
        {
            order.insert((weld.when.from, weld.id), (weld, place));
        }
        (this.welds, this.places) = order.into_values().unzip();
        Ok(this)
    }

    fn read_welds(&mut self, reading: &Reading<'_>, person: PersonId, since: i64, until: i64) -> Result<()> {
        let places = reading.standing_places(
            "SELECT place FROM fact_weld WHERE welder = ?1 AND at_from <= ?3 AND at_to >= ?2",
            (person.bytes(), since, until),
        )?;
        for place in places {
            let event = reading.event(place)?;
            let Event::JointWelded(record) = event else {
                continue;
            };
            let (from, to) = record.covers();
            self.welds.push(Weld {
                id: reading.order(place)?,
                joint: record.joints.first().map_or(0, |j| j.joint.number()),
                welder: person.number(),
                when: Interval { from: from.0, to: to.0 },
                processes: Vec::new(),
                filler: record.filler,
                named: trace::Named::default(),
            });
            self.places.push(place);
        }
        Ok(())
    }
}

/// Every slip that a holder was given until a moment.
fn slips_of(reading: &Reading<'_>, holder: PersonId, until: i64) -> Result<Vec<SlipId>> {
    let slips = reading.standing_things(
        "SELECT slip, place FROM fact_slip WHERE holder = ?1 AND issued_from <= ?2",
        (holder.bytes(), until),
    )?;
    Ok(slips.into_iter().map(SlipId::from_bytes).collect())
}

/// The slips that were handed over from a slip, to whom, when.
fn handed_on(reading: &Reading<'_>, parent: SlipId) -> Result<Vec<(SlipId, PersonId, Interval)>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT slip, holder, issued_from, issued_to, place FROM fact_slip WHERE parent = ?1",
    )?;
    let mut rows = statement.query([parent.bytes()])?;
    let mut handed = Vec::new();
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(4)?)) {
            let from: i64 = row.get(2)?;
            handed.push((
                SlipId::from_bytes(row.get(0)?),
                PersonId::from_bytes(row.get(1)?),
                Interval { from, to: row.get::<_, i64>(3)?.max(from) },
            ));
        }
    }
    Ok(handed)
}

/// Every spot check of a welder.
fn checks_of(reading: &Reading<'_>, welder: PersonId) -> Result<Vec<SpotCheck>> {
    let mut checks = Vec::new();
    for place in
        reading.standing_places("SELECT place FROM fact_spot_check WHERE welder = ?1", [welder.bytes()])?
    {
        let event = reading.event(place)?;
        if let Event::MarkSpotChecked(check) = event {
            checks.push(joint_trace::check_to_trace(reading.order(place)?, &check));
        }
    }
    Ok(checks)
}

/// Whether found wire puts any of these weld records at risk.
pub(crate) fn can_touch(
    reading: &Reading<'_>,
    find: &WireFoundUnmarked,
    welds: &[WeldTrace],
) -> Result<bool> {
    let Some(welder) = find.welder.value() else {
        return Ok(false);
    };
    let mut possible = false;
    for weld in welds.iter().filter(|w| w.covers.0 <= find.at.to && w.record.filler) {
        // The welder's own weld, or that of somebody who was ever given metal by another.
        possible |= weld.record.welder.person == welder.person
            || reading
                .conn()
                .prepare_cached(
                    "SELECT EXISTS (SELECT 1 FROM fact_slip WHERE holder = ?1 AND parent IS NOT NULL)",
                )?
                .query_row([weld.record.welder.person.bytes()], |row| row.get::<_, bool>(0))?;
    }
    if !possible {
        return Ok(false);
    }
    let risk = of_wire(reading, welder.person, slip::interval(&find.at))?;
    Ok(risk.welds.iter().any(|r| welds.iter().any(|w| w.place == r.weld.place)))
}
