//! Puts the memory map where the linker finds it, names the linker scripts, and tells the program its commit.

#[path = "../commit.rs"]
mod commit;

use std::path::PathBuf;
use std::{env, fs, io};

/// What the program is made of.
const SOURCES: [&str; 3] = [".", "../../src", "../../../protocol"];

fn main() -> io::Result<()> {
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or_else(|| io::Error::other("cargo sets OUT_DIR"))?);
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    for argument in ["--nmagic", "-Tlink.x", "-Tdefmt.x"] {
        println!("cargo:rustc-link-arg={argument}");
    }
    println!("cargo:rerun-if-changed=memory.x");
    println!("cargo:rerun-if-changed=../commit.rs");
    if let Some(commit) = commit::commit(&SOURCES) {
        println!("cargo:rustc-env=CELLTRIAGE_COMMIT={commit}");
    }
    Ok(())
}
