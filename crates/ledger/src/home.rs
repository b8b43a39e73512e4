//! What a station keeps outside its book: its key, and the high-water mark of what it has written.
//!
//! Both live under one folder of the machine, never in the book and never in its backup. A copy of the book
//! alone can be read and checked anywhere, and written nowhere: copying a key is the only way to make two
//! histories under one name.

use crate::error::{Error, Result};
use record::id::{EntryId, StationId};
use record::station_key::StationKey;
use sha2::{Digest as _, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::{Read, Seek as _, SeekFrom, Write as _};
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

/// Bytes of a slot: what disks write in one piece.
const SLOT: usize = 512;

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
        let doing = format!("writing the high-water mark {}", this.mark_path().display());
        let mut bytes = this.slot(Mark::Nothing);
        bytes.extend_from_within(..);
        private_file(&this.mark_path())
            .and_then(|mut f| f.write_all(&bytes).and_then(|()| f.sync_all()))
            .map_err(Error::io(doing))?;
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
        let path = self.mark_path();
        let missing = |why: String| {
            Error::Damaged(format!(
                "the high-water mark {} {why}, so nobody can tell whether the end of this book was cut off",
                path.display()
            ))
        };
        let mut bytes = Vec::new();
        File::open(&path)
            .and_then(|f| f.take(2 * SLOT as u64).read_to_end(&mut bytes))
            .map_err(|e| missing(format!("cannot be read ({e})")))?;
        self.newest(&bytes)
            .map(|(mark, _)| mark)
            .ok_or_else(|| missing("is not a mark of this station".into()))
    }

    /// Opens the mark for writing, before anything is committed: a mark that cannot be moved is found out then.
    ///
    /// # Errors
    /// When it cannot be opened for writing.
    pub(crate) fn open_mark(&self) -> Result<File> {
        let path = self.mark_path();
        OpenOptions::new()
            .read(true)
            .write(true)
            .open(&path)
            .map_err(Error::io(format!("opening the high-water mark {}", path.display())))
    }

    /// Moves the mark forward, durably; a mark that is further on already stays.
    ///
    /// The file has two slots of one disk sector each, written in turn and in place: one sync moves the mark, and a write
    /// that a power cut tears leaves the other slot, which is one command older, as if the machine had stopped between
    /// the commit and the mark.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn advance(&self, mark: Mark) -> Result<()> {
        self.advance_in(self.open_mark()?, mark)
    }

    /// As [`StationHome::advance`], in the opened file.
    pub(crate) fn advance_in(&self, mut file: File, mark: Mark) -> Result<()> {
        let path = self.mark_path();
        let doing = || format!("writing the high-water mark {}", path.display());
        // Two processes may come from two commits in the other order; the lock and the comparison keep the later.
        file.lock().map_err(Error::io(doing()))?;
        let mut bytes = Vec::new();
        Read::by_ref(&mut file).take(2 * SLOT as u64).read_to_end(&mut bytes).map_err(Error::io(doing()))?;
        let Some((current, slot)) = self.newest(&bytes) else {
            return Err(Error::Damaged(format!(
                "{} is not a mark of station {}",
                path.display(),
                self.station
            )));
        };
        if current.size() < mark.size() {
            let other = 1 - slot;
            file.seek(SeekFrom::Start((other * SLOT) as u64))
                .and_then(|_| file.write_all(&self.slot(mark)))
                .and_then(|()| file.sync_data())
                .map_err(Error::io(doing()))?;
        }
        Ok(())
    }

    fn mark_path(&self) -> PathBuf {
        self.dir.join("mark")
    }

    /// One slot's bytes: four lines and their hash, filled up with line ends.
    fn slot(&self, mark: Mark) -> Vec<u8> {
        let at = match mark {
            Mark::Nothing => "nothing\n-".to_owned(),
            Mark::At { seq, id } => format!("{seq}\n{id}"),
        };
        let text = format!("{MARK_FORMAT}\n{}\n{at}\n", self.station);
        let mut bytes = format!("{text}{}\n", hex::encode(Sha256::digest(&text))).into_bytes();
        bytes.resize(SLOT, b'\n');
        bytes
    }

    /// The slot that is further on, and which one it is; a torn one does not count.
    fn newest(&self, bytes: &[u8]) -> Option<(Mark, usize)> {
        let slots = bytes.chunks(SLOT).enumerate().filter_map(|(n, slot)| Some((self.read_slot(slot)?, n)));
        slots.max_by_key(|(mark, _)| mark.size())
    }

    fn read_slot(&self, slot: &[u8]) -> Option<Mark> {
        let text = std::str::from_utf8(slot).ok()?.trim_end_matches('\n');
        let (content, hash) = text.rsplit_once('\n')?;
        if hash != hex::encode(Sha256::digest(format!("{content}\n"))) {
            return None;
        }
        let mut lines = content.lines();
        if lines.next()? != MARK_FORMAT || lines.next()? != self.station.to_string() {
            return None;
        }
        match (lines.next()?, lines.next()?, lines.next()) {
            ("nothing", "-", None) => Some(Mark::Nothing),
            (seq, id, None) => Some(Mark::At { seq: seq.parse().ok()?, id: id.parse().ok()? }),
            _ => None,
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> (tempfile::TempDir, StationHome) {
        let folder = tempfile::tempdir().unwrap();
        let home = StationHome::create(folder.path(), &StationKey::from_seed([3; 32])).unwrap();
        (folder, home)
    }

    fn at(seq: u64) -> Mark {
        Mark::At { seq, id: EntryId([seq as u8; 32]) }
    }

    #[test]
    fn a_mark_only_moves_forward() {
        let (_folder, home) = made();
        assert_eq!(home.mark().unwrap(), Mark::Nothing);
        for (moved, expected) in [(0, 0), (1, 1), (5, 5), (4, 5), (6, 6)] {
            home.advance(at(moved)).unwrap();
            assert_eq!(home.mark().unwrap(), at(expected));
        }
    }

    #[test]
    fn a_torn_write_leaves_the_mark_before_it() {
        let (_folder, home) = made();
        home.advance(at(1)).unwrap();
        home.advance(at(2)).unwrap();
        let before = fs::read(home.mark_path()).unwrap();
        home.advance(at(3)).unwrap();
        let after = fs::read(home.mark_path()).unwrap();
        let slot =
            (0..2).find(|n| before[n * SLOT..(n + 1) * SLOT] != after[n * SLOT..(n + 1) * SLOT]).unwrap();
        for torn_at in 0..SLOT {
            let mut torn = before.clone();
            torn[slot * SLOT..slot * SLOT + torn_at]
                .copy_from_slice(&after[slot * SLOT..slot * SLOT + torn_at]);
            fs::write(home.mark_path(), &torn).unwrap();
            let mark = home.mark().unwrap();
            assert!(mark == at(2) || mark == at(3), "torn at {torn_at}: {mark:?}");
        }
    }

    #[test]
    fn a_missing_or_foreign_mark_is_damage() {
        let (_folder, home) = made();
        for bytes in [&b""[..], b"rodbook-mark/1\n", &[0; 1024]] {
            fs::write(home.mark_path(), bytes).unwrap();
            assert!(matches!(home.mark(), Err(Error::Damaged(_))));
            assert!(home.advance(at(9)).is_err());
        }
        fs::remove_file(home.mark_path()).unwrap();
        assert!(matches!(home.mark(), Err(Error::Damaged(_))));
    }
}
