//! What a reading is compared with: a class, or anything else that has limits.

#![allow(clippy::float_arithmetic, reason = "widths for likelihoods; limits are compared exactly")]

use crate::element::Element;
use crate::percent::Percent;

/// 100 %, in units of 10^-12 percent.
pub(super) const ALL: i128 = 100_000_000_000_000;

/// One percent, in the same units.
pub(super) const ONE_PERCENT: f64 = 1e12;

/// What an element that no limit names may be, in percent, where the class does not say: others in total, as most
/// classes limit them.
const UNLISTED_MAX: &str = "0.50";

/// The limits of one element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// The element.
    pub element: Element,
    /// Its least content, percent by mass.
    pub min: Option<Percent>,
    /// Its most.
    pub max: Option<Percent>,
    /// Whether nobody has compared the limit with its source.
    pub unverified: bool,
}

/// A rule over several elements: the sum of their contents, each times a whole number, is at most a bound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coupling {
    /// What it limits, such as `Mn+Ni` or `10xC-Nb`.
    pub what: String,
    /// The elements with their factors.
    pub terms: Vec<(i32, Element)>,
    /// In units of 10^-12 percent.
    pub(super) bound: i128,
    /// The rule in words, such as `Nb is at least 10 x C`.
    pub rule: String,
}

impl Coupling {
    /// A sum of at most a percentage.
    #[must_use]
    pub fn at_most(
        what: impl Into<String>,
        rule: impl Into<String>,
        terms: Vec<(i32, Element)>,
        bound: Percent,
    ) -> Self {
        Self { what: what.into(), rule: rule.into(), terms, bound: exact(bound) }
    }

    /// A plain sum of at least a percentage.
    #[must_use]
    pub fn at_least(
        what: impl Into<String>,
        rule: impl Into<String>,
        elements: &[Element],
        bound: Percent,
    ) -> Self {
        let terms = elements.iter().map(|element| (-1, *element)).collect();
        Self { what: what.into(), rule: rule.into(), terms, bound: exact(bound).saturating_neg() }
    }
}

/// The interval of one element, closed, in units of 10^-12 percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Interval {
    pub(super) low: i128,
    pub(super) high: i128,
    /// As printed; none where the interval ends for want of a limit.
    pub(super) min: Option<Percent>,
    pub(super) max: Option<Percent>,
    /// Ends and ln of the width, in percent.
    pub(super) low_percent: f64,
    pub(super) high_percent: f64,
    pub(super) ln_width: f64,
    /// Whether the class names the element.
    pub(super) listed: bool,
    pub(super) unverified: bool,
}

impl Interval {
    fn new(min: Option<Percent>, max: Option<Percent>, listed: bool, unverified: bool) -> Self {
        let (low, high) = (min.map_or(0, exact), max.map_or(ALL, exact));
        let (low_percent, high_percent) = (percent(low), percent(high));
        Interval {
            low,
            high,
            min,
            max,
            low_percent,
            high_percent,
            ln_width: libm::log(percent(high.saturating_sub(low).max(0))),
            listed,
            unverified,
        }
    }

    /// Whether two intervals allow the same.
    pub(super) fn same(&self, other: &Interval) -> bool {
        self.low == other.low && self.high == other.high
    }

    /// Whether some of the element has to be there.
    pub(super) fn requires(&self) -> bool {
        self.low > 0
    }
}

/// A percentage in units of 10^-12 percent.
pub(super) fn exact(percent: Percent) -> i128 {
    i128::try_from(percent.fine()).unwrap_or(i128::MAX)
}

/// Units of 10^-12 percent as percent, rounded once or twice to 53 bits.
#[allow(clippy::cast_precision_loss)]
pub(super) fn percent(exact: i128) -> f64 {
    exact as f64 / ONE_PERCENT
}

/// A class with its limits, ready to be compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its specification, such as `A5.9`.
    pub spec: String,
    /// Its name, such as `ER308L`.
    pub classification: String,
    /// The table that its limits are from, such as `AWS A5.9, 2006`.
    pub table: String,
    /// Whether it is bare steel wire that is often copper coated.
    pub often_coated: bool,
    /// By element.
    intervals: Vec<(Element, Interval)>,
    /// What an element that it does not name may be.
    unlisted: Interval,
    /// Most of all elements together that it does not name.
    pub(super) unlisted_total: Option<i128>,
    pub(super) couplings: Vec<Coupling>,
    /// Elements that count as another: the other first.
    pub(super) counted_with: Vec<(Element, Element)>,
}

impl Candidate {
    /// A class of these limits. Of an element named twice the wider limits count. The most of the `balance` element is
    /// 100, whatever is written.
    #[must_use]
    pub fn new(
        spec: impl Into<String>,
        classification: impl Into<String>,
        limits: &[Limit],
        balance: Option<Element>,
    ) -> Self {
        let mut intervals: Vec<(Element, Interval)> = Vec::with_capacity(limits.len().saturating_add(1));
        for limit in limits {
            let max = limit.max.filter(|_| Some(limit.element) != balance);
            let interval = Interval::new(limit.min, max, true, limit.unverified);
            match intervals.iter_mut().find(|(element, _)| *element == limit.element) {
                None => intervals.push((limit.element, interval)),
                Some((_, known)) => {
                    let wider =
                        |a: Option<Percent>, b: Option<Percent>, of: fn(Percent, Percent) -> Percent| {
                            Some(of(a?, b?))
                        };
                    *known = Interval::new(
                        wider(known.min, limit.min, Percent::min),
                        wider(known.max, max, Percent::max),
                        true,
                        known.unverified || limit.unverified,
                    );
                }
            }
        }
        if let Some(balance) = balance
            && !intervals.iter().any(|(element, _)| *element == balance)
        {
            intervals.push((balance, Interval::new(None, None, true, false)));
        }
        intervals.sort_by_key(|(element, _)| *element);
        Candidate {
            spec: spec.into(),
            classification: classification.into(),
            table: String::new(),
            often_coated: false,
            intervals,
            unlisted: Interval::new(None, Percent::parse(UNLISTED_MAX).ok(), false, false),
            unlisted_total: None,
            couplings: Vec::new(),
            counted_with: Vec::new(),
        }
    }

    /// With the most of each element that it does not name, and of all of them together.
    #[must_use]
    pub fn with_others(mut self, each: Option<Percent>, total: Option<Percent>) -> Self {
        let most = match (each, total) {
            (Some(each), Some(total)) => Some(each.min(total)),
            (one, other) => one.or(other),
        };
        if most.is_some() {
            self.unlisted = Interval::new(None, most, false, false);
        }
        self.unlisted_total = total.map(exact);
        self
    }

    /// With a rule over several elements.
    #[must_use]
    pub fn with_coupling(mut self, coupling: Coupling) -> Self {
        self.couplings.push(coupling);
        self
    }

    /// With an element that counts as another: tantalum as niobium. Where it was not read, none of it is taken to be
    /// there.
    #[must_use]
    pub fn with_counted(mut self, element: Element, counts_as: Element) -> Self {
        self.counted_with.push((counts_as, element));
        self
    }

    /// The elements that it names, in their order.
    pub fn elements(&self) -> impl Iterator<Item = Element> + '_ {
        self.intervals.iter().map(|(element, _)| *element)
    }

    /// The limits it is compared by: none where nothing is limited, for an element that it does not name the most that is
    /// taken for such.
    #[must_use]
    pub fn limits_of(&self, element: Element) -> (Option<Percent>, Option<Percent>) {
        let interval = self.interval(element);
        (interval.min, interval.max)
    }

    /// Whether it names the element.
    #[must_use]
    pub fn names(&self, element: Element) -> bool {
        self.interval(element).listed
    }

    /// Whether its limits of the element were never compared with their source.
    #[must_use]
    pub fn is_unverified(&self, element: Element) -> bool {
        self.interval(element).unverified
    }

    /// Its rules over several elements.
    #[must_use]
    pub fn couplings(&self) -> &[Coupling] {
        &self.couplings
    }

    pub(super) fn interval(&self, element: Element) -> &Interval {
        self.intervals
            .iter()
            .find(|(known, _)| *known == element)
            .map_or(&self.unlisted, |(_, interval)| interval)
    }

    /// How many tests a reading of so many elements is put to at most.
    pub(super) fn most_tests(&self, elements: usize) -> usize {
        elements.saturating_add(self.couplings.len()).saturating_add(1)
    }

    /// Whether no analysis can tell the two apart.
    pub(super) fn same_limits(&self, other: &Candidate) -> bool {
        let within = |one: &Candidate, two: &Candidate| {
            one.intervals.iter().all(|(element, interval)| interval.same(two.interval(*element)))
        };
        within(self, other)
            && within(other, self)
            && self.unlisted.same(&other.unlisted)
            && self.unlisted_total == other.unlisted_total
            && self.counted_with == other.counted_with
            && self.couplings.len() == other.couplings.len()
            && self
                .couplings
                .iter()
                .zip(&other.couplings)
                .all(|(one, two)| one.terms == two.terms && one.bound == two.bound)
    }
}
