//! What a joint needs, and what its weld records say of where the metal came from.

use super::slip_mass::{DENSITY, density_error};
use crate::ask::finding::weld::Fed;
use crate::ask::joint_trace::WeldTrace;
use crate::ask::reading::{Joint, Reading};
use crate::error::Result;
use crate::log::Place;
use filler::Density;
use record::event::{JointWelded, WorkedOut};
use record::id::{JointId, SlipId};
use record::number::search_key;
use record::rules::weld::says_cut_out;
use std::collections::BTreeSet;
use trace::Certainty;
use trace::mass_check::{Mass, NotChecked, SharedError};

/// A weld record at one of its joints, as far as masses ask.
#[derive(Clone, Debug)]
pub(crate) struct Link {
    pub(crate) place: Place,
    pub(crate) joint: JointId,
    /// Slips that can have fed it, and the one that it names.
    pub(crate) slips: BTreeSet<SlipId>,
    /// Whether nobody can say where its metal is from: no source, or a contradicted one.
    pub(crate) doubtful: bool,
    /// Whether it is of another cycle than original or tack.
    pub(super) other_cycle: bool,
    pub(super) cut_out: bool,
    pub(super) finished: bool,
}

impl Link {
    pub(crate) fn of_fed(fed: &Fed) -> Self {
        let sources = fed.sources.iter().map(|(slip, _)| *slip);
        Self::new(fed.place, fed.joint.id, &fed.record, fed.certainty, sources)
    }

    pub(crate) fn of_trace(weld: &WeldTrace) -> Self {
        let sources = weld.sources.iter().map(|source| source.slip.id);
        Self::new(weld.place, weld.joint, &weld.record, weld.certainty, sources)
    }

    fn new(
        place: Place,
        joint: JointId,
        record: &JointWelded,
        certainty: Certainty,
        sources: impl Iterator<Item = SlipId>,
    ) -> Self {
        let doubtful = match certainty {
            Certainty::Contradicted | Certainty::Unknown => true,
            Certainty::Recorded | Certainty::ByCustody | Certainty::OneOf | Certainty::NoFiller => false,
        };
        let named = record.slip.value().map(|slip| slip.slip).filter(|_| record.filler);
        // Nobody asked means the original weld.
        let cycle = record.cycle.value().map(|cycle| search_key(cycle));
        Self {
            place,
            joint,
            slips: sources.chain(named).collect(),
            doubtful,
            other_cycle: cycle.is_some_and(|cycle| cycle != "ORIGINAL" && cycle != "TACK"),
            cut_out: record.cycle.value().is_some_and(|cycle| says_cut_out(cycle)),
            finished: record.finished,
        }
    }
}

/// All weld records of a joint that stand.
pub(super) fn links(reading: &Reading<'_>, joint: JointId) -> Result<Vec<Link>> {
    let places = reading.standing_places(
        "SELECT place FROM fact_weld_joint WHERE joint = ?1 ORDER BY place",
        [joint.bytes()],
    )?;
    let link = |place| Ok(Link::of_trace(&*reading.weld_trace(&*reading.record(place)?, joint)?));
    places.into_iter().map(link).collect()
}

/// Whether a joint is finished: by its description, or by a weld record.
pub(super) fn is_finished(joint: &Joint, links: &[Link]) -> bool {
    joint.declared.finished_at.value().is_some() || links.iter().any(|link| link.finished)
}

/// What a joint needs.
pub(super) fn needed(joint: &Joint) -> std::result::Result<Mass, NotChecked> {
    let declared = &joint.declared;
    let mg = declared.needed_mg.value().copied().filter(|mg| *mg >= 0 && !joint.void);
    let mg = mg.ok_or(NotChecked::NeededNotKnown)?;
    if let Some(worked_out) = declared.worked_out.value() {
        let shared: Vec<(SharedError, i64)> =
            worked_out.shared.iter().map(|part| (shared(worked_out, &part.input), part.mg)).collect();
        return Ok(Mass::needed(mg, &shared, worked_out.own_u_mg));
    }
    // Nobody says which part of it is the joint's own: taken as the same error in every joint, it adds up, and less is
    // flagged.
    let u_mg = declared.needed_u_mg.value().copied().filter(|u| *u >= 0);
    let u_mg = u_mg.ok_or(NotChecked::UncertaintyNotKnown)?;
    Ok(Mass::needed(mg, &[(SharedError { input: "needed".into(), of: 0 }, u_mg)], 0))
}

/// The error of an input: of a density, that of all who work with the same one; else that of the whole shop.
fn shared(worked_out: &WorkedOut, input: &str) -> SharedError {
    let of_shop = || SharedError { input: input.to_owned(), of: 0 };
    if input != DENSITY {
        return of_shop();
    }
    let typed = worked_out.inputs.iter().find(|named| named.name == DENSITY);
    let density = typed.and_then(|named| {
        let number = named.value.split_whitespace().next().unwrap_or_default();
        Density::given(number).ok()
    });
    density.as_ref().map_or_else(of_shop, density_error)
}
