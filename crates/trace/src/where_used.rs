//! From a lot to the welds it can be in.

use std::collections::{BTreeSet, HashMap};
use std::fmt;

use crate::{Answer, Id, Slip, Weld};

/// How a weld record is linked to a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Link {
    /// The lot is among its sources.
    Source,
    /// The record names the lot, or a slip of it, but the lot is not among its sources.
    Named,
    /// The lot was held at the time beside the one that was named.
    Other,
}

impl Link {
    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Link::Source => "source",
            Link::Named => "named",
            Link::Other => "other",
        }
    }
}

impl fmt::Display for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// The welds linked to a lot: index into `answers`, how, and the number of distinct lots among the weld's sources.
/// `slips` must have every slip that the answers or the records name.
#[must_use]
pub fn links_of_lot(lot: Id, answers: &[(Weld, Answer)], slips: &[Slip]) -> Vec<(usize, Link, usize)> {
    links_of_lots(&BTreeSet::from([lot]), answers, slips)
}

/// The welds linked to any of several lots, as of a heat or a certificate; each weld once, by its strongest link
/// (source, then named, then other).
#[must_use]
pub fn links_of_lots(
    lots: &BTreeSet<Id>,
    answers: &[(Weld, Answer)],
    slips: &[Slip],
) -> Vec<(usize, Link, usize)> {
    let lot_of = lot_by_slip(slips);
    let asked = |slip: &Id| lot_of.get(slip).is_some_and(|lot| lots.contains(lot));
    let mut links = Vec::new();
    for (index, (weld, answer)) in answers.iter().enumerate() {
        let named =
            weld.named.lot.is_some_and(|lot| lots.contains(&lot)) || weld.named.slip.iter().any(asked);
        let link = if answer.sources.iter().any(asked) {
            Link::Source
        } else if named {
            Link::Named
        } else if answer.others.iter().any(asked) {
            Link::Other
        } else {
            continue;
        };
        let of: BTreeSet<_> = answer.sources.iter().filter_map(|slip| lot_of.get(slip)).collect();
        links.push((index, link, of.len()));
    }
    links
}

/// The submerged-arc welds during which flux of any of these lots was held: index into `answers`, and the number of
/// distinct flux lots. Flux is never a source, so [`links_of_lots`] lists such a weld only where the record names it.
#[must_use]
pub fn flux_links_of_lots(
    lots: &BTreeSet<Id>,
    answers: &[(Weld, Answer)],
    slips: &[Slip],
) -> Vec<(usize, usize)> {
    let lot_of = lot_by_slip(slips);
    let mut links = Vec::new();
    for (index, (_, answer)) in answers.iter().enumerate() {
        let held: BTreeSet<_> = answer.flux.iter().filter_map(|slip| lot_of.get(slip)).collect();
        if held.iter().any(|lot| lots.contains(lot)) {
            links.push((index, held.len()));
        }
    }
    links
}

fn lot_by_slip(slips: &[Slip]) -> HashMap<Id, Id> {
    slips.iter().map(|slip| (slip.id, slip.lot)).collect()
}
