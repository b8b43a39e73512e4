//! `errors.md`: every refusal and every error.

use super::gallery::{Cause, Shown};
use super::starts::Start;
use super::title;
use rodbook_cli::exit;
use std::fmt::Write as _;

pub(crate) fn page(shown: &[Shown]) -> String {
    let mut page = title("Errors");
    page.push_str(
        "Every refusal and every error as it is printed, each with the smallest input that causes it, by exit code and then\n\
         by the code that `--format json` gives. The last command of each fails; what the others print is left out. `[FOLDER]`\n\
         stands for the folder, `#` for digits of the day on which it was run, `h`, `X` and `uuid` for identities, `ENTRY` for the\n\
         id of the entry that the command before it wrote, `FINDING` for the first id that `rodbook findings` lists.\n\n\
         ## Where they begin\n",
    );
    for start in Start::ALL {
        let _ = write!(page, "\n### Start: {}\n\n{}\n", start.word(), start.about());
        if !start.commands().is_empty() {
            page.push_str("\n```sh\n");
            for command in start.commands() {
                let _ = writeln!(page, "rodbook {command}");
            }
            page.push_str("```\n");
        }
    }
    for (exit, meaning) in exit::ALL {
        let of_exit: Vec<&Shown> = shown.iter().filter(|s| s.exit == *exit).collect();
        if of_exit.is_empty() {
            continue;
        }
        let _ = write!(page, "\n## Exit {exit}: {meaning}\n");
        let mut code = "";
        for shown in of_exit {
            if shown.code != code {
                code = &shown.code;
                let _ = write!(page, "\n### `{code}`\n");
            }
            one(&mut page, shown);
        }
    }
    page
}

fn one(page: &mut String, shown: &Shown) {
    let about = sentence(&shown.about);
    match &shown.cause {
        Cause::Commands { start, session } => {
            let anchor = start.word().replace(' ', "-");
            let _ =
                write!(page, "\n{about} Start: [{}](#start-{anchor}).\n\n```shell-session\n", start.word());
            for line in session {
                let _ = writeln!(page, "{line}");
            }
        }
        Cause::Beyond(why) => {
            let _ = write!(page, "\n{about} No command line causes it: {}\n\n```text\n", uncapitalised(why));
        }
    }
    let _ = writeln!(page, "{}```", shown.printed);
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), chars.as_str()))
}

fn uncapitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| format!("{}{}", first.to_lowercase(), chars.as_str()))
}
