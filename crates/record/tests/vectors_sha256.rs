//! SHA-256 as used here, against published values.
//!
//! Sources: the examples that NIST publishes beside FIPS 180-4 ("abc", the 448-bit and the 896-bit message), the
//! million-`a` message of the older FIPS 180-2 appendix B.3, and from the NIST CAVP byte-oriented set the shortest
//! messages and the first and last value of the Monte Carlo test (SHAVS section 6.4).

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::panic, reason = "helpers of tests")]

use record::station_key::station_id;
use record::tree::{empty_root, leaf_hash, node_hash};
use sha2::{Digest as _, Sha256};

fn sha256(data: &[u8]) -> String {
    hex::encode(Sha256::digest(data))
}

#[test]
fn published_messages() {
    let cases: [(&[u8], &str); 6] = [
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (
            b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu",
            "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1",
        ),
        (b"\xd3", "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1"),
        (b"\x11\xaf", "5ca7133fa735326081558ac312c620eeca9970d1e70a4b95533d956f072d1f98"),
    ];
    for (message, digest) in cases {
        assert_eq!(sha256(message), digest, "{} bytes", message.len());
    }
    assert_eq!(
        sha256(&vec![b'a'; 1_000_000]),
        "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
    );
}

#[test]
fn monte_carlo() {
    let mut seed =
        hex::decode("6d1e72ad03ddeb5de891e572e2396f8da015d899ef0e79503152d6010a3fe691").expect("hex");
    let mut outputs = Vec::new();
    for _ in 0..100 {
        let mut last = [seed.clone(), seed.clone(), seed];
        for _ in 0..1000 {
            let next = Sha256::digest(last.concat()).to_vec();
            let [_, b, c] = last;
            last = [b, c, next];
        }
        let [_, _, end] = last;
        seed = end;
        outputs.push(hex::encode(&seed));
    }
    assert_eq!(outputs[0], "e93c330ae5447738c8aa85d71a6c80f2a58381d05872d26bdd39f1fcd4f2b788");
    assert_eq!(outputs[1], "2e78f8c8772ea7c9331d41ed3f9cdf27d8f514a99342ee766ee3b8b0d0b121c0");
    assert_eq!(outputs[99], "6a912ba4188391a78e6f13d88ed2d14e13afce9db6f7dcbf4a48c24f3db02778");
}

/// The four kinds of message that the record hashes differ in their first bytes, so none can stand for another.
#[test]
fn the_prefixes_are_where_the_format_puts_them() {
    let (left, right) = ([0x11; 32], [0x22; 32]);
    assert_eq!(hex::encode(leaf_hash(b"line")), sha256(b"\x00line"));
    assert_eq!(hex::encode(node_hash(&left, &right)), sha256(&[[0x01].as_slice(), &left, &right].concat()));
    assert_eq!(hex::encode(empty_root()), sha256(b""));
    assert_eq!(hex::encode(station_id(&left)), sha256(&[b"rodbook-station/1\n".as_slice(), &left].concat()));
}
