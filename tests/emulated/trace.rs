//! What an emulated machine has executed, from the emulator's own log.
//!
//! The emulator translates a piece of code when the processor is about to run it, up to its next branch, and with
//! `-d in_asm` it logs each piece then: that costs nothing once a piece was translated. Of a piece that a fault cuts
//! short the rest counts as run; no test but those of a used-up stack makes the processor fault.

use crate::program::executed_folder;
use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

/// The log of one machine.
#[derive(Debug)]
pub struct Trace {
    log: PathBuf,
}

impl Trace {
    /// Chooses a place for the log.
    pub fn new() -> Self {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let folder = executed_folder();
        fs::create_dir_all(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        Self { log: folder.join(format!("{}-{number}.log", std::process::id())) }
    }

    /// Returns where the emulator shall write its log.
    pub fn path(&self) -> &Path {
        &self.log
    }

    /// Keeps the addresses and drops the log, once the emulator is gone.
    pub fn keep(&self) {
        // A machine that was never powered up has left no log.
        let Ok(log) = fs::File::open(&self.log) else { return };
        // A line that was being written when the plug was pulled may be cut short: it is not whole text or has no colon.
        let lines = BufReader::new(log).lines().map_while(Result::ok);
        let addresses: BTreeSet<u32> = lines.filter_map(|line| address(&line)).collect();
        let text: String = addresses.iter().map(|address| format!("{address:x}\n")).collect();
        let kept = self.log.with_extension("addresses");
        fs::write(&kept, text).unwrap_or_else(|error| panic!("{}: {error}", kept.display()));
        let _gone = fs::remove_file(&self.log);
    }
}

/// Reads a line such as `0x10000598:  b580       push     {r7, lr}`.
fn address(line: &str) -> Option<u32> {
    let (address, _) = line.strip_prefix("0x")?.split_once(':')?;
    u32::from_str_radix(address, 16).ok()
}
