//! What a station keeps outside its book: its key, and the high-water mark of what it has written.
//!
//! Both live under one folder of the machine, never in the book and never in its backup. A copy of the book
//! alone can be read and checked anywhere, and written nowhere: copying a key is the only way to make two
//! histories under one name.

use crate::error::{Error, Result};
use record::id::{EntryId, StationId};
use record::station_key::StationKey;
use std::fs::{self, File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

/// The folder of one station under the machine's rodbook folder.
#[derive(Clone, Debug)]
pub struct StationHome {
    dir: PathBuf,
    station: StationId,
}

/// How far a station is known to have written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// The station was made, and nothing is known to be written yet.
    Nothing,
    /// Up to this entry.
    At {
        /// Sequence number of the last entry.
        seq: u64,
        /// Its id.
        id: EntryId,
    },
}

impl Mark {
    /// Entries covered.
    fn size(self) -> u64 {
        match self {
            Mark::Nothing => 0,
            Mark::At { seq, .. } => seq.saturating_add(1),
        }
    }
}

const MARK_FORMAT: &str = "rodbook-mark/1";

impl StationHome {
    /// The place of a station's folder; nothing is read yet.
    pub fn of(home: &Path, station: StationId) -> Self {
        Self { dir: home.join("stations").join(station.to_string()), station }
    }

    /// Where it is.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Makes the folder of a new station, with its key and a mark that says that nothing is written.
    ///
    /// # Errors
    /// When the folder cannot be made, or is there already.
    pub fn create(home: &Path, key: &StationKey) -> Result<Self> {
        let this = Self::of(home, StationId(key.station()));
        make_private_dir(&this.dir)?;
        let doing = format!("writing the station key into {}", this.dir.display());
        let mut file = private_file(&this.dir.join("key")).map_err(Error::io(doing.clone()))?;
        file.write_all(format!("{}\n", hex::encode(key.seed().as_slice())).as_bytes())
            .and_then(|()| file.sync_all())
            .map_err(Error::io(doing))?;
        this.write_mark(Mark::Nothing)?;
        for dir in [this.dir.as_path(), &home.join("stations"), home] {
            sync_dir(dir)?;
        }
        Ok(this)
    }

    /// Removes the folder of a station whose book was not made after all.
    pub fn forget(&self) {
        // Best effort: a key without a book harms nobody.
        let _ = fs::remove_dir_all(&self.dir);
    }

    /// The station's key; none where this machine has not got it.
    ///
    /// # Errors
    /// When there is a key file that cannot be read or is another station's.
    pub fn key(&self) -> Result<Option<StationKey>> {
        let path = self.dir.join("key");
        let mut text = String::new();
        match File::open(&path) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(Error::io(format!("reading {}", path.display()))(e)),
            Ok(file) => file
                .take(200)
                .read_to_string(&mut text)
                .map_err(Error::io(format!("reading {}", path.display())))?,
        };
        let mut seed = [0; 32];
        let key = hex::decode_to_slice(text.trim_end(), &mut seed).ok().map(|()| StationKey::from_seed(seed));
        match key {
            Some(key) if StationId(key.station()) == self.station => Ok(Some(key)),
            Some(_) | None => Err(Error::Damaged(format!(
                "the key file {} is not the key of station {}",
                path.display(),
                self.station
            ))),
        }
    }

    /// The high-water mark.
    ///
    /// # Errors
    /// When it is missing or unreadable: then nobody can tell whether the end of the book was cut off.
    pub fn mark(&self) -> Result<Mark> {
        let path = self.dir.join("mark");
        let missing = |why: String| {
            Error::Damaged(format!(
                "the high-water mark {} {why}, so nobody can tell whether the end of this book was cut off",
                path.display()
            ))
        };
        let mut text = String::new();
        File::open(&path)
            .and_then(|f| f.take(400).read_to_string(&mut text))
            .map_err(|e| missing(format!("cannot be read ({e})")))?;
        parse_mark(&text, self.station).ok_or_else(|| missing("is not a mark of this station".into()))
    }

    /// Moves the mark forward, durably; a mark that is further on already stays.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn advance(&self, mark: Mark) -> Result<()> {
        // Two processes may come from two commits in the other order; the lock and the comparison keep the later.
        let lock_path = self.dir.join("lock");
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&lock_path)
            .and_then(|f| f.lock().map(|()| f))
            .map_err(Error::io(format!("locking {}", lock_path.display())))?;
        if self.mark()?.size() < mark.size() {
            self.write_mark(mark)?;
        }
        drop(lock);
        Ok(())
    }

    fn write_mark(&self, mark: Mark) -> Result<()> {
        let text = match mark {
            Mark::Nothing => format!("{MARK_FORMAT}\n{}\nnothing\n", self.station),
            Mark::At { seq, id } => format!("{MARK_FORMAT}\n{}\n{seq}\n{id}\n", self.station),
        };
        let path = self.dir.join("mark");
        replace_durably(&path, text.as_bytes())
            .map_err(Error::io(format!("writing the high-water mark {}", path.display())))
    }
}

fn parse_mark(text: &str, station: StationId) -> Option<Mark> {
    let mut lines = text.lines();
    if lines.next()? != MARK_FORMAT || lines.next()? != station.to_string() {
        return None;
    }
    match (lines.next()?, lines.next(), lines.next()) {
        ("nothing", None, None) => Some(Mark::Nothing),
        (seq, Some(id), None) => Some(Mark::At { seq: seq.parse().ok()?, id: id.parse().ok()? }),
        _ => None,
    }
}

/// Writes a file so that after a crash there is the old content or the new, never a piece of either.
///
/// # Errors
/// What the system says.
pub(crate) fn replace_durably(path: &Path, content: &[u8]) -> std::io::Result<()> {
    let mut temporary = path.as_os_str().to_owned();
    temporary.push(".new");
    let temporary = PathBuf::from(temporary);
    let mut file = private_options().truncate(true).open(&temporary)?;
    file.write_all(content)?;
    file.sync_data()?;
    fs::rename(&temporary, path)?;
    match path.parent() {
        Some(dir) => File::open(dir)?.sync_all(),
        None => Ok(()),
    }
}

fn private_options() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.write(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

fn private_file(path: &Path) -> std::io::Result<File> {
    private_options().create_new(true).open(path)
}

fn make_private_dir(dir: &Path) -> Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(dir).map_err(Error::io(format!("making the folder {}", dir.display())))
}

/// Makes a new name in a folder durable.
pub(crate) fn sync_dir(dir: &Path) -> Result<()> {
    File::open(dir)
        .and_then(|d| d.sync_all())
        .map_err(Error::io(format!("syncing the folder {}", dir.display())))
}
