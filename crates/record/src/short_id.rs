//! The short form of an entry's id, for paper: the first 80 bits in base 32, `XXXX-XXXX-XXXX-XXXX`.
//!
//! Digits are 0–9 and A–Z without I, L, O and U: I and L look like 1, O like 0, U like V. Five bits a digit, most
//! significant first. A copy of the newest short id in somebody else's hands makes a cut-off or rewritten tail visible;
//! 80 bits are far too many to hit by trying at the counter, and few enough to read aloud.

const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Digits in a short id.
const LENGTH: usize = 16;

/// The short form of `id`.
#[must_use]
pub fn short(id: &[u8; 32]) -> String {
    let bits = id.iter().take(10).fold(0_u128, |bits, byte| (bits << 8) | u128::from(*byte));
    let mut text = String::with_capacity(LENGTH + 3);
    for n in 0..LENGTH {
        if n > 0 && n % 4 == 0 {
            text.push('-');
        }
        let digit = (bits >> (5 * (LENGTH - 1 - n))) & 31;
        text.extend(DIGITS.get(digit as usize).map(|d| char::from(*d)));
    }
    text
}

/// The 80 bits of a short id as a person types it: upper or lower case, with or without hyphens and blanks, O read as 0, I
/// and L read as 1. None when it is not sixteen such digits.
#[must_use]
pub fn parse(text: &str) -> Option<[u8; 10]> {
    let mut bits = 0_u128;
    let mut count = 0_usize;
    for c in text.chars().filter(|c| !c.is_whitespace() && *c != '-') {
        let upper = match c.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        };
        let digit = DIGITS.iter().position(|d| char::from(*d) == upper)?;
        count = count.saturating_add(1);
        bits = (bits << 5) | digit as u128;
    }
    if count != LENGTH {
        return None;
    }
    // The 80 bits are the last ten of the sixteen bytes.
    bits.to_be_bytes().last_chunk::<10>().copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_short_id_is_the_first_eighty_bits() {
        // Worked by hand: 00000 00001 00010 … 01111 is the digits 0 to F as five-bit groups.
        let mut id = [0xff_u8; 32];
        id[..10].copy_from_slice(&[0x00, 0x44, 0x32, 0x14, 0xc7, 0x42, 0x54, 0xb6, 0x35, 0xcf]);
        assert_eq!(short(&id), "0123-4567-89AB-CDEF");
        assert_eq!(short(&[0xff; 32]), "ZZZZ-ZZZZ-ZZZZ-ZZZZ");
        assert_eq!(short(&[0; 32]), "0000-0000-0000-0000");
    }

    #[test]
    fn what_people_type_is_read() {
        let expected = parse("0123-4567-89AB-CDEF");
        assert!(expected.is_some());
        for typed in
            ["0123456789abcdef", " O1 23 4567 89AB-CDEF ", "oI23-4567-89ab-cdef", "ol23-4567-89AB-CDEF"]
        {
            assert_eq!(parse(typed), expected, "{typed}");
        }
        for wrong in
            ["", "0123-4567-89AB-CDE", "0123-4567-89AB-CDEFG", "0123-4567-89AB-CDEU", "0123_4567_89AB_CDEF"]
        {
            assert_eq!(parse(wrong), None, "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn parse_undoes_short(id: [u8; 32]) {
            prop_assert_eq!(parse(&short(&id)).map(|bits| bits.to_vec()), Some(id[..10].to_vec()));
        }

        #[test]
        fn parse_takes_any_text(text: String) {
            let _ = parse(&text);
        }
    }
}
