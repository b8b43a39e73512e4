//! A small seeded generator: SplitMix64 (Steele, Lea, Flood, OOPSLA 2014), integers only.

/// SplitMix64.
#[derive(Debug, Clone)]
pub(super) struct Random {
    state: u64,
}

impl Random {
    pub(super) fn new(seed: u64) -> Self {
        Random { state: seed }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 to `n` − 1; 0 if `n` is 0.
    pub(super) fn below(&mut self, n: u32) -> u32 {
        // The high half of a 32 × 32 bit product is below n, so the conversion never falls back.
        u32::try_from((self.next() >> 32).wrapping_mul(u64::from(n)) >> 32).unwrap_or(0)
    }

    /// A number from `least` to `most`, both included.
    pub(super) fn between(&mut self, least: u32, most: u32) -> u32 {
        least + self.below(most.saturating_sub(least) + 1)
    }

    /// True in `percent` of a hundred cases.
    pub(super) fn chance(&mut self, percent: u32) -> bool {
        self.below(100) < percent
    }

    /// True in `per_mille` of a thousand cases.
    pub(super) fn rarely(&mut self, per_mille: u32) -> bool {
        self.below(1000) < per_mille
    }

    /// One of the words, each as often as its weight says; the last if the weights are short.
    pub(super) fn pick<T: Copy>(&mut self, weighted: &[(u32, T)], otherwise: T) -> T {
        let total = weighted.iter().map(|(weight, _)| weight).sum();
        let mut left = self.below(total);
        for (weight, word) in weighted {
            if left < *weight {
                return *word;
            }
            left -= weight;
        }
        otherwise
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // First five outputs for seed 1234567 as the Rosetta Code task "Pseudo-random numbers/Splitmix64" lists them
    // (from memory).
    #[test]
    fn gives_the_published_numbers() {
        let mut random = Random::new(1_234_567);
        let found: Vec<u64> = (0..5).map(|_| random.next()).collect();
        assert_eq!(
            found,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
    }

    #[test]
    fn stays_within_its_limits_and_reaches_both() {
        let mut random = Random::new(1);
        let found: Vec<u32> = (0..1000).map(|_| random.between(3, 6)).collect();
        assert_eq!(found.iter().min(), Some(&3));
        assert_eq!(found.iter().max(), Some(&6));
        assert_eq!(random.below(0), 0);
    }
}
