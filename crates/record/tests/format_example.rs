//! The example at the end of `docs/format.md`, which was made with Python's `json`, `hashlib` and the PyPI package
//! `cryptography`, is reproduced here bit by bit: a second implementation of every rule on that page.

#![allow(clippy::expect_used, clippy::indexing_slicing, reason = "helpers of tests")]

use record::checkpoint::{self, Checkpoint};
use record::short_id::short;
use record::station_key::StationKey;
use record::tree::{Frontier, leaf_hash, root};
use record::{canonical, person};
use serde_json::Value;

const PAGE: &str = include_str!("../../../docs/format.md");

/// The text of the only block of this language in section 9.
fn block(language: &str) -> &'static str {
    let example = PAGE.split_once("\n## 9. ").expect("section 9").1;
    let start = example.split_once(&format!("```{language}\n")).expect("a block").1;
    start.split_once("```").expect("its end").0
}

#[test]
fn every_value_of_the_example_is_what_this_crate_computes() {
    let seed = hex::decode("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60").expect("hex");
    let key = StationKey::from_seed(seed.try_into().expect("32 bytes"));
    let station = hex::encode(key.station());
    assert!(PAGE.contains(&format!("`{}`", hex::encode(key.public()))));
    assert!(PAGE.contains(&format!("The station id is\n`{station}`")));

    let lines: Vec<&str> = block("json").lines().collect();
    assert_eq!(lines.len(), 3);
    let (mut leaves, mut edge, mut prev) = (Vec::new(), Frontier::new(), hex::encode([0; 32]));
    for (seq, line) in lines.iter().enumerate() {
        let entry = canonical::read(line.as_bytes()).expect("a canonical line");
        assert_eq!(canonical::write(&entry).expect("printable"), line.as_bytes());
        let expected = [("station", Value::from(&*station)), ("seq", seq.into()), ("prev", prev.into())];
        for (field, value) in expected.into_iter().chain([("clock", (seq + 1).into())]) {
            assert_eq!(entry[field], value, "{field} of entry {seq}");
        }
        let leaf = leaf_hash(line.as_bytes());
        leaves.push(leaf);
        edge.append(leaf);
        assert_eq!(edge.root(), root(&leaves));
        prev = hex::encode(leaf);
        let row = format!("| {seq} | `{prev}` | `{}` | `{}` |\n", short(&leaf), hex::encode(root(&leaves)));
        assert!(PAGE.contains(&row), "{row}");
    }

    let checkpoint = Checkpoint { station: key.station(), size: 3, root: root(&leaves) };
    assert_eq!(checkpoint.sign(&key), block("text"));
    assert_eq!(checkpoint::open(block("text"), &key.public()), Ok(checkpoint));
}

#[test]
fn the_person_of_the_example() {
    let salt = std::array::from_fn(|n| u8::try_from(n).expect("small"));
    assert!(PAGE.contains(&format!("`{}`", person::name_hash(&salt, "Änne Muster"))));
}
