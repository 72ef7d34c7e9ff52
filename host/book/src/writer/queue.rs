//! What waits for the book, what is kept, when it is tried again and what is to be told: plain steps, the time passed in.
//!
//! In: bytes and entries as they come, the time since the start, and what became of each piece of work. Out: the next piece of
//! work, what is acknowledged (on the disk), and news. Nothing here waits, opens or reads a clock.

use std::path::PathBuf;
use std::time::Duration;

use jiff::Timestamp;

use crate::{BookError, Entry, NewEntry, Problem, RecordingNumber};

use super::backlog::{Acknowledged, Backlog, Piece};
use super::news::News;
use super::rest::Rest;
use super::worker::{Done, Work};

/// How often what waits is brought to the disk: a crash of the computer loses at most so much (our choice).
const FLUSH_EVERY: Duration = Duration::from_secs(1);
/// So many waiting bytes are brought to the disk earlier (our choice).
const FLUSH_BYTES: u64 = 256 * 1024;
/// A book that did not take something is tried again after this time (our choice: seldom beside a write, soon for a person).
pub const RETRY_EVERY: Duration = Duration::from_secs(2);
/// The same at the end, while somebody waits for it (our choice).
const RETRY_AT_END: Duration = Duration::from_millis(200);
/// A request that takes longer is told as a disk that does not answer (our choice: a sync to a worn memory card takes a second).
pub(super) const HANGS_AFTER: Duration = Duration::from_secs(2);

/// What a recording is of, and for which book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordingTerms {
    /// The book.
    pub book: PathBuf,
    /// The cell.
    pub cell: String,
    /// When the measurement began.
    pub began: Timestamp,
    /// So many bytes are held in memory at most.
    pub most_bytes: usize,
}

struct UnderWay {
    since: Duration,
    bytes: u64,
    /// What had been pushed when it was begun.
    goal: Acknowledged,
}

/// What waits for the book.
pub struct Queue {
    terms: RecordingTerms,
    backlog: Backlog,
    recording: Option<RecordingNumber>,
    open: bool,
    under_way: Option<UnderWay>,
    next_try: Duration,
    failing: bool,
    trouble: Option<String>,
    news: Vec<News>,
    finished: Option<Entry>,
    ending: bool,
    hopeless: bool,
    over: bool,
}

impl Queue {
    /// Begins with nothing.
    pub fn new(terms: RecordingTerms) -> Self {
        Self {
            backlog: Backlog::new(terms.most_bytes),
            terms,
            recording: None,
            open: false,
            under_way: None,
            next_try: Duration::ZERO,
            failing: false,
            trouble: None,
            news: Vec::new(),
            finished: None,
            ending: false,
            hopeless: false,
            over: false,
        }
    }

    /// Takes a frame; returns its ticket: it is on the disk once so many bytes are acknowledged.
    pub fn push(&mut self, frame: &[u8]) -> u64 {
        if !self.backlog.push(frame) && self.backlog.lost_frames() == 1 {
            self.news.push(News::Losing);
        }
        self.backlog.pushed().bytes
    }

    /// Takes an entry, which is brought to the disk at once, after the frames before it.
    pub fn enter(&mut self, entry: NewEntry) {
        self.backlog.enter(entry, false);
    }

    /// Takes the last entry, to which the recording belongs; from now on somebody waits.
    pub fn finish_with(&mut self, entry: NewEntry, now: Duration) {
        self.backlog.enter(entry, true);
        self.end(now);
    }

    /// Nothing more comes, and somebody waits for what is there to be kept.
    pub fn end(&mut self, now: Duration) {
        self.ending = true;
        self.next_try = now;
    }

    /// Returns what to do now; [`Self::done`] must be told what became of it before there is more.
    pub fn next(&mut self, now: Duration) -> Option<Work> {
        if self.over || self.under_way.is_some() || !self.is_due(now) {
            return None;
        }
        let work = self.work()?;
        let bytes = if let Work::Append { bytes, .. } = &work { bytes.len() as u64 } else { 0 };
        self.under_way = Some(UnderWay { since: now, bytes, goal: self.backlog.pushed() });
        Some(work)
    }

    fn work(&self) -> Option<Work> {
        if !self.open {
            return Some(Work::Open { recording: self.recording });
        }
        let Some(recording) = self.recording else {
            return Some(Work::Begin { cell: self.terms.cell.clone(), at: self.terms.began });
        };
        Some(match self.backlog.next()? {
            Piece::Bytes(bytes) => Work::Append { recording, bytes },
            Piece::Entry(entry, finishes) => {
                let recordings = if finishes { vec![recording] } else { Vec::new() };
                Work::Enter(Box::new(NewEntry { recordings, ..*entry }))
            }
        })
    }

    /// Takes what became of the work under way.
    pub fn done(&mut self, outcome: Result<Done, BookError>, now: Duration) {
        let Some(under_way) = self.under_way.take() else { return };
        match outcome {
            Ok(done) => {
                self.failing = false;
                self.take(done, under_way.bytes, now);
                if self.trouble.is_some() && self.backlog.has_kept(under_way.goal) {
                    self.trouble = None;
                    self.news.push(News::KeptAgain { lost_frames: self.backlog.lost_frames() });
                }
            }
            Err(error) => {
                self.failing = true;
                self.next_try = now + if self.ending { RETRY_AT_END } else { RETRY_EVERY };
                // A lock passes. After anything else the file is opened again: it may be another by then.
                let is_locked = matches!(error.problem, Problem::Locked);
                self.open &= is_locked;
                self.hopeless |= self.ending && !is_locked;
                self.in_trouble(error.to_string());
            }
        }
    }

    fn take(&mut self, done: Done, bytes: u64, now: Duration) {
        self.next_try = now;
        match done {
            Done::Opened { recorded } => {
                self.open = true;
                if let Some(recorded) = recorded {
                    self.backlog.bytes_are_found(recorded);
                }
            }
            Done::Begun(number) => self.recording = Some(number),
            Done::Appended => {
                self.backlog.bytes_are_kept(bytes);
                self.next_try = now + FLUSH_EVERY;
            }
            Done::Entered(entry) => {
                if self.backlog.entry_is_kept() {
                    self.finished = Some(*entry);
                }
            }
        }
    }

    fn in_trouble(&mut self, why: String) {
        if self.trouble.is_none() {
            self.news.push(News::NotKept(why.clone()));
        }
        self.trouble = Some(why);
    }

    /// Says that nobody will ever do the work.
    pub fn refuse(&mut self, why: String) {
        self.hopeless = true;
        self.in_trouble(why);
    }

    /// Returns what is to be told and was not yet; a request that takes too long is told here.
    pub fn news(&mut self, now: Duration) -> Vec<News> {
        let waits = self.under_way.as_ref().map(|work| now.saturating_sub(work.since));
        if self.trouble.is_none() && !self.over && waits.is_some_and(|waits| waits >= HANGS_AFTER) {
            let (book, seconds) = (self.terms.book.display(), HANGS_AFTER.as_secs());
            self.in_trouble(format!("book {book}: its disk has not answered for {seconds} s"));
        }
        std::mem::take(&mut self.news)
    }

    /// Returns how long there is nothing to do; `None`: until something is pushed or done.
    pub fn pause(&self, now: Duration) -> Option<Duration> {
        (!self.is_all_kept() && self.under_way.is_none()).then(|| self.next_try.saturating_sub(now))
    }

    fn is_due(&self, now: Duration) -> bool {
        let is_much = self.backlog.has_entries() || self.backlog.waiting_bytes() >= FLUSH_BYTES;
        let at_once = !self.failing && (self.ending || is_much);
        !self.is_all_kept() && (at_once || now >= self.next_try)
    }

    /// Returns up to where everything is on the disk.
    pub const fn acknowledged(&self) -> Acknowledged {
        self.backlog.kept()
    }

    /// Returns whether everything is on the disk.
    pub fn is_all_kept(&self) -> bool {
        self.backlog.waiting_bytes() == 0 && !self.backlog.has_entries()
    }

    /// Returns whether it makes no sense to wait any longer for what is not kept.
    pub const fn is_hopeless(&self) -> bool {
        self.hopeless || self.over
    }

    /// Returns whether the book has said anything: that it has taken something, or why not.
    pub fn has_answered(&self) -> bool {
        self.trouble.is_some() || self.acknowledged() != Acknowledged::default()
    }

    /// Returns the recording, once it is begun.
    pub const fn recording(&self) -> Option<RecordingNumber> {
        self.recording
    }

    /// Returns the bytes in memory, and how many before them are only on the disk.
    pub fn bytes(&self) -> (u64, &[u8]) {
        self.backlog.bytes()
    }

    /// Returns how many frames are nowhere.
    pub const fn lost_frames(&self) -> u64 {
        self.backlog.lost_frames()
    }

    /// Returns the entry that has finished the recording.
    pub const fn take_finished(&mut self) -> Option<Entry> {
        self.finished.take()
    }

    /// Says that no more work is given out.
    pub const fn is_over(&self) -> bool {
        self.over
    }

    /// Ends it: no more work is given out. Returns what the book has not taken; a request still under way counts as not taken.
    pub fn give_up(&mut self) -> Rest {
        self.over = true;
        let (from, lost_frames) = (self.bytes().0, self.lost_frames());
        let (bytes, entries) = self.backlog.take();
        let RecordingTerms { book, cell, began, .. } = self.terms.clone();
        let silent = || format!("book {}: its disk has not answered in time", book.display());
        let why = self.trouble.clone().unwrap_or_else(silent);
        Rest { book, why, cell, began, from, bytes, entries, lost_frames }
    }
}
