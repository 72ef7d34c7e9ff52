//! The house is in order: no forgotten test, no file too long to read, every file and crate opens with its purpose.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ lies in the workspace").to_owned()
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// All files below a folder with an ending, without build output.
fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let entries = fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    for entry in entries {
        let path = entry.expect("a readable folder").path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() {
            if name != "target" && !name.starts_with('.') && name != "node_modules" {
                found.extend(files(&path, ending));
            }
        } else if name.ends_with(ending) {
            found.push(path);
        }
    }
    found
}

#[test]
fn every_test_file_is_registered() {
    let tests = root().join("tests");
    let manifest = read(&tests.join("Cargo.toml"));
    let named: Vec<String> = fs::read_dir(&tests)
        .expect("tests/")
        .map(|entry| entry.expect("a readable folder").file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".rs"))
        .collect();
    let registered = |text: &str, name: &str| text.contains(&format!("path = \"{name}\""));
    let (themes, parts): (Vec<_>, Vec<_>) = named.iter().partition(|name| registered(&manifest, name));
    assert!(themes.len() > 4 && parts.len() > 20, "{themes:?} {parts:?}");
    for part in parts {
        let by = themes.iter().filter(|theme| registered(&read(&tests.join(theme)), part)).count();
        assert_eq!(by, 1, "{part} is to be a module of one binary of tests/Cargo.toml");
    }
}

/// Folders with the sources of the project.
const FOLDERS: [&str; 5] = ["protocol", "firmware", "hardware-notes", "host", "tests"];
/// What people write there.
const WRITTEN: [&str; 9] = [".rs", ".py", ".toml", ".sh", ".x", ".sql", ".css", ".html", ".js"];
/// More than fits into a reader's head at once: our choice, from files that nobody wanted to open.
const LONGEST: usize = 400;
/// Longer files that are tables and no program: each is one list, read entry by entry, which its reader takes from one file.
const TABLES: [(&str, &str); 8] = [
    ("hardware-notes/bom.toml", "one entry for each part of the fixture"),
    ("hardware-notes/circuit/circuit.toml", "one entry for each net and part of the drawings"),
    ("host/rules/packs/adr.toml", "one entry for each rule of one law"),
    ("host/rules/packs/generic.toml", "one entry for each rule that holds without a law"),
    ("host/rules/packs/us.toml", "one entry for each rule of one country"),
    (
        "host/verdict/policy/default.toml",
        "one entry for each criterion; the book keeps it whole with a decision",
    ),
    ("host/verdict/policy/version_2.toml", "the policy that was built in before, byte for byte"),
    ("host/verdict/tests/data/policy_2.toml", "a policy as old books hold it, byte for byte"),
];

/// The files of these endings in the project's folders, named from its top, with their text.
fn sources(endings: &[&str]) -> Vec<(String, String)> {
    let root = root();
    let all = FOLDERS.iter().flat_map(|folder| {
        let folder = root.join(folder);
        endings.iter().flat_map(move |ending| files(&folder, ending))
    });
    let named = all.map(|path| {
        let name = path.strip_prefix(&root).expect("below the top").to_string_lossy().into_owned();
        (name, read(&path))
    });
    named.collect()
}

#[test]
fn every_source_file_opens_with_its_purpose() {
    let sources = sources(&[".rs"]);
    assert!(sources.len() > 50, "only {} source files were found", sources.len());
    let without: Vec<&String> =
        sources.iter().filter(|(_, text)| !text.starts_with("//! ")).map(|(name, _)| name).collect();
    assert!(without.is_empty(), "no //! in the first line: {without:#?}");
}

#[test]
fn no_source_file_is_too_long_to_be_read() {
    let sources = sources(&WRITTEN);
    assert!(sources.len() > 400, "only {} files were found", sources.len());
    let mut long: Vec<(&str, usize)> = sources
        .iter()
        .map(|(name, text)| (name.as_str(), text.lines().count()))
        .filter(|(_, lines)| *lines > LONGEST)
        .collect();
    long.sort_unstable();
    let is_table = |name: &str| TABLES.iter().any(|(table, _)| *table == name);
    let refused: Vec<_> = long.iter().filter(|(name, _)| !is_table(name)).collect();
    assert!(refused.is_empty(), "longer than {LONGEST} lines: {refused:#?}");
    let short: Vec<_> =
        TABLES.iter().filter(|(table, _)| long.iter().all(|(name, _)| name != table)).collect();
    assert!(short.is_empty(), "no longer a long file, to be taken off the list: {short:#?}");
}

/// The sentence or more with which a crate says what it is; `None` if there is none.
fn purpose(text: &str) -> Option<String> {
    let head = text.lines().map_while(|line| line.strip_prefix("//!")).collect::<Vec<_>>().join(" ");
    (head.split_whitespace().count() > 3 && head.contains('.')).then_some(head)
}

#[test]
fn every_crate_of_the_host_says_what_it_is() {
    let host = root().join("host");
    let crates: Vec<PathBuf> = fs::read_dir(&host)
        .expect("host/")
        .map(|entry| entry.expect("a readable folder").path())
        .filter(|path| path.join("Cargo.toml").is_file())
        .collect();
    assert!(crates.len() > 8, "only {} crates were found", crates.len());
    let silent: Vec<PathBuf> = crates
        .into_iter()
        .map(|path| path.join("src/lib.rs"))
        .filter(|lib| fs::read_to_string(lib).ok().and_then(|text| purpose(&text)).is_none())
        .collect();
    assert!(silent.is_empty(), "no sentence after //! on top: {silent:#?}");
}

#[test]
fn a_purpose_is_a_sentence() {
    assert_eq!(purpose("//! One noun, said in full.\nuse x;"), Some(" One noun, said in full.".to_owned()));
    assert_eq!(purpose("use x;\n//! One noun, said too late."), None);
    assert_eq!(purpose("//! Measure."), None);
    assert_eq!(purpose("//!"), None);
}

/// Constants of `limits.rs` as its source tells them: name to value in the unit of the type.
fn limits_in_source() -> BTreeMap<String, i128> {
    let text = read(&root().join("protocol/src/limits.rs"));
    let mut found = BTreeMap::new();
    for line in text.lines().filter_map(|line| line.strip_prefix("pub const ")) {
        let (name, value) = line.split_once(':').expect("a constant has a type");
        let value = value.split_once('=').expect("a constant has a value").1.trim().trim_end_matches(';');
        found.insert(name.to_owned(), evaluate(value));
    }
    found
}

/// Evaluates the few forms that `limits.rs` uses.
fn evaluate(text: &str) -> i128 {
    let number = |text: &str| -> i128 {
        text.split('*')
            .map(|factor| factor.trim().replace('_', "").parse::<i128>().expect("a number"))
            .product()
    };
    match text.split_once('(') {
        None => number(text),
        Some((form, argument)) => {
            let scale = match form.rsplit("::").next() {
                Some("new") => 1,
                Some("from_millivolts" | "from_milliamps" | "from_millis") => 1_000,
                Some("from_secs") => 1_000_000,
                other => panic!("unknown form {other:?}"),
            };
            scale * number(argument.trim_end_matches(')'))
        }
    }
}

#[test]
fn the_evaluation_of_limits_agrees_with_the_compiler() {
    use celltriage_protocol::limits;
    let found = limits_in_source();
    assert_eq!(found["HOST_SILENCE"], i128::from(limits::HOST_SILENCE.get()));
    assert_eq!(found["LOADED_FLOOR"], i128::from(limits::LOADED_FLOOR.get()));
    assert_eq!(found["LARGEST_PULSE"], i128::from(limits::LARGEST_PULSE.get()));
    assert_eq!(found["LONGEST_STEP"], i128::from(limits::LONGEST_STEP.get()));
    assert_eq!(found["HOTTEST"], i128::from(limits::HOTTEST.get()));
    assert_eq!(found["SINK_LOSS_UW"], i128::from(limits::SINK_LOSS_UW));
}

#[test]
fn the_limits_told_to_the_maker_are_those_in_the_code() {
    let text = read(&root().join("hardware-notes/limits.md"));
    let mut told = BTreeMap::new();
    for line in text.lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if let (Some(name), Some(Ok(value))) = (cells.get(1), cells.get(2).map(|cell| cell.parse::<i128>())) {
            told.insert((*name).to_owned(), value);
        }
    }
    assert_eq!(told, limits_in_source());
}
