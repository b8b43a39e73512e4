//! Everything that must pass: format, lints, tests with their outside references.

use crate::venv;
use anyhow::{Context as _, Result, bail};
use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Command, Stdio};

/// Runs it all. The last line is the sum of the test results.
pub(crate) fn run() -> Result<String> {
    let root = venv::root();
    let python = venv::make()?;
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let cargo = |words: &[&str]| {
        let mut command = Command::new(&cargo);
        command.args(words).current_dir(&root).env("RODBOOK_TEST_PYTHON", &python);
        command
    };
    venv::run(&mut cargo(&["fmt", "--all", "--check"]))?;
    venv::run(&mut cargo(&["clippy", "--workspace", "--all-targets", "--quiet", "--", "-D", "warnings"]))?;
    let mut tests = cargo(&["test", "--workspace", "--no-fail-fast"]);
    let mut child = tests.stdout(Stdio::piped()).spawn().context("starting cargo test")?;
    let (mut passed, mut failed) = (0_u64, 0_u64);
    if let Some(output) = child.stdout.take() {
        let mut stdout = std::io::stdout().lock();
        for line in BufReader::new(output).lines() {
            let line = line?;
            if let Some((p, f)) = result(&line) {
                passed += p;
                failed += f;
            }
            writeln!(stdout, "{line}")?;
        }
    }
    let status = child.wait()?;
    let sum = format!("{passed} passed, {failed} failed");
    if !status.success() || failed > 0 {
        bail!("tests failed: {sum}");
    }
    if passed == 0 {
        bail!("no test was run");
    }
    Ok(sum)
}

/// Numbers of a line like `test result: ok. 28 passed; 0 failed; …`.
fn result(line: &str) -> Option<(u64, u64)> {
    let rest = line.strip_prefix("test result: ")?;
    let number = |word: &str| {
        rest.split([' ', '.', ';']).collect::<Vec<_>>().windows(2).find_map(|pair| match pair {
            [n, w] if *w == word => n.parse().ok(),
            _ => None,
        })
    };
    Some((number("passed")?, number("failed")?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_are_read() {
        let line =
            "test result: ok. 28 passed; 1 failed; 0 ignored; 0 measured; 0 filtered out; finished in 0.04s";
        assert_eq!(result(line), Some((28, 1)));
        assert_eq!(result("test canonical::tests::table ... ok"), None);
    }
}
