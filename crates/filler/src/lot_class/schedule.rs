//! Test schedules of AWS A5.01 and ISO 14344.

use super::{Outcome, letters};

/// What was tested, and on which material. ISO counts 1 to 6, AWS letters F to K.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Schedule {
    /// 1/F: the maker's normal level; nothing specific to the shipment.
    F,
    /// 2/G: the maker's set of tests on any production within the 12 months before the order.
    G,
    /// 3/H: chemical composition of each lot shipped.
    H,
    /// 4/I: the middle set of the standard's table, of each lot shipped.
    I,
    /// 5/J: every test that the standard asks for the class, of each lot shipped.
    J,
    /// 6/K: what the purchaser writes in the order, of each lot shipped.
    K,
}

impl Schedule {
    /// Reads a schedule as printed: `J`, `5`, `5/J`, `J (5)`, `schedule J`. A number and a letter that do not belong
    /// together are not read.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let letters = letters(text);
        let mut rest = letters.as_str();
        for word in ["TEST", "ING", "SCHEDULE"] {
            rest = rest.strip_prefix(word).unwrap_or(rest);
        }
        match rest {
            "F" | "1" | "1F" | "F1" => Some(Schedule::F),
            "G" | "2" | "2G" | "G2" => Some(Schedule::G),
            "H" | "3" | "3H" | "H3" => Some(Schedule::H),
            "I" | "4" | "4I" | "I4" => Some(Schedule::I),
            "J" | "5" | "5J" | "J5" => Some(Schedule::J),
            "K" | "6" | "6K" | "K6" => Some(Schedule::K),
            _ => None,
        }
    }

    /// Whether tests to this schedule are those that were asked for.
    pub(super) fn answers(self, asked: Self) -> (Outcome, String) {
        use Outcome::{Met, NotKnown, NotMet};
        use Schedule::{F, G, H, I, J, K};
        let (outcome, why) = match (asked, self) {
            (F, F | G | H | I | J | K) => (Met, "1/F asks nothing of the shipment"),
            (G | H | I | J, F) => (NotMet, "1/F tests nothing specific to the shipment"),
            (H | I | J, G) => (NotMet, "2/G tests any production of 12 months, not this lot"),
            (I | J, H) => (NotMet, "3/H tests the composition only"),
            (J, I) => (NotMet, "4/I leaves out tests that the class has"),
            (H | I, J) => (Met, "5/J is every test of the class, on each lot"),
            (H, I) => (NotKnown, "which tests 4/I has for the class was not read"),
            (G, H | I | J) => (NotKnown, "which tests the maker's set of 2/G has is not said"),
            (K, F | G | H | I | J | K) => (NotKnown, "6/K is what the order says: compare with the order"),
            (G | H | I | J, K) => (NotKnown, "6/K is what another order says"),
            (G, G) | (H, H) | (I, I) | (J, J) => (Met, "as asked"),
        };
        (outcome, why.to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::Schedule;

    #[test]
    fn schedules_as_printed() {
        for (text, want) in [
            ("J", Some(Schedule::J)),
            ("5/J", Some(Schedule::J)),
            ("J (5)", Some(Schedule::J)),
            ("Schedule h", Some(Schedule::H)),
            ("testing schedule 1", Some(Schedule::F)),
            ("5/K", None),
            ("L", None),
            ("7", None),
            ("", None),
        ] {
            assert_eq!(Schedule::parse(text), want, "{text}");
        }
    }
}
