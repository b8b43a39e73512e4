//! Random numbers for tests that try moments and places, from a seed that is printed when one of them fails.

/// A xorshift generator: small, and good enough to pick moments.
pub(crate) struct Random {
    seed: u64,
    state: u64,
}

impl std::fmt::Debug for Random {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "RODBOOK_TEST_SEED={}", self.seed)
    }
}

impl Random {
    /// Seeded by the clock, or by the variable `RODBOOK_TEST_SEED` to try a failure again.
    pub(crate) fn seeded() -> Self {
        let seed =
            std::env::var("RODBOOK_TEST_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or_else(|| {
                let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
                now.as_nanos() as u64 | 1
            });
        Self { seed, state: seed }
    }

    /// Another one, for another thread.
    pub(crate) fn fork(&self, n: u64) -> Self {
        let state = (self.seed ^ (n + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15)) | 1;
        Self { seed: self.seed, state }
    }

    /// A number below `n`.
    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        self.state % n
    }
}
