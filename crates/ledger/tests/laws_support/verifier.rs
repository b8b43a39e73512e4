//! docs/verify.py, which checks a record without any part of this program.

use data_encoding::BASE64;
use serde_json::{Value, json};
use std::ffi::OsStr;
use std::io::{BufRead as _, BufReader, BufWriter, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// What it said of one record.
pub(crate) struct Verdict {
    pub(crate) exit: i64,
    pub(crate) said: String,
}

impl Verdict {
    /// The entry that it names.
    pub(crate) fn entry(&self) -> Option<u64> {
        let (_, rest) = self.said.split_once(" entry ")?;
        rest.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok()
    }
}

/// The Python of the tests.
fn python(script: &str) -> Command {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let made = root.join("target/oracles/bin/python");
    let python = std::env::var_os("RODBOOK_TEST_PYTHON")
        .unwrap_or_else(|| if made.exists() { made.into() } else { "python3".into() });
    let needs = Command::new(&python).args(["-c", "import cryptography"]).output();
    assert!(
        needs.as_ref().is_ok_and(|output| output.status.success()),
        "the Python that checks the record cannot be used: {python:?} gives {needs:?}. Make one with `cargo xtask venv` \
         and name it in RODBOOK_TEST_PYTHON, or run `cargo xtask test`"
    );
    let mut command = Command::new(python);
    command.arg(root.join(script));
    command
}

/// Runs it once, as people do.
pub(crate) fn run(arguments: &[&OsStr]) -> Verdict {
    let output = python("docs/verify.py").args(arguments).output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    Verdict { exit: output.status.code().unwrap().into(), said: String::from_utf8_lossy(&said).into_owned() }
}

/// One process that checks many records.
pub(crate) struct Verifier(Child);

impl Verifier {
    pub(crate) fn start() -> Self {
        let mut command = python("tests/oracles/verify_many.py");
        Self(command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap())
    }

    /// The verdict on each record with its checkpoints, in their order.
    pub(crate) fn verdicts(mut self, records: impl Iterator<Item = (Vec<u8>, String)>) -> Vec<Verdict> {
        let answers = BufReader::new(self.0.stdout.take().unwrap());
        // Read while writing, or both sides wait for each other.
        let reading = std::thread::spawn(move || {
            answers
                .lines()
                .map(|line| {
                    let answer: Value = serde_json::from_str(&line.unwrap()).unwrap();
                    Verdict {
                        exit: answer["exit"].as_i64().unwrap(),
                        said: answer["said"].as_str().unwrap().to_owned(),
                    }
                })
                .collect()
        });
        let mut asked = BufWriter::new(self.0.stdin.take().unwrap());
        for (record, notes) in records {
            let line = json!({ "record": BASE64.encode(&record), "notes": BASE64.encode(notes.as_bytes()) });
            writeln!(asked, "{line}").unwrap();
        }
        drop(asked);
        let verdicts = reading.join().unwrap();
        assert!(self.0.wait().unwrap().success());
        verdicts
    }
}
