//! Reference libraries from the Python package index (tests/oracles, pinned in requirements.txt there). `cargo xtask
//! venv` makes the interpreter and `cargo xtask test` names it.

#![allow(clippy::unwrap_used, clippy::panic, dead_code)]

use std::io::Write as _;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// What a script of tests/oracles prints, given its arguments and its standard input.
pub(crate) fn oracle(script: &str, arguments: &[&str], input: &str) -> String {
    let workspace = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..");
    let python = std::env::var_os("RODBOOK_TEST_PYTHON")
        .map_or_else(|| workspace.join("target/oracles/bin/python"), PathBuf::from);
    let mut child = Command::new(&python)
        .arg(workspace.join("tests/oracles").join(script))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("{}: {e}; make it with `cargo xtask venv`", python.display()));
    // From a thread: both pipes are smaller than what goes through them.
    let (mut stdin, input) = (child.stdin.take().unwrap(), input.to_owned());
    let writer = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().unwrap();
    let written = writer.join().unwrap();
    assert!(output.status.success(), "{script} failed; are the libraries installed? `cargo xtask venv`");
    written.unwrap();
    String::from_utf8(output.stdout).unwrap()
}
