//! Opening and creating the file, with every setting and its reason.

use crate::error::{Error, Result};
use crate::schema;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a command waits for another process to finish writing before it says busy.
const BUSY_WAIT: Duration = Duration::from_secs(5);

/// Page cache in KiB; memory is taken only as pages are read.
const CACHE_KIB: i64 = 128 * 1024;

/// Bundled SQLite versions before this one could lose commits in WAL mode with several connections.
const OLDEST_SQLITE: i32 = 3_051_003;

/// What a connection may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Access {
    Read,
    Write,
    /// Make a new file.
    Create,
}

/// Opens a connection with all settings; the file's own identity is not checked yet when creating.
pub(crate) fn connect(path: &Path, access: Access) -> Result<Connection> {
    if rusqlite::version_number() < OLDEST_SQLITE {
        return Err(Error::BadPlace { path: path.to_owned(), why: "the SQLite library is too old".into() });
    }
    let path = real_place(path, access)?;
    let flags = match access {
        Access::Read => OpenFlags::SQLITE_OPEN_READ_ONLY,
        Access::Write => OpenFlags::SQLITE_OPEN_READ_WRITE,
        Access::Create => OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
    };
    // NOFOLLOW: a book is a file, not a name that points to one and can be made to point elsewhere. No URI, no
    // shared cache: neither is used, both widen what a file name can do.
    let flags = flags | OpenFlags::SQLITE_OPEN_NOFOLLOW | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = match Connection::open_with_flags(&path, flags).map_err(Error::from).and_then(|c| {
        settings(&c, &path, access)?;
        Ok(c)
    }) {
        Ok(conn) => conn,
        Err(error) if access == Access::Read && is_cannot_open(&error) && !has_wal(&path) => {
            // A folder where nothing can be written, say a disc handed to an auditor. Without a log beside it the file
            // is complete, and nobody can change it under us there.
            let uri = format!("file:{}?immutable=1", percent(&path));
            let conn = Connection::open_with_flags(uri, flags | OpenFlags::SQLITE_OPEN_URI)?;
            settings(&conn, &path, access)?;
            conn
        }
        Err(Error::Sqlite(e)) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) => {
            return Err(Error::NotABook { path, why: "it is not a SQLite file".into() });
        }
        Err(error) => return Err(error),
    };
    Ok(conn)
}

fn settings(conn: &Connection, path: &Path, access: Access) -> Result<()> {
    conn.busy_timeout(BUSY_WAIT)?;
    // A misspelt "column" must be an error, not a text.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DDL, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DML, false)?;
    // No writing into the schema by hand, no shadow tables: the file may come from anywhere.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, access != Access::Create)?;
    // Functions and tables named in a hostile file's schema do not run.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
    // References are checked by the database too, whatever its compile-time default.
    conn.pragma_update(None, "foreign_keys", true)?;
    // A damaged page is an error when it is read, not a wrong answer.
    conn.pragma_update(None, "cell_size_check", true)?;
    // INSERT OR REPLACE must fire the delete trigger, or it would replace entries.
    conn.pragma_update(None, "recursive_triggers", true)?;
    // Reading through memory maps turns a disk error into a crash, and lets a stray write reach the file.
    conn.pragma_update(None, "mmap_size", 0)?;
    // Names can be erased: erased means overwritten.
    conn.pragma_update(None, "secure_delete", true)?;
    // An import touches many pages of many indexes; with the default of 2 MB they are read over and over.
    conn.pragma_update(None, "cache_size", -CACHE_KIB)?;
    conn.set_prepared_statement_cache_capacity(128);
    if access != Access::Create {
        schema::check(conn, path)?;
    }
    if access != Access::Read {
        // WAL: readers never wait for the writer, and a commit is one sync. It needs shared memory, so a file on a
        // network share is refused before it comes to this.
        let mode: String = conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
        if mode != "wal" {
            return Err(Error::BadPlace {
                path: path.to_owned(),
                why: format!("its write-ahead log cannot be kept there (journal mode {mode:?})"),
            });
        }
        // A committed entry may be on a printed slip already: it must survive a power cut.
        conn.pragma_update(None, "synchronous", "FULL")?;
        // On macOS a plain sync does not reach the disk.
        conn.pragma_update(None, "fullfsync", true)?;
        conn.pragma_update(None, "checkpoint_fullfsync", true)?;
    }
    Ok(())
}

/// The path with its folder resolved, after refusing places where a book cannot live.
fn real_place(path: &Path, access: Access) -> Result<PathBuf> {
    let bad = |why: &str| Error::BadPlace { path: path.to_owned(), why: why.to_owned() };
    let name = path.file_name().ok_or_else(|| bad("it does not name a file"))?;
    let dir = match path.parent() {
        Some(dir) if !dir.as_os_str().is_empty() => dir,
        _ => Path::new("."),
    };
    let dir = match dir.canonicalize() {
        Ok(dir) => dir,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound && access != Access::Create => {
            return Err(Error::NoBook(path.to_owned()));
        }
        Err(e) => return Err(Error::io(format!("looking into the folder {}", dir.display()))(e)),
    };
    let full = dir.join(name);
    match std::fs::symlink_metadata(&full) {
        Ok(meta) if meta.file_type().is_symlink() => {
            return Err(bad("it is a symbolic link; name the file itself"));
        }
        Ok(meta) if meta.is_dir() => return Err(bad("it is a folder; name a file in it")),
        Ok(_) => {}
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
            if access != Access::Create {
                return Err(Error::NoBook(path.to_owned()));
            }
        }
        Err(e) => return Err(Error::io(format!("looking at {}", path.display()))(e)),
    }
    if access != Access::Read
        && let Some(kind) = network_share(&dir)
    {
        return Err(bad(&format!(
            "the folder is on a network share ({kind}), where two machines can write over each other; keep the book \
             on a disk of this machine"
        )));
    }
    Ok(full)
}

/// Kind of network file system that a folder is on, where that can be told.
#[cfg(target_os = "linux")]
fn network_share(dir: &Path) -> Option<&'static str> {
    // Magic numbers from linux/magic.h.
    match rustix::fs::statfs(dir).ok()?.f_type as u64 & 0xFFFF_FFFF {
        0x6969 => Some("NFS"),
        0x517B => Some("SMB"),
        0xFF53_4D42 => Some("CIFS"),
        0xFE53_4D42 => Some("SMB2"),
        0x5346_414F => Some("AFS"),
        0x00C3_6400 => Some("Ceph"),
        _ => None,
    }
}

#[cfg(not(target_os = "linux"))]
fn network_share(_dir: &Path) -> Option<&'static str> {
    None
}

fn is_cannot_open(error: &Error) -> bool {
    matches!(error, Error::Sqlite(e)
        if matches!(e.sqlite_error_code(),
            Some(rusqlite::ErrorCode::CannotOpen | rusqlite::ErrorCode::ReadOnly)))
}

fn has_wal(path: &Path) -> bool {
    let mut wal = path.as_os_str().to_owned();
    wal.push("-wal");
    std::fs::metadata(wal).is_ok_and(|m| m.len() > 0)
}

/// A path inside a URI.
fn percent(path: &Path) -> String {
    path.to_string_lossy()
        .bytes()
        .map(|b| match b {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' => char::from(b).to_string(),
            other => format!("%{other:02X}"),
        })
        .collect()
}
