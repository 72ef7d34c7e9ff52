//! What waits for the book, what is kept, when it is tried again and what is to be told: plain steps, the time passed in.
//!
//! In: bytes and entries as they come, the time since the start, and what became of each piece of work. Out: the next piece of
//! work, what is acknowledged (on the disk), and news. Nothing here waits, opens or reads a clock.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::time::Duration;

use jiff::Timestamp;

use crate::{BookError, Entry, NewEntry, Problem, RecordingNumber};

use super::rest::{Rest, RestEntry};
use super::store::{Done, Work};

/// How often what waits is brought to the disk: a crash of the computer loses at most so much.
const FLUSH_EVERY: Duration = Duration::from_secs(1);
/// So many waiting bytes are brought to the disk earlier.
const FLUSH_BYTES: u64 = 256 * 1024;
/// So many bytes go to the disk at once at most: each request stays short beside another program's patience.
const MOST_AT_ONCE: usize = 1 << 20;
/// A book that did not take something is tried again after this time (our choice: seldom beside a write, soon for a person).
pub const RETRY_EVERY: Duration = Duration::from_secs(2);
/// The same at the end, while somebody waits for it.
const RETRY_AT_END: Duration = Duration::from_millis(200);
/// A request that takes longer is told as a disk that does not answer (our choice: a sync to a worn memory card takes a second).
pub(super) const HANGS_AFTER: Duration = Duration::from_secs(2);

/// What a queue is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordingTerms {
    /// The book, for what is told.
    pub book: PathBuf,
    /// The cell.
    pub cell: String,
    /// When the measurement began.
    pub began: Timestamp,
    /// So many bytes are held in memory at most.
    pub most_bytes: usize,
}

/// What is to be told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// Nothing is kept at present; this is why.
    NotKept(String),
    /// All that waited is on the disk.
    KeptAgain {
        /// Frames that are nowhere.
        lost_frames: u64,
    },
    /// Memory is full: frames are lost from now on.
    Losing,
}

/// Up to where everything is on the disk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Acknowledged {
    /// Bytes of the recording, of those that were pushed and not lost.
    pub bytes: u64,
    /// Entries.
    pub entries: u64,
}

struct Waiting {
    /// After so many bytes of the recording.
    after: u64,
    entry: NewEntry,
    finishes: bool,
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
    bytes: Vec<u8>,
    /// Bytes on the disk that are no longer in memory.
    dropped: u64,
    kept: Acknowledged,
    pushed_entries: u64,
    lost_frames: u64,
    entries: VecDeque<Waiting>,
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
            terms,
            bytes: Vec::new(),
            dropped: 0,
            kept: Acknowledged::default(),
            pushed_entries: 0,
            lost_frames: 0,
            entries: VecDeque::new(),
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
        if !self.has_room(frame.len()) {
            if self.lost_frames == 0 {
                self.news.push(News::Losing);
            }
            self.lost_frames = self.lost_frames.saturating_add(1);
            return self.pushed();
        }
        self.bytes.extend_from_slice(frame);
        self.pushed()
    }

    /// Takes an entry, which is brought to the disk at once, after the frames before it.
    pub fn enter(&mut self, entry: NewEntry) {
        self.wait_for(entry, false);
    }

    /// Takes the last entry, to which the recording belongs; from now on somebody waits.
    pub fn finish_with(&mut self, entry: NewEntry, now: Duration) {
        self.wait_for(entry, true);
        self.end(now);
    }

    /// Nothing more comes, and somebody waits for what is there to be kept.
    pub fn end(&mut self, now: Duration) {
        self.ending = true;
        self.next_try = now;
    }

    fn wait_for(&mut self, entry: NewEntry, finishes: bool) {
        self.pushed_entries += 1;
        self.entries.push_back(Waiting { after: self.pushed(), entry, finishes });
    }

    /// Returns what to do now; [`Self::done`] must be told what became of it before there is more.
    pub fn next(&mut self, now: Duration) -> Option<Work> {
        if self.over || self.under_way.is_some() || !self.is_due(now) {
            return None;
        }
        let (work, bytes) = self.work()?;
        let goal = Acknowledged { bytes: self.pushed(), entries: self.pushed_entries };
        self.under_way = Some(UnderWay { since: now, bytes, goal });
        Some(work)
    }

    fn work(&self) -> Option<(Work, u64)> {
        if !self.open {
            return Some((Work::Open { recording: self.recording }, 0));
        }
        let Some(recording) = self.recording else {
            return Some((Work::Begin { cell: self.terms.cell.clone(), at: self.terms.began }, 0));
        };
        let end = self.entries.front().map_or(self.pushed(), |first| first.after);
        let from = usize::try_from(self.kept.bytes.saturating_sub(self.dropped)).ok()?;
        let count = usize::try_from(end.saturating_sub(self.kept.bytes)).ok()?.min(MOST_AT_ONCE);
        if count > 0 {
            let bytes = self.bytes.get(from..from.saturating_add(count))?.to_vec();
            return Some((Work::Append { recording, bytes }, count as u64));
        }
        let first = self.entries.front()?;
        let recordings = if first.finishes { vec![recording] } else { Vec::new() };
        Some((Work::Enter(Box::new(NewEntry { recordings, ..first.entry.clone() })), 0))
    }

    /// Takes what became of the work under way.
    pub fn done(&mut self, outcome: Result<Done, BookError>, now: Duration) {
        let Some(under_way) = self.under_way.take() else { return };
        match outcome {
            Ok(done) => {
                self.failing = false;
                self.take(done, under_way.bytes, now);
                if self.trouble.is_some() && self.has(under_way.goal) {
                    self.trouble = None;
                    self.news.push(News::KeptAgain { lost_frames: self.lost_frames });
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
                // A commit whose answer never came may have been made.
                let more = recorded.filter(|length| (self.kept.bytes..=self.pushed()).contains(length));
                self.kept.bytes = more.unwrap_or(self.kept.bytes);
            }
            Done::Begun(number) => self.recording = Some(number),
            Done::Appended => {
                self.kept.bytes += bytes;
                self.next_try = now + FLUSH_EVERY;
            }
            Done::Entered(entry) => {
                self.kept.entries += 1;
                if self.entries.pop_front().is_some_and(|written| written.finishes) {
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
        let waits = self.waiting() > 0 || !self.entries.is_empty();
        (waits && self.under_way.is_none()).then(|| self.next_try.saturating_sub(now))
    }

    fn is_due(&self, now: Duration) -> bool {
        let nothing = self.waiting() == 0 && self.entries.is_empty();
        let at_once =
            !self.failing && (self.ending || !self.entries.is_empty() || self.waiting() >= FLUSH_BYTES);
        !nothing && (at_once || now >= self.next_try)
    }

    fn has_room(&mut self, more: usize) -> bool {
        if self.bytes.len().saturating_add(more) <= self.terms.most_bytes {
            return true;
        }
        let on_the_disk = usize::try_from(self.kept.bytes.saturating_sub(self.dropped)).unwrap_or(0);
        self.bytes.drain(..on_the_disk.min(self.bytes.len()));
        self.dropped = self.kept.bytes;
        self.bytes.len().saturating_add(more) <= self.terms.most_bytes
    }

    fn has(&self, goal: Acknowledged) -> bool {
        self.kept.bytes >= goal.bytes && self.kept.entries >= goal.entries
    }

    fn pushed(&self) -> u64 {
        self.dropped + self.bytes.len() as u64
    }

    fn waiting(&self) -> u64 {
        self.pushed().saturating_sub(self.kept.bytes)
    }
}

impl Queue {
    /// Returns up to where everything is on the disk.
    pub const fn acknowledged(&self) -> Acknowledged {
        self.kept
    }

    /// Returns whether everything is on the disk.
    pub fn is_all_kept(&self) -> bool {
        self.waiting() == 0 && self.entries.is_empty()
    }

    /// Returns whether it makes sense to wait any longer for what is not kept.
    pub const fn is_hopeless(&self) -> bool {
        self.hopeless || self.over
    }

    /// Returns whether the book has said anything: that it has taken something, or why not.
    pub const fn has_answered(&self) -> bool {
        self.trouble.is_some() || self.kept.bytes > 0 || self.kept.entries > 0
    }

    /// Returns the recording, once it is begun.
    pub const fn recording(&self) -> Option<RecordingNumber> {
        self.recording
    }

    /// Returns the bytes in memory, and how many before them are only on the disk.
    pub fn bytes(&self) -> (u64, &[u8]) {
        (self.dropped, &self.bytes)
    }

    /// Returns how many frames are nowhere.
    pub const fn lost_frames(&self) -> u64 {
        self.lost_frames
    }

    /// Returns the entry that has finished the recording.
    pub fn take_finished(&mut self) -> Option<Entry> {
        self.finished.take()
    }

    /// Says that no more work is given out.
    pub const fn is_over(&self) -> bool {
        self.over
    }

    /// Ends it: no more work is given out. Returns what the book has not taken; a request still under way counts as not taken.
    pub fn give_up(&mut self) -> Rest {
        self.over = true;
        let why = self.trouble.clone().unwrap_or_else(|| {
            format!("book {}: its disk has not answered in time", self.terms.book.display())
        });
        let entries = self.entries.drain(..);
        Rest {
            book: self.terms.book.clone(),
            why,
            cell: self.terms.cell.clone(),
            began: self.terms.began,
            from: self.dropped,
            entries: entries.map(|one| RestEntry { entry: one.entry, finishes: one.finishes }).collect(),
            bytes: std::mem::take(&mut self.bytes),
            lost_frames: self.lost_frames,
        }
    }
}
