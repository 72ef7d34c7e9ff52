//! The program's log as text, made by a program of its own, `tests/emulator/log`.

use crate::program::{program, target};
use std::io::Write;
use std::process::{Command, Stdio};

/// Returns what the program has logged, a line for each entry.
pub fn log_lines(logged: &[u8]) -> Vec<String> {
    let decoder = target().join("debug/celltriage-emulated-log");
    let mut child = Command::new(&decoder)
        .arg(&program().path)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{}: {error}. Run tests/emulator/setup first", decoder.display()));
    // Dropped when written: the decoder ends at the end of its input.
    child.stdin.take().expect("a pipe").write_all(logged).expect("the decoder reads");
    let text = child.wait_with_output().expect("the decoder ends");
    assert!(text.status.success(), "the log cannot be read: {text:?}");
    String::from_utf8_lossy(&text.stdout).lines().map(str::to_owned).collect()
}
