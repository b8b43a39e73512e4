//! `commands.md`: every verb, from the command tree.

use super::title;
use clap::{Arg, ArgAction, Command};
use std::fmt::Write as _;

pub(crate) fn page() -> String {
    let mut tree = tree();
    let mut page = title("Commands");
    let about = tree.get_long_about().or_else(|| tree.get_about()).map(ToString::to_string);
    let _ = writeln!(page, "{}\n", about.unwrap_or_default());
    page.push_str("| verb | does |\n|---|---|\n");
    for verb in shown(&tree) {
        let name = verb.get_name();
        let about = verb.get_about().map(ToString::to_string).unwrap_or_default();
        let _ = writeln!(page, "| [`{name}`](#rodbook-{name}) | {} |", cell(&about));
    }
    let common: Vec<&Arg> = tree.get_arguments().filter(|a| a.is_global_set()).collect();
    let _ = write!(page, "\n## Common to all verbs\n\n{}", table("option", &common));
    for verb in tree.get_subcommands_mut().filter(|v| !v.is_hide_set()) {
        section(&mut page, verb, 2);
    }
    page
}

/// The command tree as everybody sees it, whatever is in the environment.
pub(crate) fn tree() -> Command {
    fn plain(command: Command) -> Command {
        command.mut_args(|arg| arg.hide_env_values(true)).mut_subcommands(plain)
    }
    let mut tree = plain(rodbook_cli::command_tree()).term_width(100);
    tree.build();
    tree
}

/// Verbs that are not hidden.
pub(crate) fn shown(command: &Command) -> impl Iterator<Item = &Command> {
    command.get_subcommands().filter(|verb| !verb.is_hide_set())
}

fn section(page: &mut String, verb: &mut Command, depth: usize) {
    let name = verb.get_bin_name().unwrap_or_else(|| verb.get_name()).to_owned();
    let about = verb.get_long_about().or_else(|| verb.get_about()).map(ToString::to_string);
    let _ = write!(page, "\n{} `{name}`\n\n{}\n", "#".repeat(depth), about.unwrap_or_default());
    let usage = verb.render_usage().to_string();
    let _ = write!(page, "\n```text\n{}\n```\n", usage.trim_start_matches("Usage: "));
    let own: Vec<&Arg> = verb.get_arguments().filter(|a| !a.is_global_set() && !a.is_hide_set()).collect();
    let (words, options): (Vec<&Arg>, Vec<&Arg>) = own
        .into_iter()
        .filter(|a| !matches!(a.get_id().as_str(), "help" | "version"))
        .partition(|a| a.is_positional());
    for (heading, arguments) in [("argument", words), ("option", options)] {
        if !arguments.is_empty() {
            let _ = write!(page, "\n{}", table(heading, &arguments));
        }
    }
    if let Some(after) = verb.get_after_long_help().or_else(|| verb.get_after_help()) {
        page.push_str(&after_help(&after.to_string()));
    }
    for below in verb.get_subcommands_mut().filter(|v| !v.is_hide_set()) {
        section(page, below, depth.saturating_add(1));
    }
}

/// Text as it is; what is indented, as typed.
fn after_help(text: &str) -> String {
    let mut out = String::from("\n");
    let mut typed = false;
    for line in text.lines() {
        let indented = line.starts_with("  ");
        if indented != typed {
            out.push_str(if indented { "\n```sh\n" } else { "```\n" });
            typed = indented;
        }
        let _ = writeln!(out, "{}", if indented { line.strip_prefix("  ").unwrap_or(line) } else { line });
    }
    if typed {
        out.push_str("```\n");
    }
    out
}

fn table(heading: &str, arguments: &[&Arg]) -> String {
    let mut table = format!("| {heading} | meaning |\n|---|---|\n");
    for arg in arguments {
        let _ = writeln!(table, "| `{}` | {} |", cell(&spelling(arg)), cell(&meaning(arg)));
    }
    table
}

/// How it is typed.
fn spelling(arg: &Arg) -> String {
    let mut text = String::new();
    if let Some(short) = arg.get_short() {
        let _ = write!(text, "-{short}, ");
    }
    if let Some(long) = arg.get_long() {
        let _ = write!(text, "--{long}");
    }
    if takes_value(arg) {
        let optional = arg.is_positional() && !arg.is_required_set();
        let (open, close) = if optional { ('[', ']') } else { ('<', '>') };
        let names = arg.get_value_names().unwrap_or_default();
        let names: Vec<String> = names.iter().map(|name| format!("{open}{name}{close}")).collect();
        let mut names = names.join(" ");
        if arg.is_positional() && arg.get_num_args().is_some_and(|n| n.max_values() > 1) {
            names.push_str("...");
        }
        let _ = write!(text, "{}{names}", if arg.is_positional() { "" } else { " " });
    }
    text
}

fn takes_value(arg: &Arg) -> bool {
    matches!(arg.get_action(), ArgAction::Set | ArgAction::Append)
}

fn meaning(arg: &Arg) -> String {
    let help = arg.get_help().or_else(|| arg.get_long_help()).map(ToString::to_string).unwrap_or_default();
    let mut parts = vec![help];
    if takes_value(arg) && !arg.is_hide_possible_values_set() {
        let values: Vec<String> = arg
            .get_possible_values()
            .iter()
            .filter(|v| !v.is_hide_set())
            .map(|v| {
                let about = v.get_help().map(|h| format!(" ({h})")).unwrap_or_default();
                format!("`{}`{about}", v.get_name())
            })
            .collect();
        if !values.is_empty() {
            parts.push(format!("One of {}", values.join(", ")));
        }
    }
    let defaults: Vec<String> =
        arg.get_default_values().iter().map(|d| format!("`{}`", d.to_string_lossy())).collect();
    if takes_value(arg) && !defaults.is_empty() {
        parts.push(format!("Default: {}", defaults.join(", ")));
    }
    if let Some(variable) = arg.get_env() {
        parts.push(format!("Environment: `{}`", variable.to_string_lossy()));
    }
    if arg.is_required_set() && !arg.is_positional() {
        parts.push("Required".into());
    }
    parts.join(". ")
}

/// Text in one cell of a table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace('\n', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_indented_is_typed() {
        assert_eq!(
            after_help("Example:\n  rodbook out\n\nTimes: now."),
            "\nExample:\n\n```sh\nrodbook out\n```\n\nTimes: now.\n"
        );
    }

    #[test]
    fn a_cell_is_one_line() {
        assert_eq!(cell("a|b\nc"), "a\\|b c");
    }
}
