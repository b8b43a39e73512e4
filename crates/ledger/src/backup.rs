//! A safe copy, never made by copying the live file.

use crate::error::{Error, Result};
use crate::home;
use crate::papers::{Copying, Papers, PapersCopied};
use crate::{Ledger, verify};
use rusqlite::Connection;
use std::fs::File;
use std::path::{Path, PathBuf};

/// What there is to tell about a copy.
#[derive(Clone, Debug)]
pub struct Copied {
    /// Where it is.
    pub path: PathBuf,
    /// What checking it found.
    pub verified: verify::Report,
    /// The papers that went along, where there is a folder of them.
    pub papers: Option<PapersCopied>,
}

impl Ledger {
    /// Writes a copy of the book, checks it, and only then gives it its name. The copy has no key: it can be read and
    /// checked anywhere, and continued by `restore`.
    ///
    /// # Errors
    /// When a file of that name exists, the disk is full, or the copy does not check out.
    pub fn backup(&self, path: &Path, home_folder: &Path) -> Result<Copied> {
        if std::fs::symlink_metadata(path).is_ok() {
            return Err(Error::Exists(path.to_owned()));
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        std::fs::read_dir(folder)
            .map_err(Error::io(format!("looking into the folder {}", folder.display())))?;
        let mut passing = path.as_os_str().to_owned();
        passing.push(".new");
        let passing = PathBuf::from(passing);
        let result = (|| {
            let _ = std::fs::remove_file(&passing);
            let name = passing.to_str().ok_or_else(|| Error::BadPlace {
                path: path.to_owned(),
                why: "its name is not valid UTF-8".into(),
            })?;
            // A snapshot of one moment, without freed pages; SQLite does not sync it, so that is done here.
            self.conn.execute("VACUUM INTO ?1", [name])?;
            File::open(&passing).and_then(|f| f.sync_all()).map_err(Error::io(format!("syncing {name}")))?;
            let copy = Ledger::open(&passing, home_folder)?;
            let verified = copy.verify(verify::Extent::CopyOnly, &mut |_, _| {})?;
            if !verified.is_sound() {
                return Err(Error::Damaged(format!(
                    "the copy was not kept: checking it found that {}",
                    verified.problems.first().map_or(String::new(), |p| p.to_string())
                )));
            }
            drop(copy);
            // After the book: every paper that the copy names was in the folder before its entry was committed.
            let papers = self.papers().copy_to(&Papers::beside(path))?;
            if std::fs::symlink_metadata(path).is_ok() {
                return Err(Error::Exists(path.to_owned()));
            }
            std::fs::rename(&passing, path)
                .map_err(Error::io(format!("naming the copy {}", path.display())))?;
            home::sync_dir(folder)?;
            Ok(Copied { path: path.to_owned(), verified, papers: papers.map(Copying::keep) })
        })();
        for suffix in ["", "-wal", "-shm", "-journal"] {
            let mut leftover = passing.as_os_str().to_owned();
            leftover.push(suffix);
            let _ = std::fs::remove_file(leftover);
        }
        result
    }
}

/// Copies every page of one database into another.
pub(crate) fn copy_into(source: &Connection, target: &mut Connection) -> Result<()> {
    let backup = rusqlite::backup::Backup::new(source, target)?;
    backup.run_to_completion(1000, std::time::Duration::ZERO, None)?;
    Ok(())
}
