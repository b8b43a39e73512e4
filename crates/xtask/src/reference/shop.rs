//! A folder where command lines are run as somebody would type them.

use anyhow::{Context as _, Result, bail};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The word that makes this program behave as `rodbook`.
pub(crate) const AS_RODBOOK: &str = "rodbook";

/// A temporary folder with a book in it, or none yet.
#[derive(Debug)]
pub(crate) struct Shop {
    dir: tempfile::TempDir,
}

/// What a command line did.
#[derive(Debug, Clone)]
pub(crate) struct Output {
    /// Exit code; none where a signal ended it.
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Shop {
    pub(crate) fn empty() -> Result<Self> {
        Ok(Self { dir: tempfile::Builder::new().prefix("rodbook-reference").tempdir()? })
    }

    /// The same files in another folder.
    pub(crate) fn copy(&self) -> Result<Self> {
        let copy = Self::empty()?;
        copy_folder(self.path(), copy.path())?;
        Ok(copy)
    }

    pub(crate) fn path(&self) -> &Path {
        self.dir.path()
    }

    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    /// Writes a file, and the folders that it is in.
    pub(crate) fn write(&self, name: &str, content: &str) -> Result<()> {
        let file = self.file(name);
        if let Some(folder) = file.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::write(&file, content).with_context(|| format!("writing {name}"))
    }

    /// Changes the book behind the program's back.
    pub(crate) fn change_book(&self, sql: &str) -> Result<()> {
        rusqlite::Connection::open(self.file("shop.rodbook"))?.execute_batch(sql)?;
        Ok(())
    }

    /// A program in this folder, with nothing of the caller's environment.
    pub(crate) fn program(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command.current_dir(self.path()).env_clear().stdin(Stdio::null());
        command.env("RODBOOK_HOME", self.file("keys")).env("COLUMNS", "100");
        // Far from the shop, with an offset of 45 minutes: nothing printed may depend on it.
        command.env("TZ", "Asia/Kathmandu").env("LC_ALL", "C");
        command
    }

    /// Runs a command line.
    pub(crate) fn run(&self, line: &str) -> Result<Output> {
        let mut command = self.program(&std::env::current_exe()?);
        run(command.arg(AS_RODBOOK).args(words(line)?))
    }

    /// Runs a command line that must do what it says.
    pub(crate) fn ok(&self, line: &str) -> Result<Output> {
        let output = self.run(line)?;
        if output.code != Some(0) {
            bail!("`rodbook {line}` should have been done, and ended with {output:?}");
        }
        Ok(output)
    }

    /// Id of the first finding that `findings` lists.
    pub(crate) fn first_finding(&self) -> Result<String> {
        let listed: serde_json::Value =
            serde_json::from_str(&self.ok("findings --all --format json")?.stdout)?;
        let id = listed.pointer("/findings/0/id").and_then(serde_json::Value::as_str);
        Ok(id.context("nothing was found")?.to_owned())
    }
}

/// Runs a command to its end.
pub(crate) fn run(command: &mut Command) -> Result<Output> {
    let done = command.output().context("running rodbook")?;
    Ok(Output {
        code: done.status.code(),
        stdout: String::from_utf8(done.stdout)?,
        stderr: String::from_utf8(done.stderr)?,
    })
}

impl Output {
    /// The short id of the entry that a receipt ends with.
    pub(crate) fn entry(&self) -> Option<&str> {
        self.stdout.lines().next_back()?.strip_prefix("Entry ")?.split_once("  ").map(|(_, id)| id)
    }
}

/// Splits a command line into words as a POSIX shell does, for the quotes that are used here.
pub(crate) fn words(line: &str) -> Result<Vec<String>> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut chars = line.chars();
    while let Some(c) = chars.next() {
        match c {
            '\'' | '"' => {
                let word = word.get_or_insert_default();
                loop {
                    match chars.next() {
                        Some(end) if end == c => break,
                        Some(inner) => word.push(inner),
                        None => bail!("a quote does not end: {line}"),
                    }
                }
            }
            '\\' | '$' | '`' => bail!("{c} is not understood here: {line}"),
            c if c.is_whitespace() => words.extend(word.take()),
            c => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    Ok(words)
}

fn copy_folder(from: &Path, to: &Path) -> Result<()> {
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let target = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            fs::create_dir(&target)?;
            copy_folder(&entry.path(), &target)?;
        } else {
            fs::copy(entry.path(), &target)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_split_as_a_shell_does() {
        assert_eq!(words("issue R-1 'a b' \"c 'd'\" ''").unwrap(), ["issue", "R-1", "a b", "c 'd'", ""]);
        assert!(words("issue 'R-1").is_err());
        assert!(words("issue $(x)").is_err());
    }
}
