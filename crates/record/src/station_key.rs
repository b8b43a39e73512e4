//! The key of one station: Ed25519 (RFC 8032), verified strictly.

use std::fmt;

use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use sha2::{Digest as _, Sha256};
use zeroize::Zeroizing;

/// What is hashed before the public key to give the station id.
const STATION_PREFIX: &[u8] = b"rodbook-station/1\n";

/// The private key of one station. One device, one key, one chain: a copy of the key can fork the chain. The memory
/// is wiped on drop, and the debug form shows the station only.
pub struct StationKey(SigningKey);

impl StationKey {
    /// The key of a 32-byte seed (RFC 8032 section 5.1.5).
    #[must_use]
    pub fn from_seed(seed: [u8; 32]) -> Self {
        let seed = Zeroizing::new(seed);
        Self(SigningKey::from_bytes(&seed))
    }

    /// The seed, to be stored; wiped when dropped.
    #[must_use]
    pub fn seed(&self) -> Zeroizing<[u8; 32]> {
        Zeroizing::new(self.0.to_bytes())
    }

    /// The public key.
    #[must_use]
    pub fn public(&self) -> [u8; 32] {
        self.0.verifying_key().to_bytes()
    }

    /// The id of the station that has this key.
    #[must_use]
    pub fn station(&self) -> [u8; 32] {
        station_id(&self.public())
    }

    /// The signature of `message`.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> [u8; 64] {
        self.0.sign(message).to_bytes()
    }
}

impl fmt::Debug for StationKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "StationKey(station {})", hex::encode(self.station()))
    }
}

/// The id of a station: SHA-256("rodbook-station/1\n" ‖ public key).
#[must_use]
pub fn station_id(public: &[u8; 32]) -> [u8; 32] {
    Sha256::new().chain_update(STATION_PREFIX).chain_update(public).finalize().into()
}

/// Whether `signature` is the signature of `message` under the public key, strictly: S below the group order, neither the
/// key nor R of small order, the equation without cofactor, and the key's y coordinate below 2^255−19. Libraries differ
/// on what lies outside these rules; inside them they agree.
#[must_use]
pub fn verify(public: &[u8; 32], message: &[u8], signature: &[u8; 64]) -> bool {
    let Ok(key) = VerifyingKey::from_bytes(public) else { return false };
    is_canonical(&key) && key.verify_strict(message, &Signature::from_bytes(signature)).is_ok()
}

/// The library reads a y of 2^255−19 and more modulo the prime: two spellings of one key would be two stations.
fn is_canonical(key: &VerifyingKey) -> bool {
    key.to_edwards().compress().as_bytes() == key.as_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_has_one_spelling() {
        // 2^255−19+3, little-endian: y = 3 is on the curve, so both spellings name a point.
        let mut long = [0xff; 32];
        (long[0], long[31]) = (0xed + 3, 0x7f);
        let mut short = [0; 32];
        short[0] = 3;
        let (long, short) =
            (VerifyingKey::from_bytes(&long).unwrap(), VerifyingKey::from_bytes(&short).unwrap());
        assert_eq!(long.to_edwards(), short.to_edwards());
        assert!(is_canonical(&short) && !is_canonical(&long));
    }

    #[test]
    fn the_debug_form_does_not_show_the_key() {
        let key = StationKey::from_seed([0xa5; 32]);
        let shown = format!("{key:?}");
        assert!(shown.contains(&hex::encode(key.station())));
        assert!(!shown.contains("a5a5") && !shown.contains("165, 165"));
    }
}
