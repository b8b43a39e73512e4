//! An inspector looked at what was in the welder's hand.

use filler::classification::fits;

use crate::{Id, Interval, Order, Slip, Weld};

/// What an inspector saw in the welder's hand at the joint.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SpotCheck {
    /// The joint.
    pub joint: Id,
    /// The welder.
    pub welder: Id,
    /// When.
    pub at: Interval,
    /// Whether the mark could be read.
    pub legible: bool,
    /// The mark as read; `None` or blank if it was not written down.
    pub reads: Option<String>,
    /// Its place in the record.
    pub order: Order,
}

impl SpotCheck {
    /// Whether the check was made at this weld: same joint, same welder, at a time that overlaps the weld's.
    #[must_use]
    pub fn is_of(&self, weld: &Weld) -> bool {
        self.joint == weld.joint && self.welder == weld.welder && self.at.overlaps(&weld.when)
    }

    /// Whether the check read a classification that none of the sources has. A source of unknown classification may
    /// have it. An illegible or blank mark contradicts nothing.
    pub(crate) fn contradicts(&self, sources: &[&Slip]) -> bool {
        let Some(reads) = written(self.reads.as_deref()).filter(|_| self.legible) else {
            return false;
        };
        !sources
            .iter()
            .any(|slip| written(slip.classification.as_deref()).is_none_or(|class| fits(reads, class)))
    }
}

/// A text that says something: blank is not known.
fn written(text: Option<&str>) -> Option<&str> {
    text.map(str::trim).filter(|text| !text.is_empty())
}
