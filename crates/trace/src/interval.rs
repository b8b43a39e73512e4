//! A stretch of time, closed at both ends.

/// A stretch of time in UTC seconds, closed at both ends; `from <= to`. An exact time has `from == to`, a bare date
/// is its whole day: an uncertain time is a wide one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Interval {
    /// The first second, UTC.
    pub from: i64,
    /// The last second, UTC, included.
    pub to: i64,
}

impl Interval {
    /// The interval of one second.
    #[must_use]
    pub fn at(second: i64) -> Self {
        Self { from: second, to: second }
    }

    /// The interval between two seconds, whichever comes first.
    #[must_use]
    pub fn between(a: i64, b: i64) -> Self {
        Self { from: a.min(b), to: a.max(b) }
    }

    /// Whether the two share at least one second. Touching ends share that second.
    #[must_use]
    pub fn overlaps(&self, other: &Interval) -> bool {
        self.from <= other.to && other.from <= self.to
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn touching_ends_overlap_and_neighbouring_seconds_do_not() {
        let shift = Interval { from: 10, to: 20 };
        assert!(shift.overlaps(&Interval::at(10)));
        assert!(shift.overlaps(&Interval::at(20)));
        assert!(shift.overlaps(&Interval { from: 20, to: 30 }));
        assert!(shift.overlaps(&Interval { from: 0, to: 40 }));
        assert!(!shift.overlaps(&Interval::at(9)));
        assert!(!shift.overlaps(&Interval { from: 21, to: 30 }));
    }

    #[test]
    fn between_puts_the_ends_in_order() {
        assert_eq!(Interval::between(7, 3), Interval { from: 3, to: 7 });
        assert_eq!(Interval::between(3, 3), Interval::at(3));
    }
}
