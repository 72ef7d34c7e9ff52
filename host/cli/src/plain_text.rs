//! What reaches the terminal: our own words and codes; nothing that came from outside acts on it.
//!
//! A label, a file's name, a value in a table may hold codes that move the cursor, paint a word or turn the order of
//! letters round. They are shown as what they are (`\u001b`, the form of JSON, so that data stay readable by machines).
//! Our own codes are told from theirs by a number drawn when the program starts, which no file can know.

use celltriage_document::plain::is_hidden;
use std::fmt::Write as _;
use std::hash::{BuildHasher, RandomState};
use std::io::{self, ErrorKind, Write};
use std::sync::OnceLock;

/// Begins a code of a terminal (ECMA-48), and begins and ends a mark of ours.
const ESCAPE: char = '\u{1b}';
/// The bell of a terminal.
const BELL: char = '\u{7}';

/// The number of this run of the program. It decides nothing that is printed, so it needs no seed.
fn secret() -> &'static str {
    static SECRET: OnceLock<String> = OnceLock::new();
    SECRET.get_or_init(|| {
        let number = || RandomState::new().hash_one(0u8);
        format!("{:016x}{:016x}", number(), number())
    })
}

/// Marks a code as ours, given without its escape: `[1m`. Only what was marked so acts on a terminal.
pub fn own(code: &str) -> String {
    format!("{ESCAPE}{}{code}{ESCAPE}", secret())
}

/// Returns the bell of the terminal, marked as ours.
pub fn bell() -> String {
    own(BELL.encode_utf8(&mut [0; 4]))
}

/// Returns the text as a terminal gets it: our own codes at work, everything else that is no visible letter spelt out.
pub fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    loop {
        // Most of what is printed is plain; it is taken in one piece, for the sake of long files of JSON.
        let plain = |byte: u8| matches!(byte, b' '..=b'~' | b'\n');
        let run = rest.bytes().position(|byte| !plain(byte)).unwrap_or(rest.len());
        let (letters, others) = rest.split_at_checked(run).unwrap_or((rest, ""));
        out.push_str(letters);
        rest = others;
        let Some(letter) = rest.chars().next() else { return out };
        if letter == ESCAPE
            && let Some((code, after)) = own_code(rest)
        {
            if !code.starts_with(BELL) {
                out.push(ESCAPE);
            }
            out.push_str(code);
            rest = after;
            continue;
        }
        push_visible(&mut out, letter);
        rest = rest.get(letter.len_utf8()..).unwrap_or_default();
    }
}

/// Returns the code of ours that a text begins with, and what follows its mark.
fn own_code(text: &str) -> Option<(&str, &str)> {
    text.strip_prefix(ESCAPE)?.strip_prefix(secret())?.split_once(ESCAPE)
}

fn push_visible(out: &mut String, letter: char) {
    match letter {
        '\t' => out.push(' '),
        hidden if is_hidden(hidden) => {
            for unit in hidden.encode_utf16(&mut [0; 2]) {
                let _infallible = write!(out, "\\u{unit:04x}");
            }
        }
        visible => out.push(visible),
    }
}

/// A stream to a terminal or a file: writes what [`shown`] returns, and remembers that it could not.
pub struct PlainStream<'a> {
    to: &'a mut dyn Write,
    begun: Vec<u8>,
    failed: Option<io::Error>,
}

impl<'a> PlainStream<'a> {
    /// Puts itself before a stream.
    pub fn new(to: &'a mut dyn Write) -> Self {
        Self { to, begun: Vec::new(), failed: None }
    }

    /// Brings the rest out and returns the first reason why something could not be written. A reader that has gone away
    /// is none: it wants no more.
    pub fn finish(mut self) -> Option<io::Error> {
        let rest = std::mem::take(&mut self.begun);
        let _remembered = self.put(&String::from_utf8_lossy(&rest));
        let _remembered = self.flush();
        self.failed
    }

    fn put(&mut self, text: &str) -> io::Result<()> {
        let done = self.to.write_all(shown(text).as_bytes());
        self.remembered(done)
    }

    fn remembered(&mut self, done: io::Result<()>) -> io::Result<()> {
        let Err(error) = done else { return Ok(()) };
        let kind = error.kind();
        if kind != ErrorKind::BrokenPipe && self.failed.is_none() {
            self.failed = Some(error);
        }
        Err(kind.into())
    }
}

impl Write for PlainStream<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.begun.extend_from_slice(bytes);
        // A letter of several bytes may come in two parts: its first waits for the second.
        let whole = match std::str::from_utf8(&self.begun) {
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            _ => self.begun.len(),
        };
        let rest = self.begun.split_off(whole.min(self.begun.len()));
        let text = std::mem::replace(&mut self.begun, rest);
        self.put(&String::from_utf8_lossy(&text))?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        let done = self.to.flush();
        self.remembered(done)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_comes_from_outside_is_spelt_out_and_what_is_ours_acts() {
        let forged = "\u{1b}[1;97;42mR E U S E\u{1b}[0m\u{7}\r\u{9b}2J\u{202e}dab\u{200b}\u{e0041}";
        let told = shown(forged);
        assert_eq!(
            told,
            "\\u001b[1;97;42mR E U S E\\u001b[0m\\u0007\\u000d\\u009b2J\\u202edab\\u200b\\udb40\\udc41"
        );
        let ours = format!("{}{}DANGER{}\ta\nb", bell(), own("[1;97;41m"), own("[0m"));
        assert_eq!(shown(&ours), "\u{7}\u{1b}[1;97;41mDANGER\u{1b}[0m a\nb");
        assert_eq!(shown("25 °C, ±3 %, Ω, 日本, é"), "25 °C, ±3 %, Ω, 日本, é");
    }

    #[test]
    fn a_mark_that_another_run_of_the_program_made_is_spelt_out() {
        let other = own("[1m").replace(secret(), "0123456789abcdef0123456789abcdef");
        assert!(!shown(&other).contains(ESCAPE), "{other:?}");
    }

    #[test]
    fn json_with_hidden_letters_reads_back_to_the_same() {
        let value = serde_json::json!({ "a\u{202e}": "\\\u{9b}\u{7f}\u{1b}\"\u{feff}\u{e0041}" });
        let told = shown(&value.to_string());
        assert!(told.is_ascii(), "{told}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&told).unwrap(), value);
    }

    proptest! {
        #[test]
        fn no_text_from_outside_reaches_the_terminal_as_control(text in any::<String>(), cut in 0usize..40) {
            let mut out = Vec::new();
            let mut stream = PlainStream::new(&mut out);
            let bytes = text.as_bytes();
            let (first, second) = bytes.split_at(cut.min(bytes.len()));
            stream.write_all(first).unwrap();
            stream.write_all(second).unwrap();
            assert!(stream.finish().is_none());
            let out = String::from_utf8(out).unwrap();
            prop_assert!(out.chars().all(|letter| letter == '\n' || !is_hidden(letter)));
            prop_assert_eq!(out, shown(&text));
        }
    }

    /// Fails with an error at every write.
    struct Full(ErrorKind);

    impl Write for Full {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(self.0.into())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_stream_remembers_that_it_could_not_write_but_for_a_reader_that_has_gone() {
        for (kind, told) in [(ErrorKind::StorageFull, true), (ErrorKind::BrokenPipe, false)] {
            let mut full = Full(kind);
            let mut stream = PlainStream::new(&mut full);
            assert!(writeln!(stream, "data").is_err());
            assert_eq!(stream.finish().map(|error| error.kind()), told.then_some(kind));
        }
    }
}
