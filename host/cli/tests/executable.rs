//! The real executable: it starts, keeps data and messages apart, and returns the documented exit codes.

// A panic is a verdict here, also in the helper.
#![allow(clippy::expect_used)]

mod shared;

use shared::at_home;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn program() -> Command {
    let mut command = at_home(Path::new(env!("CARGO_TARGET_TMPDIR")));
    command.current_dir(tests());
    command
}

fn tests() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests")
}

fn celltriage(typed: &[&str]) -> Output {
    program().args(typed).output().expect("the executable starts")
}

/// On a screen of its own, for whoever sees it and for whoever has it read aloud; 80 columns where nothing tells the width.
#[test]
fn a_decision_is_one_screen_and_with_the_variable_it_is_words_of_plain_letters() {
    let grade = ["grade", "traces/two_level.csv", "--cell", "labels/scanner_cell.toml", "--no-signs"];
    let seen = |variable: Option<&str>| {
        let mut command = program();
        command.args(grade).env_remove("COLUMNS").env_remove("ACCESSIBLE");
        let output = command.envs(variable.map(|value| ("ACCESSIBLE", value))).output().expect("it starts");
        String::from_utf8(output.stdout).expect("text")
    };
    for text in [seen(None), seen(Some("")), seen(Some("1"))] {
        assert!(text.lines().count() <= 23 && text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }
    assert!(
        seen(None).contains("UNDECIDED   cell two_level · ") && seen(None) == seen(Some("")),
        "{}",
        seen(None)
    );
    let words = seen(Some("1"));
    assert!(words.is_ascii() && words.contains("UNDECIDED: cell two_level, "), "{words}");
}

#[test]
fn it_says_its_version_and_what_it_understands() {
    let said = |option: &str| {
        let output = celltriage(&[option]);
        assert!(output.status.success());
        String::from_utf8_lossy(&output.stdout).trim().to_owned()
    };
    let name = concat!("celltriage ", env!("CARGO_PKG_VERSION"));
    assert_eq!(said("-V"), name);
    let long = said("--version");
    assert_eq!(long.lines().next(), Some(name));
    for row in ["commit ", "build ", "book       format ", "protocol   1 to ", "JSON ", "decisions  method "]
    {
        assert!(long.lines().any(|line| line.starts_with(row)), "{row} is missing: {long}");
    }
}

#[test]
fn completions_and_pages_are_made_and_a_shell_is_answered() {
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let lines = celltriage(&["completions", shell]);
        assert!(lines.status.success() && lines.stdout.len() > 100, "{shell}");
        assert!(String::from_utf8_lossy(&lines.stdout).contains("COMPLETE"), "{shell}");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("man");
    let made = celltriage(&["manual", "--out", &out.to_string_lossy()]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let page = std::fs::read_to_string(out.join("celltriage-assess.1")).expect("a page");
    assert!(page.contains(".TH celltriage") && page.contains("EXTENT"), "{page}");
    assert!(out.join("celltriage.1").is_file() && out.join("celltriage-container-place.1").is_file());
    // What the lines of bash call: the word at the place is completed, by what the book knows.
    let book = folder.path().join("book.sqlite");
    let cell = ["assess", "--id", "PE-0412", "--simulated", "swollen", "--sign", "swollen=yes", "--book"];
    let done = celltriage(&[&cell[..], &[&book.to_string_lossy()]].concat());
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let asked = shared::at_home(folder.path())
        .env("COMPLETE", "bash")
        .env("_CLAP_COMPLETE_INDEX", "4")
        .args(["--", "celltriage", "judge", "--book", &book.to_string_lossy(), "PE-"])
        .output()
        .expect("the executable starts");
    let offered = String::from_utf8_lossy(&asked.stdout).into_owned();
    assert_eq!(offered.trim(), "PE-0412", "{}", String::from_utf8_lossy(&asked.stderr));
}

#[test]
fn a_quiet_call_tells_no_more_than_the_data_and_a_verbose_one_where_settings_are_from() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = folder.path().join("book.sqlite").to_string_lossy().into_owned();
    let cell = ["assess", "--id", "Q-1", "--simulated", "sound", "--no-signs", "--book", &book];
    let quiet = celltriage(&[&cell[..], &["--quiet"]].concat());
    let told = String::from_utf8_lossy(&quiet.stderr).into_owned();
    assert!(quiet.status.success() && !told.contains("step ") && !told.contains("written as"), "{told}");
    let verbose = celltriage(&["--verbose", "book", "list", "--book", &book]);
    let told = String::from_utf8_lossy(&verbose.stderr).into_owned();
    assert!(told.contains(&format!("book: {book} (option --book)")) && told.contains("it took "), "{told}");
    // Colours are codes that only this option puts into a pipe.
    let page = |more: &str| celltriage(&["book", "show", "entry:1", "--book", &book, "--color", more]).stdout;
    assert!(
        page("always").contains(&0x1b) && !page("auto").contains(&0x1b) && !page("never").contains(&0x1b)
    );
}

#[test]
fn json_alone_goes_to_standard_output() {
    let output =
        celltriage(&["grade", "traces/two_level.csv", "--cell", "labels/scanner_cell.toml", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON and nothing else");
    assert_eq!(value["schema"], "celltriage.assessment/1");
}

#[test]
fn errors_go_to_standard_error_with_the_documented_codes() {
    let unusable = celltriage(&["grade", "traces/empty.csv", "--cell", "labels/scanner_cell.toml"]);
    assert_eq!(unusable.status.code(), Some(2));
    assert!(unusable.stdout.is_empty());
    let no_book = celltriage(&["book", "--book", "labels/scanner_cell.toml", "list"]);
    assert_eq!(no_book.status.code(), Some(5));
    let folder = tempfile::tempdir().expect("a folder");
    let no_port = celltriage(&[
        "assess",
        "--id",
        "PE-1",
        "--no-signs",
        "--port",
        "/dev/no-such-port",
        "--cell",
        "labels/scanner_cell.toml",
        "--book",
        &folder.path().join("book.sqlite").to_string_lossy(),
    ]);
    assert_eq!(no_port.status.code(), Some(3), "{}", String::from_utf8_lossy(&no_port.stderr));
}

#[test]
fn keys_come_from_the_system_and_only_the_public_half_is_printed() {
    let (folder, shop) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let book = shop.path().join("book.sqlite").to_string_lossy().into_owned();
    let made = ["one", "two"].map(|name| {
        let file = folder.path().join(name);
        let output = celltriage(&["book", "--book", &book, "key", &file.to_string_lossy()]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        let secret = std::fs::read_to_string(&file).expect("the key");
        let shown = String::from_utf8_lossy(&output.stdout).into_owned();
        let digits = secret.lines().nth(1).expect("a second line").to_owned();
        let all = format!("{shown}{}", String::from_utf8_lossy(&output.stderr));
        assert!(!all.contains(&digits), "the secret half stays in the file");
        assert!(shown.trim().len() == 64 && shown.lines().count() == 1, "{shown}");
        (shown, digits)
    });
    assert!(made[0].0 != made[1].0 && made[0].1 != made[1].1);
    assert!(!Path::new(&book).exists(), "a key begins no book");
}

#[test]
fn a_hot_cell_watch_that_is_killed_keeps_what_was_seen_and_its_alarms() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = folder.path().join("book.sqlite").to_string_lossy().into_owned();
    let mut watch = program()
        .args([
            "hot-cell-watch",
            "--id",
            "PE-0405",
            "--simulated",
            "self-warming",
            "--hours",
            "744",
            "--book",
            &book,
        ])
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the executable starts");
    // Until an alarm stands in the book: the recording before it is on the disk then.
    let begun = std::time::Instant::now();
    let alarmed =
        || String::from_utf8_lossy(&celltriage(&["book", "--book", &book, "list"]).stdout).contains("ALARM");
    while !alarmed() {
        assert!(begun.elapsed().as_secs() < 60, "no alarm within a minute");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    // Kill, not terminate: nothing of the program runs any more.
    watch.kill().expect("it still runs");
    watch.wait().expect("it has ended");
    let list = celltriage(&["book", "--book", &book, "list"]);
    let notes = String::from_utf8_lossy(&list.stderr).into_owned();
    assert!(notes.contains("of cell PE-0405") && notes.contains("was never judged"), "{notes}");
    let bytes: u64 = notes
        .split_once('(')
        .and_then(|(_, rest)| rest.split(' ').next())
        .and_then(|count| count.parse().ok())
        .expect("the note tells how much was kept");
    assert!(bytes > 100, "{notes}");
    assert_eq!(celltriage(&["book", "--book", &book, "verify"]).status.code(), Some(0));
}

/// Starts the executable on a pseudo-terminal and returns it with the terminal's other end.
fn at_a_terminal(typed: &[&str]) -> (std::process::Child, serialport::TTYPort) {
    use serialport::SerialPort;
    let (mut person, terminal) = serialport::TTYPort::pair().expect("a pseudo-terminal");
    let name = terminal.name().expect("a pseudo-terminal has a name");
    let open = || std::fs::OpenOptions::new().read(true).write(true).open(&name).expect("it opens");
    let child = program()
        .args(typed)
        .stdin(open())
        .stdout(open())
        .stderr(open())
        .spawn()
        .expect("the executable starts");
    person.set_timeout(std::time::Duration::from_millis(100)).expect("a time-out");
    (child, person)
}

#[test]
fn ctrl_c_at_a_question_ends_the_program_and_nothing_is_written() {
    use std::io::Read;
    let folder = tempfile::tempdir().expect("a folder");
    let book = folder.path().join("book.sqlite");
    let (mut child, mut person) =
        at_a_terminal(&["assess", "--id", "PE-1", "--simulated", "sound", "--book", &book.to_string_lossy()]);
    let (mut shown, mut buffer) = (Vec::new(), [0u8; 256]);
    let begun = std::time::Instant::now();
    while !String::from_utf8_lossy(&shown).contains("[y/n") {
        assert!(begun.elapsed().as_secs() < 60, "no question within a minute");
        if let Ok(count) = person.read(&mut buffer) {
            shown.extend_from_slice(buffer.get(..count).unwrap_or_default());
        }
    }
    // The question is on the screen a moment before the program waits for the answer.
    std::thread::sleep(std::time::Duration::from_millis(300));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill is there");
    assert!(sent.success());
    assert_eq!(child.wait().expect("it has ended").code(), Some(130));
    assert!(!book.exists(), "no book was begun");
}

/// Data that a full device does not take are not done, whatever form they have; a reader that went away is no error.
#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_an_error() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = folder.path().join("book.sqlite").to_string_lossy().into_owned();
    let label = ["--cell", "labels/scanner_cell.toml"];
    let made = celltriage(&[&["grade", "traces/two_level.csv", "--book", &book], &label[..]].concat());
    assert_eq!(made.status.code(), Some(0), "{}", String::from_utf8_lossy(&made.stderr));
    let simulated = format!("{book}.simulated");
    let calls: [&[&str]; 8] = [
        &["grade", "traces/two_level.csv", "--json", label[0], label[1]],
        &["grade", "traces/two_level.csv", label[0], label[1]],
        &["book", "--book", &book, "list"],
        &["book", "--book", &book, "show", "entry:1", "--json"],
        &["explain", "entry:1", "--book", &book],
        &["rules", "list"],
        &["--help"],
        &[
            "hot-cell-watch",
            "--id",
            "PE-1",
            "--simulated",
            "sound",
            "--hours",
            "0.01",
            "--json",
            "--book",
            &simulated,
        ],
    ];
    for typed in calls {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("there");
        let output = program().args(typed).stdout(full).output().expect("the executable starts");
        let err = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(7), "{typed:?}: {err}");
        assert!(err.contains("error: the output could not be written"), "{typed:?}: {err}");
    }
    // A reader that has gone away.
    let mut child = program()
        .args(["rules", "show", "DE"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the executable starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("ends");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
}
