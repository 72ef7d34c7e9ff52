//! Where the book lies, through the executable: which folder, which file, which variable, and what is wrong with them.

// A panic is a verdict here, also in the helpers.
#![allow(clippy::expect_used)]

mod shared;

use serde_json::Value;
use shared::at_home;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Writes one entry and nothing else.
const DEFINE: [&str; 11] = [
    "fixture",
    "check-standard",
    "define",
    "R1",
    "--resistance-mohm=50",
    "--limit-percent=0.1",
    "--certificate",
    "certificate 7",
    "--by",
    "Ada",
    "--every-days=7",
];

/// A person with a home folder.
struct Person {
    home: TempDir,
}

/// What came of a call.
struct Done {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Person {
    fn new() -> Self {
        Self { home: tempfile::tempdir().expect("a folder") }
    }

    fn at(&self, path: &str) -> PathBuf {
        self.home.path().join(path)
    }

    fn file(&self, path: &str, text: &str) -> PathBuf {
        let path = self.at(path);
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        fs::write(&path, text).expect("a file");
        path
    }

    fn settings(&self, text: &str) -> PathBuf {
        self.file(&format!("{CONFIG}/celltriage/settings.toml"), text)
    }

    fn call(&self, typed: &[&str]) -> Done {
        self.call_with(&[], typed)
    }

    /// With variables set, or unset where the value is missing.
    fn call_with(&self, variables: &[(&str, Option<&str>)], typed: &[&str]) -> Done {
        let work = self.at("work");
        fs::create_dir_all(&work).expect("a folder");
        let mut command = at_home(self.home.path());
        command.args(typed).current_dir(work);
        for (name, value) in variables {
            match value {
                Some(value) => command.env(name, value),
                None => command.env_remove(name),
            };
        }
        let output = command.output().expect("the executable starts");
        let text = |bytes| String::from_utf8(bytes).expect("text");
        let done = Done { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) };
        assert!(!done.err.contains("panicked"), "{typed:?}: {}", done.err);
        done
    }

    fn set(&self, variables: &[(&str, Option<&str>)], more: &[&str]) -> Value {
        let done = self.call_with(variables, &[&["settings", "--json"], more].concat());
        assert_eq!(done.code, Some(0), "{}", done.err);
        serde_json::from_str(&done.out).expect("JSON and nothing else")
    }

    /// All files below the folder of the call.
    fn work(&self) -> Vec<PathBuf> {
        fs::read_dir(self.at("work"))
            .expect("the folder")
            .map(|entry| entry.expect("an entry").path())
            .collect()
    }
}

/// Folders below a home.
const CONFIG: &str = if cfg!(windows) { "data" } else { ".config" };
const BOOK: &str =
    if cfg!(windows) { "data/celltriage/book.sqlite" } else { ".local/share/celltriage/book.sqlite" };

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

#[test]
fn a_book_that_nobody_placed_lies_in_the_person_s_data_and_each_write_says_so() {
    let person = Person::new();
    let book = person.at(BOOK);
    let missing = person.call(&["book", "list"]);
    assert_eq!(missing.code, Some(5), "{}", missing.err);
    assert!(
        missing.err.contains(&text(&book)) && missing.err.contains("no book here yet"),
        "{}",
        missing.err
    );
    let first = person.call(&DEFINE);
    assert_eq!(first.code, Some(0), "{}", first.err);
    assert_eq!(first.err.trim_end(), format!("written as entry 1 of {}", book.display()));
    assert!(book.is_file() && person.work().is_empty(), "{:?}", person.work());
    // Names of people stand in it.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(book.parent().expect("a folder")).expect("there").permissions().mode();
        assert_eq!(mode & 0o777, 0o700);
    }
    let listed = person.call(&["book", "list"]);
    assert_eq!((listed.code, listed.err.as_str()), (Some(0), ""));
    assert!(listed.out.contains("R1"), "{}", listed.out);
}

#[test]
fn settings_shows_each_value_and_who_set_it() {
    let person = Person::new();
    let plain = person.set(&[], &[]);
    assert_eq!(plain["schema"], "celltriage.settings/1");
    assert_eq!(plain["settings_file"]["there"], false);
    assert_eq!(plain["settings"]["bench"], serde_json::json!({ "from": "default", "value": "bench 1" }));
    assert_eq!(plain["settings"]["book"]["value"], text(&person.at(BOOK)));
    assert!(!person.at(BOOK).parent().expect("a folder").exists(), "only shown");

    let file = person.settings("bench = \"left bench\"\nbook = \"~/shop.sqlite\"\n");
    let set = person.set(&[], &[]);
    let line = |line| serde_json::json!({ "from": "settings_file", "path": text(&file), "line": line });
    let mut book = line(2);
    book["value"] = text(&person.at("shop.sqlite")).into();
    assert_eq!(set["settings"]["book"], book);
    assert_eq!(set["settings"]["bench"]["line"], 1);
    let shown = person.call(&["settings"]);
    let want = format!(
        "bench            left bench\n                 from: settings file {}, line 1\n",
        file.display()
    );
    assert!(shown.out.contains(&want), "{}", shown.out);

    let variable = text(&person.at("of_variable.sqlite"));
    let set = person.set(&[("CELLTRIAGE_BOOK", Some(&variable))], &[]);
    assert_eq!(set["settings"]["book"]["from"], "variable");
    assert_eq!(set["settings"]["book"]["value"], variable);
    let set = person.set(&[("CELLTRIAGE_BOOK", Some(&variable))], &["--book", "typed.sqlite"]);
    assert_eq!(set["settings"]["book"]["from"], "option");
    assert_eq!(set["settings"]["book"]["value"], "typed.sqlite");

    let other = person.file("other.toml", "bench = \"other\"\n");
    let set = person.set(&[("CELLTRIAGE_SETTINGS", Some(&text(&other)))], &[]);
    assert_eq!(
        (&set["settings_file"]["from"], &set["settings"]["bench"]["value"]),
        (&"variable".into(), &"other".into())
    );
    let set = person.set(&[], &["--settings", &text(&other)]);
    assert_eq!(
        (&set["settings_file"]["from"], &set["settings"]["bench"]["value"]),
        (&"option".into(), &"other".into())
    );
}

#[test]
fn the_book_of_the_settings_file_is_the_one_that_is_written_from_every_folder() {
    let person = Person::new();
    person.settings("book = \"../../shop.sqlite\"\n");
    let done = person.call(&DEFINE);
    assert_eq!(done.code, Some(0), "{}", done.err);
    assert!(person.at("shop.sqlite").is_file() && !person.at(BOOK).exists() && person.work().is_empty());
    // A variable that is not an absolute path says where it leads.
    let done = person.call_with(&[("CELLTRIAGE_BOOK", Some("here.sqlite"))], &DEFINE);
    let here = person.at("work").canonicalize().expect("there").join("here.sqlite");
    assert!(done.err.contains(&format!("written as entry 1 of {}", here.display())), "{}", done.err);
}

#[test]
fn a_book_of_before_in_the_folder_of_the_call_is_told_once_and_left_alone() {
    let person = Person::new();
    let former = person.file("work/celltriage-book.sqlite", "kept as it is");
    let note = "celltriage-book.sqlite in this folder is not used";
    let done = person.call(&DEFINE);
    assert_eq!(done.code, Some(0), "{}", done.err);
    assert_eq!(done.err.matches(note).count(), 1, "{}", done.err);
    assert!(
        done.err.contains("--book celltriage-book.sqlite") && done.err.contains("book = '"),
        "{}",
        done.err
    );
    assert_eq!(fs::read_to_string(&former).expect("there"), "kept as it is");
    // Whoever says which book is meant has no need of it.
    let told = |variables: &[(&str, Option<&str>)], more: &[&str]| {
        person.call_with(variables, &[&["settings"], more].concat()).err
    };
    assert_eq!(told(&[], &["--book", "celltriage-book.sqlite"]), "");
    assert_eq!(told(&[("CELLTRIAGE_BOOK", Some("other.sqlite"))], &[]), "");
    person.settings(&format!("book = '{}'\n", former.display()));
    assert_eq!(told(&[], &[]), "");
}

#[test]
fn a_broken_settings_file_ends_what_asks_for_the_book_and_nothing_else() {
    let person = Person::new();
    let file = person.settings("bok = \"shop.sqlite\"\n");
    let want = format!("error: {}:1:1: unknown key `bok`; did you mean `book`?\nhint: ", file.display());
    let commands: [&[&str]; 5] = [
        &["settings"],
        &["book", "list"],
        &["book", "list", "--book", "other.sqlite"],
        &["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs"],
        &["due"],
    ];
    for typed in commands {
        let done = person.call(typed);
        assert!(done.err.starts_with(&want) && done.out.is_empty(), "{typed:?}: {}", done.err);
        assert_eq!(done.code, Some(2), "{typed:?}");
    }
    assert!(person.work().is_empty() && !person.at(BOOK).exists());
    // What is to be heeded is told with a warning, as without a place.
    let heed = person.call(&["rules", "cautions", "--condition", "swollen", "--action", "move"]);
    assert!(
        heed.code == Some(0) && heed.err.starts_with("warning: ") && !heed.out.is_empty(),
        "{}",
        heed.err
    );
    for typed in [&["rules", "list"][..], &["--help"], &["settings", "--help"], &["fixture", "list"]] {
        assert_eq!(person.call(typed).code, Some(0), "{typed:?}");
    }
    let missing = person.call(&["settings", "--settings", "no-such-file.toml"]);
    assert_eq!(missing.code, Some(2));
    assert!(
        missing.err.contains("no-such-file.toml") && missing.err.contains("option --settings"),
        "{}",
        missing.err
    );
    // Also where nothing of it is asked for.
    assert_eq!(person.call(&["rules", "list", "--settings", "no-such-file.toml"]).code, Some(2));
}

#[cfg(unix)]
#[test]
fn folders_that_are_not_known_are_told_with_what_to_do() {
    let person = Person::new();
    for (variables, want) in [
        (&[("XDG_DATA_HOME", Some(""))][..], "the variable XDG_DATA_HOME is empty"),
        (&[("XDG_DATA_HOME", Some("data"))], "the variable XDG_DATA_HOME is not an absolute path: data"),
        (&[("XDG_CONFIG_HOME", Some(""))], "the variable XDG_CONFIG_HOME is empty"),
        (
            &[("XDG_CONFIG_HOME", Some("config"))],
            "the variable XDG_CONFIG_HOME is not an absolute path: config",
        ),
        (&[("HOME", Some(""))], "the variable HOME is empty"),
        (&[("HOME", Some("home"))], "the variable HOME is not an absolute path: home"),
        (&[("HOME", None)], "the variable HOME is not set"),
        (&[("CELLTRIAGE_BOOK", Some(""))], "the variable CELLTRIAGE_BOOK is empty"),
        (&[("CELLTRIAGE_SETTINGS", Some(""))], "the variable CELLTRIAGE_SETTINGS is empty"),
        (&[("CELLTRIAGE_SETTINGS", Some("/dev/null/none"))], "cannot read the settings file /dev/null/none"),
    ] {
        let done = person.call_with(variables, &DEFINE);
        assert!(done.err.contains(want) && done.err.contains("\nhint: "), "{variables:?}: {}", done.err);
        assert_eq!(done.code, Some(2), "{variables:?}: {}", done.err);
        assert!(person.work().is_empty(), "{variables:?} began {:?}", person.work());
    }
    // Who names the book needs no home, and learns that no settings file is read.
    let done = person.call_with(&[("HOME", None)], &["settings", "--book", "b.sqlite"]);
    assert_eq!(done.code, Some(0), "{}", done.err);
    assert!(done.err.starts_with("warning: the variable HOME is not set"), "{}", done.err);
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_made_is_told() {
    let person = Person::new();
    let no_folder = text(&person.file("no-folder", ""));
    let done = person.call_with(&[("XDG_DATA_HOME", Some(&no_folder))], &DEFINE);
    assert_eq!(done.code, Some(5), "{}", done.err);
    assert!(done.err.starts_with("warning: cannot make the folder "), "{}", done.err);
    assert!(done.err.contains("\nerror: book "), "{}", done.err);
}

#[test]
fn the_demo_keeps_its_own_book() {
    let person = Person::new();
    person.settings("bok = \"broken\"\n");
    let done = person.call(&["demo"]);
    assert_eq!(done.code, Some(0), "{}", done.err);
    assert!(person.at("work/celltriage-demo/book.sqlite").is_file() && !person.at(BOOK).exists());
}
