//! The emulated board's program, and the place where its machines leave the addresses of what they have executed.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;
use std::sync::OnceLock;

/// The program as an ELF file.
#[derive(Debug)]
pub struct Program {
    /// Where it lies.
    pub path: PathBuf,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// Returns the program that `tests/emulator/setup` has built, or the one that `CELLTRIAGE_EMULATED_BOARD` names.
pub fn program() -> &'static Program {
    static PROGRAM: OnceLock<Program> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        let path = std::env::var_os("CELLTRIAGE_EMULATED_BOARD").map_or_else(
            || target().join("thumbv8m.main-none-eabihf/release/celltriage-emulated-board"),
            PathBuf::from,
        );
        let bytes = std::fs::read(&path).unwrap_or_else(|error| {
            panic!(
                "{}: {error}. Run tests/emulator/setup first: it builds the emulated board",
                path.display()
            )
        });
        Program { path, bytes }
    })
}

/// Returns the folder of executed addresses for this very program: another build has other addresses.
pub fn executed_folder() -> PathBuf {
    let mut hasher = DefaultHasher::new();
    program().bytes.hash(&mut hasher);
    target().join("executed").join(format!("{:016x}", hasher.finish()))
}

/// Returns the folder into which `tests/emulator/setup` builds.
pub fn target() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../target/emulated")
}
