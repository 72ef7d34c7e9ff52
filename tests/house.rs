//! The house is in order: no forgotten test, limits told once, every file opens with its purpose.

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

#[test]
fn every_source_file_opens_with_its_purpose() {
    let mut seen = 0;
    for folder in ["protocol", "firmware", "host", "tests"] {
        for path in files(&root().join(folder), ".rs") {
            seen += 1;
            assert!(read(&path).starts_with("//! "), "{} has no //! in its first line", path.display());
        }
    }
    assert!(seen > 50, "only {seen} source files were found");
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
