//! Tells a program that is built for people its commit and target. A build for tests goes without: each commit would build all of it
//! again.

use std::env;
use std::process::Command;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    if let Ok(target) = env::var("TARGET") {
        println!("cargo:rustc-env=CELLTRIAGE_TARGET={target}");
    }
    if env::var("PROFILE").is_ok_and(|profile| profile == "release")
        && let Some(commit) = commit()
    {
        println!("cargo:rustc-env=CELLTRIAGE_COMMIT={commit}");
    }
}

/// Returns the commit, with `+` where the sources of the program differ from it; nothing outside of a repository, and the program
/// then says that it does not know.
fn commit() -> Option<String> {
    const SOURCES: [&str; 4] = ["..", "../../protocol", "../../firmware", "../../Cargo.lock"];
    for source in SOURCES {
        println!("cargo:rerun-if-changed={source}");
    }
    let git = |arguments: &[&str]| {
        let done = Command::new("git").args(arguments).output().ok()?;
        let text = String::from_utf8(done.stdout).ok()?;
        done.status.success().then(|| text.trim().to_owned())
    };
    println!("cargo:rerun-if-changed={}", git(&["rev-parse", "--git-path", "logs/HEAD"])?);
    let hash = git(&["rev-parse", "--short=12", "HEAD"])?;
    let changed = git(&[&["status", "--porcelain", "--"], &SOURCES[..]].concat())?;
    Some(if changed.is_empty() { hash } else { format!("{hash}+") })
}
