//! What a weld record gives to look at: its mark, its sources, their status, and whether the procedure allows them.

use super::{Finding, late};
use crate::ask::joint_trace::WeldTrace;
use crate::ask::lot::Lot;
use crate::ask::reading::{Joint, Reading};
use crate::error::Result;
use crate::log::Place;
use filler::Process;
use filler::classification::{fits, folded};
use record::event::{JointWelded, Level, Mark, WpsDeclared};
use record::finding::{Code, Severity};
use record::id::SlipId;
use record::rules::lot_status::LotStatus;
use record::{Instant, Stated};
use std::rc::Rc;
use trace::{Certainty, Reason};

/// What was seen or measured, and agrees with none of the sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Evidence {
    /// A spot check read a mark that no source has.
    Mark,
    /// Each source is rejected by a reading of its metal.
    Reading,
}

impl Evidence {
    /// What there is among the reasons of a certainty; a mark that was read goes first.
    pub(crate) fn against(reasons: &[Reason]) -> Option<Self> {
        let mark = reasons.iter().any(|r| matches!(r, Reason::MarkReadNoSourceHas(_)));
        let reading = reasons.contains(&Reason::ReadingsRejectEverySource);
        mark.then_some(Evidence::Mark).or(reading.then_some(Evidence::Reading))
    }
}

/// A weld record at one of its joints, with what can have fed it.
#[derive(Clone, Debug)]
pub(crate) struct Fed {
    pub(crate) place: Place,
    pub(crate) record: Rc<JointWelded>,
    pub(crate) covers: (Instant, Instant),
    pub(crate) joint: Rc<Joint>,
    pub(crate) certainty: Certainty,
    pub(crate) sources: Vec<(SlipId, Rc<Lot>)>,
    pub(crate) flux: Vec<SlipId>,
    /// What contradicts the sources beside the record's own word.
    pub(crate) evidence: Option<Evidence>,
}

impl Fed {
    pub(crate) fn of_trace(reading: &Reading<'_>, weld: &WeldTrace) -> Result<Self> {
        Ok(Self {
            place: weld.place,
            record: Rc::new(weld.record.clone()),
            covers: weld.covers,
            joint: reading.joint(weld.joint)?,
            certainty: weld.certainty,
            sources: weld.sources.iter().map(|s| (s.slip.id, Rc::clone(&s.lot))).collect(),
            flux: weld.flux.iter().map(|s| s.slip.id).collect(),
            evidence: Evidence::against(&weld.reasons),
        })
    }

    /// Whether the record says, or custody says, that metal of the slip went into it.
    pub(crate) fn uses(&self, slip: &crate::ask::slip::SlipAndLot) -> bool {
        let id = slip.slip.id;
        let held = || {
            slip.slip.holder.person == self.record.welder.person
                && slip.custody.from <= self.covers.1
                && slip.custody.to.is_none_or(|to| self.covers.0 <= to)
        };
        self.sources.iter().any(|(s, _)| *s == id)
            || self.flux.contains(&id)
            || self.record.slip.value().is_some_and(|s| s.slip == id)
            || (self.record.lot.value().is_some_and(|l| l.lot == slip.lot.id) && held())
    }

    /// `M-107 (root)`
    fn name(&self) -> String {
        let number = &self.joint.declared.number;
        self.record.pass.value().map_or_else(|| number.clone(), |pass| format!("{number} ({pass})"))
    }

    /// Distinct lots of the sources, in their order.
    fn lots(&self) -> Vec<&Rc<Lot>> {
        let mut lots: Vec<&Rc<Lot>> = Vec::new();
        for (_, lot) in &self.sources {
            if !lots.iter().any(|l| l.id == lot.id) {
                lots.push(lot);
            }
        }
        lots
    }
}

/// The findings of one weld record, given it at each of its joints.
pub(crate) fn of_weld(reading: &Reading<'_>, feds: &[Fed]) -> Result<Vec<Finding>> {
    let Some(first) = feds.first() else {
        return Ok(Vec::new());
    };
    let record = &first.record;
    let made = || -> Result<_> { Ok(vec![reading.origin_id(first.place)?]) };
    let welder = Some(&record.welder.badge);
    // As typed it may be an identity.
    let slip = match record.slip.value() {
        Some(slip) => Some(reading.slip(slip.slip)?.number.clone()),
        None => None,
    };
    let joints: Vec<&Joint> = feds.iter().map(|f| f.joint.as_ref()).collect();
    let finding = |code, severity, at: &[&Fed], lot: Option<&String>, why: String| -> Result<Finding> {
        let joints: Vec<&Joint> = at.iter().map(|f| f.joint.as_ref()).collect();
        let mut finding = Finding::new(code, severity, made()?, why).at_joints(&joints).of_welder(welder);
        finding.lot = lot.cloned();
        finding.slip.clone_from(&slip);
        Ok(finding)
    };
    let when = |fed: &Fed| reading.zone().local(fed.covers.0);
    let all: Vec<&Fed> = feds.iter().collect();
    let mut found = Vec::new();
    if record.mark.value() == Some(&Mark::Unreadable) {
        let why = format!(
            "{} welded {} on {} with filler whose mark could not be read.",
            record.welder.badge,
            first.name(),
            when(first)
        );
        found.push(finding(Code::UnmarkedWire, Severity::Stop, &all, only_lot(&all), why)?);
    }
    let of =
        |certainty: Certainty| -> Vec<&Fed> { feds.iter().filter(|f| f.certainty == certainty).collect() };
    let unknown = of(Certainty::Unknown);
    if let Some(fed) = unknown.first() {
        let why = format!(
            "By the record {} held nothing that suits the process when {} was welded, {}.",
            record.welder.badge,
            fed.name(),
            when(fed)
        );
        found.push(finding(Code::NoSource, Severity::Stop, &unknown, None, why)?);
    }
    let contradicted = of(Certainty::Contradicted);
    if let Some(fed) = contradicted.first() {
        let lots: Vec<&str> = fed.lots().iter().map(|l| l.received.code.as_str()).collect();
        let lots = if lots.is_empty() { "nothing".to_owned() } else { lots.join(", ") };
        let named = match (record.lot.value(), &slip) {
            (_, Some(slip)) => format!("slip {slip}"),
            (Some(lot), None) if crate::is_identity(&lot.label) => {
                format!("lot {}", reading.lot(lot.lot)?.received.code)
            }
            (Some(lot), None) => format!("lot {}", lot.label),
            (None, None) => "nothing".into(),
        };
        let why = match fed.evidence {
            Some(Evidence::Mark) => format!(
                "A spot check read a mark at {} on {} that none of its sources ({lots}) has.",
                fed.name(),
                when(fed)
            ),
            Some(Evidence::Reading) => format!(
                "Of {} on {}, readings of the metal reject the class of every source ({lots}).",
                fed.name(),
                when(fed)
            ),
            None => format!(
                "The record of {} on {} names {named}, and {} held {lots} then.",
                fed.name(),
                when(fed),
                record.welder.badge
            ),
        };
        found.push(finding(
            Code::ContradictedSource,
            Severity::Stop,
            &contradicted,
            only_lot(&contradicted),
            why,
        )?);
    }
    let several: Vec<&Fed> = of(Certainty::OneOf)
        .into_iter()
        .filter(|f| f.joint.declared.level.value() == Some(&Level::Lot))
        .collect();
    if let Some(fed) = several.first() {
        let lots: Vec<&str> = fed.lots().iter().map(|l| l.received.code.as_str()).collect();
        let why = format!(
            "{} must be traced to the lot, and on {} {} held {} lots: {}.",
            fed.name(),
            when(fed),
            record.welder.badge,
            lots.len(),
            lots.join(", ")
        );
        found.push(finding(Code::SeveralSources, Severity::Act, &several, None, why)?);
    }
    if let Some(NotReleased { at, lot, status }) = not_released(reading, feds)? {
        let why = format!(
            "Lot {} was {status} when {} was welded, {}.",
            lot.received.code,
            first.name(),
            when(first)
        );
        found.push(finding(Code::LotNotReleased, Severity::Stop, &at, Some(&lot.received.code), why)?);
    }
    for (code, worst, what, refuses) in [
        (Code::ClassNotInWps, Severity::Stop, "classification", refuses_class as Refuses),
        (Code::SizeNotInWps, Severity::Act, "size", refuses_size as Refuses),
    ] {
        let mut at: Vec<&Fed> = Vec::new();
        let mut severity = Severity::Note;
        let mut says = None;
        for fed in feds {
            let Some(NotAllowed { every, lot, wps }) = not_allowed(reading, fed, refuses)? else {
                continue;
            };
            if every {
                severity = worst;
            }
            at.push(fed);
            says.get_or_insert((lot, wps));
        }
        if let (Some((lot, wps)), Some(fed)) = (says, at.first()) {
            let value = if code == Code::ClassNotInWps {
                format!("{} {}", lot.received.spec.cell(), lot.received.classification.cell())
            } else {
                lot.received.size.cell()
            };
            let why = format!(
                "The {what} of lot {}, {}, is not in {} of {}.",
                lot.received.code,
                value.trim(),
                wps.join(", "),
                fed.name()
            );
            found.push(finding(code, severity, &at, Some(&lot.received.code), why)?);
        }
    }
    let what = format!("The weld record of {}", first.name());
    if let Some(late) =
        late::of_entry(reading, first.place, first.covers.1, record.imported.is_some(), &what)?
    {
        let mut late = late.at_joints(&joints).of_lot(only_lot(&all)).of_welder(welder);
        late.slip.clone_from(&slip);
        found.push(late);
    }
    Ok(found)
}

/// The one lot of all sources.
fn only_lot<'f>(feds: &[&'f Fed]) -> Option<&'f String> {
    let mut lots = feds.iter().flat_map(|f| f.lots());
    let first = lots.next()?;
    lots.all(|l| l.id == first.id).then_some(&first.received.code)
}

/// The first source lot that was not released at the weld, where any was not, and what it was.
struct NotReleased<'f> {
    at: Vec<&'f Fed>,
    lot: Rc<Lot>,
    status: &'static str,
}

fn not_released<'f>(reading: &Reading<'_>, feds: &'f [Fed]) -> Result<Option<NotReleased<'f>>> {
    let mut at = Vec::new();
    let mut first: Option<(Rc<Lot>, &'static str)> = None;
    for fed in feds {
        let mut any = false;
        for lot in fed.lots() {
            let status = status_at(&reading.statuses(lot.id)?, fed.covers.1);
            if !matches!(status, LotStatus::Released { .. }) {
                any = true;
                first.get_or_insert_with(|| (Rc::clone(lot), status.word()));
            }
        }
        if any {
            at.push(fed);
        }
    }
    Ok(first.map(|(lot, status)| NotReleased { at, lot, status }))
}

/// What a lot was at a moment, by claimed times: the last status that can have held by then; a rejection stands for good.
pub(crate) fn status_at(statuses: &[(record::When, LotStatus)], latest: Instant) -> LotStatus {
    let mut before: Vec<_> = statuses.iter().filter(|(at, _)| at.from <= latest).collect();
    before.sort_by_key(|(at, _)| at.from);
    let rejected = before.iter().find(|(_, status)| matches!(status, LotStatus::Rejected { .. }));
    rejected.or(before.last()).map_or(LotStatus::Unreleased, |(_, status)| status.clone())
}

type Refuses = fn(&WpsDeclared, &Lot) -> bool;

/// A source that the procedures of a joint do not allow: whether that is so of every source, the first such lot, and the
/// procedures.
struct NotAllowed {
    every: bool,
    lot: Rc<Lot>,
    wps: Vec<String>,
}

/// None where every source is allowed, or it cannot be told.
fn not_allowed(reading: &Reading<'_>, fed: &Fed, refuses: Refuses) -> Result<Option<NotAllowed>> {
    let considered = considered(reading, fed)?;
    let mut offending = None;
    let mut every = true;
    for (_, lot) in &fed.sources {
        // What one procedure leaves open cannot be held against the metal.
        if !considered.is_empty() && considered.iter().all(|wps| refuses(wps, lot)) {
            offending.get_or_insert_with(|| Rc::clone(lot));
        } else {
            every = false;
        }
    }
    let wps = considered.iter().map(|w| w.number.clone()).collect();
    Ok(offending.map(|lot| NotAllowed { every, lot, wps }))
}

/// The procedures of the joint that cover the record's process; all of them where it has none, or none covers it.
fn considered(reading: &Reading<'_>, fed: &Fed) -> Result<Vec<Rc<WpsDeclared>>> {
    let all = fed.joint.declared.wps.iter().map(|w| reading.wps(w.wps)).collect::<Result<Vec<_>>>()?;
    let Some(process) = fed.record.process.value() else {
        return Ok(all);
    };
    let covers = |wps: &Rc<WpsDeclared>| wps.processes.iter().any(|p: &Process| p == process);
    if all.iter().any(covers) { Ok(all.into_iter().filter(covers).collect()) } else { Ok(all) }
}

/// Whether a procedure does not allow the lot: its classification or its specification is on no list of it.
fn refuses_class(wps: &WpsDeclared, lot: &Lot) -> bool {
    off_list(&wps.classifications, &lot.received.classification, |c, class| fits(c, class))
        || off_list(&wps.specs, &lot.received.spec, |s, spec| folded(s) == folded(spec))
}

/// Whether a procedure does not allow the lot's size. A size without a length allows every length; inch and metric are
/// different products.
fn refuses_size(wps: &WpsDeclared, lot: &Lot) -> bool {
    off_list(&wps.sizes, &lot.received.size, |allowed, size| match allowed.size.length() {
        None => allowed.size.diameter() == size.size.diameter(),
        Some(_) => allowed.size == size.size,
    })
}

/// Whether a known value is on none of the items of a list that has some. What is not known, or not listed, is not
/// checked.
fn off_list<T>(list: &[T], value: &Stated<T>, allows: fn(&T, &T) -> bool) -> bool {
    !list.is_empty() && value.value().is_some_and(|value| !list.iter().any(|item| allows(item, value)))
}
