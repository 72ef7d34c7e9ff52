//! A call that a person ends with Ctrl-C: before it begins, or as soon as it prints certain words.

use crate::Call;
use crate::calls::unset;
use celltriage_host::io::Io;
use std::ffi::OsString;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// Collects what is printed and wants to stop at the words.
struct Watching<'a> {
    printed: Vec<u8>,
    words: &'a str,
    stop: &'a AtomicBool,
}

impl Write for Watching<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.printed.extend_from_slice(bytes);
        if String::from_utf8_lossy(&self.printed).contains(self.words) {
            self.stop.store(true, Ordering::Relaxed);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Calls the program and stops it as soon as its notes hold these words; at once where they are empty.
pub fn call_stopped_at(words: &str, typed: &[&str]) -> Call {
    let stop = AtomicBool::new(words.is_empty());
    let mut err = Watching { printed: Vec::new(), words, stop: &stop };
    let mut out = Vec::new();
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        ask: None,
        now: "2026-11-25T12:00:00Z".parse().expect("a timestamp"),
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        zone: jiff::tz::TimeZone::UTC,
        width: 100,
        height: None,
        colour: false,
        live: false,
        bars: None,
        told: Vec::new(),
        loudness: celltriage_host::io::Loudness::Usual,
        in_words: false,
        screen: false,
        stop: &stop,
    };
    let typed = std::iter::once("celltriage").chain(typed.iter().copied()).map(OsString::from);
    let code = celltriage_host::run(typed, &unset(), &mut io);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("output is UTF-8");
    Call { code, out: text(out), err: text(err.printed) }
}
