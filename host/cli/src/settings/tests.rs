//! Where each value comes from, and what is wrong with what was written.

use super::file::SettingsFile;
use super::key::{
    BENCH, BOOK, KEYS, KeyRow, LABEL_CODE, LABEL_DPI, LABEL_WIDTH, MODELS, Otherwise, PLACE, ValueKind,
};
use super::options::Given;
use super::surroundings::Surroundings;
use super::{SetBy, Settings};
use crate::error::Error;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const OWN: &str = "config/celltriage/settings.toml";

/// A home folder, with this settings file in its place.
fn home(text: Option<&str>) -> (TempDir, Surroundings) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(OWN);
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    if let Some(text) = text {
        std::fs::write(file, text).unwrap();
    }
    let around = Surroundings::at_home(folder.path());
    (folder, around)
}

fn resolved(given: &Given, around: &Surroundings) -> Result<Settings, Error> {
    let file = SettingsFile::read(KEYS, given, around)?;
    Settings::resolve(KEYS, given, around, Some(file))
}

fn with_option(book: &str) -> Given {
    Given { options: [(BOOK, book.into())].into(), ..Given::default() }
}

fn told(result: Result<Settings, Error>) -> String {
    result.err().map(|error| error.to_string()).unwrap_or_default()
}

#[test]
fn the_option_wins_over_the_variable_over_the_file_over_the_data_folder() {
    for option in [false, true] {
        for variable in [false, true] {
            for file in [false, true] {
                let (folder, around) = home(file.then_some("\nbook = \"of_file.sqlite\"\n"));
                let at = |name: &str| folder.path().join(name);
                let of_variable = at("of_variable.sqlite");
                let around = if variable { around.with("CELLTRIAGE_BOOK", &of_variable) } else { around };
                let given = if option { with_option("of_option.sqlite") } else { Given::default() };
                let settings = resolved(&given, &around).unwrap();
                let book = settings.values.iter().find(|one| one.name == BOOK).unwrap();
                let (path, set_by) = match (option, variable, file) {
                    (true, _, _) => (PathBuf::from("of_option.sqlite"), SetBy::Option("--book")),
                    (_, true, _) => (of_variable, SetBy::Variable("CELLTRIAGE_BOOK")),
                    (_, _, true) => {
                        (at("config/celltriage/of_file.sqlite"), SetBy::File { path: at(OWN), line: 2 })
                    }
                    _ => (at("data/celltriage/book.sqlite"), SetBy::Default),
                };
                let case = format!("option {option}, variable {variable}, file {file}");
                assert_eq!(book.value.as_deref().map(Path::new), Some(path.as_path()), "{case}");
                assert_eq!(book.set_by, set_by, "{case}");
                assert_eq!(settings.default_book().is_some(), set_by == SetBy::Default, "{case}");
            }
        }
    }
}

#[test]
fn another_settings_file_is_named_by_the_option_before_the_variable() {
    let (folder, around) = home(Some("bench = \"own\"\n"));
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("one.toml"), "bench = \"one\"\n").unwrap();
    std::fs::write(at("two.toml"), "bench = \"two\"\nbook = \"sub/book.sqlite\"\n").unwrap();
    let named = Given { settings_file: Some(at("two.toml")), ..Given::default() };
    let bench = |given: &Given, around: &Surroundings| {
        resolved(given, around).unwrap().value(BENCH).unwrap().to_str().unwrap().to_owned()
    };
    assert_eq!(bench(&Given::default(), &around), "own");
    let variable = around.with("CELLTRIAGE_SETTINGS", at("one.toml"));
    assert_eq!(bench(&Given::default(), &variable), "one");
    assert_eq!(bench(&named, &variable), "two");
    // What is not an absolute path lies beside the file that says it.
    assert_eq!(
        resolved(&named, &variable).unwrap().value(BOOK).map(Path::new),
        Some(&*at("sub/book.sqlite"))
    );
    // Named, it must be there; the person's own may be missing.
    std::fs::remove_file(at("one.toml")).unwrap();
    let missing = told(resolved(&Given::default(), &variable));
    assert!(missing.contains("one.toml") && missing.contains("variable CELLTRIAGE_SETTINGS"), "{missing}");
    std::fs::remove_file(at(OWN)).unwrap();
    assert_eq!(bench(&Given::default(), &Surroundings::at_home(folder.path())), "bench 1");
}

#[test]
fn a_path_in_the_settings_file_begins_at_home_at_the_root_or_beside_the_file() {
    let whole = if cfg!(windows) { "C:/shop/book.sqlite" } else { "/shop/book.sqlite" };
    for (written, want) in [
        ("~/shop/book.sqlite", Ok("shop/book.sqlite")),
        ("book.sqlite", Ok("config/celltriage/book.sqlite")),
        ("../book.sqlite", Ok("config/celltriage/../book.sqlite")),
        (whole, Ok(whole)),
        ("", Err("`book` is empty")),
        (" ", Err("`book` is empty")),
        ("~", Err("only ~/ is known")),
        ("~other/book.sqlite", Err("only ~/ is known")),
    ] {
        let (folder, around) = home(Some(&format!("book = '{written}'\n")));
        let found = resolved(&Given::default(), &around);
        match want {
            Ok(want) => {
                let book = found.unwrap().value(BOOK).map(PathBuf::from);
                assert_eq!(book, Some(folder.path().join(want)), "{written}");
            }
            Err(want) => {
                let told = told(found);
                assert!(told.contains(want) && told.contains("settings.toml:1:8"), "{written}: {told}");
            }
        }
    }
}

#[test]
fn each_fault_of_the_settings_file_is_told_with_its_place_and_what_to_do() {
    let long = format!("bench = \"{}\"", "x".repeat(65));
    for (text, want) in [
        ("bok = \"b\"\n", "settings.toml:1:1: unknown key `bok`; did you mean `book`?"),
        ("colour = 1\n", "settings.toml:1:1: unknown key `colour`; the keys here are: book, bench"),
        ("\nbook = 3\n", "settings.toml:2:8: book: "),
        ("[book]\npath = \"b\"\n", "settings.toml:1:1: book: "),
        ("book = \"a\"\nbook = \"b\"\n", "settings.toml:2:1: "),
        ("book = = \"a\"\n", "settings.toml:1:8: "),
        ("bench = \"\"\n", "settings.toml:1:9: `bench` is empty"),
        ("bench = \" left\"\n", "settings.toml:1:9: `bench` has a blank at its ends"),
        ("bench = \"left\\nright\"\n", "settings.toml:1:9: `bench` has a character that is not visible"),
        ("bench = \"left\\u202e\"\n", "settings.toml:1:9: `bench` has a character that is not visible"),
        (&long, "settings.toml:1:9: `bench` has 65 letters: at most 64"),
    ] {
        let (_folder, around) = home(Some(text));
        let error = resolved(&Given::default(), &around).unwrap_err();
        let told = error.to_string();
        assert!(told.contains(want) && told.contains("\nhint: correct the settings file"), "{text}: {told}");
        assert_eq!(error.exit_code(), 2);
    }
    // All of them at once.
    let (_folder, around) = home(Some("bok = \"b\"\nbench = \"\"\n"));
    let told = told(resolved(&Given::default(), &around));
    assert!(told.contains(":1:1") && told.contains(":2:9"), "{told}");
}

#[test]
fn a_settings_file_that_cannot_be_read_is_no_missing_one() {
    let (folder, around) = home(None);
    let own = folder.path().join(OWN);
    std::fs::create_dir(&own).unwrap();
    assert!(told(resolved(&Given::default(), &around)).contains("cannot read the settings file"));
    std::fs::remove_dir(&own).unwrap();
    std::fs::write(&own, b"bench = \"\xff\"\n").unwrap();
    assert!(told(resolved(&Given::default(), &around)).contains("cannot read the settings file"));
    std::fs::write(&own, "#".repeat((1 << 20) + 1)).unwrap();
    assert!(told(resolved(&Given::default(), &around)).contains("more than 1048576 bytes"));
    #[cfg(unix)]
    {
        std::fs::remove_file(&own).unwrap();
        std::os::unix::fs::symlink(folder.path().join("nowhere"), &own).unwrap();
        assert!(told(resolved(&Given::default(), &around)).contains("cannot read the settings file"));
        // Whoever waits for the other end of a pipe waits for ever.
        std::fs::remove_file(&own).unwrap();
        assert!(std::process::Command::new("mkfifo").arg(&own).status().unwrap().success());
        assert!(told(resolved(&Given::default(), &around)).contains("it is not a file"));
    }
}

#[test]
fn a_folder_that_is_not_known_is_told_where_it_matters() {
    let around = Surroundings::nowhere(Path::new(""));
    let given = Given::default();
    let error = told(resolved(&given, &around));
    assert!(
        error.contains("it is not known where the settings file lies") && error.contains("hint: "),
        "{error}"
    );
    let error = told(Settings::resolve(KEYS, &given, &around, None));
    assert!(error.contains("it is not known where the book lies") && error.contains("--book"), "{error}");
    assert!(Settings::resolve(KEYS, &with_option("b"), &around, None).is_ok());
    for variable in ["CELLTRIAGE_BOOK", "CELLTRIAGE_SETTINGS"] {
        let (_folder, around) = home(None);
        let error = told(resolved(&given, &around.with(variable, "")));
        assert!(error.contains(&format!("the variable {variable} is empty\nhint: unset")), "{error}");
    }
    // Without a home folder `~/` means no place.
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("my.toml");
    std::fs::write(&file, "book = \"~/book.sqlite\"\n").unwrap();
    let named = Given { settings_file: Some(file), ..Given::default() };
    let error = told(resolved(&named, &around));
    assert!(error.contains("my.toml:1:8: `book` begins with ~/") && error.contains("whole path"), "{error}");
}

#[test]
fn a_later_key_is_one_row() {
    const ROWS: &[KeyRow] = &[KeyRow {
        name: "place",
        option: Some("--place"),
        variable: Some("CELLTRIAGE_PLACE"),
        kind: ValueKind::Line,
        otherwise: Otherwise::Unset,
    }];
    let given = Given::default();
    let value = |text: Option<&str>, variable: Option<&str>| {
        let (_folder, around) = home(text);
        let around =
            variable.into_iter().fold(around, |around, value| around.with("CELLTRIAGE_PLACE", value));
        let file = SettingsFile::read(ROWS, &given, &around).map_err(|error| error.message)?;
        let settings = Settings::resolve(ROWS, &given, &around, Some(file)).map_err(|error| error.message)?;
        Ok(settings.value("place").map(|value| value.to_string_lossy().into_owned()))
    };
    assert_eq!(value(None, None), Ok(None));
    assert_eq!(value(Some("place = \"DE\""), None), Ok(Some("DE".to_owned())));
    assert_eq!(value(Some("place = \"DE\""), Some("US")), Ok(Some("US".to_owned())));
    let blank: Result<_, String> = value(None, Some(" US"));
    assert!(blank.is_err_and(|why| why.starts_with("the variable CELLTRIAGE_PLACE has a blank")));
}

#[test]
fn a_label_s_size_is_a_number_and_what_no_printer_has_is_told_with_its_place() {
    let value = |line: &str, name: &str| {
        let (_folder, around) = home(Some(line));
        let settings = resolved(&Given::default(), &around).map_err(|error| error.message)?;
        Ok(settings.value(name).map(|value| value.to_string_lossy().into_owned()))
    };
    for (line, name, want) in [
        ("label_width_mm = 62", LABEL_WIDTH, "62"),
        ("label_width_mm = 62.5", LABEL_WIDTH, "62.5"),
        ("label_width_mm = \"62\"", LABEL_WIDTH, "62"),
        ("label_dpi = 300", LABEL_DPI, "300"),
        ("label_code = \"qr\"", LABEL_CODE, "qr"),
        ("", LABEL_DPI, "203"),
    ] {
        assert_eq!(value(line, name), Ok(Some(want.to_owned())), "{line}");
    }
    for (line, why) in [
        ("label_width_mm = 2", "write a length of 5 to 500 mm"),
        ("label_width_mm = \"wide\"", "write a length"),
        ("label_dpi = 250", "write 203 or 300 or 600"),
        ("label_code = \"code 39\"", "write data-matrix or qr"),
        ("label_height_mm = [1]", "write a length"),
    ] {
        let told: Result<Option<String>, String> = value(line, LABEL_WIDTH);
        assert!(
            told.clone().is_err_and(|told| told.contains(why) && told.contains("settings.toml:1:")),
            "{told:?}"
        );
    }
}

#[test]
fn labels_of_models_lie_beside_the_book_unless_somebody_says_otherwise() {
    let models = |text: &str| {
        let (folder, around) = home(Some(text));
        let settings = resolved(&Given::default(), &around).unwrap();
        let found = settings.value(MODELS).map(PathBuf::from).unwrap();
        found.strip_prefix(folder.path()).unwrap().to_owned()
    };
    assert_eq!(models(""), Path::new("data/celltriage/models"));
    assert_eq!(models("book = \"~/shop/book.sqlite\""), Path::new("shop/models"));
    assert_eq!(models("models = \"~/labels\""), Path::new("labels"));
}

#[test]
fn who_takes_no_book_is_not_held_up_by_its_folder() {
    let around = Surroundings::nowhere(Path::new("")).with("CELLTRIAGE_PLACE", "DE");
    let given = Given { takes_one: true, takes: [PLACE].into(), ..Given::default() };
    let settings = Settings::resolve(KEYS, &given, &around, None).unwrap();
    assert_eq!((settings.value(PLACE).unwrap(), settings.value(BOOK)), ("DE".as_ref(), None));
    // An empty variable sets no place, as it always did.
    let around = around.with("CELLTRIAGE_PLACE", "");
    assert_eq!(Settings::resolve(KEYS, &given, &around, None).unwrap().value(PLACE), None);
}
