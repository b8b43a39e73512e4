//! The files themselves: found, read whole, and hashed.
//!
//! The bytes that are hashed are the bytes that are read as rows: the file is not opened a second time.

use super::columns::{LAYOUTS, Layout, file_names};
use crate::error::{Error, Result};
use sha2::{Digest as _, Sha256};
use std::path::{Path, PathBuf};

/// Longest file that is read, in bytes.
const MOST_BYTES: u64 = 2 << 30;

/// A file to be imported.
#[derive(Debug)]
pub(super) struct Source {
    /// Place in the order of files.
    pub(super) file: usize,
    /// Its name and columns.
    pub(super) layout: Layout,
    /// All its bytes.
    pub(super) bytes: Vec<u8>,
    /// SHA-256 of its bytes, in hexadecimal.
    pub(super) sha256: String,
}

/// The files of a folder, or the one file named, in the order of [`LAYOUTS`]; warnings about what was left alone.
pub(super) fn read(place: &Path) -> Result<(Vec<Source>, Vec<String>)> {
    let (found, warnings) = find(place)?;
    let sources = found
        .into_iter()
        .map(|(file, layout, path)| {
            let bytes = read_file(&path)?;
            let sha256 = hex::encode(Sha256::digest(&bytes));
            Ok(Source { file, layout, bytes, sha256 })
        })
        .collect::<Result<_>>()?;
    Ok((sources, warnings))
}

type Found = Vec<(usize, Layout, PathBuf)>;

fn find(place: &Path) -> Result<(Found, Vec<String>)> {
    let shown = place.display();
    let nothing = |message: String| Error::NotUnderstood {
        message: format!("nothing was imported: {message}"),
        next: format!("name a folder that holds one or more of: {}", file_names()),
    };
    let meta = match std::fs::metadata(place) {
        Ok(meta) => meta,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
            return Err(nothing(format!("there is no folder or file {shown}")));
        }
        Err(e) => return Err(Error::io(format!("looking at {shown}"))(e)),
    };
    if !meta.is_dir() {
        let name = place.file_name().and_then(|n| n.to_str()).unwrap_or_default();
        return match LAYOUTS.iter().enumerate().find(|(_, l)| l.file == name) {
            Some((file, layout)) => Ok((vec![(file, *layout, place.to_owned())], Vec::new())),
            None => Err(nothing(format!("{shown} has not the name of an import file"))),
        };
    }
    let mut found = Vec::new();
    for (file, layout) in LAYOUTS.iter().enumerate() {
        let path = place.join(layout.file);
        match std::fs::metadata(&path) {
            Ok(_) => found.push((file, *layout, path)),
            // A link to nowhere is a mistake, not an absent file.
            Err(e)
                if e.kind() == std::io::ErrorKind::NotFound && std::fs::symlink_metadata(&path).is_err() => {}
            Err(e) => return Err(Error::io(format!("looking at {}", path.display()))(e)),
        }
    }
    let mut others = Vec::new();
    let reading = || Error::io(format!("looking into the folder {shown}"));
    for entry in std::fs::read_dir(place).map_err(reading())? {
        let name = entry.map_err(reading())?.file_name().to_string_lossy().into_owned();
        if name.to_ascii_lowercase().ends_with(".csv") && !LAYOUTS.iter().any(|l| l.file == name) {
            others.push(name);
        }
    }
    others.sort();
    if found.is_empty() {
        let seen = if others.is_empty() { String::new() } else { format!(" (it has {})", others.join(", ")) };
        return Err(nothing(format!("{shown} holds none of the import files{seen}")));
    }
    let mut warnings = Vec::new();
    if !others.is_empty() {
        warnings.push(format!(
            "not read, because it is not the name of an import file: {}; the names are {}",
            others.join(", "),
            file_names()
        ));
    }
    Ok((found, warnings))
}

fn read_file(path: &Path) -> Result<Vec<u8>> {
    use std::io::Read as _;
    let doing = || format!("reading {}", path.display());
    let refuse = |message: String| Error::NotUnderstood {
        message: format!("nothing was imported: {} {message}", path.display()),
        next: "name a folder of plain CSV files".into(),
    };
    let file = std::fs::File::open(path).map_err(Error::io(doing()))?;
    let meta = file.metadata().map_err(Error::io(doing()))?;
    if !meta.is_file() {
        return Err(refuse("is not a file".into()));
    }
    let mut bytes = Vec::with_capacity(usize::try_from(meta.len().min(MOST_BYTES)).unwrap_or(0));
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(Error::io(doing()))?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(refuse("is larger than 2 GiB; split it over several imports".into()));
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_a_file_a_link_and_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let error = read(dir.path()).unwrap_err();
        assert!(error.to_string().contains("holds none of the import files"), "{error}");
        std::fs::write(dir.path().join("Issues.csv"), "slip\n").unwrap();
        let error = read(dir.path()).unwrap_err();
        assert!(error.to_string().contains("Issues.csv"), "{error}");
        std::fs::write(dir.path().join("wps.csv"), "abc").unwrap();
        #[cfg(unix)]
        std::os::unix::fs::symlink(dir.path().join("wps.csv"), dir.path().join("people.csv")).unwrap();
        #[cfg(not(unix))]
        std::fs::write(dir.path().join("people.csv"), "abc").unwrap();
        let (sources, warnings) = read(dir.path()).unwrap();
        assert_eq!(sources.iter().map(|s| s.layout.file).collect::<Vec<_>>(), ["people.csv", "wps.csv"]);
        // FIPS 180-4's example message "abc".
        assert_eq!(sources[0].sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert!(warnings[0].contains("Issues.csv") && warnings[0].contains("issues.csv"), "{}", warnings[0]);
        let (one, _) = read(&dir.path().join("wps.csv")).unwrap();
        assert_eq!(one.len(), 1);
        assert!(read(&dir.path().join("Issues.csv")).is_err());
        assert!(read(&dir.path().join("nowhere")).is_err());
        std::fs::create_dir(dir.path().join("welds.csv")).unwrap();
        assert!(read(dir.path()).unwrap_err().to_string().contains("is not a file"));
    }
}
