//! Man pages, one for the program and one for each verb. They are for packages, and not committed.

use super::commands;
use anyhow::{Context as _, Result};
use std::fs;
use std::path::Path;

/// Writes them all into a folder.
pub(crate) fn write(folder: &Path) -> Result<String> {
    fs::create_dir_all(folder).with_context(|| format!("making the folder {}", folder.display()))?;
    clap_mangen::generate_to(commands::tree(), folder)?;
    let pages = fs::read_dir(folder)?.count();
    Ok(format!("{pages} man pages are in {}", folder.display()))
}
