//! Runs the scenarios, and keeps what the last command of each printed.

use super::mask::mask;
use super::scenarios::{self, Scenario, Situation};
use super::shop::{self, AS_RODBOOK, Output, Shop};
use super::starts::{Start, Starts};
use anyhow::{Context as _, Result, bail};
use rodbook_cli::failure::Failure;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// An error as it is printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Shown {
    pub(crate) code: String,
    pub(crate) exit: u8,
    /// What is wrong, in a few words.
    pub(crate) about: String,
    pub(crate) cause: Cause,
    /// The message, masked.
    pub(crate) printed: String,
}

/// What an error comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Cause {
    /// Command lines.
    Commands {
        start: Start,
        /// What was done, in order; the last line is the command that fails.
        session: Vec<String>,
    },
    /// Nothing that a page can do.
    Beyond(&'static str),
}

/// Every error, by exit code, then code, then the order of the list.
pub(crate) fn run_all() -> Result<Vec<Shown>> {
    let starts = Starts::make()?;
    let scenarios = scenarios::all();
    let results = Mutex::new(Vec::new());
    let next = AtomicUsize::new(0);
    let work = || {
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            let Some(scenario) = scenarios.get(n) else { break };
            let shown = run(scenario, &starts)
                .with_context(|| format!("the scenario of {} with `{}`", scenario.code, scenario.command));
            if let Ok(mut results) = results.lock() {
                results.push((n, shown));
            }
        }
    };
    // One of them waits for another writer; the others need not wait with it.
    std::thread::scope(|scope| (0..4).for_each(|_| drop(scope.spawn(work))));
    let mut results = results.into_inner().map_err(|_| anyhow::anyhow!("a scenario panicked"))?;
    results.sort_by_key(|(n, _)| *n);
    let mut shown = Vec::new();
    let mut wrong = Vec::new();
    for (_, result) in results {
        match result {
            Ok(one) => shown.push(one),
            Err(error) => wrong.push(format!("{error:#}")),
        }
    }
    if !wrong.is_empty() {
        bail!("the gallery of errors is not as the program:\n  {}", wrong.join("\n  "));
    }
    shown.extend(beyond());
    shown.sort_by(|a, b| (a.exit, &a.code).cmp(&(b.exit, &b.code)));
    Ok(shown)
}

/// Errors that no command line on a sound machine brings about, printed from their value.
fn beyond() -> Vec<Shown> {
    scenarios::beyond()
        .into_iter()
        .map(|(about, why, error)| {
            let failure = Failure::from(error);
            Shown {
                printed: failure.text(),
                code: failure.code,
                exit: failure.exit,
                about: about.to_owned(),
                cause: Cause::Beyond(why),
            }
        })
        .collect()
}

fn run(scenario: &Scenario, starts: &Starts) -> Result<Shown> {
    let shop = starts.shop(scenario.start)?;
    let mut session = Vec::new();
    if let Situation::File(name, content) = scenario.situation {
        shop.write(name, content)?;
        session.push(format!("# {name}:"));
        session.extend(content.lines().map(|line| format!("#   {line}")));
    }
    let mut named = Named::default();
    for (n, line) in scenario.before.iter().enumerate() {
        // What is made in one second has identities in any order, and some messages list by identity.
        if n > 0 {
            std::thread::sleep(std::time::Duration::from_millis(1_100));
        }
        let output = shop.ok(&named.filled_in(&shop, line)?)?;
        named.entry = output.entry().map(str::to_owned).or(named.entry);
        session.push(format!("$ rodbook {line}"));
    }
    session.extend(scenario.situation.words().map(|words| format!("# {words}")));
    let (before, after) = (scenario.situation.before(), scenario.situation.after());
    session.push(format!("$ {before}rodbook {}{after}", scenario.command).trim_end().to_owned());
    let command = named.filled_in(&shop, scenario.command)?;
    let as_json = format!("{command} --format json");
    let [text, json] = scenario.situation.run(&shop, [&command, &as_json])?;
    if text.code != Some(i32::from(scenario.exit)) {
        bail!("it should end with {} and ended so: {text:?}", scenario.exit);
    }
    if !text.stdout.is_empty() {
        bail!("what fails answers nothing, and it answered: {text:?}");
    }
    let error: serde_json::Value =
        serde_json::from_str(&json.stderr).with_context(|| format!("no error in JSON: {json:?}"))?;
    let code = error.pointer("/error/code").and_then(serde_json::Value::as_str).unwrap_or_default();
    if code != scenario.code || json.code != text.code {
        bail!("it should fail as {} and failed so: {json:?}", scenario.code);
    }
    Ok(Shown {
        code: code.to_owned(),
        exit: scenario.exit,
        about: scenario.about.to_owned(),
        cause: Cause::Commands { start: scenario.start, session },
        printed: mask(&named.taken_out(&text.stderr), shop.path())?,
    })
}

/// Word for the id of the first finding.
pub(crate) const FINDING: &str = "FINDING";
/// Word for the id of the entry that the command before wrote.
pub(crate) const ENTRY: &str = "ENTRY";

/// What the words of a scenario stand for: ids, which nobody knows before.
#[derive(Debug, Default)]
struct Named {
    entry: Option<String>,
    finding: Option<String>,
}

impl Named {
    fn filled_in(&mut self, shop: &Shop, line: &str) -> Result<String> {
        let mut line = line.to_owned();
        if line.contains(ENTRY) {
            line = line.replace(ENTRY, self.entry.as_deref().context("no entry was written before")?);
        }
        if line.contains(FINDING) {
            let finding = match self.finding.take() {
                Some(finding) => finding,
                None => shop.first_finding()?,
            };
            line = line.replace(FINDING, &finding);
            self.finding = Some(finding);
        }
        Ok(line)
    }

    /// Ids, and their first digits, replaced by the words again.
    fn taken_out(&self, text: &str) -> String {
        let mut text = text.to_owned();
        for (id, word) in [(&self.entry, ENTRY), (&self.finding, FINDING)] {
            if let Some(id) = id {
                text = text.replace(id, word);
                if let Some(first) = id.get(..12) {
                    text = text.replace(first, word);
                }
            }
        }
        text
    }
}

impl Situation {
    /// What is so, in words, where the command line does not say it.
    fn words(&self) -> Option<String> {
        match self {
            Situation::Ordinary | Situation::File(..) | Situation::ClosedOutput | Situation::AnotherHome => {
                None
            }
            Situation::ChangedBook(about, _) | Situation::Permission(about, _) => Some((*about).to_owned()),
            Situation::AnotherWriter => Some("another program is in the middle of writing".into()),
            Situation::FileLimit(kib) => Some(format!("no file may become larger than {kib} KiB")),
        }
    }

    /// What stands before the command on its line.
    fn before(&self) -> &'static str {
        if *self == Situation::AnotherHome { "RODBOOK_HOME=elsewhere " } else { "" }
    }

    /// What stands after it.
    fn after(&self) -> &'static str {
        if *self == Situation::ClosedOutput { " > /dev/full" } else { "" }
    }

    /// Runs command lines in it, one after the other.
    fn run(&self, shop: &Shop, lines: [&str; 2]) -> Result<[Output; 2]> {
        let me = std::env::current_exe()?;
        let each = |run: &dyn Fn(&str) -> Result<Output>| -> Result<[Output; 2]> {
            let [first, second] = lines;
            Ok([run(first)?, run(second)?])
        };
        match self {
            Situation::Ordinary | Situation::File(..) => each(&|line| shop.run(line)),
            Situation::ChangedBook(_, sql) => {
                shop.change_book(sql)?;
                each(&|line| shop.run(line))
            }
            Situation::AnotherWriter => {
                let other = rusqlite::Connection::open(shop.file("shop.rodbook"))?;
                other.execute_batch("BEGIN IMMEDIATE")?;
                // Each waits for some seconds before it gives up: both at once.
                let [first, second] = lines;
                std::thread::scope(|scope| {
                    let first = scope.spawn(|| shop.run(first));
                    let second = shop.run(second);
                    let first = first.join().map_err(|_| anyhow::anyhow!("a command panicked"))?;
                    Ok([first?, second?])
                })
            }
            Situation::AnotherHome => each(&|line| {
                let mut command = shop.program(&me);
                command.env("RODBOOK_HOME", shop.file("elsewhere"));
                shop::run(command.arg(AS_RODBOOK).args(shop::words(line)?))
            }),
            Situation::ClosedOutput => each(&|line| {
                let script = "exec \"$0\" \"$@\" > /dev/full";
                through_shell(shop, script, &me, line)
            }),
            Situation::FileLimit(kib) => each(&|line| {
                // `ulimit -f` counts blocks of 512 bytes (POSIX); SIGXFSZ is ignored, so that a write fails instead.
                let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"", kib * 2);
                through_shell(shop, &script, &me, line)
            }),
            Situation::Permission(_, permissions) => {
                let output = unprivileged::run(shop, permissions, lines);
                // So that the folder can be removed.
                unprivileged::permit(shop.path(), 0o755)?;
                output
            }
        }
    }
}

fn through_shell(shop: &Shop, script: &str, program: &Path, line: &str) -> Result<Output> {
    let mut command: Command = shop.program(Path::new("/bin/sh"));
    shop::run(command.args(["-c", script]).arg(program).arg(AS_RODBOOK).args(shop::words(line)?))
}

/// Permissions bind everybody but root; for root the program runs as nobody.
#[cfg(unix)]
mod unprivileged {
    use super::{AS_RODBOOK, Output, Shop, shop};
    use anyhow::{Result, bail};
    use std::fs;
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, chown};
    use std::os::unix::process::CommandExt as _;
    use std::path::Path;
    use std::process::Command;

    const NOBODY: u32 = 65_534;

    pub(super) fn permit(path: &Path, mode: u32) -> Result<()> {
        Ok(fs::set_permissions(path, fs::Permissions::from_mode(mode))?)
    }

    pub(super) fn run(shop: &Shop, permissions: &[(&str, u32)], lines: [&str; 2]) -> Result<[Output; 2]> {
        let root = fs::metadata(shop.path())?.uid() == 0;
        let mut program = std::env::current_exe()?;
        if root {
            // Where nobody can reach it. By another process: a handle of this one, inherited by a child that another
            // thread starts just then, would keep the copy from being run ("text file busy").
            let copy = shop.file("program");
            if !Command::new("cp").arg(&program).arg(&copy).status()?.success() {
                bail!("the program was not copied");
            }
            give_away(shop.path())?;
            program = copy;
        }
        for (name, mode) in permissions {
            permit(&shop.file(name), *mode)?;
        }
        let run = |line: &str| -> Result<Output> {
            let mut command = shop.program(&program);
            if root {
                command.uid(NOBODY).gid(NOBODY);
            }
            shop::run(command.arg(AS_RODBOOK).args(shop::words(line)?))
        };
        let [first, second] = lines;
        Ok([run(first)?, run(second)?])
    }

    fn give_away(path: &Path) -> Result<()> {
        chown(path, Some(NOBODY), Some(NOBODY))?;
        if path.is_dir() {
            for entry in fs::read_dir(path)? {
                give_away(&entry?.path())?;
            }
        }
        Ok(())
    }
}

#[cfg(not(unix))]
mod unprivileged {
    use super::{Output, Shop};
    use anyhow::{Result, bail};
    use std::path::Path;

    pub(super) fn permit(_path: &Path, _mode: u32) -> Result<()> {
        Ok(())
    }

    pub(super) fn run(_shop: &Shop, _permissions: &[(&str, u32)], _lines: [&str; 2]) -> Result<[Output; 2]> {
        bail!("the gallery is made on Linux")
    }
}
