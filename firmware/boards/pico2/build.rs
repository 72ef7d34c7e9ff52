//! Puts the memory map where the linker finds it and names the linker scripts.

use std::path::PathBuf;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let out = PathBuf::from(env::var_os("OUT_DIR").ok_or_else(|| io::Error::other("cargo sets OUT_DIR"))?);
    fs::copy("memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    for argument in ["--nmagic", "-Tlink.x", "-Tdefmt.x"] {
        println!("cargo:rustc-link-arg={argument}");
    }
    println!("cargo:rerun-if-changed=memory.x");
    Ok(())
}
