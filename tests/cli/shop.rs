//! A shop in a temporary folder, and the program run in it from outside.
//!
//! Every command gets an emptied environment, a fixed width, and a machine zone that is nobody's, so that what it
//! prints depends on the book alone. What changes from run to run is masked in snapshots: ids, today, temporary paths.

use regex::{Captures, Regex};
use serde_json::Value;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::{LazyLock, OnceLock};
use tempfile::TempDir;

/// The program under test.
pub(crate) const RODBOOK: &str = env!("CARGO_BIN_EXE_rodbook");

/// The workspace.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// A temporary folder with a book in it, or none yet.
#[derive(Debug)]
pub(crate) struct Shop {
    dir: TempDir,
    columns: u16,
}

/// The files of a shop, in memory: what outlives a test leaves nothing on the disk.
#[derive(Debug)]
pub(crate) struct Kept(Vec<(PathBuf, Vec<u8>)>);

/// What a command did.
#[must_use]
#[derive(Debug, Clone)]
pub(crate) struct Output {
    pub(crate) line: String,
    /// Exit code; none where a signal ended it.
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// A shop with people, lots and joints, as most tests need it.
fn stocked_steps() -> &'static [&'static str] {
    &[
        "enroll A-01 --name 'Ebba Stonefeather' --role attendant --by I-21",
        "enroll W-12 --name 'Marit Oldervane' --role welder --by I-21",
        "enroll W-14 --name 'Teo Brandrake' --role welder --by I-21",
        "receive --lot R-1028 --maker 'Tarvemire Wire' --maker-lot 4117-B --heat 7K2214 --spec A5.18 --class ER70S-2 \
         --size '3/32 in x 36 in' --form cut-length --surface copper-coated --marking stamped --quantity '50 lb' \
         --cert TW-26-0388 --cert-type 3.1 --at '2026-03-09 09:20' --by A-01",
        "receive --lot R-1082 --maker 'Quennisford Electrodes' --maker-lot 62055 --heat 51207 --heat 51211 --spec A5.18 \
         --class ER70S-6 --size '3/32 in x 36 in' --form cut-length --surface copper-coated --marking stamped \
         --quantity '25 kg' --cert QE-7741 --cert-type 3.1 --at '2026-03-09 09:40' --by A-01",
        "receive --lot R-1040 --maker 'Quennisford Electrodes' --maker-lot 0417 --heat unknown --spec A5.1 --class 'E7018-1 H4R' \
         --size '1/8 in x 14 in' --form covered --marking ink --quantity '20 kg' --piece-g 33.6 \
         --cert QE-7765 --cert-type 3.1 --at '2026-03-10 08:00' --by A-01",
        "receive --lot R-1031 --maker 'Ostrabeck Metals' --maker-lot 88416 --heat 7E210 --spec A5.18 --class ER70S-2 \
         --size '3/32 in x 36 in' --form cut-length --quantity '150 lb' --cert OM-118 --cert-type 2.2 \
         --at '2026-03-11 10:05' --by A-01",
        "release R-1028 --why 'label, certificate and order agree' --at '2026-03-10 11:00' --by I-21",
        "release R-1082 --at '2026-03-10 11:05' --by I-21",
        "release R-1040 --at '2026-03-10 11:10' --by I-21",
        "joint M-101 --job 'WVM-07 wing-valve manifold' --drawing WVM-07-101 --drawing-revision A --level lot --by A-01",
        "joint M-102 --drawing WVM-07-101 --level class --by A-01",
    ]
}

impl Shop {
    /// A folder without a book.
    pub(crate) fn empty() -> Self {
        Self { dir: tempfile::Builder::new().prefix("rodbook-cli").tempdir().unwrap(), columns: 100 }
    }

    /// A book with one inspector, I-21.
    pub(crate) fn new() -> Self {
        let shop = Self::empty();
        shop.init();
        shop
    }

    /// A book with people, lots and joints; built once and copied.
    pub(crate) fn stocked() -> Self {
        static BUILT: OnceLock<Kept> = OnceLock::new();
        let built = BUILT.get_or_init(|| {
            let shop = Self::new();
            for step in stocked_steps() {
                let _ = shop.ok(step);
            }
            shop.keep()
        });
        Self::from(built)
    }

    /// Every file of the shop, to make the same shop of again.
    pub(crate) fn keep(&self) -> Kept {
        let mut files = Vec::new();
        each_file(self.path(), &mut |file| {
            files.push((file.strip_prefix(self.path()).unwrap().to_owned(), fs::read(file).unwrap()));
        });
        Kept(files)
    }

    /// A shop that was kept.
    pub(crate) fn from(kept: &Kept) -> Self {
        let shop = Self::empty();
        for (name, bytes) in &kept.0 {
            shop.write(name.to_str().unwrap(), bytes);
        }
        shop
    }

    /// The stocked shop after one day at the window: M-101 welded from slip S-00001, which came back, and S-00002 still
    /// out with W-14.
    pub(crate) fn worked() -> Self {
        let shop = Self::stocked();
        for step in [
            "issue R-1028 W-12 24 rods --joint M-101 --due '2026-04-07 14:30' --at '2026-04-07 06:10' --by A-01",
            "issue R-1082 W-14 10 rods --quiver Q-3 --due '2026-04-07 14:30' --at '2026-04-07 06:20' --by A-01",
            "weld M-101 W-12 --pass root --process GTAW --lot R-1028 --used '6 rods' --from '2026-04-07 06:40' --to '2026-04-07 08:05' \
             --mark read --by A-01",
            "weld M-101 W-12 --pass hot --process GTAW --from '2026-04-07 08:20' --to '2026-04-07 09:00' --by A-01",
            "spot-check M-101 W-12 --legible yes --reads 70S-2 --at '2026-04-07 08:30' --by I-21",
            "return S-00001 6 rods --stubs 18 --condition marked --at '2026-04-07 14:10' --by A-01",
        ] {
            let _ = shop.ok(step);
        }
        shop
    }

    /// Makes the book.
    pub(crate) fn init(&self) {
        let _ = self.ok(
            "init --station 'crib 1' --shop 'Vessilmoor Wellhead Piping' --zone Pacific/Auckland --shift 06:00-14:30 \
             --shift 14:30-23:00 --name 'Ines Callowmere' --role inspector --by I-21",
        );
    }

    /// With another width of the terminal.
    pub(crate) fn columns(mut self, columns: u16) -> Self {
        self.columns = columns;
        self
    }

    pub(crate) fn path(&self) -> &Path {
        self.dir.path()
    }

    /// A file or folder of the shop.
    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.file("shop.rodbook")
    }

    /// The folder of keys and marks.
    pub(crate) fn home(&self) -> PathBuf {
        self.file("keys")
    }

    pub(crate) fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        let file = self.file(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, content).unwrap();
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.file(name)).unwrap_or_else(|e| panic!("reading {name}: {e}"))
    }

    /// A program in this shop's folder, with nothing of the tester's environment but the path.
    pub(crate) fn program(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command.current_dir(self.path()).env_clear().stdin(Stdio::null());
        for (name, value) in self.environment() {
            command.env(name, value);
        }
        command
    }

    /// The environment of every command.
    pub(crate) fn environment(&self) -> Vec<(&'static str, OsString)> {
        vec![
            ("PATH", path_without_rodbook()),
            ("RODBOOK_HOME", self.home().into_os_string()),
            ("COLUMNS", self.columns.to_string().into()),
            // A machine far from the shop, with an offset of 45 minutes: nothing printed may depend on it.
            ("TZ", "Asia/Kathmandu".into()),
            ("LC_ALL", "tr_TR.UTF-8".into()),
        ]
    }

    /// The program, ready for arguments.
    pub(crate) fn command(&self) -> Command {
        self.program(RODBOOK)
    }

    /// Runs a command line, written as for a shell: blanks separate words, quotes keep them together.
    pub(crate) fn run(&self, line: &str) -> Output {
        let words = words(line);
        let mut output = self.run_words(&words);
        output.line = line.split_whitespace().collect::<Vec<_>>().join(" ");
        output
    }

    /// Runs words that no command line could carry.
    pub(crate) fn run_words(&self, words: &[impl AsRef<std::ffi::OsStr>]) -> Output {
        let done = self.command().args(words).output().unwrap();
        let line =
            words.iter().map(|w| w.as_ref().to_string_lossy().into_owned()).collect::<Vec<_>>().join(" ");
        Output::of(line, &done)
    }

    /// Runs a command line that must succeed.
    pub(crate) fn ok(&self, line: &str) -> Output {
        self.run(line).expect_code(0)
    }

    /// The answer of a command line in JSON.
    pub(crate) fn json(&self, line: &str) -> Value {
        let output = self.ok(&format!("{line} --format json"));
        assert_eq!(output.stderr, "", "{line}");
        parse_one(&output.stdout, line)
    }

    /// The error of a command line in JSON.
    pub(crate) fn json_error(&self, line: &str, code: i32) -> Value {
        let output = self.run(&format!("{line} --format json")).expect_code(code);
        assert_eq!(output.stdout, "", "{line}: a refused command answers nothing");
        let error = parse_one(&output.stderr, line);
        assert_eq!(keys(&error), ["error"], "{line}");
        assert_eq!(keys(&error["error"]), ["code", "message", "next", "why"], "{line}");
        assert!(error["error"]["code"].as_str().is_some_and(|c| !c.is_empty()), "{error}");
        assert!(error["error"]["message"].as_str().is_some_and(|m| !m.is_empty()), "{error}");
        assert!(error["error"]["why"].is_string(), "{error}");
        assert!(error["error"]["next"].as_array().is_some_and(|n| n.iter().all(Value::is_string)), "{error}");
        error["error"].clone()
    }

    /// A command line as a person sees it: itself, what it printed, and its exit code; masked.
    pub(crate) fn shown(&self, line: &str) -> String {
        self.mask(&self.run(line).shown())
    }

    /// Several command lines as a person sees them.
    pub(crate) fn session(&self, lines: &[&str]) -> String {
        lines.iter().map(|line| self.shown(line)).collect::<Vec<_>>().join("\n")
    }

    /// Masks what differs between two runs of one test, keeping lengths, so that what is aligned stays aligned.
    pub(crate) fn mask(&self, text: &str) -> String {
        static SHORT: LazyLock<Regex> =
            LazyLock::new(|| Regex::new(r"\b[0-9A-HJKMNP-TV-Z]{4}(-[0-9A-HJKMNP-TV-Z]{4}){3}\b").unwrap());
        static UUID: LazyLock<Regex> = LazyLock::new(|| {
            Regex::new(r"\b[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}\b").unwrap()
        });
        static HEX: LazyLock<Regex> =
            LazyLock::new(|| Regex::new(r"\b([0-9a-f]{64}|[0-9a-f]{16}|[0-9a-f]{12})\b").unwrap());
        static BASE64: LazyLock<Regex> =
            LazyLock::new(|| Regex::new(r"[A-Za-z0-9+/]{91}=|[A-Za-z0-9+/]{43}=").unwrap());
        static TIME: LazyLock<Regex> =
            LazyLock::new(|| Regex::new(r"\b(\d{4}-\d{2}-\d{2})([T ]\d{2}:\d{2}(:\d{2}Z)?)?").unwrap());
        let temp = self.path().display().to_string();
        let real = self.path().canonicalize().unwrap().display().to_string();
        let text = text.replace(&real, "[TEMP]").replace(&temp, "[TEMP]").replace(RODBOOK, "[RODBOOK]");
        let text = SHORT.replace_all(&text, "XXXX-XXXX-XXXX-XXXX");
        let text = UUID.replace_all(&text, "uuiduuid-uuid-uuid-uuid-uuiduuiduuid");
        let text = HEX.replace_all(&text, |c: &Captures<'_>| {
            // Around 2^53, where numbers stop being exact: not an id.
            if c[0].starts_with("90071992547409") { c[0].to_owned() } else { "h".repeat(c[0].len()) }
        });
        let text = BASE64.replace_all(&text, |c: &Captures<'_>| "b".repeat(c[0].len()));
        let now = chrono::Utc::now();
        let near: Vec<String> = (-2..=2)
            .map(|days| (now + chrono::TimeDelta::days(days)).format("%Y-%m-%d").to_string())
            .collect();
        let text = TIME.replace_all(&text, |c: &Captures<'_>| {
            if near.contains(&c[1].to_owned()) {
                c[0].chars().map(|d| if d.is_ascii_digit() { '#' } else { d }).collect()
            } else {
                c[0].to_owned()
            }
        });
        text.into_owned()
    }

    /// Every entry of the book, in order, by what an auditor takes away.
    pub(crate) fn entries(&self) -> Vec<Value> {
        self.record().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    /// How many entries the book has.
    pub(crate) fn count(&self) -> usize {
        self.record().lines().count()
    }

    /// The whole record, byte for byte.
    pub(crate) fn record(&self) -> String {
        self.ok("export record").stdout
    }

    /// Everything a dry run or a refusal must leave as it is: the record, the auditor's list, and the names and sizes of
    /// the files around them.
    pub(crate) fn state(&self) -> State {
        State {
            record: self.record(),
            list: self.ok("export lot-joint --names").stdout,
            files: files_below(self.path()),
        }
    }

    /// Runs a command line that must write nothing, and checks that it wrote nothing.
    pub(crate) fn writes_nothing(&self, line: &str, code: i32) -> Output {
        let before = self.state();
        let output = self.run(line).expect_code(code);
        let after = self.state();
        assert_eq!(before, after, "{line} wrote something");
        output
    }

    /// Asserts that the book is sound, by its own words.
    pub(crate) fn is_sound(&self) {
        let verified = self.run("verify").expect_code(0);
        assert!(verified.stdout.starts_with("SOUND\n"), "{}", verified.shown());
    }

    /// Puts the key and the mark back as they were.
    pub(crate) fn home_as_before(&self, before: &[(PathBuf, Vec<u8>)]) {
        for (file, bytes) in before {
            fs::write(file, bytes).unwrap();
        }
    }

    /// Copies the fixture folder into the shop.
    pub(crate) fn fixture(&self, from: &str, to: &str) {
        copy_folder(&root().join("fixtures").join(from), &self.file(to));
    }
}

/// What a dry run leaves as it is.
#[derive(PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) record: String,
    pub(crate) list: String,
    pub(crate) files: Vec<(PathBuf, u64)>,
}

/// The end of it: enough to see what was written, little enough to read.
impl std::fmt::Debug for State {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let last = self.record.lines().next_back().unwrap_or_default();
        write!(
            f,
            "{} entries, last {last}\n{} lines\n",
            self.record.lines().count(),
            self.list.lines().count()
        )?;
        self.files.iter().try_for_each(|(file, bytes)| writeln!(f, "{} {bytes}", file.display()))
    }
}

impl Output {
    pub(crate) fn of(line: String, done: &std::process::Output) -> Self {
        Self {
            line,
            code: done.status.code(),
            stdout: String::from_utf8_lossy(&done.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&done.stderr).into_owned(),
        }
    }

    #[track_caller]
    pub(crate) fn expect_code(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{}", self.shown());
        self
    }

    /// Asserts that standard error has every one of these texts.
    #[track_caller]
    pub(crate) fn says(self, texts: &[&str]) -> Self {
        for text in texts {
            assert!(self.stderr.contains(text), "{text:?} is missing in\n{}", self.shown());
        }
        self
    }

    /// The command line, standard output, standard error where there is any, the exit code where it is not 0.
    pub(crate) fn shown(&self) -> String {
        let mut text = format!("$ rodbook {}\n{}", self.line, self.stdout);
        if !self.stdout.is_empty() && !self.stdout.ends_with('\n') {
            text.push_str("[no line end]\n");
        }
        if !self.stderr.is_empty() {
            text.push_str("[stderr]\n");
            text.push_str(&self.stderr);
        }
        match self.code {
            Some(0) => {}
            Some(code) => text.push_str(&format!("(exit {code})\n")),
            None => text.push_str("(ended by a signal)\n"),
        }
        text
    }

    /// The table in standard output: header and rows.
    pub(crate) fn csv(&self) -> (Vec<String>, Vec<Vec<String>>) {
        assert!(self.stdout.ends_with("\r\n"), "RFC 4180 lines end with CRLF: {}", self.shown());
        let mut reader = csv::Reader::from_reader(self.stdout.as_bytes());
        let header = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows = reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect();
        (header, rows)
    }

    /// The short id that a receipt ends with; none where the line is not whole.
    pub(crate) fn receipt(&self) -> Option<(u64, String)> {
        let line = self.stdout.strip_suffix('\n')?.lines().next_back()?;
        let (seq, short) = line.strip_prefix("Entry ")?.split_once("  ")?;
        Some((seq.parse().ok()?, short.to_owned()))
    }
}

/// Names of the fields of an object, sorted.
pub(crate) fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value
        .as_object()
        .unwrap_or_else(|| panic!("not an object: {value}"))
        .keys()
        .map(String::as_str)
        .collect();
    keys.sort_unstable();
    keys
}

/// One JSON value on one line and nothing else.
pub(crate) fn parse_one(text: &str, line: &str) -> Value {
    assert_eq!(text.lines().count(), 1, "{line}: one object on one line, not:\n{text}");
    serde_json::from_str(text).unwrap_or_else(|e| panic!("{line}: {e}\n{text}"))
}

/// Splits a command line into words as a POSIX shell does, for the quotes that are used here.
pub(crate) fn words(line: &str) -> Vec<String> {
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
                        Some('\\') if c == '"' => word.extend(chars.next()),
                        Some(inner) => word.push(inner),
                        None => panic!("a quote does not end: {line}"),
                    }
                }
            }
            '\\' => match chars.next() {
                Some('\n') | None => {}
                Some(escaped) => word.get_or_insert_default().push(escaped),
            },
            c if c.is_whitespace() => words.extend(word.take()),
            c => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

/// Copies a folder with everything in it.
pub(crate) fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap_or_else(|e| panic!("{}: {e}", from.display())) {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Every file below a folder, with its bytes.
pub(crate) fn folder_bytes(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    files_below(dir).into_iter().map(|(file, _)| (file.clone(), fs::read(file).unwrap())).collect()
}

/// Every file below a folder, with its size. SQLite's files beside a book come and go with readers and do not count.
fn files_below(dir: &Path) -> Vec<(PathBuf, u64)> {
    let mut found = Vec::new();
    each_file(dir, &mut |file| {
        let name = file.to_string_lossy();
        if !name.ends_with("-wal") && !name.ends_with("-shm") {
            found.push((file.to_owned(), fs::metadata(file).unwrap().len()));
        }
    });
    found.sort();
    found
}

fn each_file(dir: &Path, each: &mut dyn FnMut(&Path)) {
    for entry in fs::read_dir(dir).unwrap_or_else(|e| panic!("{}: {e}", dir.display())) {
        let path = entry.unwrap().path();
        if path.is_dir() { each_file(&path, each) } else { each(&path) }
    }
}

/// The tester's path without the folders that have another rodbook: what is printed must not depend on whether one is
/// installed.
fn path_without_rodbook() -> OsString {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let name = format!("rodbook{}", std::env::consts::EXE_SUFFIX);
    std::env::join_paths(std::env::split_paths(&path).filter(|dir| !dir.join(&name).is_file())).unwrap()
}

/// Compares a text with its snapshot file.
macro_rules! snapshot {
    ($name:expr, $text:expr) => {
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!($name, $text)
        })
    };
}
pub(crate) use snapshot;

#[test]
fn words_are_split_as_a_shell_does() {
    assert_eq!(
        words("issue R-1 'a b' \"c 'd'\" \"e\\\"f\" '' g\\ h"),
        ["issue", "R-1", "a b", "c 'd'", "e\"f", "", "g h"]
    );
    assert_eq!(words("a \\\n  b"), ["a", "b"]);
}

#[test]
fn masks_keep_lengths_and_leave_numbers_of_the_trade_alone() {
    let shop = Shop::empty();
    let today = chrono::Utc::now().format("%Y-%m-%dT%H:%M:%SZ").to_string();
    assert_eq!(
        shop.mask("ER70S-2 7K2214 TW-26-0388 2026-04-07 06:10"),
        "ER70S-2 7K2214 TW-26-0388 2026-04-07 06:10"
    );
    assert_eq!(shop.mask("8S68-JXAC-MG8X-42R7"), "XXXX-XXXX-XXXX-XXXX");
    assert_eq!(shop.mask(&today), "####-##-##T##:##:##Z");
    assert_eq!(shop.mask(&"0f".repeat(32)), "h".repeat(64));
    assert_eq!(shop.mask(&shop.file("keys").display().to_string()), "[TEMP]/keys");
}
