//! What instruments read: on rods in a welder's hand, on lots, slips and found wire, and on weld metal.

use super::lot::Lot;
use super::reading::Reading;
use super::slip;
use crate::error::Result;
use crate::log::Place;
use filler::limits::{AppliesTo, ClassLimits, Lookup, Tables};
use record::event::{Event, MetalRead, ReadOn};
use record::id::{EntryId, JointId, LotId, SlipId};
use std::rc::Rc;
use trace::{Answer, Order, Weld};

/// A reading that stands.
#[derive(Clone, Debug)]
pub struct MetalReading {
    /// The entry.
    pub entry: EntryId,
    /// Where it stands in the order of the record.
    pub order: Order,
    /// What was read.
    pub read: MetalRead,
}

/// A class as entries name it: specification and class.
pub(crate) fn name(class: &ClassLimits) -> String {
    format!("{} {}", class.spec, class.classification)
}

/// Whether a reading rejects the class of a lot; none where that was not checked: the lot's class is not known, or no table
/// had it. The tables given only say how a designation is named; what was held against what is in the entry.
#[must_use]
pub(crate) fn rejects(read: &MetalRead, tables: &Tables, lot: &Lot) -> Option<bool> {
    let (spec, class) = (lot.received.spec.value()?, lot.received.classification.value()?);
    let Lookup::Found(found) = tables.find(spec, class) else {
        return None;
    };
    // A reading of a rod was held against the classes whose limits are of the wire.
    let held = |class: &ClassLimits| class.product == AppliesTo::Wire && read.tables.contains(&class.table);
    if !found.classes.iter().any(|class| held(class)) {
        return None;
    }
    Some(found.classes.iter().any(|class| read.rejected.contains(&name(class))))
}

impl MetalReading {
    /// As the pure computation wants it; none for one that speaks of no source: of weld metal, which is diluted, and of
    /// wire that was found.
    fn to_trace(&self) -> Option<trace::Reading> {
        let on = match &self.read.on {
            ReadOn::Joint { joint, welder } => trace::ReadOn::Hand {
                joint: joint.joint.number(),
                welder: welder.person.number(),
                at: slip::interval(&self.read.at),
            },
            ReadOn::Lot(lot) => trace::ReadOn::Lot(lot.lot.number()),
            ReadOn::Slip(slip) => trace::ReadOn::Slip(slip.slip.number()),
            ReadOn::Find(_) | ReadOn::WeldMetal(_) => return None,
        };
        Some(trace::Reading { on, order: self.order })
    }
}

/// A reading as people read it: `Cr 18.9 ± 0.15, Ni 9.6 ± 0.15 (k = 2)`.
#[must_use]
pub fn said(reading: &filler::reading::Reading) -> String {
    let measured =
        reading.measured().iter().map(|m| format!("{} {} ± {}", m.element, m.value, m.uncertainty));
    let below = reading.below().iter().map(|b| format!("{} < {}", b.element, b.limit));
    let values: Vec<String> = measured.chain(below).collect();
    format!("{} (k = {})", values.join(", "), reading.k())
}

impl Reading<'_> {
    /// The readings on rods of a slip.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn readings_of_slip(&self, slip: SlipId) -> Result<Vec<MetalReading>> {
        Ok((*self.metal_read_on(&slip.bytes())?).clone())
    }

    /// The readings on a joint, lot or slip (by the bytes of its identity) or on found wire (by the bytes of its entry's
    /// id), in the order of the record.
    pub(crate) fn metal_read_on(&self, thing: &[u8]) -> Result<Rc<Vec<MetalReading>>> {
        self.metal_cached(thing, || {
            let sql = "SELECT place FROM fact_metal_read WHERE thing = ?1 ORDER BY place";
            let places = self.standing_places(sql, [thing])?;
            let mut readings = Vec::new();
            for (order, place) in self.ordered(places)? {
                readings.extend(at_place(self, order, place)?);
            }
            Ok(readings)
        })
    }
}

fn at_place(reading: &Reading<'_>, order: Order, place: Place) -> Result<Option<MetalReading>> {
    let Event::MetalRead(read) = reading.event(place)? else {
        return Ok(None);
    };
    Ok(Some(MetalReading { entry: reading.id(place)?, order, read }))
}

/// Holds the answer about a weld against the readings that speak of it or of one of its sources; the indexes of the
/// answer are into those returned.
pub(crate) fn held_against(
    reading: &Reading<'_>,
    weld: &Weld,
    answer: Answer,
) -> Result<(Answer, Vec<MetalReading>)> {
    if !reading.any_metal_read()? {
        return Ok((answer, Vec::new()));
    }
    let mut lots = Vec::new();
    let mut found = (*reading.metal_read_on(&JointId::from_number(weld.joint).bytes())?).clone();
    for id in &answer.sources {
        let slip = SlipId::from_number(*id);
        let lot = reading.slip(slip)?.lot;
        lots.push((*id, reading.lot(lot)?));
        found.extend(reading.metal_read_on(&slip.bytes())?.iter().cloned());
        found.extend(reading.metal_read_on(&lot.bytes())?.iter().cloned());
    }
    found.sort_by_key(|r| (r.order, r.entry));
    found.dedup_by_key(|r| r.entry);
    let (pure, found): (Vec<trace::Reading>, Vec<MetalReading>) =
        found.into_iter().filter_map(|r| Some((r.to_trace()?, r))).unzip();
    let tables = reading.limits()?;
    let lot_of = |slip| lots.iter().find(|(id, _)| *id == slip).map(|(_, lot)| lot);
    let answer = trace::reading::held_against(
        answer,
        weld,
        &pure,
        |slip| lot_of(slip).map(|lot| lot.id.number()),
        |index, slip| match (found.get(index), lot_of(slip)) {
            (Some(found), Some(lot)) => rejects(&found.read, &tables, lot) == Some(true),
            (None, _) | (_, None) => false,
        },
    );
    Ok((answer, found))
}

/// The readings on the weld metal of a joint: shown, never held against a source.
pub(crate) fn of_weld_metal(reading: &Reading<'_>, joint: JointId) -> Result<Vec<MetalReading>> {
    if !reading.any_metal_read()? {
        return Ok(Vec::new());
    }
    let all = reading.metal_read_on(&joint.bytes())?;
    Ok(all.iter().filter(|r| matches!(r.read.on, ReadOn::WeldMetal(_))).cloned().collect())
}

/// The readings on a lot.
pub(crate) fn of_lot(reading: &Reading<'_>, lot: LotId) -> Result<Vec<MetalReading>> {
    if !reading.any_metal_read()? {
        return Ok(Vec::new());
    }
    Ok((*reading.metal_read_on(&lot.bytes())?).clone())
}
