//! One reading against one candidate.

#![allow(clippy::float_arithmetic, reason = "distances and chances; inside or outside is decided exactly")]

use super::Alpha;
use super::candidate::{Candidate, Interval, exact, percent};
use crate::element::Element;
use crate::percent::Percent;
use crate::reading::{Reading, Sight};
use crate::statistics::{chi_square_tail, family_limit, ln_normal_density, ln_normal_interval};
use std::borrow::Cow;

/// A value to compare.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The element.
    pub element: Element,
    /// Percent by mass, as read.
    pub value: Percent,
    /// In units of 10^-12 percent.
    exact: i128,
    /// In percent.
    x: f64,
    /// Standard uncertainty, in percent.
    u: f64,
}

impl Point {
    /// A value with its standard uncertainty in percent, which is above zero.
    #[must_use]
    pub fn new(element: Element, value: Percent, u: f64) -> Self {
        let exact = exact(value);
        Point { element, value, exact, x: percent(exact), u }
    }

    /// In units of 10^-12 percent.
    pub(super) fn exact(&self) -> i128 {
        self.exact
    }

    /// Its standard uncertainty, in percent.
    #[must_use]
    pub fn u(&self) -> f64 {
        self.u
    }
}

/// What a reading has to compare: its values, without the elements that its method does not see.
#[must_use]
pub fn points(reading: &Reading) -> Vec<Point> {
    reading
        .measured()
        .iter()
        .filter(|m| reading.method().sight(m.element) != Sight::Blind)
        .map(|m| Point::new(m.element, m.value, reading.standard_uncertainty(m)))
        .collect()
}

/// What is said of a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Inside every limit.
    Consistent,
    /// Outside a limit, by no more than uncertainty explains.
    Inconclusive,
    /// Outside by more.
    Rejected,
}

impl Verdict {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Consistent => "consistent",
            Verdict::Inconclusive => "inconclusive",
            Verdict::Rejected => "rejected",
        }
    }
}

/// The side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below the least.
    Below,
    /// Above the most.
    Above,
}

/// A limit that is not met.
#[derive(Debug, Clone, PartialEq)]
pub struct Breach {
    /// The element; none for a rule over several.
    pub element: Option<Element>,
    /// The element's symbol, or what the rule limits.
    pub what: String,
    /// Which side.
    pub side: Side,
    /// How far, in standard uncertainties.
    pub sigma: f64,
    /// The limit as printed; none for a rule.
    pub limit: Option<Percent>,
}

/// The limit that decides: the one farthest passed or, if none is, the one that is nearest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// The element, or the place of the rule among the candidate's.
    pub of: Result<Element, usize>,
    /// How far beyond, in standard uncertainties; negative inside.
    pub sigma: f64,
}

/// What the tests say of one candidate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// The verdict.
    pub verdict: Verdict,
    /// Squared distance to the box of limits, in standard uncertainties.
    pub d2: f64,
    /// Chance of so large a distance, or more, if the composition is inside.
    pub p: f64,
    /// The limit that decides; none if no limit of the candidate is about what was read.
    pub worst: Option<Worst>,
}

/// The thresholds, for one alpha.
#[derive(Debug, Clone)]
pub struct Tests {
    alpha: f64,
    /// By number of tests less one: z for one side, and for each of two sides.
    limits: Vec<(f64, f64)>,
}

impl Tests {
    /// Thresholds for up to so many tests of one reading.
    #[must_use]
    pub fn new(alpha: Alpha, most: usize) -> Self {
        let limits = (1..=u32::try_from(most.clamp(1, 1000)).unwrap_or(1000))
            .map(|tests| (family_limit(alpha.chance(), tests, 1.0), family_limit(alpha.chance(), tests, 0.5)))
            .collect();
        Tests { alpha: alpha.chance(), limits }
    }

    /// As many as these candidates need for a reading of so many elements.
    #[must_use]
    pub fn for_candidates(alpha: Alpha, elements: usize, candidates: &[Candidate]) -> Self {
        let most = candidates.iter().map(|candidate| candidate.most_tests(elements)).max().unwrap_or(1);
        Self::new(alpha, most)
    }

    /// The threshold of each of so many tests; `two_sided` where both ends of an interval can be passed.
    #[must_use]
    pub fn limit(&self, tests: usize, two_sided: bool) -> f64 {
        self.limits
            .get(tests.max(1).saturating_sub(1))
            .or(self.limits.last())
            .map_or(f64::INFINITY, |(one, two)| if two_sided { *two } else { *one })
    }
}

/// How far the value is beyond the interval, in standard uncertainties, and on which side: exactly none inside.
fn excess(point: &Point, interval: &Interval) -> Option<(Side, f64)> {
    let (below, above) =
        (interval.low.saturating_sub(point.exact), point.exact.saturating_sub(interval.high));
    if below > 0 {
        Some((Side::Below, percent(below) / point.u))
    } else if above > 0 {
        Some((Side::Above, percent(above) / point.u))
    } else {
        None
    }
}

/// The signed distance to the nearest limit that is written: negative inside; none where nothing is limited.
fn margin(point: &Point, interval: &Interval) -> Option<f64> {
    let below = interval.min.filter(|_| interval.low > 0).map(|_| interval.low.saturating_sub(point.exact));
    let above = interval.max.map(|_| point.exact.saturating_sub(interval.high));
    below.into_iter().chain(above).max().map(|exact| percent(exact) / point.u)
}

/// How far a rule over several elements is passed, in units of 10^-12 percent, and the standard uncertainty of that in
/// percent. What was not read counts as what suits the rule best. None if nothing of it was read.
fn coupled(
    points: &[Point],
    candidate: &Candidate,
    terms: &[(i32, Element)],
    bound: i128,
) -> Option<(i128, f64)> {
    let (mut sum, mut variance, mut any) = (bound.saturating_neg(), 0.0, false);
    for (factor, element) in terms {
        let value = match points.iter().find(|point| point.element == *element) {
            Some(point) => {
                let u = f64::from(*factor) * point.u;
                variance += u * u;
                any = true;
                point.exact
            }
            None => {
                let interval = candidate.interval(*element);
                if *factor > 0 { interval.low } else { interval.high }
            }
        };
        sum = sum.saturating_add(value.saturating_mul(i128::from(*factor)));
    }
    (any && variance > 0.0).then(|| (sum, libm::sqrt(variance)))
}

/// The rule over the elements that a candidate does not name, if it has one and any was read.
fn others(points: &[Point], candidate: &Candidate) -> Option<(i128, f64)> {
    let most = candidate.unlisted_total?;
    let (mut sum, mut variance, mut several) = (most.saturating_neg(), 0.0, 0_u32);
    for point in points.iter().filter(|point| !candidate.interval(point.element).listed) {
        sum = sum.saturating_add(point.exact);
        variance += point.u * point.u;
        several = several.saturating_add(1);
    }
    // One alone is limited by its own interval already.
    (several > 1).then(|| (sum, libm::sqrt(variance)))
}

/// Every rule over several elements that can be tested: its place (one past the last for the elements not named), how
/// far it is passed exactly, and in standard uncertainties.
fn rules<'a>(
    points: &'a [Point],
    candidate: &'a Candidate,
) -> impl Iterator<Item = (usize, i128, f64)> + use<'a> {
    candidate
        .couplings
        .iter()
        .map(|coupling| coupled(points, candidate, &coupling.terms, coupling.bound))
        .chain(std::iter::once_with(|| others(points, candidate)))
        .enumerate()
        .filter_map(|(place, tested)| tested.map(|(excess, u)| (place, excess, percent(excess) / u)))
}

/// The points as a candidate counts them: an element that counts as another is added to it or, where the other was not
/// read, left out.
pub(super) fn counted<'a>(points: &'a [Point], candidate: &Candidate) -> Cow<'a, [Point]> {
    let mut counted = Cow::Borrowed(points);
    for (main, companion) in &candidate.counted_with {
        if let Some(at) = counted.iter().position(|point| point.element == *companion) {
            let points = counted.to_mut();
            let companion = points.remove(at);
            for point in points.iter_mut().filter(|point| point.element == *main) {
                point.exact = point.exact.saturating_add(companion.exact);
                point.x = percent(point.exact);
                point.u = libm::hypot(point.u, companion.u);
            }
        }
    }
    counted
}

/// The tests of one candidate. Points are in the order of their elements, so that the answer does not depend on how
/// they were typed.
#[must_use]
pub fn judge(points: &[Point], candidate: &Candidate, tests: &Tests) -> Judgement {
    let points = counted(points, candidate);
    let points = points.as_ref();
    let number = points.len().saturating_add(rules(points, candidate).count());
    let (one_sided, two_sided) = (tests.limit(number, false), tests.limit(number, true));
    let (mut inside, mut beyond, mut d2) = (true, false, 0.0_f64);
    let mut worst: Option<Worst> = None;
    let mut see = |of: Result<Element, usize>, sigma: f64| {
        if worst.is_none_or(|known| sigma > known.sigma) {
            worst = Some(Worst { of, sigma });
        }
    };
    for point in points {
        let interval = candidate.interval(point.element);
        match excess(point, interval) {
            Some((_, sigma)) => {
                inside = false;
                d2 += sigma * sigma;
                let narrow = interval.high_percent - interval.low_percent < point.u;
                beyond |= sigma > if narrow { two_sided } else { one_sided };
                see(Ok(point.element), sigma);
            }
            None => {
                if let Some(sigma) = margin(point, interval) {
                    see(Ok(point.element), sigma);
                }
            }
        }
    }
    for (place, excess, sigma) in rules(points, candidate) {
        if excess > 0 {
            // The distance to all limits together is at least that to this one.
            inside = false;
            d2 = d2.max(sigma * sigma);
            beyond |= sigma > one_sided;
            see(Err(place), sigma);
        }
    }
    let dof = u32::try_from(points.len()).unwrap_or(u32::MAX);
    let p = if inside { 1.0 } else { chi_square_tail(d2, dof) };
    let verdict = if inside {
        Verdict::Consistent
    } else if beyond || p < tests.alpha {
        Verdict::Rejected
    } else {
        Verdict::Inconclusive
    };
    Judgement { verdict, d2, p, worst }
}

/// Every limit that the points do not meet, farthest first.
pub(super) fn breaches(points: &[Point], candidate: &Candidate) -> Vec<Breach> {
    let points = counted(points, candidate);
    let points = points.as_ref();
    let mut breaches: Vec<Breach> = points
        .iter()
        .filter_map(|point| {
            let interval = candidate.interval(point.element);
            let (side, sigma) = excess(point, interval)?;
            let limit = match side {
                Side::Below => interval.min,
                Side::Above => interval.max,
            };
            let what = point.element.symbol().to_owned();
            Some(Breach { element: Some(point.element), what, side, sigma, limit })
        })
        .chain(rules(points, candidate).filter(|(_, excess, _)| *excess > 0).map(|(place, _, sigma)| {
            Breach { element: None, what: rule_name(candidate, place), side: Side::Above, sigma, limit: None }
        }))
        .collect();
    breaches.sort_by(|a, b| b.sigma.total_cmp(&a.sigma));
    breaches
}

/// What a rule limits, by its place.
#[must_use]
pub fn rule_name(candidate: &Candidate, place: usize) -> String {
    candidate
        .couplings
        .get(place)
        .map_or_else(|| "others together".to_owned(), |coupling| coupling.what.clone())
}

/// ln of the marginal likelihood of a candidate: each value's chance density, averaged over the interval.
pub(super) fn log_likelihood(points: &[Point], candidate: &Candidate) -> f64 {
    counted(points, candidate)
        .iter()
        .map(|point| {
            let interval = candidate.interval(point.element);
            let width = interval.high_percent - interval.low_percent;
            if width < 1e-6 * point.u {
                // So narrow that it is a single content.
                ln_normal_density((point.x - interval.low_percent) / point.u) - libm::log(point.u)
            } else {
                ln_normal_interval(
                    (interval.low_percent - point.x) / point.u,
                    (interval.high_percent - point.x) / point.u,
                ) - interval.ln_width
            }
        })
        .sum()
}
