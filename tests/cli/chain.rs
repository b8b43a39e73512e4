//! The chain of a record as a stranger reads it, from the rules in docs/format.md alone: ids, their short forms, links.

use serde_json::Value;
use sha2::{Digest as _, Sha256};

/// Id of the entry that a line is: SHA-256 over a zero byte and the line (RFC 9162, section 2.1.1).
pub(crate) fn id(line: &str) -> [u8; 32] {
    Sha256::new().chain_update([0]).chain_update(line).finalize().into()
}

/// Short form: the first 80 bits, five at a time.
pub(crate) fn short(id: &[u8; 32]) -> String {
    let mut digits = String::new();
    for n in 0..16_usize {
        let bit = |k: usize| usize::from(id[(5 * n + k) / 8] >> (7 - (5 * n + k) % 8) & 1);
        let digit = (0..5).fold(0, |d, k| d << 1 | bit(k));
        if n > 0 && n % 4 == 0 {
            digits.push('-');
        }
        digits.push(char::from(b"0123456789ABCDEFGHJKMNPQRSTVWXYZ"[digit]));
    }
    digits
}

/// Asserts that the lines are one dense chain, each naming the one before; returns the short id of each.
#[track_caller]
pub(crate) fn dense(record: &str) -> Vec<String> {
    let mut before = "0".repeat(64);
    let mut shorts = Vec::new();
    for (n, line) in record.lines().enumerate() {
        let entry: Value = serde_json::from_str(line).unwrap();
        assert_eq!(entry["seq"], n, "{line}");
        assert_eq!(entry["prev"], before.as_str(), "{line}");
        let id = id(line);
        before = hex::encode(id);
        shorts.push(short(&id));
    }
    shorts
}

#[test]
fn a_short_id_is_the_first_eighty_bits() {
    // Worked by hand: the groups 00000 00001 … 01111 are the digits 0 to F.
    let mut bytes = [0xff; 32];
    bytes[..10].copy_from_slice(&[0x00, 0x44, 0x32, 0x14, 0xc7, 0x42, 0x54, 0xb6, 0x35, 0xcf]);
    assert_eq!(short(&bytes), "0123-4567-89AB-CDEF");
}
