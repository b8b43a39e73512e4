//! Which slips can have fed one weld record, and how certain that is.

use std::collections::BTreeSet;

use crate::form::{Suit, SuitableForms};
use crate::{Answer, Certainty, Clear, Id, Reason, Slip, SpotCheck, Weld, custody};

/// The sources of a weld record, by custody.
///
/// `slips` and `clears` may be those of other holders too, `checks` those of other joints; they do nothing. The order
/// of the three lists does not matter, except that `checks` and `contradicting` of the answer are indexes into the
/// third. A void slip must be left out.
#[must_use]
pub fn sources(weld: &Weld, slips: &[Slip], clears: &[Clear], checks: &[SpotCheck]) -> Answer {
    let held = slips
        .iter()
        .filter(|slip| slip.holder == weld.welder && custody(slip, clears).overlaps(&weld.when))
        .collect();
    answer(weld, held, checks.iter().enumerate())
}

/// The answer, given the slips that the welder held during the weld.
pub(crate) fn answer<'a>(
    weld: &Weld,
    held: Vec<&Slip>,
    checks: impl Iterator<Item = (usize, &'a SpotCheck)>,
) -> Answer {
    let mut checks: Vec<_> = checks.filter(|(_, check)| check.is_of(weld)).collect();
    checks.sort_by_key(|(index, check)| (check.at.from, check.at.to, check.order, *index));
    let indexes = checks.iter().map(|(index, _)| *index).collect();

    if !weld.filler {
        return Answer {
            checks: indexes,
            reasons: vec![Reason::Autogenous],
            ..Answer::nothing(Certainty::NoFiller)
        };
    }

    let forms = SuitableForms::of(&weld.processes);
    let mut held = Held::sort(held, &forms);
    let mut reasons = Vec::new();
    let (mut certainty, others) = split(weld, &mut held, &mut reasons);
    let sources = held.candidates;
    reasons.extend(form_reasons(&forms, &sources, &others, held.unsuited.len()));

    // With no source there is nothing to contradict: the weld has none, whatever was read.
    let contradicting: Vec<usize> = match certainty {
        Certainty::Unknown | Certainty::NoFiller => vec![],
        Certainty::Recorded | Certainty::ByCustody | Certainty::OneOf | Certainty::Contradicted => {
            checks.iter().filter(|(_, check)| check.contradicts(&sources)).map(|(index, _)| *index).collect()
        }
    };
    if !contradicting.is_empty() {
        certainty = Certainty::Contradicted;
        reasons.splice(0..0, contradicting.iter().map(|index| Reason::MarkReadNoSourceHas(*index)));
    }

    Answer {
        sources: ids(&sources),
        others: ids(&others),
        flux: ids(&held.flux),
        checks: indexes,
        contradicting,
        reasons,
        ..Answer::nothing(certainty)
    }
}

/// The slips held during a weld, by what their product form makes them.
struct Held<'a> {
    candidates: Vec<&'a Slip>,
    flux: Vec<&'a Slip>,
    unsuited: Vec<&'a Slip>,
}

impl<'a> Held<'a> {
    /// Each list by issue time, then slip number in byte order; identity last, so that the order is total.
    fn sort(mut slips: Vec<&'a Slip>, forms: &SuitableForms) -> Self {
        slips.sort_by(|a, b| {
            (a.issued.from, a.number.as_bytes(), a.id).cmp(&(b.issued.from, b.number.as_bytes(), b.id))
        });
        let mut held = Held { candidates: vec![], flux: vec![], unsuited: vec![] };
        for slip in slips {
            match forms.suit(slip.form) {
                Suit::Candidate => held.candidates.push(slip),
                Suit::Flux => held.flux.push(slip),
                Suit::Unsuited => held.unsuited.push(slip),
            }
        }
        held
    }
}

/// Leaves the sources among the candidates and returns how certain they are, with the other candidates. Spot checks
/// come later.
fn split<'a>(weld: &Weld, held: &mut Held<'a>, reasons: &mut Vec<Reason>) -> (Certainty, Vec<&'a Slip>) {
    if weld.named.is_nothing() {
        let lots = held.candidates.iter().map(|slip| slip.lot).collect::<BTreeSet<_>>().len();
        let (certainty, reason) = match lots {
            0 => (Certainty::Unknown, Reason::NothingHeld),
            1 => (Certainty::ByCustody, Reason::OnlyLotHeld),
            several => (Certainty::OneOf, Reason::SeveralLotsHeld(several)),
        };
        reasons.push(reason);
        return (certainty, vec![]);
    }
    let (named, others): (Vec<&Slip>, Vec<&Slip>) =
        held.candidates.iter().copied().partition(|slip| weld.named.matches(slip));
    if named.is_empty() {
        reasons.push(why_not_held(weld, held));
        if held.candidates.is_empty() {
            reasons.push(Reason::NothingHeld);
        }
        return (Certainty::Contradicted, vec![]);
    }
    held.candidates = named;
    reasons.push(if weld.named.slip.is_some() { Reason::NamedSlipHeld } else { Reason::NamedLotHeld });
    (Certainty::Recorded, others)
}

/// Why no candidate is what the record names.
fn why_not_held(weld: &Weld, held: &Held<'_>) -> Reason {
    let named = |slip: &&Slip| weld.named.matches(slip);
    let Some(slip) = weld.named.slip else {
        return if held.flux.iter().any(named) {
            Reason::NamedIsFlux
        } else if held.unsuited.iter().any(named) {
            Reason::NamedFormUnsuited
        } else {
            Reason::NamedLotNotHeld
        };
    };
    if held.flux.iter().any(named) {
        Reason::NamedIsFlux
    } else if held.unsuited.iter().any(named) {
        Reason::NamedFormUnsuited
    } else if held.candidates.iter().chain(&held.flux).chain(&held.unsuited).any(|held| held.id == slip) {
        Reason::NamedSlipOfAnotherLot
    } else {
        Reason::NamedSlipNotHeld
    }
}

/// What the product forms did.
fn form_reasons(forms: &SuitableForms, sources: &[&Slip], others: &[&Slip], unsuited: usize) -> Vec<Reason> {
    if forms.all() {
        return vec![Reason::ProcessUnknown];
    }
    let unknown = sources.iter().chain(others).filter(|slip| slip.form.is_none()).count();
    let mut reasons = Vec::new();
    if unsuited > 0 {
        reasons.push(Reason::FormFilter(unsuited));
    }
    if unknown > 0 {
        reasons.push(Reason::FormUnknown(unknown));
    }
    reasons
}

fn ids(slips: &[&Slip]) -> Vec<Id> {
    slips.iter().map(|slip| slip.id).collect()
}
