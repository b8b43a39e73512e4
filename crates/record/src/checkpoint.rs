//! A station's signed tree head: a C2SP `tlog-checkpoint`, that is a C2SP `signed-note` of three lines.
//!
//! ```text
//! rodbook/<station id, 64 hex>
//! <number of entries>
//! <root, base64>
//!
//! — rodbook/<station id> <base64 of key id (4 bytes) and Ed25519 signature (64 bytes)>
//! ```
//!
//! The signature covers the three lines with their line feeds and nothing of the envelope, so [`open`] rebuilds the whole
//! note from what it parsed and compares bytes.

use data_encoding::BASE64;
use sha2::{Digest as _, Sha256};

use crate::station_key::{self, StationKey};
use crate::tree::{Hash, MAX_SIZE};

/// The longest note read, in bytes.
pub const MAX_NOTE: usize = 65_536;

/// The most signature lines after the first.
pub const MAX_FURTHER_SIGNATURES: usize = 16;

/// The signed-note signature type of plain Ed25519.
const ED25519: u8 = 0x01;

/// How a signature line starts: an em dash and a space.
const DASH: &str = "\u{2014} ";

/// What a station's signature covers: so many entries, with this root.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Checkpoint {
    /// The station's id.
    pub station: [u8; 32],
    /// The number of entries covered, at least 1: entries 0 to `size` − 1.
    pub size: u64,
    /// The root of the Merkle tree over their ids.
    pub root: Hash,
}

/// Why a note is not a checkpoint of the station with the given key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CheckpointError {
    /// Longer than [`MAX_NOTE`].
    #[error("the note has {bytes} bytes; at most {MAX_NOTE} are read")]
    TooLong {
        /// The length found.
        bytes: usize,
    },
    /// Not three lines, an empty line, and signature lines that each end with a line feed.
    #[error(
        "the note is not three lines, an empty line and at least one signature line, each ended by a line feed"
    )]
    Layout,
    /// The first line is not `rodbook/` and 64 lower-case hex digits.
    #[error("line 1 is not `rodbook/` and a station id of 64 lower-case hex digits")]
    Origin,
    /// The note is of another station than the one with this key.
    #[error("the note is of another station than the key")]
    OtherStation,
    /// The second line is not a plain decimal number from 1 to 2^53−1.
    #[error("line 2 is not a number of entries from 1 to {MAX_SIZE}, without sign or leading zero")]
    Size,
    /// The third line is not a root.
    #[error("line 3 is not the base64 of 32 bytes")]
    Root,
    /// A signature line is not dash, name and base64 of a key id and a signature.
    #[error("signature line {line} is not a dash, a name and the base64 of key id and signature")]
    SignatureLine {
        /// Which, counted from 1.
        line: usize,
    },
    /// More than [`MAX_FURTHER_SIGNATURES`] further signature lines.
    #[error("the note has more than {MAX_FURTHER_SIGNATURES} further signature lines")]
    TooManySignatures,
    /// The first signature line names another signer or another key.
    #[error("the first signature line is not of this station's key")]
    OtherSigner,
    /// A later signature line repeats the name and key id of the first.
    #[error("signature line {line} repeats the station's own signature")]
    RepeatedSigner {
        /// Which, counted from 1.
        line: usize,
    },
    /// The signature does not verify.
    #[error("the signature does not fit the note and the station's key")]
    Signature,
    /// The rebuilt note differs from the note read.
    #[error("the note is not byte for byte what it says")]
    Bytes,
}

impl Checkpoint {
    /// The signed note. `key` must be the key of `self.station`, and the size at least 1: [`open`] refuses anything
    /// else.
    #[must_use]
    pub fn sign(&self, key: &StationKey) -> String {
        let text = self.text();
        note(&text, &self.origin(), &key.public(), &key.sign(text.as_bytes()))
    }

    /// `rodbook/` and the station id; also the name of the signing key.
    #[must_use]
    pub fn origin(&self) -> String {
        format!("rodbook/{}", hex::encode(self.station))
    }

    /// The three signed lines.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}\n{}\n{}\n", self.origin(), self.size, BASE64.encode(&self.root))
    }
}

/// The checkpoint in `note`, if the station with this public key signed it.
///
/// Further signature lines are room for a second algorithm and for witnesses: they must be well formed, and nothing is
/// said about whether they verify.
///
/// # Errors
/// When the note is not exactly a checkpoint, is of another station, or the signature fails.
pub fn open(note: &str, public: &[u8; 32]) -> Result<Checkpoint, CheckpointError> {
    if note.len() > MAX_NOTE {
        return Err(CheckpointError::TooLong { bytes: note.len() });
    }
    let mut lines = note.strip_suffix('\n').ok_or(CheckpointError::Layout)?.split('\n');
    let mut next = || lines.next().ok_or(CheckpointError::Layout);
    let (origin, size, root, empty, first) = (next()?, next()?, next()?, next()?, next()?);
    if !empty.is_empty() {
        return Err(CheckpointError::Layout);
    }

    let station = parse_origin(origin).ok_or(CheckpointError::Origin)?;
    if station != station_key::station_id(public) {
        return Err(CheckpointError::OtherStation);
    }
    let checkpoint = Checkpoint {
        station,
        size: parse_size(size).ok_or(CheckpointError::Size)?,
        root: BASE64
            .decode(root.as_bytes())
            .ok()
            .and_then(|bytes| bytes.try_into().ok())
            .ok_or(CheckpointError::Root)?,
    };

    let (name, bytes) = signature_line(first).ok_or(CheckpointError::SignatureLine { line: 1 })?;
    let id = key_id(name, public);
    let signature = match bytes.split_first_chunk::<4>() {
        Some((found, signature)) if name == origin && *found == id => signature,
        Some(_) | None => return Err(CheckpointError::OtherSigner),
    };
    let signature: [u8; 64] = signature.try_into().map_err(|_| CheckpointError::SignatureLine { line: 1 })?;
    let text = checkpoint.text();
    if !station_key::verify(public, text.as_bytes(), &signature) {
        return Err(CheckpointError::Signature);
    }

    let mut rebuilt = self::note(&text, origin, public, &signature);
    for (further, line) in lines.enumerate() {
        if further >= MAX_FURTHER_SIGNATURES {
            return Err(CheckpointError::TooManySignatures);
        }
        let number = further.saturating_add(2);
        let (name, bytes) = signature_line(line).ok_or(CheckpointError::SignatureLine { line: number })?;
        if name == origin && bytes.starts_with(&id) {
            return Err(CheckpointError::RepeatedSigner { line: number });
        }
        push_signature(&mut rebuilt, name, &bytes);
    }
    if rebuilt == note { Ok(checkpoint) } else { Err(CheckpointError::Bytes) }
}

/// The note with one signature line.
fn note(text: &str, name: &str, public: &[u8; 32], signature: &[u8; 64]) -> String {
    let mut note = format!("{text}\n");
    push_signature(&mut note, name, &[key_id(name, public).as_slice(), signature].concat());
    note
}

fn push_signature(note: &mut String, name: &str, bytes: &[u8]) {
    note.push_str(DASH);
    note.push_str(name);
    note.push(' ');
    note.push_str(&BASE64.encode(bytes));
    note.push('\n');
}

/// SHA-256(name ‖ LF ‖ 0x01 ‖ public key), first four bytes.
fn key_id(name: &str, public: &[u8; 32]) -> [u8; 4] {
    let hash: Hash = Sha256::new()
        .chain_update(name)
        .chain_update([b'\n', ED25519])
        .chain_update(public)
        .finalize()
        .into();
    let [a, b, c, d, ..] = hash;
    [a, b, c, d]
}

fn parse_origin(line: &str) -> Option<[u8; 32]> {
    let digits = line.strip_prefix("rodbook/")?;
    let mut station = [0; 32];
    hex::decode_to_slice(digits, &mut station).ok()?;
    (hex::encode(station) == digits).then_some(station)
}

fn parse_size(line: &str) -> Option<u64> {
    let size: u64 = line.parse().ok()?;
    ((1..=MAX_SIZE).contains(&size) && size.to_string() == line).then_some(size)
}

/// The name and the decoded bytes (key id and signature, so at least five) of a signature line.
fn signature_line(line: &str) -> Option<(&str, Vec<u8>)> {
    let (name, encoded) = line.strip_prefix(DASH)?.split_once(' ')?;
    if name.is_empty() || name.contains(|c: char| c.is_whitespace() || c.is_control() || c == '+') {
        return None;
    }
    let bytes = BASE64.decode(encoded.as_bytes()).ok()?;
    (bytes.len() > 4).then_some((name, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example in the documentation of the Go package `golang.org/x/mod/sumdb/note`, which C2SP `signed-note`
    /// describes: verifier key `PeterNeumann+c74f20a3+ARpc…`, the text and its signature line.
    #[test]
    fn the_published_example_note_has_our_key_id_and_verifies() {
        let name = "PeterNeumann";
        let text = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
        let line = "\u{2014} PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=";
        let verifier = BASE64.decode(b"ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW").unwrap();
        let (algorithm, public) = verifier.split_first().unwrap();
        assert_eq!(*algorithm, ED25519);
        let public: [u8; 32] = public.try_into().unwrap();
        assert_eq!(hex::encode(key_id(name, &public)), "c74f20a3");

        let (signer, bytes) = signature_line(line).unwrap();
        let (id, signature) = bytes.split_first_chunk::<4>().unwrap();
        let signature: [u8; 64] = signature.try_into().unwrap();
        assert_eq!((signer, hex::encode(id).as_str()), (name, "c74f20a3"));
        assert!(station_key::verify(&public, text.as_bytes(), &signature));
        assert_eq!(note(text, name, &public, &signature), format!("{text}\n{line}\n"));
    }
}
