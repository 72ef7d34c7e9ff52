//! Every option that a text of the program names is one of the command that prints it, or of the command named beside it.
//!
//! Reads the texts in the sources and the help, and compares them with what the command line knows.

// A panic is a verdict here, also in the helpers.
#![allow(clippy::expect_used, clippy::panic)]

use celltriage_host::command_line::Arguments;
use clap::CommandFactory;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Commands for which it is settled where the book lies.
const TAKE_A_BOOK: &[&str] = &[
    "assess",
    "guided",
    "batch",
    "explain",
    "book",
    "model",
    "judge",
    "container place",
    "shipment draft",
    "fixture identify",
    "fixture self-test",
    "fixture watch",
    "fixture read",
    "fixture calibrate",
    "fixture check-standard define",
    "fixture check-standard measure",
    "fixture check-standard chart",
    "fixture standing",
    "fixture update",
    "hot-cell-watch",
    "due",
    "settings",
];

/// Files whose texts are printed by other commands than the one the file is named after.
const PRINTED_BY: &[(&str, &[&str])] = &[
    (
        "as_it_was.rs",
        &[
            "container place",
            "container take-out",
            "container move",
            "container merge",
            "container split",
            "container empty",
            "leave",
            "shipment hand-over",
            "trial fit",
            "trial out",
        ],
    ),
    ("danger_first.rs", &["assess", "guided"]),
    ("desk.rs", &["origin", "receive"]),
    (
        "fault_words/clock.rs",
        &[
            "assess",
            "grade",
            "guided",
            "batch",
            "demo",
            "judge",
            "container place",
            "shipment draft",
            "fixture calibrate",
            "fixture check-standard measure",
            "fixture update",
            "hot-cell-watch",
            "book list",
            "due",
        ],
    ),
    ("run_view.rs", &["assess", "guided"]),
    ("questions.rs", &["assess", "guided"]),
    ("case.rs", &["assess"]),
    ("command/shown.rs", &["grade"]),
    ("label_files.rs", &["label", "container label"]),
    ("fault_words/keeping.rs", &["book verify"]),
    ("settings/mod.rs", TAKE_A_BOOK),
    // A table of options of many commands; that each is one is checked beside it.
    ("settings/key.rs", &[""]),
    ("completing.rs", &["judge"]),
    ("command/judge/asked.rs", &["judge"]),
    ("settings/file.rs", TAKE_A_BOOK),
    ("settings/for_call.rs", TAKE_A_BOOK),
    ("fault_words/mod.rs", &["assess", "guided", "grade", "hot-cell-watch", "batch"]),
    ("fault_words/admission.rs", &["assess", "guided", "grade"]),
    ("fault_words/mixing.rs", &["assess", "guided", "grade", "hot-cell-watch"]),
    ("command/fixture/reference.rs", &["fixture calibrate"]),
    ("command/fixture.rs", &["fixture self-test"]),
    ("fault_words/fixture.rs", &["fixture check-standard chart"]),
    ("fault_words/update.rs", &["fixture update"]),
    ("fault_words/measuring.rs", &["assess", "guided"]),
    (
        "fault_words/link.rs",
        &[
            "assess",
            "guided",
            "hot-cell-watch",
            "fixture acknowledge",
            "fixture calibrate",
            "fixture check-standard measure",
            "fixture identify",
            "fixture read",
            "fixture self-test",
            "fixture watch",
        ],
    ),
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn files(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a readable folder") {
        let path = entry.expect("a readable folder").path();
        if path.is_dir() {
            files(&path, ending, found);
        } else if path.to_string_lossy().ends_with(ending) {
            found.push(path);
        }
    }
}

/// Returns the string literals of a source text before its tests, comments left out.
fn literals(source: &str) -> Vec<String> {
    let source = source.split("#[cfg(test)]").next().unwrap_or_default();
    let (mut found, mut rest) = (Vec::new(), source);
    while let Some(at) = rest.find(['"', '/', '\'']) {
        let (head, tail) = rest.split_at(at);
        if tail.starts_with("//") {
            rest = tail.split_once('\n').map_or("", |(_, after)| after);
        } else if tail.starts_with("'\"'") || tail.starts_with("'\\''") || !tail.starts_with('"') {
            let quote = if tail.starts_with("'\"'") { 3 } else { 1 };
            rest = tail.get(quote..).unwrap_or_default();
        } else if head.ends_with("r#") {
            let (text, after) = tail[1..].split_once("\"#").expect("a raw string ends");
            found.push(text.to_owned());
            rest = after;
        } else {
            let mut escaped = false;
            let end = tail[1..].find(|sign| {
                let ends = sign == '"' && !escaped;
                escaped = sign == '\\' && !escaped;
                ends
            });
            let end = end.expect("a string ends") + 1;
            found.push(tail[1..end].to_owned());
            rest = &tail[end + 1..];
        }
    }
    found
}

/// Returns the options that a text names, each with the text before it.
fn named(text: &str) -> Vec<(String, &str)> {
    let starts = text.match_indices("--").filter(|(at, _)| {
        let (before, after) = (text[..*at].chars().last(), text[*at + 2..].chars().next());
        !before.is_some_and(|sign| sign == '-' || sign.is_alphanumeric())
            && after.is_some_and(|sign| sign.is_ascii_lowercase())
    });
    let option = |at: usize| {
        let name = text[at + 2..].chars().take_while(|sign| sign.is_ascii_alphanumeric() || *sign == '-');
        name.collect::<String>().trim_end_matches('-').to_owned()
    };
    starts.map(|(at, _)| (option(at), &text[..at])).collect()
}

/// Returns the command that is named before an option: the words since a back quote opened, or since the program's name.
fn command_before(before: &str) -> Option<clap::Command> {
    let begun = if before.matches('`').count() % 2 == 1 {
        before.rsplit('`').next()?
    } else {
        before.rsplit_once("celltriage ")?.1
    };
    let (mut command, mut deep) = (tree(), 0);
    for word in begun.split_whitespace() {
        if let Some(inner) = command.find_subcommand(word).cloned() {
            (command, deep) = (inner, deep + 1);
        }
    }
    (deep > 0).then_some(command)
}

fn tree() -> clap::Command {
    let mut command = Arguments::command();
    command.build();
    command
}

fn find(path: &str) -> clap::Command {
    path.split_whitespace().fold(tree(), |command, word| {
        command.find_subcommand(word).unwrap_or_else(|| panic!("there is no command `{path}`")).clone()
    })
}

fn knows(command: &clap::Command, option: &str) -> bool {
    // The help's own option is made when it is asked for.
    option == "help" || command.get_arguments().any(|argument| argument.get_long() == Some(option))
}

/// The commands that print what stands in a file, where the text itself names none.
fn printers(file: &str) -> Vec<String> {
    if let Some((_, told)) = PRINTED_BY.iter().find(|(name, _)| *name == file) {
        return told.iter().map(|&command| command.to_owned()).collect();
    }
    let path =
        file.strip_prefix("command/").unwrap_or_else(|| panic!("{file}: who prints this? see PRINTED_BY"));
    let path = path.trim_end_matches(".rs").trim_end_matches("/arguments").trim_end_matches("/page");
    vec![path.replace('_', "-").replace('/', " ")]
}

/// Some command below (or at) a path has the option: one file serves all that its command can do.
fn below_knows(command: &clap::Command, option: &str) -> bool {
    knows(command, option) || command.get_subcommands().any(|inner| below_knows(inner, option))
}

#[test]
fn options_named_in_messages_are_those_of_the_command_that_prints_them() {
    let source = root().join("src");
    let mut paths = Vec::new();
    files(&source, ".rs", &mut paths);
    let (mut seen, mut used) = (0, BTreeSet::new());
    for path in paths {
        let file = path.strip_prefix(&source).expect("inside").to_string_lossy().replace('\\', "/");
        if file.contains("tests/") || file.ends_with("tests.rs") {
            continue;
        }
        for text in literals(&read(&path)) {
            for (option, before) in named(&text) {
                seen += 1;
                if let Some(command) = command_before(before) {
                    assert!(knows(&command, &option), "{file}: `{command}` has no --{option}: {text}");
                    continue;
                }
                for printer in printers(&file) {
                    assert!(
                        below_knows(&find(&printer), &option),
                        "{file}: `{printer}` has no --{option}: {text}"
                    );
                }
                used.insert(file.clone());
            }
        }
    }
    assert!(seen >= 30, "only {seen} options were found in the texts");
    for &(file, _) in PRINTED_BY {
        assert!(used.contains(file), "{file} names no option any more");
    }
}

fn help_is_true(command: &clap::Command, path: &str, seen: &mut usize) {
    let mut texts = vec![command.get_about(), command.get_long_about()];
    for argument in command.get_arguments() {
        texts.extend([argument.get_help(), argument.get_long_help()]);
    }
    for text in texts.into_iter().flatten().map(ToString::to_string) {
        for (option, before) in named(&text) {
            *seen += 1;
            let command = command_before(before).unwrap_or_else(|| command.clone());
            assert!(knows(&command, &option), "help of `{path}`: `{command}` has no --{option}: {text}");
        }
    }
    for inner in command.get_subcommands() {
        help_is_true(inner, &format!("{path} {}", inner.get_name()), seen);
    }
}

#[test]
fn options_named_in_the_help_are_there() {
    let mut seen = 0;
    help_is_true(&tree(), "celltriage", &mut seen);
    assert!(seen >= 3, "only {seen} options were found in the help");
}

#[test]
fn options_named_in_the_pages_beside_the_code_are_there() {
    let top = root().join("../..");
    let mut pages = vec![top.join("README.md"), top.join("DEVELOPERS.md")];
    files(&top.join("host"), ".md", &mut pages);
    files(&top.join("hardware-notes"), ".md", &mut pages);
    let mut seen = 0;
    for page in pages {
        for line in read(&page).lines() {
            // What stands behind a hash is a remark.
            let line = line.split(" # ").next().unwrap_or(line);
            for (option, before) in named(line) {
                if let Some(command) = command_before(before) {
                    seen += 1;
                    let page = page.display();
                    assert!(below_knows(&command, &option), "{page}: `{command}` has no --{option}: {line}");
                }
            }
        }
    }
    assert!(seen >= 25, "only {seen} options were found in the pages");
}

#[test]
fn texts_commands_and_options_are_told_apart() {
    let source = "let a = \"x --one\"; // \"no --two\"\nlet b = '\"'; let c = \"it's \\\"--three\\\"\";";
    assert_eq!(literals(source), ["x --one", "it's \\\"--three\\\""]);
    let names: Vec<String> =
        named("--a-b, x--no `y --c` ---d --e.").into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["a-b", "c", "e"]);
    let path = |text| command_before(text).map(|command| command.get_name().to_owned());
    assert_eq!(path("see `container place "), Some("place".to_owned()));
    assert_eq!(path("see `container place` and "), None);
    assert_eq!(path("then: celltriage guided --id {id} "), Some("guided".to_owned()));
    assert!(!knows(&find("batch"), "despite-stop") && knows(&find("guided"), "despite-stop"));
}
