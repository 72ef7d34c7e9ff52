//! The real executable: it starts, keeps data and messages apart, and returns the documented exit codes.

// A panic is a verdict here, also in the helper.
#![allow(clippy::expect_used)]

use std::path::Path;
use std::process::{Command, Output};

fn celltriage(typed: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_celltriage"))
        .args(typed)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests"))
        .env_remove("CELLTRIAGE_PLACE")
        .env_remove("CELLTRIAGE_POLICY")
        .env_remove("CELLTRIAGE_BOOK")
        .output()
        .expect("the executable starts")
}

#[test]
fn it_says_its_version() {
    let output = celltriage(&["--version"]);
    assert!(output.status.success());
    assert_eq!(
        String::from_utf8_lossy(&output.stdout).trim(),
        concat!("celltriage ", env!("CARGO_PKG_VERSION"))
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
        &std::env::temp_dir().join("celltriage-executable-test.sqlite").to_string_lossy(),
    ]);
    assert_eq!(no_port.status.code(), Some(3), "{}", String::from_utf8_lossy(&no_port.stderr));
}
