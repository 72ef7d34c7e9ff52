//! The commit that a program is built from; part of the build scripts of the real board's program and of the host's.

use std::process::Command;

/// Returns the commit, with `+` where one of the folders and files that the program is made of differs from it; nothing outside of a
/// repository, and the program then says that it does not know. The build script is run again when one of them, or the commit, changes.
pub fn commit(sources: &[&str]) -> Option<String> {
    for source in sources {
        println!("cargo:rerun-if-changed={source}");
    }
    let git = |arguments: &[&str]| {
        let done = Command::new("git").args(arguments).output().ok()?;
        let text = String::from_utf8(done.stdout).ok()?;
        done.status.success().then(|| text.trim().to_owned())
    };
    println!("cargo:rerun-if-changed={}", git(&["rev-parse", "--git-path", "logs/HEAD"])?);
    let hash = git(&["rev-parse", "--short=12", "HEAD"])?;
    let changed = git(&[&["status", "--porcelain", "--"], sources].concat())?;
    Some(if changed.is_empty() { hash } else { format!("{hash}+") })
}
