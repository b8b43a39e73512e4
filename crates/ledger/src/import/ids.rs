//! Identities for many things at once: UUIDv7 that rise in the order they are given.
//!
//! RFC 9562 section 6.2, method 2: the random part of the first is random, each further one is a random step above
//! the one before. Rising identities are written side by side in the book's indexes, which is what makes an import
//! of a million rows quick; two stations importing at the same moment still never meet.

use crate::error::Result;
use crate::tell::init::random;
use record::Instant;
use uuid::Uuid;

/// Bits of a UUIDv7 behind its time: 12 between the version and the variant, 62 behind it.
const LOW_BITS: u32 = 62;
const BITS: u32 = 74;
/// Random bytes asked for at once.
const BUFFER: usize = 2_048;

/// Gives identities.
pub(super) struct Ids {
    millis: u64,
    last: u128,
    buffer: Box<[u8; BUFFER]>,
    used: usize,
}

impl Ids {
    /// Identities of one command; their time part is its clock's.
    pub(super) fn new(now: Instant) -> Result<Self> {
        let millis = u64::try_from(now.0).unwrap_or(0).saturating_mul(1_000);
        let mut this = Self { millis, last: 0, buffer: Box::new([0; BUFFER]), used: BUFFER };
        this.start()?;
        Ok(this)
    }

    /// A random start in the lower half, so that the steps have room above it.
    fn start(&mut self) -> Result<()> {
        let mut bytes = [0; 16];
        random(&mut bytes)?;
        self.last = u128::from_be_bytes(bytes) >> (128 - BITS + 1);
        Ok(())
    }

    /// The next one.
    pub(super) fn next(&mut self) -> Result<Uuid> {
        if self.used + 4 > BUFFER {
            random(self.buffer.as_mut_slice())?;
            self.used = 0;
        }
        let step =
            self.buffer.get(self.used..).and_then(|b| b.first_chunk::<4>()).copied().unwrap_or_default();
        self.used += 4;
        let next = self.last + 1 + u128::from(u32::from_be_bytes(step));
        if next >> BITS == 0 {
            self.last = next;
        } else {
            self.start()?;
        }
        let high = (self.last >> LOW_BITS).to_be_bytes();
        let low = (self.last & ((1 << LOW_BITS) - 1)).to_be_bytes();
        let mut bytes = [0; 10];
        // The version and variant bits are above these and set by the builder.
        let parts = high.iter().skip(14).chain(low.iter().skip(8));
        bytes.iter_mut().zip(parts).for_each(|(to, from)| *to = *from);
        Ok(uuid::Builder::from_unix_timestamp_millis(self.millis, &bytes).into_uuid())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_rise_and_are_version_7_of_the_commands_time() {
        let mut ids = Ids::new(Instant(1_772_415_000)).unwrap();
        let mut before = Uuid::nil();
        for _ in 0..5_000 {
            let id = ids.next().unwrap();
            assert!(id > before, "{before} {id}");
            assert_eq!((id.get_version_num(), id.get_variant()), (7, uuid::Variant::RFC4122));
            assert_eq!(id.get_timestamp().unwrap().to_unix(), (1_772_415_000, 0));
            before = id;
        }
        let other = Ids::new(Instant(1_772_415_000)).unwrap().next().unwrap();
        assert_ne!(other.as_u128() >> 40, before.as_u128() >> 40, "another import starts elsewhere");
    }
}
