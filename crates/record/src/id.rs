//! Typed identities. Things (lot, slip, joint, person, WPS) carry a UUIDv7 given at first entry; entries and
//! stations are named by their hash. Labels that people type are not identities: see [`crate::number`].

use serde::{Deserialize, Deserializer, Serialize, Serializer, de, ser};
use std::fmt;
use uuid::Uuid;

macro_rules! thing_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl $name {
            /// The sixteen bytes, as stored.
            pub fn bytes(self) -> [u8; 16] {
                self.0.into_bytes()
            }
            /// From the sixteen stored bytes.
            pub fn from_bytes(bytes: [u8; 16]) -> Self {
                Self(Uuid::from_bytes(bytes))
            }
            /// As one number, for the pure computations that only compare identities.
            pub fn number(self) -> u128 {
                self.0.as_u128()
            }
            /// From that number.
            pub fn from_number(number: u128) -> Self {
                Self(Uuid::from_u128(number))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

thing_id!(
    /// A lot: one testable quantity of one maker, one classification, one size, one product form.
    LotId
);
thing_id!(
    /// A slip: one issue of one lot to one holder.
    SlipId
);
thing_id!(
    /// A joint, whatever numbers it has carried.
    JointId
);
thing_id!(
    /// An enrolled person, whatever badge they carry.
    PersonId
);
thing_id!(
    /// A welding procedure specification.
    WpsId
);

macro_rules! hash_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub [u8; 32]);

        impl $name {
            /// Sixty-four zeros: what the first entry of a chain names as its predecessor.
            pub const ZERO: Self = Self([0; 32]);
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&hex::encode(self.0))
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), hex::encode(self.0))
            }
        }

        impl std::str::FromStr for $name {
            type Err = HashTextError;
            fn from_str(text: &str) -> Result<Self, HashTextError> {
                let mut bytes = [0; 32];
                // `decode_to_slice` takes capitals too; the record has one spelling only.
                if text.bytes().any(|b| b.is_ascii_uppercase()) || hex::decode_to_slice(text, &mut bytes).is_err() {
                    return Err(HashTextError);
                }
                Ok(Self(bytes))
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                let mut digits = [0; 64];
                hex::encode_to_slice(self.0, &mut digits).map_err(ser::Error::custom)?;
                s.serialize_str(std::str::from_utf8(&digits).map_err(ser::Error::custom)?)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = std::borrow::Cow::<'de, str>::deserialize(d)?;
                text.parse().map_err(de::Error::custom)
            }
        }
    };
}

hash_id!(
    /// Identity of an entry: the RFC 6962 leaf hash of its stored bytes.
    EntryId
);
hash_id!(
    /// Identity of a station: the hash of its public key.
    StationId
);

/// A text that is not a hash in lower-case hexadecimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not 64 lower-case hexadecimal digits")]
pub struct HashTextError;
