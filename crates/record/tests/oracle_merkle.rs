//! Tree roots and inclusion proofs against `pymerkle`, a reference library from the Python package index
//! (tests/oracles/merkle.py, pinned in tests/oracles/requirements.txt). `cargo xtask venv` makes the interpreter and
//! `cargo xtask test` names it.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use record::tree::{Frontier, Hash, inclusion_proof, leaf_hash, root, verify_inclusion};
use std::io::Write as _;
use std::path::PathBuf;
use std::process::{Command, Stdio};

fn oracle(arguments: &[&str], input: &str) -> String {
    let workspace = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..");
    let python = std::env::var_os("RODBOOK_TEST_PYTHON")
        .map_or_else(|| workspace.join("target/oracles/bin/python"), PathBuf::from);
    let mut child = Command::new(&python)
        .arg(workspace.join("tests/oracles/merkle.py"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("{}: {e}; make it with `cargo xtask venv`", python.display()));
    // From a thread: both pipes are smaller than what goes through them.
    let (mut stdin, input) = (child.stdin.take().unwrap(), input.to_owned());
    let writer = std::thread::spawn(move || stdin.write_all(input.as_bytes()).unwrap());
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    assert!(output.status.success(), "the reference library failed; is it installed? `cargo xtask venv`");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_reference_gives_the_published_root() {
    oracle(&["--selftest"], "");
}

#[test]
fn roots_and_paths_agree_for_every_size_up_to_70() {
    let sizes: Vec<usize> = (1..=70).collect();
    let leaves = |size: usize| -> Vec<Vec<u8>> {
        (0..size).map(|i| (0..i % 41).map(|k| (i * 7 + k * 31) as u8).collect()).collect()
    };
    let input: String = sizes
        .iter()
        .map(|size| {
            let hex: Vec<String> = leaves(*size).iter().map(hex::encode).collect();
            serde_json::json!({ "leaves": hex }).to_string() + "\n"
        })
        .collect();
    let answers = oracle(&[], &input);
    let mut compared = 0;
    for (size, answer) in sizes.iter().zip(answers.lines()) {
        let answer: serde_json::Value = serde_json::from_str(answer).unwrap();
        let hashes: Vec<Hash> = leaves(*size).iter().map(|l| leaf_hash(l)).collect();
        let mut frontier = Frontier::new();
        hashes.iter().for_each(|h| frontier.append(*h));
        assert_eq!(answer["root"], hex::encode(root(&hashes)), "size {size}");
        assert_eq!(frontier.root(), root(&hashes));
        for (index, path) in answer["inclusion"].as_array().unwrap().iter().enumerate() {
            let theirs: Vec<String> =
                path.as_array().unwrap().iter().map(|h| h.as_str().unwrap().to_owned()).collect();
            let ours = inclusion_proof(&hashes, index).unwrap();
            assert_eq!(theirs, ours.iter().map(hex::encode).collect::<Vec<_>>(), "size {size}, leaf {index}");
            assert!(verify_inclusion(&hashes[index], index as u64, *size as u64, &ours, &root(&hashes)));
            compared += 1;
        }
    }
    assert_eq!(compared, 70 * 71 / 2);
}
