//! A workshop with a book of its own: a folder, and the program called in this process with the clock held.

mod charge;
mod custody;
mod fixture;
mod friday;
mod known;

pub use charge::CHARGE;
pub use custody::{ABLE, BY};
pub use fixture::FIXTURE;
pub use friday::{FRIDAY, MONDAY, YEAR_BACK};
pub use known::REASON;

use crate::{Call, call, call_at, call_unstated, real_day};
use celltriage_book::{Book, Entry, Filter};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// When [`call`] is made.
pub const NOON: &str = "2026-11-25T12:00:00Z";
/// Later on the same day.
pub const EVENING: &str = "2026-11-25T18:00:00Z";

/// The folder. The program makes the book at the first call that writes.
#[derive(Debug)]
pub struct Shop {
    folder: tempfile::TempDir,
}

impl Default for Shop {
    fn default() -> Self {
        Self::new()
    }
}

impl Shop {
    /// An empty folder.
    ///
    /// # Panics
    /// If the system gives no folder.
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    /// With the book of the demo's day, whose cells are simulated.
    ///
    /// # Panics
    /// If the demo fails.
    pub fn of_the_demo() -> Self {
        let shop = Self::new();
        let done = call(&["demo", "--out", &shop.folder.path().to_string_lossy()], None);
        assert_eq!(done.code, 0, "{}", done.err);
        shop
    }

    /// With the book of the same day as if a real fixture had measured it.
    ///
    /// # Panics
    /// If the demo fails or a file cannot be copied.
    pub fn of_a_real_day() -> Self {
        static WRITTEN: OnceLock<Shop> = OnceLock::new();
        let written = WRITTEN.get_or_init(|| {
            let shop = Self::new();
            real_day(Path::new(&shop.book()));
            shop
        });
        let shop = Self::new();
        std::fs::copy(written.book(), shop.book()).expect("the book is copied");
        shop
    }

    /// The folder's own path.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// The path of a file in the folder.
    pub fn path(&self, name: &str) -> String {
        self.folder.path().join(name).to_string_lossy().into_owned()
    }

    /// Writes a file into the folder; returns its path.
    ///
    /// # Panics
    /// If it cannot be written.
    pub fn file(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        std::fs::write(&path, text).expect("a file");
        path
    }

    /// The path of the book.
    pub fn book(&self) -> String {
        self.path("book.sqlite")
    }

    /// The path of the book, for whoever opens it directly.
    pub fn book_path(&self) -> PathBuf {
        PathBuf::from(self.book())
    }

    /// Opens the book to read.
    ///
    /// # Panics
    /// If there is none.
    pub fn open(&self) -> Book {
        Book::open_read_only(self.book()).expect("a book")
    }

    /// All entries, the newest first.
    ///
    /// # Panics
    /// If the book cannot be read.
    pub fn entries(&self) -> Vec<Entry> {
        self.open().entries(&Filter::default()).expect("entries")
    }

    /// The number of the newest entry.
    ///
    /// # Panics
    /// If the book cannot be read.
    pub fn newest(&self) -> u32 {
        self.entries().first().map_or(0, |entry| entry.number)
    }

    /// The newest entry and the number of open recordings: what would show that something was written.
    ///
    /// # Panics
    /// If the book cannot be read.
    pub fn written(&self) -> (u32, usize) {
        let recordings = self.open().unfinished_recordings().expect("recordings");
        (self.newest(), recordings.len())
    }

    /// Puts the book after the command, or at the end if an action comes first there.
    fn with_book<'a>(book: &'a str, typed: &[&'a str]) -> Vec<&'a str> {
        let mut all = typed.to_vec();
        let at = if typed.first() == Some(&"fixture") { all.len() } else { 1 };
        all.splice(at..at, ["--book", book]);
        all
    }

    /// Calls the program at a time whose day is stated; without answers nobody sits there. Whatever writes an entry has to
    /// say where.
    ///
    /// # Panics
    /// If it has written and does not say where.
    pub fn call(&self, now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
        let before = self.newest_there_is();
        // A book of an older format is only read after the call has brought it up to date.
        let of_old = before.is_none() && Path::new(&self.book()).exists();
        let done = call_at(now, &Self::with_book(&self.book(), typed), answers);
        if !of_old && self.newest_there_is() > before {
            let said = format!(" of {}", self.book());
            let told =
                done.err.lines().any(|line| line.contains("written as entry ") && line.ends_with(&said));
            assert!(told, "{typed:?} has written and does not say where: {}", done.err);
        }
        done
    }

    /// The number of the newest entry, where there is a book that can be read.
    fn newest_there_is(&self) -> Option<u32> {
        let filter = Filter { limit: Some(1), ..Filter::default() };
        let entries = Book::open_read_only(self.book()).ok()?.entries(&filter).ok()?;
        entries.first().map(|entry| entry.number)
    }

    /// The same with nobody there.
    pub fn run(&self, now: &str, typed: &[&str]) -> Call {
        self.call(now, typed, None)
    }

    /// The same from a line split at its spaces, and words that have spaces in them.
    pub fn at(&self, now: &str, line: &str, more: &[&str]) -> Call {
        self.asked(now, line, more, None)
    }

    /// The same with somebody who answers.
    pub fn asked(&self, now: &str, line: &str, more: &[&str], answers: Option<&[&str]>) -> Call {
        let mut typed: Vec<&str> = line.split_whitespace().collect();
        typed.extend_from_slice(more);
        self.call(now, &typed, answers)
    }

    /// From a line, by somebody who does not say what day it is.
    pub fn unstated(&self, now: &str, line: &str, answers: Option<&[&str]>) -> Call {
        let typed: Vec<&str> = line.split_whitespace().collect();
        call_unstated(now, &Self::with_book(&self.book(), &typed), answers)
    }

    /// The same at noon, from words, with nobody there.
    pub fn run_unstated(&self, typed: &[&str]) -> Call {
        call_unstated(NOON, &Self::with_book(&self.book(), typed), None)
    }

    /// From a line, which has to be done.
    ///
    /// # Panics
    /// If it is refused.
    pub fn must(&self, now: &str, line: &str, more: &[&str]) -> Call {
        let done = self.at(now, line, more);
        assert_eq!(done.code, 0, "{line}: {}{}", done.out, done.err);
        done
    }

    /// At noon, to be done; returns what it prints.
    ///
    /// # Panics
    /// If it is refused.
    pub fn prints(&self, typed: &[&str]) -> String {
        let done = self.run(NOON, typed);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done.out
    }

    /// At noon, to be refused for this reason with nothing printed and nothing written.
    ///
    /// # Panics
    /// If it is done, or refused for another reason.
    pub fn refused(&self, typed: &[&str], why: &str) {
        let before = self.newest();
        let done = self.run(NOON, typed);
        assert!(done.code == 2 && done.out.is_empty(), "{typed:?}: {}{}", done.out, done.err);
        assert!(done.err.contains(why), "{typed:?}: {}", done.err);
        assert_eq!(self.newest(), before, "nothing is written");
    }

    /// A call as a snapshot keeps it: without the folder's name.
    pub fn shown(&self, call: &Call) -> String {
        call.shown().replace(&*self.folder.path().to_string_lossy(), "FOLDER")
    }
}
