//! Generators and checks for the rodbook workspace.

mod demo_shop;
mod test;
mod venv;

use std::io::Write as _;

use anyhow::{Result, bail};

const USAGE: &str = "usage: cargo xtask TASK
  test                 everything that must pass
  venv                 only the Python environment of the tests
  demo-shop [--check]  write, or compare, the demo shop's files";

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["test"] => test::run()?,
        ["venv"] => format!("the tests' Python is {}", venv::make()?.display()),
        ["demo-shop"] => demo_shop::write()?,
        ["demo-shop", "--check"] => demo_shop::check()?,
        [] => bail!("no task named; {USAGE}"),
        _ => bail!("\"{}\" is not understood; {USAGE}", words.join(" ")),
    };
    writeln!(std::io::stdout().lock(), "{done}")?;
    Ok(())
}
