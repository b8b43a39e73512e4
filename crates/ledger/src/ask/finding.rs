//! Findings: what in the record a person must look at. Each is worked out from what stands; nothing of it is stored.
//!
//! One file for each kind of cause. What a finding is called, and how it keeps its id, is in [`record::finding`].

pub(crate) mod late;
pub(crate) mod mass;
pub(crate) mod number;
pub(crate) mod slip;
pub(crate) mod weld;
pub(crate) mod wire;

use super::reading::{Joint, Reading};
use crate::error::Result;
use crate::log::entry_at;
use record::event::{Disposition, Event};
use record::finding::{Code, FindingId, Severity};
use record::id::JointId;
use record::{EntryId, Stated, When};
use std::collections::BTreeMap;

/// One finding.
#[derive(Clone, Debug)]
pub struct Finding {
    /// Its name, the same in every book and on every day.
    pub id: FindingId,
    /// What kind.
    pub code: Code,
    /// How much it presses.
    pub severity: Severity,
    /// The joint, where its cause has one: the first that it is true of.
    pub joint: Option<String>,
    /// Every joint that it is true of.
    pub joints: Vec<JointId>,
    /// Code of the lot, where it is known.
    pub lot: Option<String>,
    /// Number of the slip, where its cause has one.
    pub slip: Option<String>,
    /// Badge of the welder, where they are known.
    pub welder: Option<String>,
    /// The entries that make it, by the first of their chains of corrections, sorted.
    pub entries: Vec<EntryId>,
    /// What the record says, in a sentence.
    pub why: String,
    /// What to do next.
    pub next: Vec<String>,
    /// How it was closed; none while it is open.
    pub disposed: Option<Disposed>,
}

/// How a finding was closed.
#[derive(Clone, Debug)]
pub struct Disposed {
    /// The entry.
    pub entry: EntryId,
    /// How it ended.
    pub disposition: Disposition,
    /// Badge of who decided.
    pub by: String,
    /// When.
    pub at: When,
    /// Why.
    pub why: String,
    /// What the finding said then.
    pub said: String,
    /// Lot that the metal was marked with, if it was marked anew.
    pub lot: Option<String>,
    /// Classification that the metal was marked with, if only that is proved.
    pub classification: Option<String>,
}

impl Finding {
    /// A finding of these causes.
    pub(crate) fn new(code: Code, severity: Severity, mut entries: Vec<EntryId>, why: String) -> Self {
        entries.sort_unstable();
        entries.dedup();
        Self {
            id: FindingId::of(code, &entries),
            code,
            severity,
            joint: None,
            joints: Vec::new(),
            lot: None,
            slip: None,
            welder: None,
            entries,
            why,
            next: code.next().iter().map(|s| (*s).to_owned()).collect(),
            disposed: None,
        }
    }

    pub(crate) fn at_joints(mut self, joints: &[&Joint]) -> Self {
        self.joint = joints.first().map(|j| j.declared.number.clone());
        self.joints = joints.iter().map(|j| j.id).collect();
        self
    }

    pub(crate) fn of_lot(mut self, code: Option<&String>) -> Self {
        self.lot = code.cloned();
        self
    }

    pub(crate) fn of_slip(mut self, number: &str) -> Self {
        self.slip = Some(number.to_owned());
        self
    }

    pub(crate) fn of_welder(mut self, badge: Option<&String>) -> Self {
        self.welder = badge.cloned();
        self
    }

    /// Whether it still waits for a person.
    pub fn is_open(&self) -> bool {
        self.disposed.is_none()
    }
}

/// Adds how they were closed, and sorts: severity, code, id.
pub(crate) fn closed_and_sorted(reading: &Reading<'_>, found: Vec<Finding>) -> Result<Vec<Finding>> {
    // The same cause may be reached from two sides: it is one finding.
    let mut by_id: BTreeMap<FindingId, Finding> = BTreeMap::new();
    for finding in found {
        by_id.entry(finding.id).or_insert(finding);
    }
    let mut all: Vec<Finding> = by_id.into_values().collect();
    for finding in &mut all {
        finding.disposed = disposed(reading, finding.id)?;
    }
    all.sort_by_key(|f| (f.severity, f.code, f.id));
    Ok(all)
}

/// The newest disposition of a finding that stands.
pub(crate) fn disposed(reading: &Reading<'_>, id: FindingId) -> Result<Option<Disposed>> {
    let places = reading
        .standing_places("SELECT place FROM fact_disposition WHERE finding = ?1", [id.bytes().as_slice()])?;
    let Some((_, place)) = reading.ordered(places)?.pop() else {
        return Ok(None);
    };
    let entry = entry_at(reading.conn(), place)?;
    let Event::FindingDisposed(e) = entry.event.effect() else {
        return Ok(None);
    };
    Ok(Some(Disposed {
        entry: reading.id(place)?,
        disposition: e.disposition,
        by: e.by.badge,
        at: e.at,
        why: e.why,
        said: e.said,
        lot: e.lot.value().map(|l| l.label.clone()),
        classification: if let Stated::Value(class) = e.classification { Some(class) } else { None },
    }))
}
