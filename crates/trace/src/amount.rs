//! What is known of a quantity, and when what left a slip reaches what was issued.

/// What is known of a quantity: pieces, milligrams, either or both. Negative numbers are no quantity and count as
/// not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Amount {
    /// Whole pieces (rods, electrodes, spools).
    pub pieces: Option<i64>,
    /// Mass in milligrams.
    pub mg: Option<i64>,
}

impl Amount {
    /// A counted amount.
    #[must_use]
    pub fn pieces(pieces: i64) -> Self {
        Self { pieces: Some(pieces), mg: None }
    }

    /// A weighed amount, in milligrams.
    #[must_use]
    pub fn mg(mg: i64) -> Self {
        Self { pieces: None, mg: Some(mg) }
    }
}

/// What has left a slip so far, beside what was issued.
#[derive(Debug)]
pub(crate) struct Tally {
    pieces: Measure,
    mg: Measure,
}

impl Tally {
    pub(crate) fn of(issued: &Amount) -> Self {
        Self { pieces: Measure::of(issued.pieces), mg: Measure::of(issued.mg) }
    }

    /// Adds one more amount that left.
    pub(crate) fn add(&mut self, out: &Amount) {
        self.pieces.add(out.pieces);
        self.mg.add(out.mg);
    }

    /// Whether what left reaches what was issued: in pieces if the slip and all that left so far were counted, else
    /// in mass if all were weighed, else no. Amounts that cannot be compared never close a slip.
    pub(crate) fn reached(&self) -> bool {
        self.pieces.reached().or(self.mg.reached()).unwrap_or(false)
    }
}

/// One measure of a tally; `None` once something was not measured in it. 128 bits: sums of 64-bit amounts cannot
/// overflow in any record that fits a machine.
#[derive(Debug)]
struct Measure(Option<(i128, i128)>);

impl Measure {
    fn of(issued: Option<i64>) -> Self {
        Self(known(issued).map(|issued| (issued, 0)))
    }

    fn add(&mut self, out: Option<i64>) {
        self.0 = match (self.0, known(out)) {
            (Some((issued, left)), Some(out)) => Some((issued, left.saturating_add(out))),
            (None, _) | (_, None) => None,
        };
    }

    fn reached(&self) -> Option<bool> {
        self.0.map(|(issued, left)| left >= issued)
    }
}

fn known(number: Option<i64>) -> Option<i128> {
    number.filter(|n| *n >= 0).map(i128::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reached_by(issued: Amount, outs: &[Amount]) -> bool {
        let mut tally = Tally::of(&issued);
        for out in outs {
            tally.add(out);
        }
        tally.reached()
    }

    #[test]
    fn pieces_are_counted_when_everything_has_pieces() {
        let both = |pieces, mg| Amount { pieces: Some(pieces), mg: Some(mg) };
        assert!(reached_by(Amount::pieces(10), &[Amount::pieces(4), Amount::pieces(6)]));
        assert!(!reached_by(Amount::pieces(10), &[Amount::pieces(4), Amount::pieces(5)]));
        // The count decides even where the scale says otherwise.
        assert!(!reached_by(both(10, 100), &[both(9, 100)]));
        assert!(reached_by(both(10, 100), &[both(10, 90)]));
    }

    #[test]
    fn mass_decides_when_one_amount_was_not_counted() {
        let issued = Amount { pieces: Some(10), mg: Some(100) };
        assert!(reached_by(issued, &[Amount { pieces: Some(5), mg: Some(50) }, Amount::mg(50)]));
        assert!(!reached_by(issued, &[Amount { pieces: Some(5), mg: Some(50) }, Amount::mg(49)]));
    }

    #[test]
    fn amounts_that_cannot_be_compared_never_reach() {
        assert!(!reached_by(Amount::pieces(1), &[Amount::mg(1_000_000)]));
        assert!(!reached_by(Amount::mg(1), &[Amount::pieces(1_000)]));
        assert!(!reached_by(Amount::default(), &[Amount::pieces(1)]));
        assert!(!reached_by(Amount::pieces(10), &[Amount::default(), Amount::pieces(10)]));
        assert!(!reached_by(Amount::pieces(-1), &[Amount::pieces(1)]));
        assert!(!reached_by(Amount::pieces(1), &[Amount::pieces(-1), Amount::pieces(5)]));
    }

    #[test]
    fn the_greatest_amounts_do_not_overflow() {
        let most = Amount { pieces: Some(i64::MAX), mg: Some(i64::MAX) };
        assert!(reached_by(most, &[most, most, most]));
    }
}
