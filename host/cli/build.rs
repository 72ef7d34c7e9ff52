//! Tells a program that is built for people its commit and target. A build for tests goes without: each commit would build all of it
//! again.

#[path = "../../firmware/boards/commit.rs"]
mod commit;

use std::env;

/// What the program is made of.
const SOURCES: [&str; 4] = ["..", "../../protocol", "../../firmware", "../../Cargo.lock"];

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    if let Ok(target) = env::var("TARGET") {
        println!("cargo:rustc-env=CELLTRIAGE_TARGET={target}");
    }
    if env::var("PROFILE").is_ok_and(|profile| profile == "release")
        && let Some(commit) = commit::commit(&SOURCES)
    {
        println!("cargo:rustc-env=CELLTRIAGE_COMMIT={commit}");
    }
}
