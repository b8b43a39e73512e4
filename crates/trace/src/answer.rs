//! The answer for one weld record, and the facts that led to it.

use crate::{Certainty, Id};

/// Which slips can have fed a weld record, and how certain that is.
///
/// The lists of slips are sorted by issue time, then by the bytes of the slip number.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Answer {
    /// How certain the sources are.
    pub certainty: Certainty,
    /// The slips that fed the weld, as far as the record says.
    pub sources: Vec<Id>,
    /// Slips held at the time beside the one named.
    pub others: Vec<Id>,
    /// Flux slips held during a submerged-arc weld.
    pub flux: Vec<Id>,
    /// The spot checks of this weld, legible or not, as indexes into those given, in order of time.
    pub checks: Vec<usize>,
    /// Those of them that read a classification no source has; only where the certainty is `contradicted`.
    pub contradicting: Vec<usize>,
    /// The readings that speak of this weld or of one of its sources, as indexes into those given, in the order of the
    /// record; see [`crate::reading`].
    pub readings: Vec<usize>,
    /// Which of them rejects which source: reading and slip.
    pub refuted: Vec<(usize, Id)>,
    /// Why, the deciding fact first.
    pub reasons: Vec<Reason>,
}

impl Answer {
    /// An answer with nothing in its lists.
    pub(crate) fn nothing(certainty: Certainty) -> Self {
        Answer {
            certainty,
            sources: vec![],
            others: vec![],
            flux: vec![],
            checks: vec![],
            contradicting: vec![],
            readings: vec![],
            refuted: vec![],
            reasons: vec![],
        }
    }
}

/// A fact that led to an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reason {
    /// The record says no filler metal was used.
    Autogenous,
    /// The slip named was in the welder's custody during the weld.
    NamedSlipHeld,
    /// The lot named was in the welder's custody during the weld.
    NamedLotHeld,
    /// The slip named was not in the welder's custody during the weld.
    NamedSlipNotHeld,
    /// The lot named was not in the welder's custody during the weld.
    NamedLotNotHeld,
    /// The slip named was held, but it is of another lot than the one named.
    NamedSlipOfAnotherLot,
    /// What was named was held, but its product form does not suit the process.
    NamedFormUnsuited,
    /// What was named was held, but it is flux, which is listed apart.
    NamedIsFlux,
    /// Nothing named, and exactly one lot was held.
    OnlyLotHeld,
    /// Nothing named, and this many lots were held.
    SeveralLotsHeld(usize),
    /// No slip that suits the weld was held.
    NothingHeld,
    /// This many slips that were held do not suit the process by their product form.
    FormFilter(usize),
    /// This many candidates stay because their product form is not known.
    FormUnknown(usize),
    /// The process is not known, so no product form was ruled out.
    ProcessUnknown,
    /// The spot check with this index read a classification that no source has.
    MarkReadNoSourceHas(usize),
    /// Each source is rejected by a reading that speaks of it.
    ReadingsRejectEverySource,
}
