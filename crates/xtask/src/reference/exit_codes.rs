//! `exit-codes.md`: what a script should do about the outcome.

use super::gallery::Shown;
use super::title;
use rodbook_cli::exit;
use std::collections::BTreeSet;
use std::fmt::Write as _;

pub(crate) fn page(shown: &[Shown]) -> String {
    let mut page = title("Exit codes");
    page.push_str(
        "With `--format json` an error is one object on standard error, and its `code` is one of those in the last column.\n\n\
         | exit | meaning | codes of errors |\n|---|---|---|\n",
    );
    for (exit, meaning) in exit::ALL {
        let codes: BTreeSet<&str> =
            shown.iter().filter(|s| s.exit == *exit).map(|s| s.code.as_str()).collect();
        let codes: Vec<String> = codes.iter().map(|code| format!("[`{code}`](errors.md#{code})")).collect();
        let _ = writeln!(page, "| {exit} | {meaning} | {} |", codes.join(", "));
    }
    page.push_str(
        "\n`verify` ends with 5 when it has found damage, and says so in its answer, not as an error.\n",
    );
    page
}
