//! Which rod went into this weld: every weld record of a joint with its sources and their certainty.

use super::certificate_read;
use super::heat_input::{self, PassHeat};
use super::label;
use super::metal::{self, MetalReading};
use super::reading::{Found, Joint, Reading};
use super::slip::{self, SlipAndLot};
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use filler::Process;
use filler::lot_class::Compared;
use record::event::{Event, JointWelded, MarkSpotChecked};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId};
use record::{Instant, Stated};
use std::collections::BTreeMap;
use std::rc::Rc;
use trace::{Certainty, Named, Order, Reason, SpotCheck, Weld};

/// The answer about one joint.
#[derive(Clone, Debug)]
pub struct JointTrace {
    /// The joint.
    pub joint: Rc<Joint>,
    /// Its weld records, by start and then in record order.
    pub welds: Vec<WeldTrace>,
    /// The papers of its source lots against what its job asks, by control code; empty where it asks nothing.
    pub papers: Vec<(String, Vec<Compared>)>,
    /// Readings of its weld metal, which is diluted: shown, held against nothing.
    pub weld_metal: Vec<MetalReading>,
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
    /// Readings of a rod at the weld, and of its sources, each with the slips among the sources that it rejects.
    pub readings: Vec<(MetalReading, Vec<SlipId>)>,
    /// Why the certainty is what it is.
    pub reasons: Vec<Reason>,
    /// The heat input of the pass, where something was written down of its arc.
    pub heat_input: Option<PassHeat>,
    /// What later records of the joint say of it.
    pub cut_out: CutOut,
}

/// Whether a weld was cut out again, by the word of the records of its joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CutOut {
    /// No record says so.
    No,
    /// This record of a cut-out comes after it.
    By(EntryId),
    /// This record of a cut-out covers some of the same time: which came first is not recorded, so it counts as still in
    /// the joint.
    Perhaps(EntryId),
}

impl CutOut {
    /// The record that says that it was cut out.
    pub fn by(self) -> Option<EntryId> {
        match self {
            CutOut::By(entry) => Some(entry),
            CutOut::No | CutOut::Perhaps(_) => None,
        }
    }
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
        let id = label::one_or_identity(self, LabelKind::Joint, "joint", number, exists)?;
        of_joint(self, JointId::from_bytes(id))
    }

    /// The earlier numbers of a joint that was renumbered, in the order of the record.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn joint_aliases(&self, joint: JointId) -> Result<Vec<String>> {
        let now = self.joint(joint)?;
        let places = self.standing_places(
            "SELECT place FROM fact_joint WHERE joint = ?1 ORDER BY place",
            [joint.bytes()],
        )?;
        let mut aliases: Vec<String> = Vec::new();
        for (_, place) in self.ordered(places)? {
            if let Event::JointDeclared(declared) = self.event(place)?
                && declared.number != now.declared.number
                && !aliases.contains(&declared.number)
            {
                aliases.push(declared.number);
            }
        }
        Ok(aliases)
    }
}

/// A record that says that a joint was cut out, and the closed interval that it covers.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CutOutRecord {
    entry: EntryId,
    covers: (Instant, Instant),
}

/// The records of a joint that say that it was cut out, by start.
pub(crate) fn cut_outs(reading: &Reading<'_>, joint: JointId) -> Result<Vec<CutOutRecord>> {
    let places = reading.standing_places(
        "SELECT place FROM fact_weld_joint WHERE joint = ?1 ORDER BY place",
        [joint.bytes()],
    )?;
    let mut found = Vec::new();
    for place in places {
        let record = reading.record(place)?;
        if says_cut_out(&record.record) {
            found.push(CutOutRecord { entry: record.entry, covers: record.record.covers() });
        }
    }
    found.sort_by_key(|c| (c.covers, c.entry));
    Ok(found)
}

fn says_cut_out(record: &JointWelded) -> bool {
    record.cycle.value().is_some_and(|cycle| record::rules::weld::says_cut_out(cycle))
}

/// Whether one of the cut-outs of its joint comes after a weld record. Times that overlap do not say which came first: what
/// may still be in the joint counts as in it.
pub(crate) fn cut_out(cut_outs: &[CutOutRecord], record: &JointWelded) -> CutOut {
    if says_cut_out(record) {
        return CutOut::No;
    }
    let (start, end) = record.covers();
    if let Some(after) = cut_outs.iter().find(|c| c.covers.0 >= end) {
        return CutOut::By(after.entry);
    }
    match cut_outs.iter().find(|c| c.covers.1 >= start) {
        Some(overlapping) => CutOut::Perhaps(overlapping.entry),
        None => CutOut::No,
    }
}

/// The trace of a joint.
pub(crate) fn of_joint(reading: &Reading<'_>, joint: JointId) -> Result<JointTrace> {
    let places = reading
        .places("SELECT place FROM fact_weld_joint WHERE joint = ?1 ORDER BY place", [joint.bytes()])?;
    let standing = places.iter().copied().filter(|place| reading.stands(*place));
    let mut welds = Record::read_all(reading, standing)?
        .iter()
        .map(|found| Ok((found.order, of_record(reading, found, joint)?)))
        .collect::<Result<Vec<_>>>()?;
    welds.sort_by_key(|(order, weld)| (weld.covers.0, *order));
    let declared = reading.joint(joint)?;
    let welds: Vec<WeldTrace> = welds.into_iter().map(|(_, w)| w).collect();
    Ok(JointTrace {
        papers: papers(reading, &declared, &welds)?,
        joint: declared,
        welds,
        weld_metal: metal::of_weld_metal(reading, joint)?,
    })
}

/// The papers of the lots that can be in a joint against what its job asks.
fn papers(reading: &Reading<'_>, joint: &Joint, welds: &[WeldTrace]) -> Result<Vec<(String, Vec<Compared>)>> {
    let mut papers: Vec<(String, Vec<Compared>)> = Vec::new();
    for source in welds.iter().flat_map(|weld| &weld.sources) {
        let code = &source.lot.received.code;
        let compared = certificate_read::against_job(reading, joint, &source.lot)?;
        if !compared.is_empty() && !papers.iter().any(|(known, _)| known == code) {
            papers.push((code.clone(), compared));
        }
    }
    Ok(papers)
}

/// A weld record, read once for all of its joints.
#[derive(Debug)]
pub(crate) struct Record {
    /// The entry.
    pub(crate) entry: EntryId,
    /// Where it is in this file.
    pub(crate) place: Place,
    /// Where it stands in the order of the record.
    pub(crate) order: Order,
    /// When the station says it was written.
    pub(crate) recorded: Instant,
    /// What was recorded.
    pub(crate) record: Rc<JointWelded>,
}

impl Record {
    /// Reads the weld record at a place.
    pub(crate) fn read(reading: &Reading<'_>, place: Place) -> Result<Self> {
        let Found { id, order, recorded, event, .. } = reading.found(place)?;
        let Event::JointWelded(record) = event else {
            return Err(Error::Damaged(format!("a weld record is an entry of kind {}", event.kind())));
        };
        Ok(Self { entry: id, place, order, recorded, record: Rc::new(record) })
    }

    /// Reads those at the places, in the order of the record, and what their welders held over all of them.
    pub(crate) fn read_all(
        reading: &Reading<'_>,
        places: impl IntoIterator<Item = Place>,
    ) -> Result<Vec<Rc<Self>>> {
        let mut records =
            places.into_iter().map(|place| reading.record(place)).collect::<Result<Vec<_>>>()?;
        records.sort_by_key(|found| (found.order, found.place));
        let mut stretches: BTreeMap<PersonId, (Instant, Instant)> = BTreeMap::new();
        for found in &records {
            let (from, to) = found.record.covers();
            let stretch = stretches.entry(found.record.welder.person).or_insert((from, to));
            *stretch = (stretch.0.min(from), stretch.1.max(to));
        }
        for (welder, (from, to)) in stretches {
            reading.look_ahead(welder, from, to)?;
        }
        Ok(records)
    }

    /// Its joints, each once.
    pub(crate) fn joints(&self) -> Vec<JointId> {
        let mut joints: Vec<JointId> = Vec::new();
        for joint in &self.record.joints {
            if !joints.contains(&joint.joint) {
                joints.push(joint.joint);
            }
        }
        joints
    }
}

/// The trace of one weld record at one of its joints.
pub(crate) fn of_weld(reading: &Reading<'_>, place: Place, joint: JointId) -> Result<WeldTrace> {
    of_record(reading, &*reading.record(place)?, joint)
}

/// The trace of a weld record at one of its joints.
pub(crate) fn of_record(reading: &Reading<'_>, found: &Record, joint: JointId) -> Result<WeldTrace> {
    Ok((*reading.weld_trace(found, joint)?).clone())
}

/// Works out the trace of a weld record at one of its joints.
pub(crate) fn work_out(reading: &Reading<'_>, found: &Record, joint: JointId) -> Result<WeldTrace> {
    let record = &found.record;
    let covers = record.covers();
    let weld = to_trace(reading, found.order, record, joint)?;
    let welder = record.welder.person;
    let held = reading.slips_held(welder, covers.0, covers.1)?;
    let slips = held.iter().map(|id| Ok((*reading.traced(*id)?).clone())).collect::<Result<Vec<_>>>()?;
    let checks = spot_checks(reading, joint, welder)?;
    let pure: Vec<SpotCheck> = checks.iter().map(|(_, _, check)| check.clone()).collect();
    let answer = trace::sources(&weld, &slips, &reading.clears(welder)?, &pure);
    let (answer, read) = metal::held_against(reading, &weld, answer)?;
    let views = |ids: &[trace::Id]| -> Result<Vec<SlipAndLot>> {
        ids.iter().map(|id| reading.slip_and_lot(SlipId::from_number(*id))).collect()
    };
    let cut_out = cut_out(&reading.cut_outs(joint)?, record);
    Ok(WeldTrace {
        cut_out,
        heat_input: heat_input::of_weld(reading, record, joint)?,
        entry: found.entry,
        place: found.place,
        recorded: found.recorded,
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
        readings: answer
            .readings
            .iter()
            .filter_map(|i| {
                let of_it = answer.refuted.iter().filter(|(reading, _)| reading == i);
                let refuted = of_it.map(|(_, slip)| SlipId::from_number(*slip)).collect();
                read.get(*i).map(|found| (found.clone(), refuted))
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
        record: (**record).clone(),
    })
}

/// A weld record at one of its joints as the pure computation wants it.
pub(crate) fn to_trace(
    reading: &Reading<'_>,
    order: Order,
    record: &JointWelded,
    joint: JointId,
) -> Result<Weld> {
    let (from, to) = record.covers();
    Ok(Weld {
        id: order,
        joint: joint.number(),
        welder: record.welder.person.number(),
        when: trace::Interval { from: from.0, to: to.0 },
        processes: processes(reading, record, joint)?,
        filler: record.filler,
        named: Named {
            lot: record.lot.value().map(|l| l.lot.number()),
            slip: record.slip.value().map(|s| s.slip.number()),
        },
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
    let places = reading.standing_places(
        "SELECT place FROM fact_spot_check WHERE joint = ?1 AND welder = ?2 ORDER BY place",
        (joint.bytes(), welder.bytes()),
    )?;
    let mut checks = Vec::new();
    for (order, place) in reading.ordered(places)? {
        let Event::MarkSpotChecked(check) = reading.event(place)? else {
            continue;
        };
        let pure = check_to_trace(order, &check);
        checks.push((reading.id(place)?, check, pure));
    }
    Ok(checks)
}

/// A spot check as the pure computation wants it.
pub(crate) fn check_to_trace(order: Order, check: &MarkSpotChecked) -> SpotCheck {
    SpotCheck {
        joint: check.joint.joint.number(),
        welder: check.welder.person.number(),
        at: slip::interval(&check.at),
        legible: check.legible,
        reads: check.reads.value().cloned(),
        order,
    }
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
        Some(slip) => {
            let slip = reading.slip(slip.slip)?;
            // A void slip never was, and so is of no lot.
            Ok(!slip.void && slip.lot == lot)
        }
        None => Ok(false),
    }
}
