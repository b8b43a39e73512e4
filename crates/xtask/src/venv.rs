//! The Python environment with the reference libraries that tests compare with.

use anyhow::{Context as _, Result, bail};
use std::path::PathBuf;
use std::process::Command;

/// The workspace's root folder.
pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Makes the environment if it is not there or its requirements have changed; returns its interpreter.
pub(crate) fn make() -> Result<PathBuf> {
    let root = root().canonicalize()?;
    let requirements = root.join("tests/oracles/requirements.txt");
    let wanted = std::fs::read_to_string(&requirements)
        .with_context(|| format!("reading {}", requirements.display()))?;
    let folder = root.join("target/oracles");
    let python = folder.join("bin/python");
    let stamp = folder.join("requirements.installed");
    if std::fs::read_to_string(&stamp).is_ok_and(|installed| installed == wanted) && python.exists() {
        return Ok(python);
    }
    std::fs::create_dir_all(&folder)?;
    run(Command::new("python3").args(["-m", "venv", "--clear"]).arg(&folder)).context(
        "the tests compare with Python libraries: install Python 3.11 or later with its venv module",
    )?;
    run(Command::new(&python).args(["-m", "pip", "install", "--quiet", "--requirement"]).arg(&requirements))?;
    std::fs::write(&stamp, wanted)?;
    Ok(python)
}

/// Runs a command and fails if it fails.
pub(crate) fn run(command: &mut Command) -> Result<()> {
    let status = command.status().with_context(|| format!("starting {command:?}"))?;
    if !status.success() {
        bail!("{command:?} ended with {status}");
    }
    Ok(())
}
