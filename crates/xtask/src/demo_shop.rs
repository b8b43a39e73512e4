//! The demo shop: one month of an invented shop that builds geothermal well-head piping, as import files.
//!
//! Everything follows from one seed in integer arithmetic, so the files are the same on every machine. Routine work
//! is simulated shift by shift; the stories of the walk-through are planted at fixed joints between it.

mod book;
mod catalogue;
mod files;
mod joint;
mod quantity;
mod random;
mod routine;
mod stage;
mod stories;
mod time;

#[cfg(test)]
mod checks;
#[cfg(test)]
mod custody;

use std::fs;
use std::path::PathBuf;

use anyhow::{Context as _, Result, bail};

/// The shop's zone. Its clocks go back on 2026-04-05, 03:00 to 02:00 (IANA time zone database).
pub(crate) const ZONE: &str = "Pacific/Auckland";

const SEED: u64 = 0x5EED_0426;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/demo-shop")
}

/// All files of the demo shop, by name, in the order in which they are listed.
fn generate() -> Result<Vec<(&'static str, Vec<u8>)>> {
    let mut random = random::Random::new(SEED);
    let mut book = book::Book::new(joint::all(&mut random)?);
    let stories = stories::plant(&mut book)?;
    routine::work_the_month(&mut book, &mut random, &stories.busy)?;
    book.close(&mut random)?;
    files::all(&book, &stories)
}

/// Writes the files; says what was written.
pub(crate) fn write() -> Result<String> {
    let folder = folder();
    fs::create_dir_all(&folder).with_context(|| format!("{} was not created", folder.display()))?;
    let files = generate()?;
    for (name, bytes) in &files {
        let path = folder.join(name);
        fs::write(&path, bytes).with_context(|| format!("{} was not written", path.display()))?;
    }
    Ok(format!("{} files written", files.len()))
}

/// Compares the files with what the generator gives; says that they are the same, or names those that differ.
pub(crate) fn check() -> Result<String> {
    let folder = folder();
    let files = generate()?;
    let different: Vec<&str> = files
        .iter()
        .filter(|(name, bytes)| fs::read(folder.join(name)).ok().as_ref() != Some(bytes))
        .map(|(name, _)| *name)
        .collect();
    if !different.is_empty() {
        bail!(
            "the demo shop differs from its generator in {}; run `cargo xtask demo-shop` and commit the result",
            different.join(", ")
        );
    }
    Ok(format!("{} files are as generated", files.len()))
}
