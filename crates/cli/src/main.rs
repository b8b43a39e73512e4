//! The `rodbook` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(rodbook_cli::run(std::env::args_os()))
}
