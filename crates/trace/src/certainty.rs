//! How certain it is which slips fed a weld.

use std::fmt;

/// How certain the sources of a weld record are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Certainty {
    /// The record names the lot or slip, and custody agrees.
    Recorded,
    /// Nothing named, and exactly one lot was held.
    ByCustody,
    /// Nothing named, and several lots were held.
    OneOf,
    /// What was named was not held, or a mark was read that no source has.
    Contradicted,
    /// Nothing named and nothing held: no source for this weld metal.
    Unknown,
    /// Welded without filler metal.
    NoFiller,
}

impl Certainty {
    /// All of them, in the order of their declaration.
    pub const ALL: [Certainty; 6] = [
        Certainty::Recorded,
        Certainty::ByCustody,
        Certainty::OneOf,
        Certainty::Contradicted,
        Certainty::Unknown,
        Certainty::NoFiller,
    ];

    /// The word for it in every output; stable.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Certainty::Recorded => "recorded",
            Certainty::ByCustody => "by-custody",
            Certainty::OneOf => "one-of",
            Certainty::Contradicted => "contradicted",
            Certainty::Unknown => "unknown",
            Certainty::NoFiller => "no-filler",
        }
    }
}

impl fmt::Display for Certainty {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_are_stable() {
        let words: Vec<String> = Certainty::ALL.iter().map(Certainty::to_string).collect();
        assert_eq!(words, ["recorded", "by-custody", "one-of", "contradicted", "unknown", "no-filler"]);
    }
}
