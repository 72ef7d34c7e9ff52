//! The floors of the host: arrows go down only, and nothing below the command line knows that there is one.
//!
//! Cargo refuses circles; this test holds the order of the floors and the words that belong to the top one. The parts that
//! still lie in the top crate and belong below it are counted, and the count may only fall.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The floors from the ground up, each with the floors that it may name. A floor names as few as it can.
const FLOORS: [(&str, &[&str]); 13] = [
    ("written", &[]),
    ("measure", &["protocol", "written"]),
    ("verdict", &["measure", "protocol", "written"]),
    ("rules", &["measure", "verdict", "written"]),
    ("book", &[]),
    ("document", &["rules"]),
    ("link", &["measure", "protocol", "simulated-board"]),
    ("instrument", &["book", "link", "measure", "protocol", "verdict"]),
    ("assessment", &["book", "instrument", "link", "measure", "protocol", "rules", "verdict"]),
    ("custody", &["assessment", "book", "instrument", "measure", "rules", "verdict"]),
    (
        "workshop",
        &["assessment", "book", "custody", "instrument", "link", "measure", "protocol", "rules", "verdict"],
    ),
    (
        "report",
        &["assessment", "custody", "document", "instrument", "measure", "protocol", "rules", "verdict"],
    ),
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
/// Parts in the top crate that belong below it, with the lines in which each still names what lies above it (`Io`, the
/// arguments, the commands, the words above). A line less is a line to take off here; a line more is refused.
const STILL_ABOVE: [(&str, usize); 5] =
    [("case", 9), ("error", 0), ("known_label", 2), ("measure", 9), ("session", 5)];

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

/// The lines of a source before its tests, without comments.
fn product_lines(path: &Path) -> Vec<String> {
    let is_test = path.components().any(|part| part.as_os_str() == "tests") || path.ends_with("tests.rs");
    if is_test {
        return Vec::new();
    }
    let text = read(path);
    let product = text.split("\n#[cfg(test)]\nmod tests {").next().unwrap_or_default();
    let product = product.split("\n#[cfg(test)]\npub(crate) mod tests {").next().unwrap_or_default();
    product.lines().map(str::trim).filter(|line| !line.starts_with("//")).map(str::to_owned).collect()
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
fn what_still_lies_in_the_top_crate_names_ever_less_of_it() {
    let above = ["crate::io", "crate::arguments", "crate::command", "crate::choice", "ProgressBar", "Io<'_>"];
    let mut found = BTreeMap::new();
    for (part, _) in STILL_ABOVE {
        let at = host().join(TOP).join("src");
        let files = [at.join(format!("{part}.rs")), at.join(part)];
        let lines = files.iter().flat_map(|at| sources(at)).flat_map(|path| product_lines(&path));
        let count =
            lines.filter(|line| breaks(line).is_some() || above.iter().any(|word| line.contains(word)));
        found.insert(part, count.count());
    }
    let told = BTreeMap::from(STILL_ABOVE);
    assert_eq!(found, told, "left: what the sources hold; right: what this test says");
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
}
