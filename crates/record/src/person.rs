//! People in the record: a badge, an identity, and a hash that their name can be checked against.
//!
//! The chain never holds a name. It holds `SHA-256(salt ‖ name)` with 32 random bytes of salt; name and salt
//! live beside the record and can be erased, after which the hash says nothing.

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// Length of the salt, in bytes.
pub const SALT_LENGTH: usize = 32;

/// What the chain says of a name.
pub fn name_hash(salt: &[u8; SALT_LENGTH], name: &str) -> String {
    let mut hash = Sha256::new();
    hash.update(salt);
    hash.update(name.as_bytes());
    hex::encode(hash.finalize())
}

/// What a person may do in the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Hands out and takes back at the crib window.
    Attendant,
    /// Holds rods and welds.
    Welder,
    /// Releases, holds, overrides, disposes.
    Inspector,
    /// Reads and checks.
    Auditor,
    /// Measures.
    Lab,
}

impl Role {
    /// All roles.
    pub const ALL: [Role; 5] = [Role::Attendant, Role::Welder, Role::Inspector, Role::Auditor, Role::Lab];

    /// The word on forms.
    pub fn word(self) -> &'static str {
        match self {
            Role::Attendant => "attendant",
            Role::Welder => "welder",
            Role::Inspector => "inspector",
            Role::Auditor => "auditor",
            Role::Lab => "lab",
        }
    }

    /// The role a word names.
    pub fn parse(word: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|r| r.word().eq_ignore_ascii_case(word.trim()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn name_hash_is_salted_sha256() {
        // SHA-256 of 32 zero bytes followed by "abc", computed with Python's hashlib.
        assert_eq!(
            name_hash(&[0; 32], "abc"),
            "365aa7d8f7f9402c4b9434502b4cc89ddb09fe50d7cd95b493b834c62d5a5370"
        );
        assert_ne!(name_hash(&[0; 32], "abc"), name_hash(&[1; 32], "abc"));
    }
}
