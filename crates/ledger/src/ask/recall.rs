//! What a recall hits: what is frozen in the crib, what is still out and with whom, the welds and joints that the lots
//! can be in, and the lots that share a heat or a certificate with them.

use super::label;
use super::lot::{self, Lot};
use super::reading::{Joint, Reading};
use super::where_used::{self, Link, WhereUsed};
use crate::error::Result;
use crate::facts::LabelKind;
use crate::log::Place;
use record::id::{JointId, LotId};
use record::rules::Balance;
use record::rules::lot_status::LotStatus;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use trace::Certainty;

/// The answer of a recall.
#[derive(Clone, Debug)]
pub struct Recall {
    /// The lots recalled, each once, in the order named.
    pub lots: Vec<RecalledLot>,
    /// Where they went.
    pub used: WhereUsed,
    /// The joints among it, the strongest link first, then by number.
    pub joints: Vec<JointHit>,
    /// Other lots that share a heat or a certificate number with one of them. They are not recalled.
    pub related: Vec<RelatedLot>,
}

/// A lot that is recalled.
#[derive(Clone, Debug)]
pub struct RecalledLot {
    /// The lot.
    pub lot: Rc<Lot>,
    /// Its status before this recall.
    pub before: LotStatus,
    /// What is in the crib as stock, and frozen now.
    pub in_crib: Balance,
    /// What came back and had been put aside.
    pub put_aside: Balance,
    /// Numbers of its certificates, on receipts and filed.
    pub certificates: Vec<String>,
}

/// A joint that the lots can be in.
#[derive(Clone, Debug)]
pub struct JointHit {
    /// The joint.
    pub joint: Rc<Joint>,
    /// The strongest link of its weld records.
    pub link: Link,
    /// How certain the sources are of the weld records that have that link, each word once.
    pub certainties: Vec<Certainty>,
    /// How many of its weld records are hit.
    pub records: usize,
}

/// A lot that shares something with a recalled one.
#[derive(Clone, Debug)]
pub struct RelatedLot {
    /// The lot.
    pub lot: Rc<Lot>,
    /// Its status.
    pub status: LotStatus,
    /// Heats in common.
    pub heats: Vec<String>,
    /// Certificate numbers in common.
    pub certificates: Vec<String>,
}

/// What a recall of these lots hits; each comes with its status before it.
pub(crate) fn of(reading: &Reading<'_>, lots: Vec<(LotId, LotStatus)>) -> Result<Recall> {
    let ids: Vec<LotId> = lots.iter().map(|(id, _)| *id).collect();
    let used = where_used::of_lots(reading, &ids)?;
    let lots = lots
        .into_iter()
        .map(|(id, before)| {
            let lot = reading.lot(id)?;
            Ok(RecalledLot {
                before,
                in_crib: lot::in_crib(reading, &lot)?,
                put_aside: lot::put_aside(reading, &lot)?,
                certificates: certificates(reading, &lot)?,
                lot,
            })
        })
        .collect::<Result<Vec<_>>>()?;
    let related = related(reading, &lots)?;
    Ok(Recall { joints: joints(&used), lots, used, related })
}

fn joints(used: &WhereUsed) -> Vec<JointHit> {
    let mut hits: BTreeMap<JointId, JointHit> = BTreeMap::new();
    for found in &used.welds {
        let hit = hits.entry(found.joint.id).or_insert_with(|| JointHit {
            joint: Rc::clone(&found.joint),
            link: found.link,
            certainties: Vec::new(),
            records: 0,
        });
        hit.records += 1;
        if found.link < hit.link {
            hit.link = found.link;
            hit.certainties.clear();
        }
        if found.link == hit.link && !hit.certainties.contains(&found.weld.certainty) {
            hit.certainties.push(found.weld.certainty);
        }
    }
    let mut hits: Vec<JointHit> = hits.into_values().collect();
    hits.sort_by(|a, b| (a.link, &a.joint.declared.number).cmp(&(b.link, &b.joint.declared.number)));
    hits
}

/// Numbers of the certificates of a lot: those on its receipts, and those of papers filed for it.
fn certificates(reading: &Reading<'_>, lot: &Lot) -> Result<Vec<String>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT label, place FROM fact_label WHERE kind = ?1 AND thing = ?2 ORDER BY label",
    )?;
    let mut rows = statement.query((LabelKind::Certificate.word(), lot.id.bytes()))?;
    let mut numbers: Vec<String> = Vec::new();
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(1)?)) {
            numbers.push(row.get(0)?);
        }
    }
    numbers.dedup();
    Ok(numbers)
}

/// Heats of a lot, by all of its receipts.
fn heats(lot: &Lot) -> BTreeSet<&String> {
    lot.received.heats.iter().chain(lot.further.iter().flat_map(|r| &r.heats)).collect()
}

fn related(reading: &Reading<'_>, lots: &[RecalledLot]) -> Result<Vec<RelatedLot>> {
    let mut shared: BTreeMap<LotId, (BTreeSet<String>, BTreeSet<String>)> = BTreeMap::new();
    let others = |kind: LabelKind, number: &str| -> Result<Vec<LotId>> {
        let things = label::things(reading, kind, number)?;
        let others = things.into_iter().map(LotId::from_bytes);
        Ok(others.filter(|id| lots.iter().all(|l| l.lot.id != *id)).collect())
    };
    for recalled in lots {
        for heat in heats(&recalled.lot) {
            for id in others(LabelKind::Heat, heat)? {
                shared.entry(id).or_default().0.insert(heat.clone());
            }
        }
        for number in &recalled.certificates {
            for id in others(LabelKind::Certificate, number)? {
                shared.entry(id).or_default().1.insert(number.clone());
            }
        }
    }
    let mut related = shared
        .into_iter()
        .map(|(id, (heats, certificates))| {
            Ok(RelatedLot {
                lot: reading.lot(id)?,
                status: lot::status(reading, id)?,
                heats: heats.into_iter().collect(),
                certificates: certificates.into_iter().collect(),
            })
        })
        .collect::<Result<Vec<_>>>()?;
    related.sort_by(|a, b| (&a.lot.received.code, a.lot.id).cmp(&(&b.lot.received.code, b.lot.id)));
    Ok(related)
}
