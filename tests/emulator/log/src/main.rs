//! Reads the log of the emulated program from its input, as the program's file says what the numbers in it mean, and
//! writes it as text, a line for each entry.
//!
//!     celltriage-emulated-log PROGRAM < BYTES

use std::error::Error;
use std::io::{Read, Write, stdin, stdout};

use defmt_decoder::{DecodeError, Table};

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).ok_or("name the program's file (ELF) behind the command")?;
    let program = std::fs::read(&path).map_err(|error| format!("{}: {error}", path.display()))?;
    let table = Table::parse(&program)?.ok_or_else(|| format!("{} holds no table of log entries", path.display()))?;
    let mut bytes = Vec::new();
    stdin().read_to_end(&mut bytes)?;
    let mut decoder = table.new_stream_decoder();
    decoder.received(&bytes);
    let mut out = stdout().lock();
    loop {
        match decoder.decode() {
            Ok(frame) => writeln!(out, "{}", frame.display_message())?,
            // A program that ended in the middle of an entry.
            Err(DecodeError::UnexpectedEof) => return Ok(()),
            Err(DecodeError::Malformed) => writeln!(out, "(an entry that cannot be read)")?,
        }
    }
}
