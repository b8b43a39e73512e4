//! Generators and checks for the rodbook workspace.

mod demo_shop;
mod reference;
mod test;
mod venv;

use std::ffi::OsString;
use std::io::Write as _;
use std::path::Path;

use anyhow::{Result, bail};

const USAGE: &str = "usage: cargo xtask TASK
  test                 everything that must pass
  venv                 only the Python environment of the tests
  demo-shop [--check]  write, or compare, the demo shop's files
  reference [--check]  write, or compare, the pages in docs/reference
  man FOLDER           write man pages
  rodbook WORDS        be rodbook, as built with these tasks";

fn main() -> Result<()> {
    // What rodbook is given need not be text.
    let mut words = std::env::args_os().skip(1);
    if words.next().is_some_and(|task| task == "rodbook") {
        let code = rodbook_cli::run(std::iter::once(OsString::from("rodbook")).chain(words));
        std::process::exit(i32::from(code));
    }
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["test"] => test::run()?,
        ["venv"] => format!("the tests' Python is {}", venv::make()?.display()),
        ["demo-shop"] => demo_shop::write()?,
        ["demo-shop", "--check"] => demo_shop::check()?,
        ["reference"] => reference::write()?,
        ["reference", "--check"] => reference::check()?,
        ["man", folder] => reference::man::write(Path::new(folder))?,
        [] => bail!("no task named; {USAGE}"),
        _ => bail!("\"{}\" is not understood; {USAGE}", words.join(" ")),
    };
    writeln!(std::io::stdout().lock(), "{done}")?;
    Ok(())
}
