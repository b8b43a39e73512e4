//! Two invented shops as import files: the demo shop, a quarter of building geothermal well-head piping in which things
//! go wrong, and the quiet shop, three weeks in which nothing does.
//!
//! Everything follows from one seed in integer arithmetic, so the files are the same on every machine. Routine work
//! is simulated shift by shift; the stories are planted at fixed joints between it. The findings that the files show are
//! then computed from the files alone, by a second implementation of the definitions, and must be those planted.

mod book;
mod catalogue;
mod custody;
mod files;
mod findings;
mod joint;
mod lots;
mod masses;
mod mishaps;
mod planted;
mod quantity;
mod quiet;
mod random;
mod routine;
mod stage;
mod stories;
mod time;

#[cfg(test)]
mod checks;

use std::fs;
use std::path::PathBuf;

use anyhow::{Context as _, Result, bail};
use files::Files;

/// The shop's zone. Its clocks go back on 2026-04-05, 03:00 to 02:00 (IANA time zone database).
pub(crate) const ZONE: &str = "Pacific/Auckland";

const SEED: u64 = 0x5EED_0426;

/// Number of the first slip of the quarter: what went before is of no concern here.
const FIRST_SLIP: (&str, usize) = ("26-", 314);

const DEMO: &str = "demo-shop";
const QUIET: &str = "quiet-shop";

fn folder(shop: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures").join(shop)
}

/// All files of the demo shop, by name, in the order in which they are listed.
fn generate() -> Result<Files> {
    let mut random = random::Random::new(SEED);
    let mut book = book::Book::new(&catalogue::DEMO, FIRST_SLIP, joint::all(&mut random));
    let stories = stories::plant(&mut book)?;
    routine::work_the_quarter(&mut book, &mut random, &stories.busy)?;
    book.close(&mut random)?;
    let mut files = files::imports(&book)?;
    let planted = planted::lines(&book, &stories.plants, &findings::all(&files)?)?;
    files.push(("planted.csv", files::planted(&planted)?));
    files.push(("STORIES.md", files::told(&book, &stories, planted.len())?));
    Ok(files)
}

/// All files of the quiet shop. It has no findings, with its statuses and without.
fn generate_quiet() -> Result<Files> {
    let book = quiet::shop(&mut random::Random::new(SEED))?;
    let mut files = files::imports(&book)?;
    planted::lines(&book, &[], &findings::all(&files)?)?;
    files.push(("statuses.csv", files::statuses(&quiet::STATUSES)?));
    planted::lines(&book, &[], &findings::all(&files)?)?;
    Ok(files)
}

fn shops() -> Result<[(&'static str, Files); 2]> {
    Ok([(DEMO, generate()?), (QUIET, generate_quiet()?)])
}

/// Writes the files of both shops; says what was written.
pub(crate) fn write() -> Result<String> {
    let mut written = 0;
    for (shop, files) in shops()? {
        let folder = folder(shop);
        fs::create_dir_all(&folder).with_context(|| format!("{} was not created", folder.display()))?;
        for (name, bytes) in &files {
            let path = folder.join(name);
            fs::write(&path, bytes).with_context(|| format!("{} was not written", path.display()))?;
        }
        written += files.len();
    }
    Ok(format!("{written} files written"))
}

/// Compares the files with what the generator gives; says that they are the same, or names those that differ.
pub(crate) fn check() -> Result<String> {
    let (mut same, mut different) = (0, Vec::new());
    for (shop, files) in shops()? {
        for (name, bytes) in &files {
            if fs::read(folder(shop).join(name)).ok().as_ref() == Some(bytes) {
                same += 1;
            } else {
                different.push(format!("{shop}/{name}"));
            }
        }
    }
    if !different.is_empty() {
        bail!(
            "the shops differ from their generator in {}; run `cargo xtask demo-shop` and commit the result",
            different.join(", ")
        );
    }
    Ok(format!("{same} files are as generated"))
}
