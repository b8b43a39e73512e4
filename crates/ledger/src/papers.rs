//! The folder of papers beside a book: certificates as plain files, each under the SHA-256 of its bytes.
//!
//! The record has the hash, the folder has the paper. So the folder needs no trust: whoever has both can tell, with
//! this program or with any other that computes SHA-256, whether a paper is the one that was filed.

use crate::error::{Error, Result};
use crate::home::sync_dir;
use crate::tell;
use record::rules::certificate::{Given, paper};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// Digits of a hash.
const DIGITS: usize = 64;
/// Longest ending of a file name that is kept, in characters.
const LONGEST_ENDING: usize = 8;
/// Bytes read at a time.
const CHUNK: usize = 64 * 1024;

/// The folder of papers of a book.
#[derive(Clone, Debug)]
pub struct Papers {
    dir: PathBuf,
}

/// What became of a paper in the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PaperState {
    /// It is there, byte for byte as it was filed.
    Sound,
    /// There is a file of its name with other bytes; how that shows.
    Changed(String),
    /// The folder is there and the file is not.
    Missing,
    /// Nobody looked, and why.
    NotChecked(String),
}

impl PaperState {
    /// The word in every output; stable.
    pub fn word(&self) -> &'static str {
        match self {
            PaperState::Sound => "sound",
            PaperState::Changed(_) => "changed",
            PaperState::Missing => "missing",
            PaperState::NotChecked(_) => "not-checked",
        }
    }

    /// Whether something is wrong with it.
    pub fn is_bad(&self) -> bool {
        match self {
            PaperState::Changed(_) | PaperState::Missing => true,
            PaperState::Sound | PaperState::NotChecked(_) => false,
        }
    }
}

/// What is in a folder of papers.
#[derive(Clone, Debug, Default)]
pub(crate) struct Listing {
    /// Names of files by the hash that they are named for.
    papers: BTreeMap<String, Vec<String>>,
    /// Everything else.
    pub(crate) others: Vec<String>,
}

/// A folder that was looked into.
#[derive(Clone, Debug)]
pub(crate) enum Looked {
    /// It is there.
    Here(Listing),
    /// It is not there, or cannot be looked into; why.
    NotHere(String),
}

/// How a paper came into the folder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It was not there before.
    New,
    /// The same bytes were there already: they are kept once.
    WasThere,
    /// A file of its name had other bytes; it was put aside under another name.
    InPlaceOfChanged,
}

impl Papers {
    /// The folder of the papers of a book: the book's own name with `.papers` behind it.
    pub fn beside(book: &Path) -> Self {
        let mut dir = book.as_os_str().to_owned();
        dir.push(".papers");
        Self { dir: dir.into() }
    }

    /// Where it is.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Looks into the folder.
    pub(crate) fn look(&self) -> Looked {
        let listed = || -> std::io::Result<Listing> {
            let mut listing = Listing::default();
            for entry in fs::read_dir(&self.dir)? {
                let name = entry?.file_name();
                match name.to_str().and_then(|name| Some((hash_of_name(name)?.to_owned(), name))) {
                    Some((hash, name)) => listing.papers.entry(hash).or_default().push(name.to_owned()),
                    None => listing.others.push(name.to_string_lossy().into_owned()),
                }
            }
            listing.others.sort();
            listing.papers.values_mut().for_each(|names| names.sort());
            Ok(listing)
        };
        match listed() {
            Ok(listing) => Looked::Here(listing),
            Err(e) if e.kind() == ErrorKind::NotFound => {
                Looked::NotHere(format!("the folder {} is not here", self.dir.display()))
            }
            Err(e) => Looked::NotHere(format!("the folder {} cannot be read: {e}", self.dir.display())),
        }
    }

    /// What became of a paper. Reads the whole file.
    pub(crate) fn state(&self, looked: &Looked, sha256: &str, bytes: u64) -> PaperState {
        let listing = match looked {
            Looked::NotHere(why) => return PaperState::NotChecked(why.clone()),
            Looked::Here(listing) => listing,
        };
        let mut worst = PaperState::Missing;
        for name in listing.names(sha256) {
            let state = self.file_state(name, sha256, bytes);
            if state == PaperState::Sound {
                return state;
            }
            worst = state;
        }
        worst
    }

    /// Whether a file has the bytes that its name says.
    fn file_state(&self, name: &str, sha256: &str, bytes: u64) -> PaperState {
        let not_read =
            |e: std::io::Error| PaperState::NotChecked(format!("the file {name} cannot be read: {e}"));
        let path = self.dir.join(name);
        match fs::metadata(&path) {
            Ok(found) if !found.is_file() => return PaperState::Changed("it is not a file any more".into()),
            Ok(found) if found.len() != bytes => {
                return PaperState::Changed(format!("it has {} bytes, and {bytes} were filed", found.len()));
            }
            Ok(_) => {}
            // A symbolic link to nothing is nothing.
            Err(e) if e.kind() == ErrorKind::NotFound => return PaperState::Missing,
            Err(e) => return not_read(e),
        }
        match File::open(&path).and_then(|mut file| hash(&mut file)) {
            Ok(found) if found == sha256 => PaperState::Sound,
            Ok(_) => PaperState::Changed(format!("it has {bytes} bytes, as filed, and not the same ones")),
            Err(e) => not_read(e),
        }
    }

    /// Reads a paper to its end, and writes it under a passing name into the folder, synced. With `dry_run` it is
    /// only read.
    pub(crate) fn stage(&self, name: &str, from: &mut dyn Read, dry_run: bool) -> Result<Staged> {
        let reading = || format!("reading {name}");
        let mut staged =
            Staged { dir: self.dir.clone(), sha256: String::new(), bytes: 0, passing: None, made_dir: false };
        let mut to = if dry_run { None } else { Some(staged.open()?) };
        let mut hasher = Sha256::new();
        let mut chunk = vec![0; CHUNK];
        loop {
            let read = match from.read(&mut chunk) {
                Ok(0) => break,
                Ok(read) => read,
                Err(e) if e.kind() == ErrorKind::Interrupted => continue,
                Err(e) => return Err(Error::io(reading())(e)),
            };
            let piece = chunk.get(..read).unwrap_or_default();
            staged.bytes = staged.bytes.saturating_add(read as u64);
            paper(name, Given::File(staged.bytes))?;
            hasher.update(piece);
            if let Some(to) = &mut to {
                to.write_all(piece).map_err(Error::io(staged.writing()))?;
            }
        }
        paper(name, Given::File(staged.bytes))?;
        if let Some(to) = to {
            to.sync_all().map_err(Error::io(staged.writing()))?;
        }
        staged.sha256 = hex::encode(hasher.finalize());
        Ok(staged)
    }

    /// Copies every paper into another folder, durably; nothing that is there already is written over. None where
    /// there is no such folder. The copy is taken back unless it is kept.
    pub(crate) fn copy_to(&self, target: &Papers) -> Result<Option<Copying>> {
        if self.dir == target.dir {
            return Ok(None);
        }
        let listing = match self.look() {
            Looked::Here(listing) => listing,
            Looked::NotHere(_) if fs::symlink_metadata(&self.dir).is_err() => return Ok(None),
            Looked::NotHere(why) => {
                return Err(Error::Io {
                    doing: format!("copying the folder of papers {}", self.dir.display()),
                    source: std::io::Error::other(why),
                });
            }
        };
        let made_dir = make_dir(&target.dir)?;
        let mut copying = Copying {
            along: PapersCopied {
                folder: target.dir.clone(),
                files: 0,
                not_as_named: Vec::new(),
                left: listing.others,
            },
            made: Vec::new(),
            made_dir: made_dir.then(|| target.dir.clone()),
        };
        for (hash, name) in listing.papers.iter().flat_map(|(h, names)| names.iter().map(move |n| (h, n))) {
            let found = target.dir.join(name);
            let is = if fs::symlink_metadata(&found).is_ok() {
                File::open(&found).and_then(|mut file| self::hash(&mut file)).ok()
            } else {
                self.copy_one(name, target, &mut copying)?
            };
            match is {
                Some(is) if is == *hash => copying.along.files += 1,
                Some(_) => {
                    copying.along.files += 1;
                    copying.along.not_as_named.push(name.clone());
                }
                None => copying.along.left.push(name.clone()),
            }
        }
        sync_dir(&target.dir)?;
        if made_dir {
            sync_dir(parent(&target.dir))?;
        }
        copying.along.left.sort();
        Ok(Some(copying))
    }

    /// Copies one paper and says its hash; none where it cannot be read, which must not keep the others from being
    /// copied.
    fn copy_one(&self, name: &str, target: &Papers, copying: &mut Copying) -> Result<Option<String>> {
        let path = self.dir.join(name);
        if !fs::metadata(&path).is_ok_and(|found| found.is_file()) {
            return Ok(None);
        }
        let Ok(mut from) = File::open(&path) else {
            return Ok(None);
        };
        let writing = || format!("copying the paper {name} into {}", target.dir.display());
        let passing = target.dir.join(format!("{name}.new"));
        copying.made.push(passing.clone());
        let mut to = File::create(&passing).map_err(Error::io(writing()))?;
        let mut hasher = Sha256::new();
        let mut chunk = vec![0; CHUNK];
        loop {
            match from.read(&mut chunk) {
                Ok(0) => break,
                Ok(read) => {
                    let piece = chunk.get(..read).unwrap_or_default();
                    hasher.update(piece);
                    to.write_all(piece).map_err(Error::io(writing()))?;
                }
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(_) => {
                    let _ = fs::remove_file(&passing);
                    return Ok(None);
                }
            }
        }
        to.sync_all().map_err(Error::io(writing()))?;
        let named = target.dir.join(name);
        fs::rename(&passing, &named).map_err(Error::io(writing()))?;
        copying.made.push(named);
        Ok(Some(hex::encode(hasher.finalize())))
    }
}

impl Listing {
    fn names(&self, sha256: &str) -> &[String] {
        self.papers.get(sha256).map_or(&[], Vec::as_slice)
    }

    /// Files in the folder that none of these hashes names.
    pub(crate) fn strangers(&self, named: &dyn Fn(&str) -> bool) -> Vec<String> {
        let papers = self.papers.iter().filter(|(hash, _)| !named(hash)).flat_map(|(_, names)| names);
        let mut strangers: Vec<String> = papers.chain(&self.others).cloned().collect();
        strangers.sort();
        strangers
    }
}

/// A paper under a passing name; gone again unless it is put in its place.
#[derive(Debug)]
pub(crate) struct Staged {
    dir: PathBuf,
    pub(crate) sha256: String,
    pub(crate) bytes: u64,
    passing: Option<PathBuf>,
    made_dir: bool,
}

impl Staged {
    fn writing(&self) -> String {
        format!("writing into the folder of papers {}", self.dir.display())
    }

    /// Makes the folder, where it is not there, and a file of a passing name in it.
    fn open(&mut self) -> Result<File> {
        self.made_dir = make_dir(&self.dir)?;
        let mut random = [0; 8];
        tell::init::random(&mut random)?;
        let passing = self.dir.join(format!(".{}.new", hex::encode(random)));
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&passing)
            .map_err(Error::io(self.writing()))?;
        self.passing = Some(passing);
        Ok(file)
    }

    /// Name of the file that the paper gets, from the name it came with.
    pub(crate) fn name(&self, given: &str) -> String {
        format!("{}{}", self.sha256, ending(given))
    }

    /// Gives it its name, durably. A file with the same bytes stays as it is; one with other bytes is put aside.
    pub(crate) fn put(mut self, given: &str) -> Result<Kept> {
        let Some(passing) = self.passing.clone() else {
            return Ok(Kept::New);
        };
        let papers = Papers { dir: self.dir.clone() };
        let mut kept = Kept::New;
        if let Looked::Here(listing) = papers.look() {
            for name in listing.names(&self.sha256) {
                match papers.file_state(name, &self.sha256, self.bytes) {
                    PaperState::Sound => return Ok(Kept::WasThere),
                    PaperState::Changed(_) => {
                        put_aside(&self.dir, name).map_err(Error::io(self.writing()))?;
                        kept = Kept::InPlaceOfChanged;
                    }
                    PaperState::Missing | PaperState::NotChecked(_) => {}
                }
            }
        }
        let named = self.dir.join(self.name(given));
        fs::rename(&passing, &named).map_err(Error::io(self.writing()))?;
        self.passing = None;
        self.made_dir = false;
        sync_dir(&self.dir)?;
        // The folder may have been made by this command.
        sync_dir(parent(&self.dir))?;
        Ok(kept)
    }
}

impl Drop for Staged {
    fn drop(&mut self) {
        // Best effort: what is left over is listed among the files that no entry names.
        if let Some(passing) = &self.passing {
            let _ = fs::remove_file(passing);
        }
        if self.made_dir {
            let _ = fs::remove_dir(&self.dir);
        }
    }
}

/// What was copied of a folder of papers.
#[derive(Clone, Debug)]
pub struct PapersCopied {
    /// Where to.
    pub folder: PathBuf,
    /// How many papers are there now.
    pub files: u64,
    /// Those of them whose bytes are not what their name says.
    pub not_as_named: Vec<String>,
    /// What was not copied: it cannot be read, or is no paper.
    pub left: Vec<String>,
}

/// A copy that is taken back unless it is kept.
#[derive(Debug)]
pub(crate) struct Copying {
    along: PapersCopied,
    made: Vec<PathBuf>,
    made_dir: Option<PathBuf>,
}

impl Copying {
    /// Keeps it.
    pub(crate) fn keep(mut self) -> PapersCopied {
        self.made.clear();
        self.made_dir = None;
        self.along.clone()
    }
}

impl Drop for Copying {
    fn drop(&mut self) {
        for made in &self.made {
            let _ = fs::remove_file(made);
        }
        if let Some(dir) = &self.made_dir {
            let _ = fs::remove_dir(dir);
        }
    }
}

/// Opens a file that is to be filed, and says its name without folders.
///
/// # Errors
/// When it is not a plain file, empty, too large, or cannot be read.
pub fn open(path: &Path) -> Result<(String, File)> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    let doing = || format!("reading {}", path.display());
    // Opening a pipe would wait for somebody to write into it.
    let found = fs::metadata(path).map_err(Error::io(doing()))?;
    let given = if found.is_dir() {
        Given::Folder
    } else if found.is_file() {
        Given::File(found.len())
    } else {
        Given::Other
    };
    paper(&name, given)?;
    Ok((name, File::open(path).map_err(Error::io(doing()))?))
}

/// The hash that a file is named for: 64 small hexadecimal digits, then an ending or nothing.
fn hash_of_name(name: &str) -> Option<&str> {
    let (hash, ending) = name.split_at_checked(DIGITS)?;
    let digits = hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    (digits && (ending.is_empty() || self::ending(ending) == ending)).then_some(hash)
}

/// The ending of a file name with its dot, in small letters, where it is one that any system takes: so that a paper
/// opens with a double click.
fn ending(given: &str) -> String {
    match given.rsplit_once('.') {
        Some((_, ending))
            if (1..=LONGEST_ENDING).contains(&ending.len())
                && ending.bytes().all(|b| b.is_ascii_alphanumeric()) =>
        {
            format!(".{}", ending.to_ascii_lowercase())
        }
        Some(_) | None => String::new(),
    }
}

/// Moves a file out of the way of the paper that it is not.
fn put_aside(dir: &Path, name: &str) -> std::io::Result<()> {
    for n in 1..=99 {
        let aside = dir.join(format!("{name}.changed-{n}"));
        if fs::symlink_metadata(&aside).is_err() {
            return fs::rename(dir.join(name), aside);
        }
    }
    Err(std::io::Error::other(format!("99 changed files were put aside for {name} already")))
}

/// Makes a folder; false where it is there already.
fn make_dir(dir: &Path) -> Result<bool> {
    match fs::create_dir(dir) {
        Ok(()) => Ok(true),
        Err(e) if e.kind() == ErrorKind::AlreadyExists && dir.is_dir() => Ok(false),
        Err(e) => Err(Error::io(format!("making the folder of papers {}", dir.display()))(e)),
    }
}

fn parent(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        Some(_) | None => Path::new("."),
    }
}

/// SHA-256 of everything that is read, in hexadecimal.
fn hash(from: &mut dyn Read) -> std::io::Result<String> {
    let mut hasher = Sha256::new();
    let mut chunk = vec![0; CHUNK];
    loop {
        match from.read(&mut chunk) {
            Ok(0) => return Ok(hex::encode(hasher.finalize())),
            Ok(read) => hasher.update(chunk.get(..read).unwrap_or_default()),
            Err(e) if e.kind() == ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made() -> (tempfile::TempDir, Papers) {
        let folder = tempfile::tempdir().unwrap();
        let papers = Papers::beside(&folder.path().join("shop.rodbook"));
        (folder, papers)
    }

    fn names(papers: &Papers) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(papers.dir())
            .map(|d| d.map(|e| e.unwrap().file_name().into_string().unwrap()).collect())
            .unwrap_or_default();
        names.sort();
        names
    }

    fn filed(papers: &Papers, name: &str, bytes: &[u8]) -> (String, Kept) {
        let staged = papers.stage(name, &mut &bytes[..], false).unwrap();
        let sha256 = staged.sha256.clone();
        (sha256, staged.put(name).unwrap())
    }

    // SHA-256 of "abc": FIPS 180-2, appendix B.1.
    const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    #[test]
    fn a_paper_is_kept_once_under_its_hash() {
        let (_folder, papers) = made();
        assert_eq!(filed(&papers, "a.PDF", b"abc"), (ABC.into(), Kept::New));
        assert_eq!(filed(&papers, "b.jpg", b"abc").1, Kept::WasThere);
        assert_eq!(names(&papers), [format!("{ABC}.pdf")]);
        assert_eq!(fs::read(papers.dir().join(format!("{ABC}.pdf"))).unwrap(), b"abc");
        assert_eq!(papers.state(&papers.look(), ABC, 3), PaperState::Sound);
    }

    #[test]
    fn what_is_not_put_in_its_place_leaves_nothing() {
        let (folder, papers) = made();
        drop(papers.stage("a.pdf", &mut &b"abc"[..], false).unwrap());
        assert!(papers.stage("a.pdf", &mut &b""[..], false).is_err());
        let mut endless = std::io::repeat(7);
        let Error::Refused(refusals) = papers.stage("a.pdf", &mut endless, false).unwrap_err() else {
            panic!("not refused");
        };
        assert_eq!(refusals[0].code, "paper-too-large");
        let dry = papers.stage("a.pdf", &mut &b"abc"[..], true).unwrap();
        assert_eq!((dry.sha256.as_str(), dry.bytes), (ABC, 3));
        assert_eq!(dry.put("a.pdf").unwrap(), Kept::New);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "not even the folder");
    }

    #[test]
    fn changed_missing_and_not_here() {
        let (_folder, papers) = made();
        assert!(matches!(papers.state(&papers.look(), ABC, 3), PaperState::NotChecked(_)));
        filed(&papers, "a.pdf", b"abc");
        let file = papers.dir().join(format!("{ABC}.pdf"));
        for changed in [&b"abd"[..], b"abcd", b""] {
            fs::write(&file, changed).unwrap();
            assert!(matches!(papers.state(&papers.look(), ABC, 3), PaperState::Changed(_)), "{changed:?}");
        }
        fs::remove_file(&file).unwrap();
        assert_eq!(papers.state(&papers.look(), ABC, 3), PaperState::Missing);
        fs::create_dir(&file).unwrap();
        assert!(
            matches!(papers.state(&papers.look(), ABC, 3), PaperState::Changed(_)),
            "a folder of its name"
        );
    }

    #[test]
    fn a_changed_paper_is_put_aside_for_the_true_one() {
        let (_folder, papers) = made();
        filed(&papers, "a.pdf", b"abc");
        let file = papers.dir().join(format!("{ABC}.pdf"));
        for n in 1..=2 {
            fs::write(&file, b"abd").unwrap();
            assert_eq!(filed(&papers, "a.pdf", b"abc").1, Kept::InPlaceOfChanged);
            assert_eq!(fs::read(&file).unwrap(), b"abc");
            assert_eq!(names(&papers).len(), 1 + n);
        }
        let Looked::Here(listing) = papers.look() else { panic!("not here") };
        let strangers = listing.strangers(&|hash| hash == ABC);
        assert_eq!(strangers, [format!("{ABC}.pdf.changed-1"), format!("{ABC}.pdf.changed-2")]);
    }

    #[test]
    fn a_copy_writes_over_nothing_and_can_be_taken_back() {
        let (folder, papers) = made();
        let target = Papers::beside(&folder.path().join("copy.rodbook"));
        assert!(papers.copy_to(&target).unwrap().is_none(), "no folder, no copy");
        filed(&papers, "a.pdf", b"abc");
        filed(&papers, "b", b"abcd");
        fs::write(papers.dir().join("note.txt"), "mine").unwrap();
        drop(papers.copy_to(&target).unwrap().unwrap());
        assert!(!target.dir().exists(), "taken back");
        let copied = papers.copy_to(&target).unwrap().unwrap().keep();
        assert_eq!(
            (copied.files, copied.not_as_named.len(), copied.left),
            (2, 0, vec!["note.txt".to_owned()])
        );
        fs::write(target.dir().join(format!("{ABC}.pdf")), b"abd").unwrap();
        let again = papers.copy_to(&target).unwrap().unwrap();
        assert_eq!(again.along.not_as_named, [format!("{ABC}.pdf")]);
        drop(again);
        assert_eq!(names(&target).len(), 2, "what was there before stays");
        assert_eq!(fs::read(target.dir().join(format!("{ABC}.pdf"))).unwrap(), b"abd");
    }

    #[test]
    fn endings() {
        for (given, expected) in [
            ("a.pdf", ".pdf"),
            ("a.b.PDF", ".pdf"),
            ("a", ""),
            ("a.", ""),
            ("a.p/f", ""),
            ("a.p f", ""),
            ("a.dürr", ""),
            ("a.averylongone", ""),
            (".pdf", ".pdf"),
        ] {
            assert_eq!(ending(given), expected, "{given}");
        }
        assert_eq!(hash_of_name(ABC), Some(ABC));
        assert_eq!(hash_of_name(&format!("{ABC}.pdf")), Some(ABC));
        for no in [
            "",
            "abc",
            &ABC.to_uppercase(),
            &format!("{ABC}.PDF"),
            &format!("{ABC}.pdf.changed-1"),
            &format!("{ABC}x"),
        ] {
            assert_eq!(hash_of_name(no), None, "{no}");
        }
    }
}
