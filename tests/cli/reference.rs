//! The reference pages as a reader uses them, and the completion scripts as a shell uses them.

use crate::shop::{Output, RODBOOK, Shop, root, words};
use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

fn page(name: &str) -> String {
    let file = root().join("docs/reference").join(name);
    fs::read_to_string(&file)
        .unwrap_or_else(|e| panic!("{}: {e}; run `cargo xtask reference`", file.display()))
}

/// A block of the errors page: the command lines typed, and what the last of them prints.
#[derive(Debug)]
struct Block {
    start: String,
    exit: i32,
    code: String,
    lines: Vec<String>,
    printed: String,
    /// Only command lines, nothing that is so in words.
    only_typed: bool,
}

fn starts(page: &str) -> Vec<(String, Vec<String>)> {
    let mut starts: Vec<(String, Vec<String>)> = Vec::new();
    for line in page.lines().take_while(|l| !l.starts_with("## Exit ")) {
        if let Some(name) = line.strip_prefix("### Start: ") {
            starts.push((name.to_owned(), Vec::new()));
        } else if let Some(command) = line.strip_prefix("rodbook ") {
            starts.last_mut().unwrap().1.push(command.to_owned());
        }
    }
    starts
}

fn blocks(page: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let (mut exit, mut code, mut start, mut inside) = (0, String::new(), String::new(), false);
    for line in page.lines() {
        if let Some(rest) = line.strip_prefix("## Exit ") {
            exit = rest.split(':').next().unwrap().parse().unwrap();
        } else if let Some(rest) = line.strip_prefix("### `") {
            code = rest.trim_end_matches('`').to_owned();
        } else if let Some((_, rest)) = line.split_once(" Start: [") {
            start = rest.split(']').next().unwrap().to_owned();
        } else if line == "```shell-session" {
            inside = true;
            blocks.push(Block {
                start: start.clone(),
                exit,
                code: code.clone(),
                lines: Vec::new(),
                printed: String::new(),
                only_typed: true,
            });
        } else if line == "```" {
            inside = false;
        } else if inside {
            let block = blocks.last_mut().unwrap();
            match line.strip_prefix("$ rodbook") {
                Some(rest) => {
                    // Words that stand for ids, which are others each time.
                    block.only_typed &= !rest.contains("FINDING") && !rest.contains("ENTRY");
                    block.lines.push(rest.trim_start().to_owned());
                }
                None if line.starts_with("# ") || line.starts_with("$ ") => block.only_typed = false,
                None => block.printed.push_str(&format!("{line}\n")),
            }
        }
    }
    blocks
}

/// Every error of the page that can be typed is typed again, here with the program itself.
#[test]
fn the_gallery_of_errors_can_be_typed() {
    let page = page("errors.md");
    let starts = starts(&page);
    let mut typed = BTreeSet::new();
    let zone = regex::Regex::new("(####-##-## ##:##) NZ[DS]T").unwrap();
    let mut built: Vec<(String, crate::shop::Kept)> = Vec::new();
    for (name, commands) in &starts {
        let shop = built.last().map_or_else(Shop::empty, |(_, kept)| Shop::from(kept));
        for command in commands {
            let _ = shop.ok(command);
        }
        built.push((name.clone(), shop.keep()));
    }
    for block in blocks(&page).iter().filter(|b| b.only_typed) {
        let (_, kept) = built.iter().find(|(name, _)| *name == block.start).unwrap();
        let shop = Shop::from(kept);
        let (last, before) = block.lines.split_last().unwrap();
        if last.contains(" > ") {
            continue;
        }
        for (n, line) in before.iter().enumerate() {
            // What is made in one second is listed in any order.
            if n > 0 {
                std::thread::sleep(std::time::Duration::from_millis(1_100));
            }
            let _ = shop.ok(line);
        }
        let output = shop.run_words(&words(last)).expect_code(block.exit);
        let masked = shop.mask(&output.stderr).replace("[TEMP]", "[FOLDER]");
        // The page names the entries that a command before it wrote.
        let masked = masked.replace("XXXX-XXXX-XXXX-XXXX", "ENTRY");
        let printed = block.printed.replace("XXXX-XXXX-XXXX-XXXX", "ENTRY");
        assert_eq!(zone.replace_all(&masked, "$1 NZ#T"), printed, "{}: {last}", block.code);
        assert_eq!(output.stdout, "", "{}", output.shown());
        typed.insert(block.code.clone());
    }
    assert!(typed.len() >= 20, "only these could be typed: {typed:?}");
    for code in ["slip-closed", "lot-not-released", "not-found", "command-line", "ambiguous", "no-book"] {
        assert!(typed.contains(code), "{code} was not typed");
    }
}

/// The page of commands has what the program's own help has: every verb, and every option of it.
#[test]
fn the_page_of_commands_has_what_the_help_has() {
    let page = page("commands.md");
    let shop = Shop::empty();
    let option = regex::Regex::new(r"(?m)^ +(?:-[a-z], )?(--[a-z][a-z-]*)").unwrap();
    let help = shop.ok("-h").stdout;
    let verbs: Vec<&str> = help
        .lines()
        .skip_while(|l| *l != "Commands:")
        .skip(1)
        .take_while(|l| !l.is_empty())
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .map(|l| l.split_whitespace().next().unwrap())
        .collect();
    assert!(verbs.len() >= 25, "{verbs:?}");
    let common = section(&page, "## Common to all verbs");
    for verb in verbs {
        let section = section(&page, &format!("## `rodbook {verb}`"));
        for found in option.captures_iter(&shop.ok(&format!("{verb} -h")).stdout) {
            let name = &found[1];
            let there =
                |text: &str| text.contains(&format!("`{name}")) || text.contains(&format!(", {name}"));
            assert!(
                matches!(name, "--help" | "--version") || there(section) || there(common),
                "{verb} {name} is not on the page"
            );
        }
    }
}

fn section<'p>(page: &'p str, heading: &str) -> &'p str {
    let at = page.find(&format!("\n{heading}\n")).unwrap_or_else(|| panic!("no section {heading}"));
    let rest = &page[at + 1 + heading.len()..];
    rest.find("\n## ").map_or(rest, |end| &rest[..end])
}

#[test]
fn the_page_of_events_has_every_kind() {
    let page = page("events.md");
    for kind in record::Event::KINDS {
        let section = section(&page, &format!("## `{kind}`"));
        assert!(section.contains("```json\n{"), "{kind} has no sample");
    }
}

#[test]
fn the_page_of_findings_has_every_code() {
    let page = page("findings.md");
    for code in record::finding::Code::ALL {
        assert!(page.contains(&format!("| `{}` | {} | {} |", code.word(), code.severity(), code.when())));
    }
}

#[test]
fn the_page_of_exit_codes_has_every_code_of_the_help() {
    let page = page("exit-codes.md");
    for code in 0..=7 {
        assert!(page.contains(&format!("\n| {code} | ")), "{code}");
    }
}

/// A shell asks for the word behind these; one candidate a line, options left out.
fn asked(shop: &Shop, shell: &str, typed: &[&str]) -> Vec<String> {
    let output = ask(shop, shell, typed);
    assert_eq!((output.code, output.stderr.as_str()), (Some(0), ""), "{}", output.shown());
    let words = output.stdout.lines().map(|line| line.split('\t').next().unwrap().to_owned());
    words.filter(|word| !word.starts_with('-')).collect()
}

fn ask(shop: &Shop, shell: &str, typed: &[&str]) -> Output {
    let mut command = shop.command();
    command
        .env("RODBOOK_COMPLETE", shell)
        .env("_CLAP_COMPLETE_INDEX", typed.len().to_string())
        .env("_CLAP_IFS", "\n")
        .args(["--", "rodbook"])
        .args(typed);
    Output::of(format!("{shell}: {typed:?}"), &command.output().unwrap())
}

#[test]
fn candidates_come_from_the_book() {
    let shop = Shop::worked();
    // S-00001 is closed and S-00002 open; a third, newer and closed.
    let _ = shop.ok("issue R-1028 W-12 6 rods --at '2026-04-07 15:00' --by A-01");
    let _ = shop.ok("return S-00003 6 rods --condition marked --at '2026-04-07 16:00' --by A-01");
    for shell in ["bash", "fish", "powershell", "elvish"] {
        let asked = |typed: &[&str]| asked(&shop, shell, typed);
        assert_eq!(asked(&["issue", "R-10"]), ["R-1031", "R-1040", "R-1082", "R-1028"], "{shell}");
        assert_eq!(asked(&["issue", "R-1028", "W-"]), ["W-14", "W-12"], "{shell}");
        assert_eq!(asked(&["--by", "I"]), ["I-21"], "{shell}");
        assert_eq!(asked(&["return", "S-"]), ["S-00002", "S-00003", "S-00001"], "{shell}: open ones first");
        assert_eq!(asked(&["issue", "R-1028", "W-12", "6", "rods", "--joint", "M"]), ["M-102", "M-101"]);
        assert_eq!(asked(&["trace", "joint", "M-101"]), ["M-101"]);
        assert_eq!(asked(&["trace", "heat", "7K"]), ["7K2214"]);
        assert_eq!(asked(&["trace", "cert", "QE-77"]), ["QE-7765", "QE-7741"]);
        assert_eq!(asked(&["slip", "S-9"]), Vec::<String>::new());
        assert_eq!(asked(&["issue", "R-1028", "W-12", "6", "rods", "--slip", "S"]), Vec::<String>::new());
        assert_eq!(asked(&["spo"]), ["spot-check"], "verbs as well");
        assert_eq!(asked(&["findings", "--code", "no-"]), ["no-source"]);
        assert_eq!(asked(&["return", "S-00002", "6", "rods", "--condition", "un"]), ["unmarked"]);
    }
    // zsh marks what stands behind a colon as a word about it.
    let zsh = ask(&shop, "zsh", &["return", "S-"]);
    assert_eq!(zsh.stdout, "S-00002:R-1082 with W-14, 10 rods out\nS-00003\nS-00001");
    let fish = ask(&shop, "fish", &["return", "S-00002"]);
    assert_eq!(fish.stdout, "S-00002\tR-1082 with W-14, 10 rods out\n");
    shop.is_sound();
}

/// The book is found as every verb finds it, and nothing is written.
#[test]
fn candidates_are_of_the_book_that_is_meant() {
    let shop = Shop::stocked();
    let before = shop.state();
    let other = Shop::new();
    let _ = other.ok("joint X-7 --by I-21");
    let book = other.book();
    let book = book.to_str().unwrap();
    assert_eq!(asked(&shop, "fish", &["trace", "joint", "X"]), Vec::<String>::new());
    assert_eq!(asked(&shop, "fish", &["--book", book, "trace", "joint", "X"]), ["X-7"]);
    assert_eq!(asked(&shop, "fish", &[&format!("--book={book}"), "trace", "joint", "X"]), ["X-7"]);
    let mut command = shop.command();
    command
        .env("RODBOOK_BOOK", book)
        .env("RODBOOK_COMPLETE", "fish")
        .args(["--", "rodbook", "trace", "joint", "X"]);
    assert_eq!(String::from_utf8(command.output().unwrap().stdout).unwrap(), "X-7\n");
    assert_eq!(shop.state(), before);
}

/// No book, or none that can be read: no candidates, no message, no file.
#[test]
fn without_a_book_nothing_is_offered_and_nothing_said() {
    let shop = Shop::empty();
    shop.write("text.rodbook", "no book\n");
    let worked = Shop::worked();
    crate::exit_codes::tamper(&worked.book(), "PRAGMA user_version = 99");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        assert_eq!(asked(&shop, shell, &["issue", "R"]), Vec::<String>::new());
        assert_eq!(asked(&shop, shell, &["--book", "text.rodbook", "issue", "R"]), Vec::<String>::new());
        assert_eq!(asked(&worked, shell, &["issue", "R"]), Vec::<String>::new());
        assert!(asked(&shop, shell, &["iss"])[0].starts_with("issue"), "verbs need no book");
    }
    assert_eq!(asked(&shop, "no-such-shell", &["iss"]), Vec::<String>::new());
    assert!(!shop.book().exists() && !shop.home().exists());
    // Words that no command line has do no harm.
    for words in [&[][..], &["--"], &["--", "rodbook", "issue", "\u{1b}[2J"]] {
        for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
            let mut command = shop.command();
            command.env("RODBOOK_COMPLETE", shell).env("_CLAP_COMPLETE_INDEX", "7").args(words);
            let done = command.output().unwrap();
            assert_eq!((done.status.code(), done.stderr.len()), (Some(0), 0), "{shell} {words:?}");
        }
    }
}

/// What somebody printed on a label is offered as one word, and nothing in it is run.
#[test]
fn labels_that_a_shell_would_run_are_quoted() {
    let shop = Shop::new();
    let _ = shop.ok("receive --lot 'A $(touch run)' --maker X --maker-lot 'B;touch run' --by I-21");
    assert_eq!(asked(&shop, "bash", &["issue", "A"]), ["A\\ \\$\\(touch\\ run\\)"]);
    assert_eq!(asked(&shop, "bash", &["issue", "A\\ \\$"]), ["A\\ \\$\\(touch\\ run\\)"]);
    assert_eq!(asked(&shop, "powershell", &["issue", "B"]), ["'B;touch run'"]);
    assert_eq!(asked(&shop, "fish", &["issue", "B"]), ["B;touch run"], "fish quotes what it inserts");
}

#[test]
fn every_shell_gets_a_script_that_calls_this_program() {
    let shop = Shop::empty();
    for (shell, words) in [
        ("bash", "complete -o nospace"),
        ("zsh", "#compdef rodbook"),
        ("fish", "complete --keep-order"),
        ("powershell", "Register-ArgumentCompleter"),
        ("elvish", "edit:completion:arg-completer"),
    ] {
        let script = shop.ok(&format!("completions {shell}"));
        assert!(
            script.stdout.contains(words) && script.stdout.contains("RODBOOK_COMPLETE"),
            "{}",
            script.shown()
        );
        assert_eq!(script.stderr, "");
    }
    let _ = shop.run("completions").expect_code(2);
    let _ = shop.run("completions csh").expect_code(2).says(&["csh", "bash"]);
}

/// The script in a real bash: sourced, and its function called as bash does at the Tab key.
#[cfg(unix)]
#[test]
fn bash_completes_with_the_script() {
    if Command::new("bash").arg("--version").output().is_err() {
        eprintln!("not tried: there is no bash");
        return;
    }
    let shop = Shop::worked();
    let script = "
        shopt -s expand_aliases; rodbook() { \"$RODBOOK\" \"$@\"; }
        eval \"$(rodbook completions bash)\"
        complete -p rodbook
        tab() { COMP_WORDS=(rodbook \"$@\"); COMP_CWORD=$#; COMP_TYPE=9
            _clap_complete_rodbook rodbook \"${!#}\" \"${COMP_WORDS[COMP_CWORD-1]}\" 2>&1
            printf '<%s>' \"${COMPREPLY[@]}\"; echo; }
        tab return S-; tab issue R-1028 W-12; tab verif; tab trace joint Z";
    let done = shop.program("bash").env("RODBOOK", RODBOOK).args(["-c", script]).output().unwrap();
    let output = Output::of("in bash".into(), &done);
    let lines: Vec<&str> = output.stdout.lines().collect();
    assert!(lines[0].contains("-F _clap_complete_rodbook rodbook"), "{}", output.shown());
    assert_eq!(lines[1..], ["<S-00002><S-00001>", "<W-12>", "<verify>", "<>"], "{}", output.shown());
}

/// Arguments that sound like something of the book and are left to be typed, with the reason.
const TYPED: &[(&str, &str)] = &[
    ("issue slip", "the number of a slip that is written already and not in the book"),
    ("hand-over new_slip", "the number of a slip that is written already and not in the book"),
    ("check asks_lot_class", "a class of lots, from the order"),
    ("check lot_class", "a class of lots, from the certificate"),
    ("deposit joints", "how many there are"),
    ("joint asks_lot_class", "a class of lots, from the order"),
    ("receive asks_lot_class", "a class of lots, from the order"),
    ("receive lot_class", "a class of lots, from the certificate"),
    ("receive maker_lot", "the maker's number, from the box"),
    ("values asks_lot_class", "a class of lots, from the order"),
    ("values lot_class", "a class of lots, from the certificate"),
    ("shift-end back", "a slip and what came back on it, in one word"),
];

/// An argument that names a lot, a slip, a joint or a person is completed; whoever adds one must say so or say why not.
#[test]
fn what_names_something_of_the_book_is_completed() {
    let names = regex::Regex::new("(?i)(badge|lot|slip|joint|welder|holder)").unwrap();
    let (mut completed, mut left) = (0, Vec::new());
    each_argument(&rodbook_cli::command_tree(), &mut |verb, arg| {
        let typed = matches!(arg.get_action(), clap::ArgAction::Set | clap::ArgAction::Append);
        if !typed || !arg.get_possible_values().is_empty() {
            return;
        }
        let id = arg.get_id().as_str();
        let value = arg.get_value_names().and_then(<[_]>::first).map_or("", |name| name.as_str());
        if rodbook_cli::complete::labelled(verb, arg).is_some() {
            completed += 1;
        } else if names.is_match(id) || names.is_match(value) {
            left.push(format!("{verb} {id}"));
        }
    });
    let expected: Vec<&str> = TYPED.iter().map(|(argument, _)| *argument).collect();
    left.sort();
    let mut sorted = expected.clone();
    sorted.sort_unstable();
    assert_eq!(left, sorted, "completed in crates/cli/src/complete.rs, or listed here with the reason");
    assert!(completed >= 20, "{completed}");
}

fn each_argument(command: &clap::Command, each: &mut dyn FnMut(&str, &clap::Arg)) {
    let name = if command.get_name() == "rodbook" { "" } else { command.get_name() };
    for arg in command.get_arguments() {
        each(name, arg);
    }
    for verb in command.get_subcommands() {
        each_argument(verb, each);
    }
}
