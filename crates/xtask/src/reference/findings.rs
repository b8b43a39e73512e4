//! `findings.md`: what a person must look at.

use super::title;
use record::finding::{Code, Severity};
use std::fmt::Write as _;

pub(crate) fn page() -> String {
    let mut page = title("Findings");
    page.push_str(
        "What `rodbook findings` may list: what a person must look at, and decide. rodbook informs; what becomes of a weld is\n\
         the inspector's decision, under the governing code. An imported history is never refused: what a rule at the counter\n\
         would have refused is found here.\n\n\
         | code | severity | when |\n|---|---|---|\n",
    );
    for code in Code::ALL {
        let _ = writeln!(page, "| `{}` | {} | {} |", code.word(), code.severity(), code.when());
    }
    page.push_str("\n## What to do next\n");
    for code in Code::ALL {
        let _ = writeln!(page, "\n**{}**\n", code.word());
        for step in code.next() {
            let _ = writeln!(page, "- {step}");
        }
    }
    page.push_str("\nSeverities, the most pressing first: ");
    let words: Vec<String> = Severity::ALL.iter().map(|s| format!("`{}`", s.word())).collect();
    let _ = writeln!(page, "{}.", words.join(", "));
    page
}
