//! A signed note is accepted exactly as signed, and in no other spelling.

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::panic, reason = "helpers of tests")]

use data_encoding::BASE64;
use record::checkpoint::{Checkpoint, CheckpointError, MAX_FURTHER_SIGNATURES, MAX_NOTE, open};
use record::station_key::StationKey;
use record::tree::{MAX_SIZE, leaf_hash, root};

fn key(first: u8) -> StationKey {
    let mut seed = [7; 32];
    seed[0] = first;
    StationKey::from_seed(seed)
}

fn checkpoint(key: &StationKey, size: u64) -> Checkpoint {
    Checkpoint {
        station: key.station(),
        size,
        root: root(&[leaf_hash(b"a"), leaf_hash(b"b"), leaf_hash(b"c")]),
    }
}

/// A signature line for any text, made by hand from the C2SP `signed-note` page.
fn signed(text: &str, name: &str, key: &StationKey) -> String {
    use sha2::{Digest as _, Sha256};
    let id = Sha256::digest([format!("{name}\n\u{1}").as_bytes(), &key.public()].concat());
    let bytes = [&id[..4], &key.sign(text.as_bytes())].concat();
    format!("{text}\n\u{2014} {name} {}\n", BASE64.encode(&bytes))
}

#[test]
fn a_signed_note_opens_and_looks_as_the_format_says() {
    let key = key(1);
    for size in [1, 3, 10, 1_000_000, MAX_SIZE] {
        let checkpoint = checkpoint(&key, size);
        let note = checkpoint.sign(&key);
        assert_eq!(open(&note, &key.public()), Ok(checkpoint));
        let origin = format!("rodbook/{}", hex::encode(key.station()));
        let text = format!("{origin}\n{size}\n{}\n", BASE64.encode(&checkpoint.root));
        assert_eq!(note, signed(&text, &origin, &key));
    }
}

/// Each byte replaced by each other byte, each byte removed, each byte value inserted at each place, each cut.
#[test]
fn every_single_byte_change_is_refused() {
    let key = key(1);
    let public = key.public();
    let note = checkpoint(&key, 3).sign(&key).into_bytes();
    assert!(open(std::str::from_utf8(&note).expect("UTF-8"), &public).is_ok());
    let mut tried = 0_usize;
    let mut refused = |bytes: &[u8], what: &str, at: usize| {
        tried += 1;
        // Not UTF-8 cannot be given to `open` at all; that is how it is refused.
        let accepted = std::str::from_utf8(bytes).is_ok_and(|text| open(text, &public).is_ok());
        assert!(!accepted, "{what} at byte {at}");
    };
    for at in 0..note.len() {
        let mut changed = note.clone();
        for byte in 0..=u8::MAX {
            if byte != note[at] {
                changed[at] = byte;
                refused(&changed, "replaced", at);
            }
        }
        let mut removed = note.clone();
        removed.remove(at);
        refused(&removed, "removed", at);
        refused(&note[..at], "cut", at);
    }
    for at in 0..=note.len() {
        for byte in 0..=u8::MAX {
            let mut longer = note.clone();
            longer.insert(at, byte);
            refused(&longer, "inserted", at);
        }
    }
    assert_eq!(tried, note.len() * (255 + 2) + (note.len() + 1) * 256);
}

/// Notes that are properly signed but do not say what a checkpoint says, or not in its one spelling.
#[test]
fn properly_signed_nonsense_is_refused() {
    let key = key(1);
    let origin = format!("rodbook/{}", hex::encode(key.station()));
    let root = BASE64.encode(&[9; 32]);
    let good = signed(&format!("{origin}\n3\n{root}\n"), &origin, &key);
    assert!(open(&good, &key.public()).is_ok());
    for (text, expected) in [
        (format!("{origin}\n0\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n03\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n+3\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n-3\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n 3\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n{}\n{root}\n", MAX_SIZE + 1), CheckpointError::Size),
        (format!("{origin}\n99999999999999999999\n{root}\n"), CheckpointError::Size),
        (format!("{origin}\n3\n{}\n", root.trim_end_matches('=')), CheckpointError::Root),
        (format!("{origin}\n3\n{}\n", BASE64.encode(&[9; 31])), CheckpointError::Root),
        (format!("{origin}\n3\n{}\n", BASE64.encode(&[9; 33])), CheckpointError::Root),
        // The last digit carries two bits that do not belong to the 32 bytes: another spelling of the same root.
        (format!("{origin}\n3\n{}\n", root.replace("k=", "l=")), CheckpointError::Root),
        (format!("{origin}\n3\n{root}\nextension\n"), CheckpointError::Layout),
        (format!("{origin}\r\n3\n{root}\n"), CheckpointError::Origin),
        (format!("{}\n3\n{root}\n", origin.to_uppercase()), CheckpointError::Origin),
        (
            format!("rodbook/{}\n3\n{root}\n", hex::encode(key.station()).to_uppercase()),
            CheckpointError::Origin,
        ),
        (format!("rodbook/{}\n3\n{root}\n", "0".repeat(62)), CheckpointError::Origin),
        (format!("rodbook/{}\n3\n{root}\n", "0".repeat(64)), CheckpointError::OtherStation),
    ] {
        assert_eq!(open(&signed(&text, &origin, &key), &key.public()), Err(expected), "{text}");
    }
    let text = format!("{origin}\n3\n{root}\n");
    assert_eq!(open(&signed(&text, "rodbook/other", &key), &key.public()), Err(CheckpointError::OtherSigner));
    assert_eq!(open(&text, &key.public()), Err(CheckpointError::Layout));
    assert_eq!(open("", &key.public()), Err(CheckpointError::Layout));
    assert_eq!(
        open(&"x".repeat(MAX_NOTE + 1), &key.public()),
        Err(CheckpointError::TooLong { bytes: MAX_NOTE + 1 })
    );
}

#[test]
fn another_stations_key_opens_nothing() {
    let (key, other) = (key(1), key(2));
    assert_eq!(open(&checkpoint(&key, 3).sign(&key), &other.public()), Err(CheckpointError::OtherStation));
    // Signed by the wrong key although it names the right station.
    assert_eq!(open(&checkpoint(&key, 3).sign(&other), &key.public()), Err(CheckpointError::OtherSigner));
    // The right key id before a signature of something else.
    let (three, four) = (checkpoint(&key, 3).sign(&key), checkpoint(&key, 4).sign(&key));
    let (text, _) = three.split_once("\n\n").expect("a note");
    let (_, signature) = four.split_once("\n\n").expect("a note");
    assert_eq!(open(&format!("{text}\n\n{signature}"), &key.public()), Err(CheckpointError::Signature));
}

#[test]
fn further_signature_lines_are_room_not_proof() {
    let key = key(1);
    let checkpoint = checkpoint(&key, 3);
    let note = checkpoint.sign(&key);
    let further = |lines: &str| open(&format!("{note}{lines}"), &key.public());
    let line = |name: &str, bytes: &[u8]| format!("\u{2014} {name} {}\n", BASE64.encode(bytes));
    let origin = checkpoint.origin();

    // A long signature of another algorithm by the same name, and a witness.
    assert_eq!(further(&line(&origin, &[1; 4 + 2420])), Ok(checkpoint));
    assert_eq!(further(&(line("witness.example", &[1; 76]) + &line("other", &[2; 68]))), Ok(checkpoint));
    assert_eq!(further(&line("w", &[0; 5]).repeat(MAX_FURTHER_SIGNATURES)), Ok(checkpoint));

    assert_eq!(
        further(&line("w", &[0; 5]).repeat(MAX_FURTHER_SIGNATURES + 1)),
        Err(CheckpointError::TooManySignatures)
    );
    for wrong in [
        line("", &[1; 68]),
        line("two words", &[1; 68]),
        line("plus+sign", &[1; 68]),
        line("tab\there", &[1; 68]),
        line("short", &[1; 4]),
        line("none", &[]),
        "\u{2014} name ====\n".into(),
        "- name AAAAAAAA\n".into(),
        "\u{2014} name AAAAAAAA \n".into(),
        "\u{2014} name AAAAAAAA\r\n".into(),
        "\n".into(),
    ] {
        assert_eq!(further(&wrong), Err(CheckpointError::SignatureLine { line: 2 }), "{wrong:?}");
    }
    assert_eq!(further("\u{2014} name AAAAAAAA"), Err(CheckpointError::Layout));
    let own = note.rsplit_once("\n\n").expect("a note").1;
    assert_eq!(further(own), Err(CheckpointError::RepeatedSigner { line: 2 }));
    // The station's own signature must come first.
    let (text, own) = note.split_once("\n\n").expect("a note");
    let swapped = format!("{text}\n\n{}{own}", line("other", &[2; 68]));
    assert_eq!(open(&swapped, &key.public()), Err(CheckpointError::OtherSigner));
}
