//! What every command needs to know: the book, the person, the time, the format.

use crate::args::{Format, Global};
use crate::failure::Failure;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use ledger::{Acting, Ledger};
use record::time::{self, Shift};
use record::{Instant, When, Zone};
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

/// The environment of one command.
#[derive(Debug)]
pub struct Context {
    /// Options common to all verbs.
    pub global: Global,
    /// Where keys and marks live.
    pub home: PathBuf,
    /// The machine's clock, read once.
    pub now: Instant,
}

impl Context {
    /// Reads the clock and finds the home folder.
    ///
    /// # Errors
    /// When this machine has no data folder and `RODBOOK_HOME` is not set.
    pub fn new(global: Global) -> Result<Self, Failure> {
        let home = match std::env::var_os("RODBOOK_HOME") {
            Some(home) if !home.is_empty() => PathBuf::from(home),
            _ => {
                use etcetera::BaseStrategy as _;
                etcetera::choose_base_strategy()
                    .map_err(|e| {
                        Failure::failed(format!("this machine has no folder for keys: {e}"))
                            .next("set RODBOOK_HOME to a folder on a disk of this machine")
                    })?
                    .data_dir()
                    .join("rodbook")
            }
        };
        let now = Instant(chrono::Utc::now().timestamp());
        Ok(Self { global, home, now })
    }

    /// The book named on the command line, in the environment, or by default.
    pub fn book(&self) -> &Path {
        self.global.book.as_deref().unwrap_or(Path::new("shop.rodbook"))
    }

    /// Opens the book for questions.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn open(&self) -> Result<Ledger, Failure> {
        Ok(Ledger::open(self.book(), &self.home)?)
    }

    /// Opens the book for writing.
    ///
    /// # Errors
    /// When it cannot be opened, or this machine has not got its key.
    pub fn open_for_writing(&self) -> Result<Ledger, Failure> {
        Ok(Ledger::open_for_writing(self.book(), &self.home)?)
    }

    /// Who acts.
    pub fn acting(&self, dry_run: bool, overriding: Option<&str>) -> Acting {
        Acting {
            badge: self.global.by.clone().unwrap_or_default().trim().to_owned(),
            now: self.now,
            dry_run,
            overriding: overriding.map(str::to_owned),
        }
    }

    /// The claimed time, if one was typed.
    ///
    /// # Errors
    /// When it is not understood.
    pub fn at(&self, zone: Zone) -> Result<Option<When>, Failure> {
        self.global.at.as_deref().map(|text| read_time("--at", text, zone, &[])).transpose()
    }

    /// Whether answers go to a program.
    pub fn is_json(&self) -> bool {
        self.global.format == Format::Json
    }

    /// A bar on a terminal's standard error, nothing elsewhere.
    pub fn progress(&self, what: &'static str) -> ProgressBar {
        let target = if std::io::stderr().is_terminal() && self.global.format == Format::Text {
            ProgressDrawTarget::stderr()
        } else {
            ProgressDrawTarget::hidden()
        };
        let bar = ProgressBar::with_draw_target(None, target).with_message(what);
        if let Ok(style) = ProgressStyle::with_template("{msg} {bar:24} {pos}/{len}") {
            bar.set_style(style);
        }
        bar
    }

    /// Width for tables.
    pub fn width(&self) -> u16 {
        let columns = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
        let terminal = || {
            std::io::stdout()
                .is_terminal()
                .then(terminal_size::terminal_size)
                .flatten()
                .map(|(terminal_size::Width(w), _)| w)
        };
        columns.or_else(terminal).unwrap_or(100).clamp(40, 200)
    }
}

/// Reads a time option.
///
/// # Errors
/// When it is not understood.
pub fn read_time(option: &str, text: &str, zone: Zone, shifts: &[Shift]) -> Result<When, Failure> {
    time::read(text, zone, shifts).map_err(|e| {
        Failure::not_understood(format!("{option} was not understood: {e}"))
            .next(format!("the shop's zone is {}", zone.name()))
    })
}
