//! `completions`

use crate::answer::Answer;
use crate::complete;
use crate::failure::Failure;
use clap::{Args, ValueEnum};

/// Shells that can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Shell {
    /// bash: eval "$(rodbook completions bash)" in ~/.bashrc
    Bash,
    /// zsh: eval "$(rodbook completions zsh)" in ~/.zshrc, after compinit
    Zsh,
    /// fish: rodbook completions fish > ~/.config/fish/completions/rodbook.fish
    Fish,
    /// PowerShell: rodbook completions powershell | Out-String | Invoke-Expression in $PROFILE
    Powershell,
    /// elvish: eval (rodbook completions elvish | slurp) in rc.elv
    Elvish,
}

impl Shell {
    /// The word on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Shell::Bash => "bash",
            Shell::Zsh => "zsh",
            Shell::Fish => "fish",
            Shell::Powershell => "powershell",
            Shell::Elvish => "elvish",
        }
    }
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
#[command(
    after_help = "Lots, slips, joints and badges are read from the book while you type; where there is none, none are offered.\n\nExample:\n  eval \"$(rodbook completions bash)\""
)]
pub struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    pub shell: Shell,
}

/// Prints the script.
pub fn run(args: &CompletionsArgs) -> Result<Answer, Failure> {
    let script = complete::script(args.shell.word())
        .map_err(|e| Failure::failed(format!("the script for {} was not made: {e}.", args.shell.word())))?;
    Ok(Answer { raw: Some(script), ..Answer::default() })
}
