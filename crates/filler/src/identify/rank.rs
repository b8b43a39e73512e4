//! All candidates together: their order, ties, and what would split them.

#![allow(clippy::float_arithmetic, reason = "likelihoods only rank; no limit is compared with them")]

use super::Alpha;
use super::candidate::{Candidate, Coupling, Interval, percent};
use super::judge::{Breach, Judgement, Point, Tests, Verdict, breaches, judge, log_likelihood, points};
use super::note::{Note, coating_taken_off};
use crate::element::Element;
use crate::percent::Percent;
use crate::reading::{Reading, ReadingMethod, Sight};
use std::cmp::Ordering;

/// Least difference of log likelihoods at which one candidate is claimed over another: odds of 20 to 1.
pub const CLAIM: f64 = 3.0;

/// Contents of an element that a class does not name are remarked on above this, in percent (common practice, no source).
const UNEXPECTED_ABOVE: &str = "0.05";

/// The tests without copper, where copper is above its limit and may be a coating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WithoutCopper {
    /// The tests of everything else.
    pub judgement: Judgement,
    /// The log likelihood of everything else.
    pub log_likelihood: f64,
}

/// A candidate with what is said of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged<'c> {
    /// Its place among the candidates that were given.
    pub place: usize,
    /// The candidate.
    pub candidate: &'c Candidate,
    /// The verdict. Where `without_copper` is given: that without copper, but `inconclusive` at best.
    pub verdict: Verdict,
    /// The tests of everything that was read, copper included.
    pub judgement: Judgement,
    /// ln of the marginal likelihood, copper included.
    pub log_likelihood: f64,
    /// Every limit not met, farthest first.
    pub breaches: Vec<Breach>,
    /// Where a coating may be what was read as copper.
    pub without_copper: Option<WithoutCopper>,
    /// Elements above 0.05 % that it does not name.
    pub unexpected: Vec<Element>,
    /// Elements read of which its limit was never compared with a source.
    pub unverified: Vec<Element>,
}

impl Judged<'_> {
    /// Whether copper alone speaks against it, and that may be a coating.
    #[must_use]
    pub fn coating_suspected(&self) -> bool {
        self.without_copper.is_some_and(|without| without.judgement.verdict != Verdict::Rejected)
    }
}

/// What a reading says about all candidates.
#[derive(Debug, Clone, PartialEq)]
pub struct Identification<'c> {
    /// By verdict, then by likelihood to two decimals, then by name.
    pub judged: Vec<Judged<'c>>,
    /// Elements that were compared.
    pub compared: Vec<Element>,
    /// Elements measured, but left out because the method does not see them.
    pub left_out: Vec<Element>,
    /// The z beyond which one of as many limits as elements compared is rejected.
    pub limit: f64,
    /// How many of the first `judged` cannot be told apart; 0 or at least 2. They are its places there.
    pub tie: Vec<usize>,
    /// Elements that would split the tie, the surest first: not measured, or measured too coarsely.
    pub would_split: Vec<Element>,
    /// Elements not measured of which the limits differ among all that are not rejected.
    pub not_measured: Vec<Element>,
    /// Whether copper was left out of the order because it may be a coating.
    pub without_copper: bool,
    /// Remarks, the coating first.
    pub notes: Vec<Note>,
}

fn is_copper(element: Element) -> bool {
    element.symbol() == "Cu"
}

/// Compares a reading with candidates. Elements that the method does not see are left out. None if nothing is left, or
/// there is no candidate.
#[must_use]
pub fn identify<'c>(
    reading: &Reading,
    candidates: &'c [Candidate],
    alpha: Alpha,
) -> Option<Identification<'c>> {
    let points = points(reading);
    if points.is_empty() || candidates.is_empty() {
        return None;
    }
    let tests = Tests::for_candidates(alpha, points.len(), candidates);
    let seen = Seen { reading, points: &points, bare: without_copper(&points), tests: &tests };
    let mut judged: Vec<Judged<'c>> =
        candidates.iter().enumerate().map(|(place, candidate)| seen.judged(place, candidate)).collect();
    let coating = judged.iter().any(Judged::coating_suspected);
    let ranked: Vec<f64> = judged
        .iter()
        .map(|one| if coating { log_likelihood(&seen.bare, one.candidate) } else { one.log_likelihood })
        .collect();
    let rank_of = |one: &Judged<'_>| ranked.get(one.place).copied().unwrap_or(f64::NEG_INFINITY);
    // Less than a hundredth is no order: classes that differ by so little come by name.
    let hundredths = |one: &Judged<'_>| libm::round(100.0 * rank_of(one));
    judged.sort_by(|a, b| {
        a.verdict
            .cmp(&b.verdict)
            .then_with(|| hundredths(b).total_cmp(&hundredths(a)))
            .then_with(|| a.candidate.spec.cmp(&b.candidate.spec))
            .then_with(|| a.candidate.classification.cmp(&b.candidate.classification))
    });
    let tie = tie(&judged, rank_of);
    let tied: Vec<&Candidate> = tie.iter().filter_map(|place| Some(judged.get(*place)?.candidate)).collect();
    let survivors: Vec<&Candidate> =
        judged.iter().filter(|one| one.verdict != Verdict::Rejected).map(|one| one.candidate).collect();
    let would_split = splitting(&tied, &points, Some(tests.limit(1, false)));
    let not_measured = splitting(&survivors, &points, None);
    let measured = reading.measured().iter().map(|m| m.element);
    let left_out: Vec<Element> =
        measured.filter(|element| !points.iter().any(|point| point.element == *element)).collect();
    let mut answer = Identification {
        judged,
        compared: points.iter().map(|point| point.element).collect(),
        left_out,
        limit: tests.limit(points.len(), false),
        tie,
        would_split,
        not_measured,
        without_copper: coating,
        notes: Vec::new(),
    };
    answer.notes = notes(&answer, &seen);
    Some(answer)
}

/// A reading, as every candidate is compared with it.
struct Seen<'a> {
    reading: &'a Reading,
    points: &'a [Point],
    /// Without copper.
    bare: Vec<Point>,
    tests: &'a Tests,
}

fn without_copper(points: &[Point]) -> Vec<Point> {
    points.iter().filter(|point| !is_copper(point.element)).copied().collect()
}

impl Seen<'_> {
    fn judged<'c>(&self, place: usize, candidate: &'c Candidate) -> Judged<'c> {
        let judgement = judge(self.points, candidate, self.tests);
        let breaches = match judgement.verdict {
            Verdict::Consistent => Vec::new(),
            Verdict::Inconclusive | Verdict::Rejected => breaches(self.points, candidate),
        };
        // Copper above its limit on bare steel wire that may be coated. With nothing but copper read, the coating would
        // be all that speaks, and nothing would speak for the class.
        let may_be_coating = candidate.often_coated
            && self.reading.surface().may_be_coated()
            && !self.bare.is_empty()
            && breaches.iter().any(|breach| {
                breach.element.is_some_and(is_copper) && breach.side == super::judge::Side::Above
            });
        let without_copper = may_be_coating.then(|| WithoutCopper {
            judgement: judge(&self.bare, candidate, self.tests),
            log_likelihood: log_likelihood(&self.bare, candidate),
        });
        let verdict = match without_copper {
            None => judgement.verdict,
            Some(without) => without.judgement.verdict.max(Verdict::Inconclusive),
        };
        let above = Percent::parse(UNEXPECTED_ABOVE).unwrap_or(Percent::HUNDRED);
        let (mut unexpected, mut unverified) = (Vec::new(), Vec::new());
        for point in self.points {
            let counted = candidate.counted_with.iter().any(|(_, companion)| *companion == point.element);
            if !candidate.names(point.element) && !counted && point.value > above {
                unexpected.push(point.element);
            }
            if candidate.is_unverified(point.element) {
                unverified.push(point.element);
            }
        }
        Judged {
            place,
            candidate,
            verdict,
            judgement,
            log_likelihood: log_likelihood(self.points, candidate),
            breaches,
            without_copper,
            unexpected,
            unverified,
        }
    }
}

/// Places of the candidates that the first one is not claimed over.
fn tie(judged: &[Judged<'_>], rank_of: impl Fn(&Judged<'_>) -> f64) -> Vec<usize> {
    let Some(first) = judged.first().filter(|one| one.verdict != Verdict::Rejected) else {
        return Vec::new();
    };
    let least = rank_of(first) - CLAIM;
    let tie: Vec<usize> = judged
        .iter()
        .enumerate()
        .filter(|(place, one)| *place == 0 || (one.verdict != Verdict::Rejected && rank_of(one) > least))
        .map(|(place, _)| place)
        .collect();
    if tie.len() > 1 { tie } else { Vec::new() }
}

/// Elements of which the limits differ among candidates, the surest to split them first: those not measured and, with a
/// `reach`, those of which a limit that not all share is within so many u of the value.
fn splitting(candidates: &[&Candidate], points: &[Point], reach: Option<f64>) -> Vec<Element> {
    if candidates.len() < 2 {
        return Vec::new();
    }
    let mut elements: Vec<Element> = candidates.iter().flat_map(|candidate| candidate.elements()).collect();
    // A rule over several elements names some that have no limit of their own.
    for coupling in candidates.iter().flat_map(|candidate| candidate.couplings()) {
        elements.extend(coupling.terms.iter().map(|(_, element)| *element));
    }
    elements.sort_unstable();
    elements.dedup();
    let mut found: Vec<(Sureness, Element)> = Vec::new();
    for element in elements {
        let intervals: Vec<&Interval> = candidates.iter().map(|c| c.interval(element)).collect();
        let differ = intervals.iter().zip(intervals.iter().skip(1)).any(|(one, next)| !one.same(next))
            || rules_differ(candidates, element);
        let helps = match (points.iter().find(|point| point.element == element), reach) {
            (None, _) => true,
            (Some(_), None) => false,
            (Some(point), Some(reach)) => within_reach(&intervals, point, reach),
        };
        if differ && helps {
            found.push((Sureness::of(&intervals), element));
        }
    }
    found.sort_by(|(a, x), (b, y)| a.cmp(b).then_with(|| x.cmp(y)));
    found.into_iter().map(|(_, element)| element).collect()
}

/// Whether some candidates have a rule about the element that others have not.
fn rules_differ(candidates: &[&Candidate], element: Element) -> bool {
    let mut rules = candidates.iter().map(|candidate| {
        let about = candidate.couplings().iter().filter(|c| c.terms.iter().any(|(_, e)| *e == element));
        about.map(|coupling| (&coupling.terms, coupling.bound)).collect::<Vec<_>>()
    });
    let first = rules.next();
    rules.any(|next| Some(next) != first)
}

/// Whether a limit that not all have is within reach of the value.
fn within_reach(intervals: &[&Interval], point: &Point, reach: f64) -> bool {
    let near = |limit: i128, of: fn(&Interval) -> i128| {
        intervals.iter().any(|interval| of(interval) != limit)
            && (percent(limit) - point.value.to_f64()).abs() <= reach * point.u()
    };
    intervals.iter().any(|i| near(i.low, |i| i.low) || near(i.high, |i| i.high))
}

/// How surely an element splits candidates; the surest is the least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sureness {
    /// Two of the intervals have nothing in common.
    Apart,
    /// One requires it, another does not name it.
    Required,
    /// All name it.
    Overlapping,
    /// Some limit it, others do not name it: a residual, which most metal has little of.
    Residual,
}

impl Sureness {
    fn of(intervals: &[&Interval]) -> Self {
        let highest_low = intervals.iter().map(|i| i.low).max();
        let lowest_high = intervals.iter().map(|i| i.high).min();
        let some_unnamed = intervals.iter().any(|i| !i.listed);
        match highest_low.cmp(&lowest_high) {
            Ordering::Greater => Sureness::Apart,
            Ordering::Less | Ordering::Equal if !some_unnamed => Sureness::Overlapping,
            Ordering::Less | Ordering::Equal if intervals.iter().any(|i| i.requires()) => Sureness::Required,
            Ordering::Less | Ordering::Equal => Sureness::Residual,
        }
    }
}

fn notes(answer: &Identification<'_>, seen: &Seen<'_>) -> Vec<Note> {
    let mut notes = Vec::new();
    let names = |of: &dyn Fn(&Judged<'_>) -> bool| -> Vec<String> {
        answer.judged.iter().filter(|one| of(one)).map(|one| one.candidate.classification.clone()).collect()
    };
    let survives = |one: &Judged<'_>| one.verdict != Verdict::Rejected;
    if answer.without_copper {
        notes.push(Note::CoatingSuspected);
        let copper = seen.points.iter().find(|point| is_copper(point.element)).map(|point| point.value);
        if let Some(copper) = copper {
            notes.push(Note::CopperAlone { copper, classes: names(&|one| one.coating_suspected()) });
        }
    }
    let survivors: Vec<&Judged<'_>> = answer.judged.iter().filter(|one| survives(one)).collect();
    if let (true, Some(nearest)) = (survivors.is_empty(), nearest(&answer.judged)) {
        notes.push(Note::NothingFits { nearest: nearest.candidate.classification.clone() });
    }
    notes.extend(same_limits(answer));
    notes.extend(required_or_unexpected(answer));
    for one in survivors.iter().filter(|one| !one.unexpected.is_empty()) {
        if !notes.iter().any(|note| covers(note, one)) {
            notes.push(Note::Unexpected {
                elements: one.unexpected.clone(),
                class: one.candidate.classification.clone(),
            });
        }
    }
    for one in &survivors {
        notes.extend(
            one.candidate.couplings().iter().filter_map(|rule| room_for_unread(one, rule, seen.points)),
        );
    }
    if coating_taken_off(seen.reading.surface())
        && seen.points.iter().any(|point| is_copper(point.element))
        && survivors.iter().any(|one| one.candidate.often_coated)
    {
        notes.push(Note::CoatingNotRead);
    }
    notes.extend(about_the_reading(answer, seen));
    let unverified = names(&|one| survives(one) && !one.unverified.is_empty());
    if !unverified.is_empty() {
        notes.push(Note::Unverified { classes: unverified });
    }
    notes
}

/// What a rule leaves for the elements that were not read, where that is less than their own limits do.
fn room_for_unread(one: &Judged<'_>, rule: &Coupling, points: &[Point]) -> Option<Note> {
    let (mut room, mut wanted, mut unread, mut common) = (rule.bound, 0_i128, Vec::new(), None);
    let mut any_read = false;
    for (factor, element) in &rule.terms {
        let times = |exact: i128| exact.saturating_mul(i128::from(*factor));
        if let Some(point) = points.iter().find(|point| point.element == *element) {
            room = room.saturating_sub(times(point.exact()));
            any_read = true;
        } else if *factor > 0 && common.is_none_or(|known| known == *factor) {
            common = Some(*factor);
            wanted = wanted.saturating_add(times(one.candidate.interval(*element).high));
            unread.push(*element);
        } else {
            return None;
        }
    }
    if !any_read || room >= wanted {
        return None;
    }
    let room = percent(room.max(0)) / f64::from(common?);
    Some(Note::RoomForUnread {
        class: one.candidate.classification.clone(),
        rule: rule.rule.clone(),
        elements: unread,
        room: format!("{room:.3}"),
    })
}

/// Whether a note says of this candidate what is unexpected in it.
fn covers(note: &Note, one: &Judged<'_>) -> bool {
    if let Note::RequiredOrUnexpected { elements, unexpected_in, .. } = note {
        unexpected_in.contains(&one.candidate.classification)
            && one.unexpected.iter().all(|element| elements.contains(element))
    } else {
        false
    }
}

fn nearest<'a, 'c>(judged: &'a [Judged<'c>]) -> Option<&'a Judged<'c>> {
    judged.iter().min_by(|a, b| a.judgement.d2.total_cmp(&b.judgement.d2))
}

fn tied<'a, 'c>(answer: &'a Identification<'c>) -> Vec<&'a Judged<'c>> {
    answer.tie.iter().filter_map(|place| answer.judged.get(*place)).collect()
}

/// Tied classes that share one chemistry, in groups.
fn same_limits(answer: &Identification<'_>) -> Vec<Note> {
    let mut groups: Vec<Vec<&Candidate>> = Vec::new();
    for one in tied(answer) {
        let known = groups
            .iter_mut()
            .find(|group| group.first().is_some_and(|first| first.same_limits(one.candidate)));
        match known {
            Some(group) => group.push(one.candidate),
            None => groups.push(vec![one.candidate]),
        }
    }
    groups
        .into_iter()
        .filter(|group| group.len() > 1)
        .map(|group| Note::SameLimits(group.into_iter().map(|c| c.classification.clone()).collect()))
        .collect()
}

/// Elements read that some tied classes require and others do not name, together where the classes are the same.
fn required_or_unexpected(answer: &Identification<'_>) -> Vec<Note> {
    let tied = tied(answer);
    let mut found: Vec<(Vec<Element>, Vec<String>, Vec<String>)> = Vec::new();
    for element in &answer.compared {
        let names = |of: &dyn Fn(&Judged<'_>) -> bool| -> Vec<String> {
            tied.iter().filter(|one| of(one)).map(|one| one.candidate.classification.clone()).collect()
        };
        let required_by = names(&|one| one.candidate.interval(*element).requires());
        let unexpected_in = names(&|one| one.unexpected.contains(element));
        if required_by.is_empty() || unexpected_in.is_empty() {
            continue;
        }
        match found.iter_mut().find(|(_, by, not)| *by == required_by && *not == unexpected_in) {
            Some((elements, _, _)) => elements.push(*element),
            None => found.push((vec![*element], required_by, unexpected_in)),
        }
    }
    found
        .into_iter()
        .map(|(elements, required_by, unexpected_in)| Note::RequiredOrUnexpected {
            elements,
            required_by,
            unexpected_in,
        })
        .collect()
}

fn about_the_reading(answer: &Identification<'_>, seen: &Seen<'_>) -> Vec<Note> {
    let mut notes = Vec::new();
    let method = seen.reading.method();
    if !answer.left_out.is_empty() {
        notes.push(Note::LeftOut { method, elements: answer.left_out.clone() });
    }
    let with_sight = |elements: &[Element], sight: Sight| -> Vec<Element> {
        elements.iter().copied().filter(|element| method.sight(*element) == sight).collect()
    };
    let poorly = with_sight(&answer.compared, Sight::Poor);
    if !poorly.is_empty() {
        notes.push(Note::ReadPoorly { method, elements: poorly });
    }
    let wanted = if answer.would_split.is_empty() { &answer.not_measured } else { &answer.would_split };
    let unseen = with_sight(wanted, Sight::Blind);
    if !unseen.is_empty() {
        notes.push(Note::CannotSee { method, elements: unseen });
    }
    if method == ReadingMethod::Unknown {
        notes.push(Note::MethodUnknown);
    }
    if seen.reading.floor().is_none() {
        notes.push(Note::NoFloor);
    }
    for below in seen.reading.below() {
        notes.push(Note::Below { element: below.element, limit: below.limit });
    }
    notes
}
