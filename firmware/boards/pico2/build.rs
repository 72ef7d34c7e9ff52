//! Puts the memory map where the linker finds it, names the linker scripts, and tells the program its commit.

use std::path::PathBuf;
use std::process::Command;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or_else(|| io::Error::other("cargo sets OUT_DIR"))?);
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    for argument in ["--nmagic", "-Tlink.x", "-Tdefmt.x"] {
        println!("cargo:rustc-link-arg={argument}");
    }
    println!("cargo:rerun-if-changed=memory.x");
    if let Some(commit) = commit() {
        println!("cargo:rustc-env=CELLTRIAGE_COMMIT={commit}");
    }
    Ok(())
}

/// Returns the commit, with `+` where the sources of the program differ from it; nothing outside of a repository, and the
/// program then says that it does not know.
fn commit() -> Option<String> {
    const SOURCES: [&str; 3] = [".", "../../src", "../../../protocol"];
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
