//! Which rod went into this weld: every weld record of a joint with its sources and their certainty.

use super::label;
use super::reading::{Joint, Reading};
use super::slip::{self, SlipAndLot};
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use filler::Process;
use record::event::{Event, JointWelded, MarkSpotChecked};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId};
use record::{Instant, Stated};
use std::rc::Rc;
use trace::{Certainty, Named, Reason, SpotCheck, Weld};

/// The answer about one joint.
#[derive(Clone, Debug)]
pub struct JointTrace {
    /// The joint.
    pub joint: Rc<Joint>,
    /// Its weld records, by start and then in record order.
    pub welds: Vec<WeldTrace>,
}

/// The answer about one weld record at one joint.
#[derive(Clone, Debug)]
pub struct WeldTrace {
    /// The entry.
    pub entry: EntryId,
    /// Where it is in this file.
    pub place: Place,
    /// When the station says it was written.
    pub recorded: Instant,
    /// The joint asked about.
    pub joint: JointId,
    /// What was recorded.
    pub record: JointWelded,
    /// The closed interval it covers.
    pub covers: (Instant, Instant),
    /// How certain the sources are.
    pub certainty: Certainty,
    /// Slips that can have fed it, as the certainty says.
    pub sources: Vec<SlipAndLot>,
    /// Further slips that were in the welder's hands.
    pub others: Vec<SlipAndLot>,
    /// Flux, apart.
    pub flux: Vec<SlipAndLot>,
    /// Spot checks of the joint and welder during it, with whether each contradicts the sources.
    pub checks: Vec<(EntryId, MarkSpotChecked, bool)>,
    /// Why the certainty is what it is.
    pub reasons: Vec<Reason>,
}

impl WeldTrace {
    /// The distinct lots of the sources, in their order.
    pub fn lots(&self) -> Vec<&SlipAndLot> {
        let mut lots: Vec<&SlipAndLot> = Vec::new();
        for source in &self.sources {
            if !lots.iter().any(|l| l.lot.id == source.lot.id) {
                lots.push(source);
            }
        }
        lots
    }
}

impl Reading<'_> {
    /// Which rod went into this joint.
    ///
    /// # Errors
    /// When no joint, or more than one, has that number.
    pub fn trace_joint(&self, number: &str) -> Result<JointTrace> {
        let exists = "SELECT EXISTS (SELECT 1 FROM fact_joint WHERE joint = ?1)";
        let id = label::one_or_identity(self.conn(), LabelKind::Joint, "joint", number, exists)?;
        of_joint(self, JointId::from_bytes(id))
    }
}

/// The trace of a joint.
pub(crate) fn of_joint(reading: &Reading<'_>, joint: JointId) -> Result<JointTrace> {
    let mut statement =
        reading.conn().prepare_cached("SELECT place FROM fact_weld_joint WHERE joint = ?1 ORDER BY place")?;
    let places = statement
        .query_map([joint.bytes()], |row| row.get(0).map(Place))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut welds = reading
        .ordered(places)?
        .into_iter()
        .map(|(order, place)| Ok((order, of_weld(reading, place, joint)?)))
        .collect::<Result<Vec<_>>>()?;
    welds.sort_by_key(|(order, weld)| (weld.covers.0, *order));
    Ok(JointTrace { joint: reading.joint(joint)?, welds: welds.into_iter().map(|(_, w)| w).collect() })
}

/// The trace of one weld record at one of its joints.
pub(crate) fn of_weld(reading: &Reading<'_>, place: Place, joint: JointId) -> Result<WeldTrace> {
    let entry = crate::log::entry_at(reading.conn(), place)?;
    let Event::JointWelded(record) = entry.event else {
        return Err(Error::Damaged(format!("a weld record is an entry of kind {}", entry.event.kind())));
    };
    let covers = record.covers();
    let weld = Weld {
        id: reading.order(place)?,
        joint: joint.number(),
        welder: record.welder.person.number(),
        when: trace::Interval { from: covers.0.0, to: covers.1.0 },
        processes: processes(reading, &record, joint)?,
        filler: record.filler,
        named: Named {
            lot: record.lot.value().map(|l| l.lot.number()),
            slip: record.slip.value().map(|s| s.slip.number()),
        },
    };
    let welder = record.welder.person;
    let held = reading.slips_held(welder, covers.0, covers.1)?;
    let slips = held.iter().map(|id| Ok((*reading.traced(*id)?).clone())).collect::<Result<Vec<_>>>()?;
    let checks = spot_checks(reading, joint, welder)?;
    let pure: Vec<SpotCheck> = checks.iter().map(|(_, _, check)| check.clone()).collect();
    let answer = trace::sources(&weld, &slips, &reading.clears(welder)?, &pure);
    let views = |ids: &[trace::Id]| -> Result<Vec<SlipAndLot>> {
        ids.iter().map(|id| reading.slip_and_lot(SlipId(uuid::Uuid::from_u128(*id)))).collect()
    };
    Ok(WeldTrace {
        entry: reading.id(place)?,
        place,
        recorded: entry.header.time,
        joint,
        covers,
        certainty: answer.certainty,
        sources: views(&answer.sources)?,
        others: views(&answer.others)?,
        flux: views(&answer.flux)?,
        checks: answer
            .checks
            .iter()
            .filter_map(|i| {
                checks.get(*i).map(|(id, check, _)| (*id, check.clone(), answer.contradicting.contains(i)))
            })
            .collect(),
        // Indexes into all checks of joint and welder become indexes into those of this weld.
        reasons: answer
            .reasons
            .iter()
            .map(|reason| {
                if let Reason::MarkReadNoSourceHas(i) = reason {
                    Reason::MarkReadNoSourceHas(answer.checks.iter().position(|c| c == i).unwrap_or(*i))
                } else {
                    *reason
                }
            })
            .collect(),
        record,
    })
}

/// The record's process, else every process of the joint's procedures; empty where nothing is known.
fn processes(reading: &Reading<'_>, record: &JointWelded, joint: JointId) -> Result<Vec<Process>> {
    if let Stated::Value(process) = &record.process {
        return Ok(vec![process.clone()]);
    }
    let mut all = Vec::new();
    for wps in &reading.joint(joint)?.declared.wps {
        all.extend(reading.wps(wps.wps)?.processes.iter().cloned());
    }
    Ok(all)
}

/// All spot checks of a joint and welder, in record order.
fn spot_checks(
    reading: &Reading<'_>,
    joint: JointId,
    welder: PersonId,
) -> Result<Vec<(EntryId, MarkSpotChecked, SpotCheck)>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT place FROM fact_spot_check WHERE joint = ?1 AND welder = ?2 ORDER BY place",
    )?;
    let places = statement
        .query_map((joint.bytes(), welder.bytes()), |row| row.get(0).map(Place))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut checks = Vec::new();
    for (order, place) in reading.ordered(places)? {
        let Event::MarkSpotChecked(check) = reading.event(place)? else {
            continue;
        };
        let pure = SpotCheck {
            joint: joint.number(),
            welder: welder.number(),
            at: slip::interval(&check.at),
            legible: check.legible,
            reads: check.reads.value().cloned(),
            order,
        };
        checks.push((reading.id(place)?, check, pure));
    }
    Ok(checks)
}

/// The lot and slip that a record names, as typed.
pub fn named(record: &JointWelded) -> (Option<&str>, Option<&str>) {
    (record.lot.value().map(|l| l.label.as_str()), record.slip.value().map(|s| s.number.as_str()))
}

/// Whether the record names a lot that is not among `lots`.
pub(crate) fn names_lot(record: &JointWelded, reading: &Reading<'_>, lot: LotId) -> Result<bool> {
    if record.lot.value().is_some_and(|l| l.lot == lot) {
        return Ok(true);
    }
    match record.slip.value() {
        Some(slip) => Ok(reading.slip(slip.slip)?.lot == lot),
        None => Ok(false),
    }
}
