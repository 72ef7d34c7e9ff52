//! The floors of the host: arrows go down only, and nothing below the command line knows that there is one.
//!
//! Cargo refuses circles; this test holds the order of the floors, the words that belong to the top one, and that its commands
//! do nothing themselves.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The floors from the ground up, each with the floors that it may name. A floor names as few as it can.
const FLOORS: [(&str, &[&str]); 14] = [
    ("written", &[]),
    ("measure", &["protocol", "written"]),
    ("verdict", &["measure", "protocol", "written"]),
    ("rules", &["measure", "verdict", "written"]),
    ("book", &[]),
    ("document", &["rules"]),
    ("link", &["measure", "protocol", "simulated-board"]),
    ("instrument", &["book", "link", "measure", "protocol", "verdict"]),
    ("assessment", &["book", "instrument", "link", "measure", "protocol", "rules", "verdict"]),
    ("custody", &["assessment", "book", "instrument", "measure", "protocol", "rules", "verdict"]),
    (
        "workshop",
        &["assessment", "book", "custody", "instrument", "link", "measure", "protocol", "rules", "verdict"],
    ),
    (
        "report",
        &["assessment", "custody", "document", "instrument", "measure", "protocol", "rules", "verdict"],
    ),
    ("print", &["document", "rules"]),
    (
        "host",
        &[
            "assessment",
            "book",
            "custody",
            "document",
            "instrument",
            "link",
            "measure",
            "print",
            "protocol",
            "report",
            "rules",
            "simulated-board",
            "verdict",
            "workshop",
            "written",
        ],
    ),
];
/// Folder of the top floor.
const TOP: &str = "cli";
/// What only the command line may use: its parser, bars, streams of the process, the name of an option in a text.
const OF_THE_TOP: [&str; 7] =
    ["clap", "indicatif", "ctrlc", "std::io::stdin", "std::io::stdout", "std::io::stderr", "--option"];
/// Names that one crate declares more than once for its users, with how often. A count may only fall: two is a name to
/// find, then the line goes.
const ONE_NAME_MANY_TYPES: [(&str, &str, usize); 0] = [];

fn host() -> PathBuf {
    // Without `tests/..` in it: sources below a folder of that name are left out.
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ lies in the workspace").join("host")
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn sources(at: &Path) -> Vec<PathBuf> {
    if at.is_file() {
        return vec![at.to_owned()];
    }
    let Ok(entries) = fs::read_dir(at) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .map(|entry| entry.expect("a readable folder").path())
        .flat_map(|path| {
            if path.is_dir() || path.extension().is_some_and(|e| e == "rs") {
                sources(&path)
            } else {
                Vec::new()
            }
        })
        .collect();
    found.sort();
    found
}

/// The text of a source before its tests; empty if all of it is tests.
fn product(path: &Path) -> String {
    let is_test = path.components().any(|part| part.as_os_str() == "tests") || path.ends_with("tests.rs");
    if is_test {
        return String::new();
    }
    let text = read(path);
    let product = text.split("\n#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    product.split("\n#[cfg(test)]\npub(crate) mod tests {").next().unwrap_or_default().to_owned()
}

/// Its lines, without comments.
fn product_lines(path: &Path) -> Vec<String> {
    let lines = product(path);
    lines.lines().map(str::trim).filter(|line| !line.starts_with("//")).map(str::to_owned).collect()
}

/// The name of the type that a line declares for the users of its module.
fn declared(line: &str) -> Option<&str> {
    let rest = line.strip_prefix("pub ")?;
    let rest = ["struct ", "enum ", "trait ", "union "].iter().find_map(|word| rest.strip_prefix(word))?;
    rest.split(|sign: char| !sign.is_alphanumeric() && sign != '_').next()
}

/// Whether a line names an option in a text.
fn names_an_option(line: &str) -> bool {
    line.match_indices("--").any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + 2..].chars().next();
        let in_a_text = line[..at].contains('"') || !line.contains(';') && !line.contains('(');
        after.is_some_and(|sign| sign.is_ascii_lowercase())
            && before.is_none_or(|sign| " `(\"".contains(sign))
            && in_a_text
    })
}

fn breaks(line: &str) -> Option<&'static str> {
    OF_THE_TOP.into_iter().find(|word| match *word {
        "--option" => names_an_option(line),
        word if word.contains("::") => line.contains(word),
        word => {
            line.contains(&format!("{word}::"))
                || line.contains(&format!("use {word}"))
                || line.contains(&format!("{word}!"))
        }
    })
}

/// The sections of a manifest, each with its name and lines.
fn sections(manifest: &str) -> Vec<(&str, &str)> {
    manifest.split("\n[").filter_map(|section| section.trim_start_matches('[').split_once(']')).collect()
}

#[test]
fn what_is_for_tests_only_is_in_no_product() {
    const FOR_TESTS: &str = "test-support";
    let mut offered = 0;
    for entry in fs::read_dir(host()).expect("host/") {
        let Ok(manifest) = fs::read_to_string(entry.expect("host/").path().join("Cargo.toml")) else {
            continue;
        };
        assert!(sections(&manifest).iter().any(|(name, _)| *name == "package"), "{manifest}");
        for (name, lines) in sections(&manifest) {
            match name {
                "dev-dependencies" => {}
                "features" => {
                    offered += usize::from(lines.contains(FOR_TESTS));
                    let switches_on =
                        |line: &&str| line.split_once('=').is_some_and(|(_, on)| on.contains(FOR_TESTS));
                    let on = lines.lines().find(switches_on);
                    assert!(on.is_none_or(|line| line.starts_with(FOR_TESTS)), "{on:?}");
                }
                _ => assert!(!lines.contains(FOR_TESTS), "[{name}] asks for what is for tests only: {lines}"),
            }
        }
    }
    assert!(offered >= 4, "only {offered} crates offer something for tests");
}

#[test]
fn arrows_go_down_only() {
    let mut below: Vec<&str> = vec!["protocol", "simulated-board"];
    for (floor, may_name) in FLOORS {
        let folder = if floor == "host" { TOP } else { floor };
        let manifest = read(&host().join(folder).join("Cargo.toml"));
        let product = manifest.split("[dev-dependencies]").next().unwrap_or_default();
        let mut names: Vec<&str> = product
            .lines()
            .filter_map(|line| line.strip_prefix("celltriage-")?.split(['.', ' ']).next())
            .collect();
        names.sort_unstable();
        assert_eq!(names, may_name, "{floor} names other floors than this test says");
        assert!(names.iter().all(|name| below.contains(name)), "{floor} names a floor above it: {names:?}");
        below.push(floor);
    }
    let crates = fs::read_dir(host())
        .expect("host/")
        .filter(|entry| entry.as_ref().is_ok_and(|entry| entry.path().join("Cargo.toml").is_file()));
    assert_eq!(crates.count(), FLOORS.len(), "a crate below host/ is missing in FLOORS");
}

#[test]
fn nothing_below_the_command_line_knows_of_it() {
    let (mut seen, mut found) = (0, Vec::new());
    for (floor, _) in FLOORS.into_iter().filter(|(floor, _)| *floor != "host") {
        for path in sources(&host().join(floor).join("src")) {
            let lines = product_lines(&path);
            seen += usize::from(!lines.is_empty());
            for line in lines {
                if let Some(word) = breaks(&line) {
                    found.push(format!("{}: {word} belongs to the command line: {line}", path.display()));
                }
            }
        }
    }
    assert!(seen > 80, "only {seen} sources were found");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn one_name_is_one_type_in_a_crate() {
    let (mut seen, mut found) = (0, Vec::new());
    for (floor, _) in FLOORS {
        let folder = if floor == "host" { TOP } else { floor };
        let mut places: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
        for path in sources(&host().join(folder).join("src")) {
            for name in product(&path).lines().filter_map(declared) {
                places.entry(name.to_owned()).or_default().push(path.clone());
            }
        }
        seen += places.len();
        found.extend(places.into_iter().filter(|(_, at)| at.len() > 1).map(|(name, at)| (folder, name, at)));
    }
    assert!(seen > 300, "only {seen} types were found");
    found.sort();
    let counts: Vec<_> = found.iter().map(|(folder, name, at)| (*folder, name.as_str(), at.len())).collect();
    assert_eq!(counts, ONE_NAME_MANY_TYPES, "left: what the sources hold, which is {found:#?}");
}

#[test]
fn the_fixtures_commands_ask_call_and_show_and_do_nothing_themselves() {
    // What only a use case does: talk to a fixture over its link, read a record of it, write one.
    let done_below =
        [".client.", "append_record", "Keeper", "Standing::read", "HotCellWatch::begin", "protocol::request"];
    let commands = host().join(TOP).join("src/command");
    let (mut seen, mut found) = (0, Vec::new());
    for part in ["fixture.rs", "fixture", "hot_cell_watch.rs"] {
        for path in sources(&commands.join(part)) {
            for line in product_lines(&path) {
                seen += 1;
                if done_below.iter().any(|word| line.contains(word)) && !line.contains("client.describe()") {
                    found.push(format!("{}: {line}", path.display()));
                }
            }
        }
    }
    assert!(seen > 500, "only {seen} lines were found");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn the_words_are_found_where_they_stand_and_nowhere_else() {
    assert!(names_an_option(r#".hint("give --place")"#));
    assert!(names_an_option(r#"say it with `--sign NAME=no`","#));
    assert!(!names_an_option("a -- b"));
    assert!(!names_an_option("count -= 1; x--y"));
    assert_eq!(breaks("use clap::Args;"), Some("clap"));
    assert_eq!(breaks("let clapped = 3;"), None);
    assert_eq!(breaks("std::io::stdout().flush()"), Some("std::io::stdout"));
    assert_eq!(declared("pub struct Reading<'a> {"), Some("Reading"));
    assert_eq!(declared("pub trait Link: Send {"), Some("Link"));
    assert_eq!(declared("pub(crate) struct Reading {"), None);
    assert_eq!(declared("    pub struct Reading;"), None);
}
