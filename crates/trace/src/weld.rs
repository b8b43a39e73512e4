//! A weld record, as far as the question of its sources needs it.

use filler::Process;

use crate::{Id, Interval, Slip};

/// The lot or slip a weld record names; a statement, not a proof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Named {
    /// The lot named.
    pub lot: Option<Id>,
    /// The slip named.
    pub slip: Option<Id>,
}

impl Named {
    /// Whether the record names neither lot nor slip.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.lot.is_none() && self.slip.is_none()
    }

    /// Whether a slip is what was named; where both are named it must be both.
    #[must_use]
    pub fn matches(&self, slip: &Slip) -> bool {
        self.lot.is_none_or(|lot| lot == slip.lot) && self.slip.is_none_or(|id| id == slip.id)
    }
}

/// What was welded.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Weld {
    /// Identity of the weld record.
    pub id: Id,
    /// The joint.
    pub joint: Id,
    /// Who welded.
    pub welder: Id,
    /// When; a record without an end covers the whole of its uncertain time.
    pub when: Interval,
    /// The record's process, else all processes of the joint's WPSs; empty = not known.
    pub processes: Vec<Process>,
    /// Whether filler metal was used; no = autogenous.
    pub filler: bool,
    /// What the record names.
    pub named: Named,
}
