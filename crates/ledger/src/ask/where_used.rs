//! Where did this lot go: welds by link and certainty, slips still out, and what is left in the crib.

use super::certificate_read;
use super::joint_trace::{self, Record, WeldTrace};
use super::label;
use super::lot::{self, Lot, balance_mg};
use super::metal::{self, MetalReading};
use super::reading::{Joint, Person, Reading};
use super::slip::SlipAndLot;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use record::event::CertificateRead;
use record::id::{EntryId, JointId, LotId, PersonId, SlipId};
use record::rules::Balance;
use record::rules::lot_status::LotStatus;
use std::collections::BTreeMap;
use std::rc::Rc;

/// How a lot hangs on a weld record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Link {
    /// It is among the sources.
    Source,
    /// The record names it, and custody does not bear that out.
    Named,
    /// It was in the welder's hands beside the source that the record names.
    Other,
    /// It is flux that was in the welder's hands at a submerged-arc weld.
    Flux,
}

impl Link {
    /// The word in answers.
    pub fn word(self) -> &'static str {
        match self {
            Link::Source => "source",
            Link::Named => "named",
            Link::Other => "other",
            Link::Flux => "flux",
        }
    }
}

/// A weld record that a lot may be in.
#[derive(Clone, Debug)]
pub struct Use {
    /// The joint.
    pub joint: Rc<Joint>,
    /// How the lot hangs on it; of several lots, the strongest link.
    pub link: Link,
    /// Which of the lots asked about hang on it, each by its strongest link.
    pub lots: Vec<(LotId, Link)>,
    /// Number of distinct lots among the sources.
    pub of: usize,
    /// Everything about the weld record.
    pub weld: WeldTrace,
}

/// The answer about one or more lots.
#[derive(Clone, Debug)]
pub struct WhereUsed {
    /// The lots asked about.
    pub lots: Vec<LotInCrib>,
    /// Weld records, by start, then in record order.
    pub welds: Vec<Use>,
    /// Slips still open.
    pub out: Vec<SlipAndLot>,
    /// Milligrams in the crib, all lots together; none where not known.
    pub in_crib_mg: Option<i64>,
    /// Certificates of the lots that were read, with what came of checking them.
    pub certificates: Vec<(EntryId, CertificateRead)>,
    /// Readings of the metal of the lots, each with the lot.
    pub readings: Vec<(LotId, MetalReading)>,
}

/// A lot and what is in the crib of it.
#[derive(Clone, Debug)]
pub struct LotInCrib {
    /// The lot.
    pub lot: Rc<Lot>,
    /// Its status.
    pub status: LotStatus,
    /// What is in the crib.
    pub in_crib: Balance,
}

impl Reading<'_> {
    /// Where a lot went, by a label of it.
    ///
    /// # Errors
    /// When no lot, or more than one, has that label.
    pub fn trace_lot(&self, label: &str) -> Result<WhereUsed> {
        let lot = lot::one(self, label)?;
        of_lots(self, &[lot.id])
    }

    /// Where the lots of a heat went.
    ///
    /// # Errors
    /// When no lot names that heat.
    pub fn trace_heat(&self, heat: &str) -> Result<WhereUsed> {
        of_lots(self, &lots_of(self, LabelKind::Heat, "heat", heat)?)
    }

    /// Where the lots of a certificate went.
    ///
    /// # Errors
    /// When no lot names that certificate.
    pub fn trace_certificate(&self, certificate: &str) -> Result<WhereUsed> {
        of_lots(self, &lots_of(self, LabelKind::Certificate, "certificate", certificate)?)
    }

    /// Where the metal of one slip can have gone: weld records of its holder while it was in their hands, and those
    /// that name it.
    ///
    /// # Errors
    /// When no slip, or more than one, has that number.
    pub fn trace_slip(&self, number: &str) -> Result<(SlipAndLot, Vec<SlipUse>)> {
        let view = self.find_slip(number)?;
        let mut places = welds_during(self, &view)?;
        places.extend(welds_naming_slip(self, view.slip.id)?);
        places.sort_unstable();
        places.dedup();
        let mut uses = Vec::new();
        for found in Record::read_all(self, places.into_iter().map(Place))? {
            for joint in found.joints() {
                let weld = joint_trace::of_record(self, &found, joint)?;
                let has = |slips: &[SlipAndLot]| slips.iter().any(|s| s.slip.id == view.slip.id);
                let named = weld.record.slip.value().is_some_and(|s| s.slip == view.slip.id);
                let link = if has(&weld.sources) {
                    Link::Source
                } else if named {
                    Link::Named
                } else if has(&weld.others) {
                    Link::Other
                } else if has(&weld.flux) {
                    Link::Flux
                } else {
                    continue;
                };
                uses.push(SlipUse { joint: self.joint(joint)?, link, weld });
            }
        }
        uses.sort_by_key(|u| u.weld.covers.0);
        Ok((view, uses))
    }

    /// A person by their badge.
    ///
    /// # Errors
    /// When nobody, or more than one, carries that badge.
    pub fn find_person(&self, badge: &str) -> Result<Rc<Person>> {
        let id = label::one(self, LabelKind::Badge, "person", badge)?;
        self.person(PersonId::from_bytes(id))
    }

    /// A lot by a label of it.
    ///
    /// # Errors
    /// When no lot, or more than one, has that label.
    pub fn find_lot(&self, label: &str) -> Result<Rc<Lot>> {
        self.lot(lot::one(self, label)?.id)
    }

    /// A joint by a number of it.
    ///
    /// # Errors
    /// When no joint, or more than one, has that number.
    pub fn find_joint(&self, number: &str) -> Result<Rc<Joint>> {
        let exists = "SELECT EXISTS (SELECT 1 FROM fact_joint WHERE joint = ?1)";
        let id = label::one_or_identity(self, LabelKind::Joint, "joint", number, exists)?;
        self.joint(JointId::from_bytes(id))
    }

    /// A slip by its number.
    ///
    /// # Errors
    /// When no slip, or more than one, has that number.
    pub fn find_slip(&self, number: &str) -> Result<SlipAndLot> {
        let exists = "SELECT EXISTS (SELECT 1 FROM fact_slip WHERE slip = ?1)";
        let id = label::one_or_identity(self, LabelKind::Slip, "slip", number, exists)?;
        self.slip_and_lot(SlipId::from_bytes(id))
    }

    /// Everything a welder held and welded.
    ///
    /// # Errors
    /// When nobody, or more than one, carries that badge.
    pub fn trace_welder(&self, badge: &str) -> Result<WelderTrace> {
        let id = label::one(self, LabelKind::Badge, "person", badge)?;
        let welder = self.person(PersonId::from_bytes(id))?;
        let mut slips = Vec::new();
        let mut statement = self.conn().prepare_cached(
            "SELECT slip, place FROM fact_slip WHERE holder = ?1 ORDER BY issued_from, place",
        )?;
        let mut rows = statement.query([id])?;
        while let Some(row) = rows.next()? {
            if self.stands(Place(row.get(1)?)) {
                slips.push(self.slip_and_lot(SlipId::from_bytes(row.get(0)?))?);
            }
        }
        let mut welds = Vec::new();
        let places = self.standing_places("SELECT place FROM fact_weld WHERE welder = ?1", [id])?;
        for found in Record::read_all(self, places)? {
            for joint in found.joints() {
                welds.push((found.order, self.joint(joint)?, joint_trace::of_record(self, &found, joint)?));
            }
        }
        welds.sort_by_key(|(order, _, weld)| (weld.covers.0, *order));
        Ok(WelderTrace {
            welder,
            slips,
            welds: welds.into_iter().map(|(_, joint, weld)| (joint, weld)).collect(),
        })
    }
}

/// A weld record that a slip may have fed.
#[derive(Clone, Debug)]
pub struct SlipUse {
    /// The joint.
    pub joint: Rc<Joint>,
    /// How the slip hangs on it.
    pub link: Link,
    /// Everything about the weld record.
    pub weld: WeldTrace,
}

/// Everything about one welder.
#[derive(Clone, Debug)]
pub struct WelderTrace {
    /// Who.
    pub welder: Rc<Person>,
    /// What they held, by issue.
    pub slips: Vec<SlipAndLot>,
    /// What they welded, by start.
    pub welds: Vec<(Rc<Joint>, WeldTrace)>,
}

fn lots_of(reading: &Reading<'_>, kind: LabelKind, what: &'static str, typed: &str) -> Result<Vec<LotId>> {
    let lots = label::things(reading, kind, typed)?;
    if lots.is_empty() {
        let near = label::near(reading, kind, typed)?;
        return Err(Error::NotFound { what, label: typed.to_owned(), near });
    }
    Ok(lots.into_iter().map(LotId::from_bytes).collect())
}

/// Where the lots went.
pub(crate) fn of_lots(reading: &Reading<'_>, lots: &[LotId]) -> Result<WhereUsed> {
    let mut in_cribs = Vec::new();
    let (mut certificates, mut readings) = (Vec::new(), Vec::new());
    let mut places: BTreeMap<i64, ()> = BTreeMap::new();
    let mut out = Vec::new();
    for id in lots {
        let lot = reading.lot(*id)?;
        let in_crib = lot::in_crib(reading, &lot)?;
        in_cribs.push(LotInCrib { status: lot::status(reading, *id)?, lot, in_crib });
        certificates.extend(certificate_read::of_lot(reading, *id)?);
        readings.extend(metal::of_lot(reading, *id)?.into_iter().map(|found| (*id, found)));
        for slip in slips_of_lot(reading, *id)? {
            let view = reading.slip_and_lot(slip)?;
            for place in welds_during(reading, &view)? {
                places.insert(place, ());
            }
            for place in welds_naming_slip(reading, slip)? {
                places.insert(place, ());
            }
            if view.custody.to.is_none() {
                out.push(view);
            }
        }
        for place in reading.standing_places("SELECT place FROM fact_weld WHERE lot = ?1", [id.bytes()])? {
            places.insert(place.0, ());
        }
    }
    let mut welds = Vec::new();
    for found in Record::read_all(reading, places.into_keys().map(Place))? {
        for joint in found.joints() {
            let weld = joint_trace::of_record(reading, &found, joint)?;
            let links = links(reading, &weld, lots)?;
            if let Some(link) = links.iter().map(|(_, link)| *link).min() {
                let of = weld.lots().len();
                welds.push((found.order, Use { joint: reading.joint(joint)?, link, lots: links, of, weld }));
            }
        }
    }
    welds.sort_by(|(a, x), (b, y)| {
        (x.weld.covers.0, a, &x.joint.declared.number).cmp(&(y.weld.covers.0, b, &y.joint.declared.number))
    });
    out.sort_by(|a, b| (a.slip.issued.from, &a.slip.number).cmp(&(b.slip.issued.from, &b.slip.number)));
    let in_crib_mg =
        in_cribs.iter().try_fold(0_i64, |sum, l| sum.checked_add(balance_mg(l.in_crib, &l.lot)?));
    Ok(WhereUsed {
        lots: in_cribs,
        welds: welds.into_iter().map(|(_, u)| u).collect(),
        out,
        in_crib_mg,
        certificates,
        readings,
    })
}

/// Which of the lots hang on the weld record, each by its strongest link.
fn links(reading: &Reading<'_>, weld: &WeldTrace, lots: &[LotId]) -> Result<Vec<(LotId, Link)>> {
    let mut links = Vec::new();
    for lot in lots {
        let among = |slips: &[SlipAndLot]| slips.iter().any(|s| s.lot.id == *lot);
        let link = if among(&weld.sources) {
            Link::Source
        } else if joint_trace::names_lot(&weld.record, reading, *lot)? {
            Link::Named
        } else if among(&weld.others) {
            Link::Other
        } else if among(&weld.flux) {
            Link::Flux
        } else {
            continue;
        };
        links.push((*lot, link));
    }
    Ok(links)
}

/// Slips of a lot, by identity.
pub(crate) fn slips_of_lot(reading: &Reading<'_>, lot: LotId) -> Result<Vec<SlipId>> {
    let slips = reading.standing_things("SELECT slip, place FROM fact_slip WHERE lot = ?1", [lot.bytes()])?;
    Ok(slips.into_iter().map(SlipId::from_bytes).collect())
}

/// Weld records of the holder that overlap the custody of the slip.
pub(crate) fn welds_during(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Vec<i64>> {
    let holder = view.slip.holder.person.bytes();
    let (from, to) = (view.custody.from.0, view.custody.to.map_or(i64::MAX, |t| t.0));
    // No weld of this welder is longer than this, so none that began earlier than that before the custody reaches it.
    let longest: Option<i64> = reading
        .conn()
        .prepare_cached("SELECT max(at_to - at_from) FROM fact_weld WHERE welder = ?1")?
        .query_row([holder], |row| row.get(0))?;
    let Some(longest) = longest else {
        return Ok(Vec::new());
    };
    let places = reading.standing_places(
        "SELECT place FROM fact_weld WHERE welder = ?1 AND at_from BETWEEN ?2 AND ?4 AND at_to >= ?3",
        (holder, from.saturating_sub(longest), from, to),
    )?;
    Ok(places.into_iter().map(|place| place.0).collect())
}

/// Weld records that name the slip.
pub(crate) fn welds_naming_slip(reading: &Reading<'_>, slip: SlipId) -> Result<Vec<i64>> {
    let places = reading.standing_places("SELECT place FROM fact_weld WHERE slip = ?1", [slip.bytes()])?;
    Ok(places.into_iter().map(|place| place.0).collect())
}

/// Joints of a weld record.
pub(crate) fn joints_of_weld(reading: &Reading<'_>, place: Place) -> Result<Vec<JointId>> {
    Ok(reading.record(place)?.joints())
}
