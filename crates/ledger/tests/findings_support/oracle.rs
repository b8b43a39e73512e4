//! Which findings there are, worked out a second time: from the exported lines alone, second by second, without facts,
//! indexes or interval ends, from the definitions in words.

use filler::{Process, ProductForm, Quantity, Unit};
use record::event::{
    Disposition, Event, FindingDisposed, JointDeclared, JointWelded, Level, LotReceived, Mark,
    MarkSpotChecked, RodIssued, RodReturned, WireFoundUnmarked, WpsDeclared,
};
use record::finding::{Code, Severity};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId, WpsId};
use record::{Entry, Instant, Stated, When};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// A closed stretch of seconds.
type Span = (i64, i64);

/// What one finding must say.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Expected {
    pub(crate) code: Code,
    pub(crate) severity: Severity,
    pub(crate) id: String,
    pub(crate) entries: Vec<EntryId>,
    pub(crate) joint: Option<String>,
    pub(crate) lot: Option<String>,
    pub(crate) slip: Option<String>,
    pub(crate) welder: Option<String>,
    pub(crate) disposed: Option<EntryId>,
}

/// What a lot is said to be, as far as findings ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Status {
    Released,
    /// On hold or recalled.
    Stopped,
    Rejected,
}

/// A line of the record.
pub(crate) struct Line {
    pub(crate) id: EntryId,
    pub(crate) entry: Entry,
}

/// An entry that holds, with what it says now and where and as what it first stood in the record.
#[derive(Clone)]
pub(crate) struct Holds {
    pub(crate) first: EntryId,
    pub(crate) order: usize,
    /// The line that says it now.
    pub(crate) line: usize,
    pub(crate) recorded: Instant,
    pub(crate) event: Event,
}

/// Something that left a slip.
pub(super) struct Out {
    order: usize,
    at: Span,
    pub(super) quantity: Option<Quantity>,
    closes: bool,
    scrapped: bool,
    pub(super) stubs: Option<i64>,
}

/// A slip and all that left it.
pub(crate) struct Slip {
    pub(crate) id: SlipId,
    pub(crate) number: String,
    pub(crate) lot: LotId,
    pub(crate) holder: PersonId,
    pub(crate) first: EntryId,
    order: usize,
    issued: Span,
    pub(super) quantity: Option<Quantity>,
    due: Option<Span>,
    pub(super) outs: Vec<Out>,
}

/// What one weld record says at one of its joints.
pub(crate) struct Answer {
    pub(crate) joint: JointId,
    pub(crate) certainty: &'static str,
    pub(crate) sources: BTreeSet<SlipId>,
    pub(crate) others: BTreeSet<SlipId>,
    pub(crate) flux: BTreeSet<SlipId>,
    /// Places in the standing spot checks of those made at this joint and welder in its time.
    pub(crate) checks: BTreeSet<usize>,
}

/// The record as lines.
pub(crate) fn lines(record: &[u8]) -> Vec<Line> {
    record
        .split(|byte| *byte == b'\n')
        .filter(|line| !line.is_empty())
        .map(|line| Line { id: record::entry::id(line), entry: record::entry::decode(line).unwrap() })
        .collect()
}

/// Which line a line names as wrong or as never having been.
fn names(line: &Line) -> Option<(EntryId, bool)> {
    match &line.entry.event {
        Event::EntryCorrected(e) => Some((e.corrects, false)),
        Event::EntryVoided(e) => Some((e.voids, true)),
        _ => None,
    }
}

/// Whether a line is void: a void names it that is not void itself.
fn is_void(lines: &[Line], at: usize) -> bool {
    (0..lines.len()).any(|by| names(&lines[by]) == Some((lines[at].id, true)) && !is_void(lines, by))
}

/// Whether a line holds: it is not void, and no correction names it that is not void.
pub(crate) fn stands(lines: &[Line], at: usize) -> bool {
    let corrected =
        (0..lines.len()).any(|by| names(&lines[by]) == Some((lines[at].id, false)) && !is_void(lines, by));
    !is_void(lines, at) && !corrected
}

/// The first line of the chain of corrections that a line is in.
pub(crate) fn origin(lines: &[Line], at: usize) -> usize {
    match names(&lines[at]) {
        Some((id, false)) => origin(lines, lines.iter().position(|l| l.id == id).unwrap()),
        _ => at,
    }
}

/// Everything that holds, in the order of the record.
pub(crate) fn holding(lines: &[Line]) -> Vec<Holds> {
    let mut holds: Vec<Holds> = (0..lines.len())
        .filter(|at| stands(lines, *at) && !matches!(lines[*at].entry.event, Event::EntryVoided(_)))
        .map(|at| {
            let order = origin(lines, at);
            Holds {
                first: lines[order].id,
                order,
                line: at,
                recorded: lines[order].entry.header.time,
                event: match &lines[at].entry.event {
                    Event::EntryCorrected(e) => Event::from_parts(&e.replacement.kind, &e.replacement.body),
                    other => other.clone(),
                },
            }
        })
        .collect();
    holds.sort_by_key(|h| h.order);
    holds
}

fn span(when: &When) -> Span {
    (when.from.0, when.to.0.max(when.from.0))
}

fn value<T: Clone>(stated: &Stated<T>) -> Option<T> {
    stated.value().cloned()
}

/// The book as the definitions see it.
pub(crate) struct Book {
    pub(crate) holds: Vec<Holds>,
    pub(crate) lots: BTreeMap<LotId, Vec<(EntryId, LotReceived)>>,
    pub(crate) joints: BTreeMap<JointId, Vec<(EntryId, JointDeclared)>>,
    wps: BTreeMap<WpsId, WpsDeclared>,
    badges: BTreeMap<PersonId, String>,
    /// Codes of all lots as last written, also of those that never were.
    codes: BTreeMap<LotId, String>,
    /// Number, lot and holder of all slips, also of those that never were.
    papers: BTreeMap<SlipId, (String, LotId, PersonId)>,
    statuses: BTreeMap<LotId, Vec<(i64, usize, Status)>>,
    pub(crate) slips: BTreeMap<SlipId, Slip>,
    clears: Vec<(PersonId, Span, usize)>,
    pub(crate) welds: Vec<(EntryId, JointWelded)>,
    pub(crate) checks: Vec<(EntryId, MarkSpotChecked)>,
}

impl Book {
    pub(crate) fn of(lines: &[Line]) -> Self {
        let holds = holding(lines);
        let mut book = Self {
            holds: holds.clone(),
            lots: BTreeMap::new(),
            joints: BTreeMap::new(),
            wps: BTreeMap::new(),
            badges: BTreeMap::new(),
            codes: BTreeMap::new(),
            papers: BTreeMap::new(),
            statuses: BTreeMap::new(),
            slips: BTreeMap::new(),
            clears: Vec::new(),
            welds: Vec::new(),
            checks: Vec::new(),
        };
        for line in lines {
            match line.entry.event.clone().effect() {
                Event::RodIssued(e) => {
                    book.papers.insert(e.slip, (e.number, e.lot.lot, e.holder.person));
                }
                Event::LotReceived(e) => {
                    book.codes.insert(e.lot, e.code);
                }
                Event::RodHandedOver(e) => {
                    book.papers.insert(e.new_slip.slip, (e.new_slip.number, e.lot, e.to.person));
                }
                _ => {}
            }
        }
        let mut outs: Vec<(SlipId, Out)> = Vec::new();
        for Holds { first, order, event, .. } in holds {
            match event {
                Event::PersonEnrolled(e) => {
                    book.badges.insert(e.person, e.badge);
                }
                Event::WpsDeclared(e) => {
                    book.wps.insert(e.wps, e);
                }
                Event::JointDeclared(e) => book.joints.entry(e.joint).or_default().push((first, e)),
                Event::LotReceived(e) => book.lots.entry(e.lot).or_default().push((first, e)),
                Event::LotReleased(e) => book.status(e.lot.lot, &e.at, order, Status::Released),
                Event::LotHeld(e) => book.status(e.lot.lot, &e.at, order, Status::Stopped),
                Event::LotRejected(e) => book.status(e.lot.lot, &e.at, order, Status::Rejected),
                Event::LotRecalled(e) => book.status(e.lot.lot, &e.at, order, Status::Stopped),
                Event::RodIssued(e) => {
                    let slip = Slip {
                        id: e.slip,
                        number: e.number,
                        lot: e.lot.lot,
                        holder: e.holder.person,
                        first,
                        order,
                        issued: span(&e.at),
                        quantity: value(&e.quantity),
                        due: e.due.value().map(span),
                        outs: Vec::new(),
                    };
                    book.slips.insert(e.slip, slip);
                }
                Event::RodHandedOver(e) => {
                    let slip = Slip {
                        id: e.new_slip.slip,
                        number: e.new_slip.number.clone(),
                        lot: e.lot,
                        holder: e.to.person,
                        first,
                        order,
                        issued: span(&e.at),
                        quantity: value(&e.quantity),
                        due: None,
                        outs: Vec::new(),
                    };
                    book.slips.insert(slip.id, slip);
                    outs.push((
                        e.slip.slip,
                        Out {
                            order,
                            at: span(&e.at),
                            quantity: value(&e.quantity),
                            closes: e.closes,
                            scrapped: false,
                            stubs: None,
                        },
                    ));
                }
                Event::RodReturned(e) => outs.push((
                    e.slip.slip,
                    Out {
                        order,
                        at: span(&e.at),
                        quantity: value(&e.quantity),
                        closes: e.closes,
                        scrapped: false,
                        stubs: value(&e.stubs),
                    },
                )),
                Event::RodScrapped(e) => {
                    if let Some(from) = &e.slip {
                        outs.push((
                            from.slip.slip,
                            Out {
                                order,
                                at: span(&e.at),
                                quantity: value(&e.quantity),
                                closes: from.closes,
                                scrapped: true,
                                stubs: None,
                            },
                        ));
                    }
                }
                Event::WelderCleared(e) => book.clears.push((e.welder.person, span(&e.at), order)),
                Event::JointWelded(e) => book.welds.push((first, e)),
                Event::MarkSpotChecked(e) => book.checks.push((first, e)),
                _ => {}
            }
        }
        for (slip, out) in outs {
            if let Some(slip) = book.slips.get_mut(&slip) {
                slip.outs.push(out);
            }
        }
        for statuses in book.statuses.values_mut() {
            statuses.sort();
        }
        book
    }

    fn status(&mut self, lot: LotId, at: &When, order: usize, status: Status) {
        self.statuses.entry(lot).or_default().push((at.from.0, order, status));
    }

    /// Released at a moment: by the last status that can have begun by then, unless it was ever rejected by then, which is
    /// for good.
    fn released(&self, lot: LotId, moment: i64) -> bool {
        let statuses = self.statuses.get(&lot).into_iter().flatten();
        let mut begun = statuses.filter(|(from, ..)| *from <= moment).map(|(.., status)| *status);
        !begun.clone().any(|status| status == Status::Rejected) && begun.next_back() == Some(Status::Released)
    }

    pub(crate) fn lot(&self, lot: LotId) -> &LotReceived {
        &self.lots[&lot][0].1
    }

    pub(super) fn code(&self, lot: LotId) -> Option<String> {
        match self.lots.get(&lot) {
            Some(receipts) => Some(receipts[0].1.code.clone()),
            // What was said of a lot that never was is still there to name it by.
            None => self.codes.get(&lot).cloned(),
        }
    }

    pub(super) fn number(&self, slip: SlipId) -> Option<String> {
        self.papers.get(&slip).map(|(number, ..)| number.clone())
    }

    pub(super) fn joint_now(&self, joint: JointId) -> &JointDeclared {
        &self.joints[&joint].last().unwrap().1
    }

    pub(super) fn badge(&self, person: PersonId) -> Option<String> {
        self.badges.get(&person).cloned()
    }

    // ---- amounts --------------------------------------------------------------------------------------------------

    /// Pieces of a quantity, where it counts pieces such as the slip was issued in: rods are not spools.
    pub(super) fn pieces(&self, slip: &Slip, quantity: &Quantity) -> Option<i64> {
        let issued = slip.quantity?;
        let spool = |q: &Quantity| q.unit() == Unit::Spools;
        let any = |q: &Quantity| q.unit() == Unit::Pieces;
        let alike = any(&issued) || any(quantity) || spool(&issued) == spool(quantity);
        quantity.pieces().filter(|_| alike)
    }

    /// Its mass: weighed, or that of the pieces, where the piece whose mass is known is such a piece.
    pub(super) fn mg(&self, slip: &Slip, quantity: &Quantity) -> Option<i64> {
        let lot = self.lot(slip.lot);
        let spool = lot.form.value() == Some(&ProductForm::Spool);
        let piece = lot.piece.as_ref().map(|p| p.mg).filter(|_| match quantity.unit() {
            Unit::Rods => !spool,
            Unit::Spools => spool,
            Unit::Pieces => true,
            Unit::Kilograms | Unit::Grams | Unit::Pounds => false,
        });
        quantity.milligrams().or_else(|| Some(piece? * quantity.pieces()?))
    }

    /// What was issued and what these outs come to, in pieces or else in milligrams, where all of it can be told so.
    pub(super) fn issued_and_gone(&self, slip: &Slip, outs: &[&Out]) -> Option<(i64, i64)> {
        let sum = |measure: &dyn Fn(&Quantity) -> Option<i64>| -> Option<(i64, i64)> {
            let gone: Option<i64> = outs.iter().map(|out| measure(&out.quantity?)).sum();
            Some((measure(&slip.quantity?)?, gone?))
        };
        sum(&|q| self.pieces(slip, q)).or_else(|| sum(&|q| self.mg(slip, q)))
    }

    // ---- custody, second by second --------------------------------------------------------------------------------

    /// In hand at this second? From the first second of the issue until, and including, the last second of whatever
    /// ends it; always at the first second.
    fn in_hand(&self, slip: &Slip, second: i64) -> bool {
        if second <= slip.issued.0 {
            return second == slip.issued.0;
        }
        let closed = slip.outs.iter().any(|out| out.closes && out.at.1 < second);
        let cleared = self.clears.iter().any(|(welder, at, order)| {
            *welder == slip.holder && (slip.issued.0, slip.order) < (at.0, *order) && at.1 < second
        });
        let used_up = slip.outs.iter().filter(|last| last.at.1 < second).any(|last| {
            let until: Vec<&Out> =
                slip.outs.iter().filter(|out| (out.at.1, out.order) <= (last.at.1, last.order)).collect();
            self.issued_and_gone(slip, &until).is_some_and(|(issued, gone)| gone >= issued)
        });
        !(closed || cleared || used_up)
    }

    /// Whether a slip is in hand at any second of a span. It can only change beside an end of something, so these are
    /// all the seconds that need a look.
    fn held_during(&self, slip: &Slip, (from, to): Span) -> bool {
        let ends = slip.outs.iter().map(|out| out.at).chain(self.clears.iter().map(|(_, at, _)| *at));
        let beside = ends.chain([slip.issued]).flat_map(|(a, b)| [a - 1, a, a + 1, b - 1, b, b + 1]);
        beside.chain([from, to]).filter(|s| (from..=to).contains(s)).any(|s| self.in_hand(slip, s))
    }

    pub(super) fn is_closed(&self, slip: &Slip) -> bool {
        !self.in_hand(slip, i64::MAX)
    }

    // ---- what fed a weld ------------------------------------------------------------------------------------------

    pub(crate) fn answer(&self, weld: &JointWelded, joint: JointId) -> Answer {
        let (from, to) = covered(weld);
        let checks: BTreeSet<usize> = (0..self.checks.len())
            .filter(|i| {
                let (_, check) = &self.checks[*i];
                let (a, b) = span(&check.at);
                check.joint.joint == joint
                    && check.welder.person == weld.welder.person
                    && a <= to
                    && from <= b
            })
            .collect();
        let mut answer = Answer {
            joint,
            certainty: "no-filler",
            sources: BTreeSet::new(),
            others: BTreeSet::new(),
            flux: BTreeSet::new(),
            checks,
        };
        if !weld.filler {
            return answer;
        }
        let processes = match weld.process.value() {
            Some(process) => vec![process.clone()],
            None => {
                let wps = self.joint_now(joint).wps.iter().filter_map(|w| self.wps.get(&w.wps));
                wps.flat_map(|w| w.processes.clone()).collect()
            }
        };
        let known = !processes.is_empty() && !processes.iter().any(|p| matches!(p, Process::Other(_)));
        let mut candidates = Vec::new();
        for slip in self.slips.values() {
            if slip.holder != weld.welder.person || !self.held_during(slip, (from, to)) {
                continue;
            }
            match self.lot(slip.lot).form.value() {
                Some(ProductForm::Flux) if known => {
                    if processes.contains(&Process::Saw) {
                        answer.flux.insert(slip.id);
                    }
                }
                Some(form) if known && !processes.iter().any(|process| takes(process, *form)) => {}
                _ => candidates.push(slip),
            }
        }
        let named_lot = weld.lot.value().map(|l| l.lot);
        let named_slip = weld.slip.value().map(|s| s.slip);
        let is_named = |slip: &Slip| {
            named_lot.is_none_or(|lot| lot == slip.lot) && named_slip.is_none_or(|id| id == slip.id)
        };
        let something_named = named_lot.is_some() || named_slip.is_some();
        let nothing_matches = !candidates.iter().any(|slip| is_named(slip));
        for slip in candidates {
            if nothing_matches || is_named(slip) {
                answer.sources.insert(slip.id);
            } else {
                answer.others.insert(slip.id);
            }
        }
        answer.certainty = match (something_named, nothing_matches, self.source_lots(&answer).len()) {
            (true, false, _) => "recorded",
            (true, true, _) => "contradicted",
            (false, _, 0) => "unknown",
            (false, _, 1) => "by-custody",
            (false, _, _) => "one-of",
        };
        let contradicts = answer.checks.iter().any(|i| {
            let (_, check) = &self.checks[*i];
            let Some(reads) = check.reads.value().filter(|_| check.legible) else { return false };
            !answer.sources.iter().any(|slip| {
                let class = &self.lot(self.slips[slip].lot).classification;
                class.value().is_none_or(|class| mark_fits(reads, class))
            })
        });
        if contradicts && answer.certainty != "unknown" {
            answer.certainty = "contradicted";
        }
        answer
    }

    pub(crate) fn source_lots(&self, answer: &Answer) -> BTreeSet<LotId> {
        answer.sources.iter().map(|slip| self.slips[slip].lot).collect()
    }

    /// A weld record at each of its joints, in the order it names them.
    pub(crate) fn answers(&self, weld: &JointWelded) -> Vec<Answer> {
        weld.joints.iter().map(|j| self.answer(weld, j.joint)).collect()
    }

    // ---- findings -------------------------------------------------------------------------------------------------

    /// Every finding at a moment.
    pub(crate) fn findings(&self, now: i64) -> Vec<Expected> {
        let mut found = Vec::new();
        for holds in &self.holds {
            match &holds.event {
                Event::WireFoundUnmarked(e) => found.push(self.find(holds.first, e)),
                Event::JointWelded(e) => self.of_weld(holds.first, e, &mut found),
                Event::MarkSpotChecked(e) if !e.legible => {
                    let mut finding = new(Code::UnmarkedWire, Severity::Stop, &[holds.first]);
                    finding.joint = Some(self.joint_now(e.joint.joint).number.clone());
                    finding.welder = self.badge(e.welder.person);
                    found.push(finding);
                }
                Event::RodReturned(e) => found.extend(self.of_return(holds.first, e)),
                Event::RodIssued(e) => self.of_issue(holds.first, e, &mut found),
                _ => {}
            }
            found.extend(self.late(holds));
        }
        for slip in self.slips.values() {
            self.of_slip(slip, now, &mut found);
        }
        for (joint, declared) in &self.joints {
            if !self.welds.iter().any(|(_, w)| w.joints.iter().any(|j| j.joint == *joint)) {
                let mut finding = new(Code::JointWithoutWeldRecord, Severity::Note, &[declared[0].0]);
                finding.joint = Some(declared.last().unwrap().1.number.clone());
                found.push(finding);
            }
        }
        self.by_mass(&mut found);
        let pairs = self.look_alike(None);
        found.extend(pairs.iter().map(|pair| new(Code::LookAlikeNumber, Severity::Act, pair)));
        for finding in &mut found {
            finding.disposed = self.disposed(&finding.id).map(|(entry, _)| entry);
        }
        found.sort();
        found
    }

    /// The newest disposition of a finding that holds.
    pub(crate) fn disposed(&self, id: &str) -> Option<(EntryId, Disposition)> {
        let of_id = |h: &Holds| -> Option<FindingDisposed> {
            match &h.event {
                Event::FindingDisposed(e) if e.finding.to_string() == id => Some(e.clone()),
                _ => None,
            }
        };
        let newest = self.holds.iter().rev().find_map(|h| of_id(h).map(|e| (h, e)));
        newest.map(|(h, e)| (h.first, e.disposition))
    }

    fn find(&self, first: EntryId, e: &WireFoundUnmarked) -> Expected {
        let mut finding = new(Code::UnmarkedWire, Severity::Stop, &[first]);
        finding.joint = e.joints.first().map(|j| self.joint_now(j.joint).number.clone());
        finding.welder = e.welder.value().and_then(|w| self.badge(w.person));
        finding
    }

    fn of_return(&self, first: EntryId, e: &RodReturned) -> Option<Expected> {
        if e.condition.value().map(|c| c.word()) != Some("unmarked") {
            return None;
        }
        let mut finding = new(Code::UnmarkedWire, Severity::Act, &[first]);
        finding.slip = self.number(e.slip.slip);
        finding.lot = self.code(e.lot);
        finding.welder = self.badge(e.holder);
        Some(finding)
    }

    fn of_issue(&self, first: EntryId, e: &RodIssued, found: &mut Vec<Expected>) {
        let mut push = |code, severity| {
            let mut finding = new(code, severity, &[first]);
            finding.slip = Some(e.number.clone());
            finding.lot = self.code(e.lot.lot);
            finding.welder = self.badge(e.holder.person);
            found.push(finding);
        };
        if !self.released(e.lot.lot, span(&e.at).1) {
            push(Code::LotNotReleased, Severity::Stop);
        }
        let on_a_receipt = self.lots[&e.lot.lot].iter().any(|(_, r)| r.certificate.value().is_some());
        let filed = self.holds.iter().any(|h| match &h.event {
            Event::CertificateFiled(c) => c.lots.iter().any(|l| l.lot == e.lot.lot),
            _ => false,
        });
        if !on_a_receipt && !filed {
            push(Code::LotWithoutCertificate, Severity::Act);
        }
    }

    fn of_weld(&self, first: EntryId, e: &JointWelded, found: &mut Vec<Expected>) {
        let answers = self.answers(e);
        let mut push = |code, severity, joints: Vec<JointId>, lot: Option<String>| {
            let Some(joint) = joints.first() else { return };
            let mut finding = new(code, severity, &[first]);
            finding.joint = Some(self.joint_now(*joint).number.clone());
            finding.lot = lot;
            finding.slip = e.slip.value().and_then(|s| self.number(s.slip));
            finding.welder = self.badge(e.welder.person);
            found.push(finding);
        };
        let at = |truth: &dyn Fn(&Answer) -> bool| -> Vec<JointId> {
            answers.iter().filter(|a| truth(a)).map(|a| a.joint).collect()
        };
        if e.mark.value() == Some(&Mark::Unreadable) {
            push(Code::UnmarkedWire, Severity::Stop, at(&|_| true), self.one_lot(&answers));
        }
        push(Code::NoSource, Severity::Stop, at(&|a| a.certainty == "unknown"), None);
        let contradicted = |a: &Answer| a.certainty == "contradicted";
        let there: Vec<&Answer> = answers.iter().filter(|a| contradicted(a)).collect();
        let lot = self.one_lot(there.iter().copied());
        push(Code::ContradictedSource, Severity::Stop, at(&contradicted), lot);
        let to_the_lot = |a: &Answer| self.joint_now(a.joint).level.value() == Some(&Level::Lot);
        push(Code::SeveralSources, Severity::Act, at(&|a| a.certainty == "one-of" && to_the_lot(a)), None);
        let latest = covered(e).1;
        let unreleased = |a: &Answer| -> Vec<LotId> {
            let lots = self.lots_in_order(a).into_iter();
            lots.filter(|lot| !self.released(*lot, latest)).collect()
        };
        let offending: Vec<LotId> = answers.iter().flat_map(&unreleased).collect();
        let lot = offending.first().and_then(|lot| self.code(*lot));
        push(Code::LotNotReleased, Severity::Stop, at(&|a| !unreleased(a).is_empty()), lot);
        for (code, every, fits) in [
            (Code::ClassNotInWps, Severity::Stop, fits_class as fn(&WpsDeclared, &LotReceived) -> Truth),
            (Code::SizeNotInWps, Severity::Act, fits_size),
        ] {
            let unfit = |a: &Answer| -> Vec<LotId> {
                let considered = self.considered(e, a.joint);
                let lots = self.lots_in_order(a).into_iter();
                lots.filter(|lot| {
                    let truths: Vec<Truth> = considered.iter().map(|w| fits(w, self.lot(*lot))).collect();
                    !truths.is_empty() && truths.iter().all(|t| *t == Truth::No)
                })
                .collect()
            };
            let by_every = at(&|a| !a.sources.is_empty() && unfit(a).len() == self.source_lots(a).len());
            let by_some = at(&|a| !unfit(a).is_empty());
            let severity = if by_every.is_empty() { Severity::Note } else { every };
            let offending: Vec<LotId> = answers.iter().flat_map(&unfit).collect();
            push(code, severity, by_some, offending.first().and_then(|lot| self.code(*lot)));
        }
    }

    /// The lots of the sources, each once, by issue time and then slip number.
    fn lots_in_order(&self, answer: &Answer) -> Vec<LotId> {
        let mut slips: Vec<&Slip> = answer.sources.iter().map(|slip| &self.slips[slip]).collect();
        slips.sort_by_key(|slip| (slip.issued.0, slip.number.clone(), slip.id));
        let mut lots = Vec::new();
        for slip in slips {
            if !lots.contains(&slip.lot) {
                lots.push(slip.lot);
            }
        }
        lots
    }

    /// The code of the lot of all sources, where there is one.
    fn one_lot<'a>(&self, answers: impl IntoIterator<Item = &'a Answer>) -> Option<String> {
        let lots: BTreeSet<LotId> = answers.into_iter().flat_map(|a| self.source_lots(a)).collect();
        if lots.len() == 1 { self.code(*lots.first()?) } else { None }
    }

    /// The procedures of a joint that a weld record is held against: those that list its process; all of them if it has
    /// none or none lists it.
    fn considered(&self, weld: &JointWelded, joint: JointId) -> Vec<&WpsDeclared> {
        let all: Vec<&WpsDeclared> =
            self.joint_now(joint).wps.iter().filter_map(|w| self.wps.get(&w.wps)).collect();
        let listing: Vec<&WpsDeclared> = match weld.process.value() {
            Some(process) => all.iter().copied().filter(|w| w.processes.contains(process)).collect(),
            None => Vec::new(),
        };
        if listing.is_empty() { all } else { listing }
    }

    fn of_slip(&self, slip: &Slip, now: i64, found: &mut Vec<Expected>) {
        let mut push = |code, severity| {
            let mut finding = new(code, severity, &[slip.first]);
            finding.slip = Some(slip.number.clone());
            finding.lot = self.code(slip.lot);
            finding.welder = self.badge(slip.holder);
            found.push(finding);
        };
        let closed = self.is_closed(slip);
        let outs: Vec<&Out> = slip.outs.iter().collect();
        let stubs: Vec<i64> = slip.outs.iter().filter_map(|out| out.stubs).collect();
        let counted: Option<(i64, i64)> = (|| {
            let gone: Option<i64> = outs.iter().map(|out| self.pieces(slip, &out.quantity?)).sum();
            Some((self.pieces(slip, &slip.quantity?)?, gone?))
        })();
        let difference =
            counted.filter(|_| closed && !stubs.is_empty()).map(|(i, g)| i - g - stubs.iter().sum::<i64>());
        let more = self.issued_and_gone(slip, &outs).is_some_and(|(issued, gone)| gone > issued);
        if difference.is_some_and(|d| d > 0) {
            push(Code::CountShort, Severity::Act);
        }
        if difference.is_some_and(|d| d < 0) || more {
            push(Code::CountOver, Severity::Act);
        }
        if !closed && slip.due.is_some_and(|due| due.1 < now) {
            push(Code::SlipOverdue, Severity::Note);
        }
        // A scrap that closes a slip is of all that was left.
        let rest_scrapped = outs.iter().any(|out| out.scrapped && out.closes && out.quantity.is_none());
        let wholly =
            rest_scrapped || self.issued_and_gone(slip, &outs).is_some_and(|(issued, gone)| gone >= issued);
        if closed && !wholly && !self.welds.iter().any(|(_, weld)| self.may_have_used(weld, slip)) {
            push(Code::SlipUnused, Severity::Note);
        }
    }

    /// Whether a weld record has a slip among its sources or flux, or names it, or names its lot while its holder, who
    /// welded, had it.
    fn may_have_used(&self, weld: &JointWelded, slip: &Slip) -> bool {
        let answers = self.answers(weld);
        let by_lot = weld.lot.value().is_some_and(|l| l.lot == slip.lot)
            && weld.welder.person == slip.holder
            && self.held_during(slip, covered(weld));
        answers.iter().any(|a| a.sources.contains(&slip.id) || a.flux.contains(&slip.id))
            || weld.slip.value().is_some_and(|s| s.slip == slip.id)
            || by_lot
    }

    fn late(&self, holds: &Holds) -> Option<Expected> {
        let claim = claim(&holds.event)?;
        if claim.imported || holds.recorded.0 - claim.at.1 <= 24 * 3600 {
            return None;
        }
        let mut finding = new(Code::LateEntry, Severity::Note, &[holds.first]);
        finding.joint = claim.joint.map(|j| self.joint_now(j).number.clone());
        finding.lot = claim.lot.and_then(|lot| self.code(lot));
        finding.slip = claim.slip.and_then(|s| self.number(s));
        finding.welder = claim.welder.and_then(|w| self.badge(w));
        match &holds.event {
            Event::JointWelded(e) => finding.lot = self.one_lot(&self.answers(e)),
            Event::SlipReprinted(e) => {
                let (_, lot, holder) = &self.papers[&e.slip.slip];
                finding.lot = self.code(*lot);
                finding.welder = self.badge(*holder);
            }
            _ => {}
        }
        Some(finding)
    }

    /// The pairs of entries that first said two numbers which look alike: all of them, or those with a number that one of
    /// these lots carries.
    fn look_alike(&self, of: Option<&BTreeSet<LotId>>) -> BTreeSet<[EntryId; 2]> {
        // By kind: each number with the lots that carry it and the entry that first did.
        let mut numbers: BTreeMap<&str, BTreeMap<String, (EntryId, BTreeSet<LotId>)>> = BTreeMap::new();
        for holds in &self.holds {
            let mut add = |kind, number: &str, lot: LotId| {
                let of_kind = numbers.entry(kind).or_default();
                of_kind
                    .entry(number.to_owned())
                    .or_insert_with(|| (holds.first, BTreeSet::new()))
                    .1
                    .insert(lot);
            };
            match &holds.event {
                Event::LotReceived(e) => {
                    add("lot", &e.code, e.lot);
                    e.maker_lot.value().into_iter().for_each(|n| add("lot", n, e.lot));
                    e.heats.iter().for_each(|n| add("heat", n, e.lot));
                    e.certificate.value().into_iter().for_each(|n| add("certificate", n, e.lot));
                }
                Event::CertificateFiled(e) => {
                    e.lots.iter().for_each(|l| add("certificate", &e.certificate, l.lot));
                }
                _ => {}
            }
        }
        let mut pairs: BTreeSet<[EntryId; 2]> = BTreeSet::new();
        for of_kind in numbers.values() {
            for (a, (first, carriers)) in of_kind {
                for (b, (other, other_carriers)) in of_kind.range(a.clone()..).skip(1) {
                    let apart = carriers.iter().any(|lot| other_carriers.iter().any(|l| l != lot));
                    let asked =
                        of.is_none_or(|of| !carriers.is_disjoint(of) || !other_carriers.is_disjoint(of));
                    if eye(a) == eye(b) && apart && asked {
                        let mut pair = [*first, *other];
                        pair.sort();
                        pairs.insert(pair);
                    }
                }
            }
        }
        pairs
    }

    // ---- what touches an answer -----------------------------------------------------------------------------------

    /// What began a slip, and what came back or was scrapped on it: what its findings are made of. A hand-over is of the
    /// new slip.
    fn causes_of_slip(&self, slip: SlipId, causes: &mut Causes) {
        causes.entries.insert(self.slips[&slip].first);
        for holds in &self.holds {
            let left = match &holds.event {
                Event::RodReturned(e) => e.slip.slip == slip,
                Event::RodScrapped(e) => e.slip.as_ref().is_some_and(|s| s.slip.slip == slip),
                _ => false,
            };
            if left {
                causes.entries.insert(holds.first);
            }
        }
    }

    /// The answer about a joint: its description, its weld records, their sources and flux with the numbers of these
    /// lots, the spot checks at it, and found wire that names it or that, by `at_risk`, can be in one of its welds.
    pub(crate) fn in_joint(&self, joint: JointId, at_risk: &BTreeMap<EntryId, BTreeSet<EntryId>>) -> Causes {
        let mut causes = Causes::default();
        causes.entries.insert(self.joints[&joint][0].0);
        let mut lots = BTreeSet::new();
        let welds: Vec<_> =
            self.welds.iter().filter(|(_, w)| w.joints.iter().any(|j| j.joint == joint)).collect();
        for (first, weld) in &welds {
            causes.entries.insert(*first);
            let answer = self.answer(weld, joint);
            for slip in answer.sources.iter().chain(&answer.flux) {
                self.causes_of_slip(*slip, &mut causes);
                lots.insert(self.slips[slip].lot);
            }
        }
        causes
            .entries
            .extend(self.checks.iter().filter(|(_, c)| c.joint.joint == joint).map(|(first, _)| *first));
        for holds in &self.holds {
            if let Event::WireFoundUnmarked(e) = &holds.event {
                let risk = at_risk.get(&holds.first);
                let risks = risk.is_some_and(|risk| welds.iter().any(|(first, _)| risk.contains(first)));
                if risks || e.joints.iter().any(|j| j.joint == joint) {
                    causes.entries.insert(holds.first);
                }
            }
        }
        causes.pairs = self.look_alike(Some(&lots));
        causes
    }

    /// The answer about a lot: its receipts, statuses and scraps, its slips, and every weld record that it is a source or
    /// flux of, or that names it.
    pub(crate) fn in_lot(&self, lot: LotId) -> Causes {
        let mut causes = Causes::default();
        for slip in self.slips.values().filter(|slip| slip.lot == lot) {
            self.causes_of_slip(slip.id, &mut causes);
        }
        for holds in &self.holds {
            let of_lot = match &holds.event {
                Event::LotReceived(e) => e.lot == lot,
                Event::LotReleased(e) => e.lot.lot == lot,
                Event::LotHeld(e) => e.lot.lot == lot,
                Event::LotRejected(e) => e.lot.lot == lot,
                Event::LotRecalled(e) => e.lot.lot == lot,
                Event::RodScrapped(e) => e.slip.is_none() && e.lot.lot == lot,
                Event::JointWelded(e) => {
                    let named = e.lot.value().is_some_and(|l| l.lot == lot)
                        || e.slip.value().and_then(|s| self.slips.get(&s.slip)).is_some_and(|s| s.lot == lot);
                    let is_of = |slip: &SlipId| self.slips[slip].lot == lot;
                    named || self.answers(e).iter().any(|a| a.sources.iter().chain(&a.flux).any(is_of))
                }
                _ => false,
            };
            if of_lot {
                causes.entries.insert(holds.first);
            }
        }
        causes.pairs = self.look_alike(Some(&BTreeSet::from([lot])));
        causes
    }

    /// The answer about a slip: itself, every weld record that it is a source or flux of, or that names it, and the
    /// numbers of its lot.
    pub(crate) fn in_slip(&self, slip: SlipId) -> Causes {
        let mut causes = Causes::default();
        self.causes_of_slip(slip, &mut causes);
        for (first, weld) in &self.welds {
            let named = weld.slip.value().is_some_and(|s| s.slip == slip);
            let fed = |a: &Answer| a.sources.contains(&slip) || a.flux.contains(&slip);
            if named || self.answers(weld).iter().any(fed) {
                causes.entries.insert(*first);
            }
        }
        causes.pairs = self.look_alike(Some(&BTreeSet::from([self.slips[&slip].lot])));
        causes
    }

    /// The answer about a welder: what they held, what they welded, and spot checks and finds of wire with them.
    pub(crate) fn in_welder(&self, welder: PersonId) -> Causes {
        let mut causes = Causes::default();
        for slip in self.slips.values().filter(|slip| slip.holder == welder) {
            self.causes_of_slip(slip.id, &mut causes);
        }
        for holds in &self.holds {
            let of_welder = match &holds.event {
                Event::JointWelded(e) => e.welder.person == welder,
                Event::MarkSpotChecked(e) => e.welder.person == welder,
                Event::WireFoundUnmarked(e) => e.welder.value().is_some_and(|w| w.person == welder),
                _ => false,
            };
            if of_welder {
                causes.entries.insert(holds.first);
            }
        }
        causes
    }

    pub(crate) fn welders(&self) -> Vec<(PersonId, String)> {
        self.badges.iter().map(|(id, badge)| (*id, badge.clone())).collect()
    }
}

/// The entries that an answer is made of, as far as findings can be of them.
#[derive(Default)]
pub(crate) struct Causes {
    entries: BTreeSet<EntryId>,
    pairs: BTreeSet<[EntryId; 2]>,
}

impl Causes {
    /// Whether a finding is of these.
    pub(crate) fn make(&self, code: Code, entries: &[EntryId]) -> bool {
        match code {
            // Two numbers on one receipt make a pair of that one entry.
            Code::LookAlikeNumber => {
                let pair = [entries[0], *entries.last().unwrap()];
                self.pairs.contains(&pair)
            }
            // A system of slips and weld records is touched by each of them.
            Code::MassOver | Code::MassShort => entries.iter().any(|entry| self.entries.contains(entry)),
            _ => entries.iter().all(|entry| self.entries.contains(entry)),
        }
    }
}

/// What an entry claims about when, and what it is about.
struct Claim {
    at: Span,
    imported: bool,
    joint: Option<JointId>,
    lot: Option<LotId>,
    slip: Option<SlipId>,
    welder: Option<PersonId>,
}

fn claim(event: &Event) -> Option<Claim> {
    let of =
        |at: &When| Claim { at: span(at), imported: false, joint: None, lot: None, slip: None, welder: None };
    let lot = |at: &When, lot: LotId| Claim { lot: Some(lot), ..of(at) };
    Some(match event {
        Event::LotReceived(e) => Claim { imported: e.imported.is_some(), ..lot(&e.at, e.lot) },
        Event::LotReleased(e) => Claim { imported: e.imported.is_some(), ..lot(&e.at, e.lot.lot) },
        Event::LotHeld(e) => lot(&e.at, e.lot.lot),
        Event::LotRejected(e) => lot(&e.at, e.lot.lot),
        Event::LotRecalled(e) => lot(&e.at, e.lot.lot),
        Event::CertificateFiled(e) => {
            Claim { lot: Some(&e.lots).filter(|lots| lots.len() == 1).map(|lots| lots[0].lot), ..of(&e.at) }
        }
        Event::RodIssued(e) => Claim {
            imported: e.imported.is_some(),
            slip: Some(e.slip),
            welder: Some(e.holder.person),
            ..lot(&e.at, e.lot.lot)
        },
        Event::RodReturned(e) => Claim {
            imported: e.imported.is_some(),
            slip: Some(e.slip.slip),
            welder: Some(e.holder),
            ..lot(&e.at, e.lot)
        },
        Event::RodHandedOver(e) => Claim {
            imported: e.imported.is_some(),
            slip: Some(e.new_slip.slip),
            welder: Some(e.to.person),
            ..lot(&e.at, e.lot)
        },
        Event::RodScrapped(e) => Claim {
            imported: e.imported.is_some(),
            slip: e.slip.as_ref().map(|s| s.slip.slip),
            welder: e.slip.as_ref().map(|s| s.holder),
            ..lot(&e.at, e.lot.lot)
        },
        Event::WelderCleared(e) => Claim { welder: Some(e.welder.person), ..of(&e.at) },
        Event::JointWelded(e) => Claim {
            at: covered(e),
            imported: e.imported.is_some(),
            joint: e.joints.first().map(|j| j.joint),
            lot: None,
            slip: e.slip.value().map(|s| s.slip),
            welder: Some(e.welder.person),
        },
        Event::MarkSpotChecked(e) => Claim {
            imported: e.imported.is_some(),
            joint: Some(e.joint.joint),
            welder: Some(e.welder.person),
            ..of(&e.at)
        },
        Event::WireFoundUnmarked(e) => Claim {
            imported: e.imported.is_some(),
            joint: e.joints.first().map(|j| j.joint),
            welder: e.welder.value().map(|w| w.person),
            ..of(&e.at)
        },
        Event::SlipReprinted(e) => Claim { slip: Some(e.slip.slip), ..of(&e.at) },
        Event::FindingDisposed(e) => of(&e.at),
        Event::NoteWritten(e) => of(&e.at),
        Event::CertificateRead(e) => lot(&e.at, e.lot.lot),
        Event::TableLoaded(e) => of(&e.at),
        Event::TableSignedOff(e) => of(&e.at),
        _ => return None,
    })
}

/// The seconds that a weld record covers.
pub(crate) fn covered(weld: &JointWelded) -> Span {
    let end = weld.to.value().map_or(weld.from.to.0, |to| to.to.0);
    (weld.from.from.0, end.max(weld.from.from.0))
}

/// A finding of these entries: its id is SHA-256 over the code and the sorted ids, each on a line.
pub(super) fn new(code: Code, severity: Severity, entries: &[EntryId]) -> Expected {
    let mut entries = entries.to_vec();
    entries.sort();
    entries.dedup();
    let text: String = std::iter::once(code.word().to_owned())
        .chain(entries.iter().map(EntryId::to_string))
        .map(|line| line + "\n")
        .collect();
    Expected {
        code,
        severity,
        id: hex::encode(Sha256::digest(text)),
        entries,
        joint: None,
        lot: None,
        slip: None,
        welder: None,
        disposed: None,
    }
}

/// One row per process, one column per form, in the order cut length, covered, spool, flux, insert, strip.
/// Common practice, no source.
fn takes(process: &Process, form: ProductForm) -> bool {
    let column = ProductForm::ALL.iter().position(|other| *other == form).unwrap();
    let row = match process {
        Process::Smaw => "-x----",
        Process::Gtaw | Process::Paw => "x-x-x-",
        Process::Gmaw | Process::Fcaw => "--x---",
        Process::Saw => "--x--x",
        Process::Other(_) => "xxxxxx",
    };
    row.as_bytes()[column] == b'x'
}

/// Classifications by their parts: without a leading ER or E, split at hyphens and blanks; the bases equal, and every
/// suffix that was read on the lot. None of the shops here marks a rod twice.
fn mark_fits(reads: &str, class: &str) -> bool {
    let parts = |text: &str| -> Vec<String> {
        let text = text.to_uppercase();
        let text = text.strip_prefix("ER").or_else(|| text.strip_prefix('E')).unwrap_or(&text).to_owned();
        text.split(['-', ' ']).filter(|part| !part.is_empty()).map(str::to_owned).collect()
    };
    let (reads, class) = (parts(reads), parts(class));
    reads.first() == class.first() && reads.iter().skip(1).all(|part| class[1..].contains(part))
}

/// True, false, or nobody can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Truth {
    Yes,
    No,
    Unknown,
}

/// Whether a value is on a list: an empty list allows everything, an unknown value cannot be checked.
fn listed<T, L>(list: &[L], value: Option<&T>, same: impl Fn(&L, &T) -> bool) -> Truth {
    match value {
        _ if list.is_empty() => Truth::Yes,
        None => Truth::Unknown,
        Some(value) if list.iter().any(|l| same(l, value)) => Truth::Yes,
        Some(_) => Truth::No,
    }
}

fn fits_class(wps: &WpsDeclared, lot: &LotReceived) -> Truth {
    let class = listed(&wps.classifications, lot.classification.value(), |l, v| mark_fits(l, v));
    let bare = |s: &str| s.split_whitespace().collect::<String>().to_uppercase();
    let spec = listed(&wps.specs, lot.spec.value(), |l, v| bare(l) == bare(v));
    match (class, spec) {
        (Truth::No, _) | (_, Truth::No) => Truth::No,
        (Truth::Unknown, _) | (_, Truth::Unknown) => Truth::Unknown,
        (Truth::Yes, Truth::Yes) => Truth::Yes,
    }
}

/// A size without a length fits any length of its diameter; the shops here write every size in one way only.
fn fits_size(wps: &WpsDeclared, lot: &LotReceived) -> Truth {
    listed(&wps.sizes, lot.size.value(), |l, v| {
        l.text == v.text || v.text.split(" x ").next() == Some(l.text.as_str())
    })
}

/// A number as the eye takes it: capitals, no dashes or blanks, what is mistaken for each other made one. The shops
/// here have ASCII numbers only.
fn eye(number: &str) -> String {
    let kept = number.chars().filter(|c| !matches!(c, ' ' | '-' | '/' | '.' | '_'));
    kept.map(|c| match c.to_ascii_uppercase() {
        'O' | 'Q' | 'D' => '0',
        'I' | 'L' => '1',
        'S' => '5',
        'B' => '8',
        'Z' => '2',
        'G' => '6',
        other => other,
    })
    .collect()
}
