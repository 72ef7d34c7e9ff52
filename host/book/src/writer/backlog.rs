//! What was pushed and is not in the book yet: the bytes of one recording and the entries between them, bounded in memory.

use std::collections::VecDeque;

use crate::NewEntry;

use super::rest::RestEntry;

/// So many bytes go to the disk at once at most: each request stays short beside another program's patience
/// (our choice).
const MOST_AT_ONCE: usize = 1 << 20;

/// Up to where everything is on the disk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Acknowledged {
    /// Bytes of the recording, of those that were pushed and not lost.
    pub bytes: u64,
    /// Entries.
    pub entries: u64,
}

/// What is to be written next.
pub(super) enum Piece {
    /// Bytes of the recording.
    Bytes(Vec<u8>),
    /// An entry; the flag says whether the recording belongs to it.
    Entry(Box<NewEntry>, bool),
}

struct Waiting {
    /// After so many bytes of the recording.
    after: u64,
    entry: NewEntry,
    finishes: bool,
}

/// What was pushed.
pub(super) struct Backlog {
    most_bytes: usize,
    bytes: Vec<u8>,
    /// Bytes on the disk that are no longer in memory.
    dropped: u64,
    kept: Acknowledged,
    pushed_entries: u64,
    lost_frames: u64,
    entries: VecDeque<Waiting>,
}

impl Backlog {
    /// Begins with nothing; so many bytes are held at most.
    pub(super) fn new(most_bytes: usize) -> Self {
        Self {
            most_bytes,
            bytes: Vec::new(),
            dropped: 0,
            kept: Acknowledged::default(),
            pushed_entries: 0,
            lost_frames: 0,
            entries: VecDeque::new(),
        }
    }

    /// Takes a frame; returns whether there was room for it.
    pub(super) fn push(&mut self, frame: &[u8]) -> bool {
        if !self.has_room(frame.len()) {
            self.lost_frames = self.lost_frames.saturating_add(1);
            return false;
        }
        self.bytes.extend_from_slice(frame);
        true
    }

    /// Takes an entry, which comes after the bytes pushed so far.
    pub(super) fn enter(&mut self, entry: NewEntry, finishes: bool) {
        self.pushed_entries += 1;
        self.entries.push_back(Waiting { after: self.pushed().bytes, entry, finishes });
    }

    /// Returns what is to be written next, in the order in which it was pushed.
    pub(super) fn next(&self) -> Option<Piece> {
        let end = self.entries.front().map_or(self.pushed().bytes, |first| first.after);
        let from = usize::try_from(self.kept.bytes.saturating_sub(self.dropped)).ok()?;
        let count = usize::try_from(end.saturating_sub(self.kept.bytes)).ok()?.min(MOST_AT_ONCE);
        if count > 0 {
            return self
                .bytes
                .get(from..from.saturating_add(count))
                .map(|bytes| Piece::Bytes(bytes.to_vec()));
        }
        self.entries.front().map(|first| Piece::Entry(Box::new(first.entry.clone()), first.finishes))
    }

    /// So many more bytes are on the disk.
    pub(super) fn bytes_are_kept(&mut self, count: u64) {
        self.kept.bytes += count;
    }

    /// The recording is found to have so many bytes: a commit whose answer never came may have been made.
    pub(super) fn bytes_are_found(&mut self, count: u64) {
        if (self.kept.bytes..=self.pushed().bytes).contains(&count) {
            self.kept.bytes = count;
        }
    }

    /// The first entry is on the disk; returns whether the recording belonged to it.
    pub(super) fn entry_is_kept(&mut self) -> bool {
        self.kept.entries += 1;
        self.entries.pop_front().is_some_and(|written| written.finishes)
    }

    /// Makes room by what is on the disk already, if need be.
    fn has_room(&mut self, more: usize) -> bool {
        if self.bytes.len().saturating_add(more) <= self.most_bytes {
            return true;
        }
        let on_the_disk = usize::try_from(self.kept.bytes.saturating_sub(self.dropped)).unwrap_or(0);
        self.bytes.drain(..on_the_disk.min(self.bytes.len()));
        self.dropped = self.kept.bytes;
        self.bytes.len().saturating_add(more) <= self.most_bytes
    }

    /// Returns what was pushed and not lost.
    pub(super) fn pushed(&self) -> Acknowledged {
        Acknowledged { bytes: self.dropped + self.bytes.len() as u64, entries: self.pushed_entries }
    }

    /// Returns what is on the disk.
    pub(super) const fn kept(&self) -> Acknowledged {
        self.kept
    }

    /// Returns whether all of that is on the disk.
    pub(super) const fn has_kept(&self, goal: Acknowledged) -> bool {
        self.kept.bytes >= goal.bytes && self.kept.entries >= goal.entries
    }

    /// Returns how many bytes wait.
    pub(super) fn waiting_bytes(&self) -> u64 {
        self.pushed().bytes.saturating_sub(self.kept.bytes)
    }

    /// Returns whether an entry waits.
    pub(super) fn has_entries(&self) -> bool {
        !self.entries.is_empty()
    }

    /// Returns how many frames are nowhere.
    pub(super) const fn lost_frames(&self) -> u64 {
        self.lost_frames
    }

    /// Returns the bytes in memory, and how many before them are only on the disk.
    pub(super) fn bytes(&self) -> (u64, &[u8]) {
        (self.dropped, &self.bytes)
    }

    /// Hands over what is in memory.
    pub(super) fn take(&mut self) -> (Vec<u8>, Vec<RestEntry>) {
        let entries = self.entries.drain(..);
        let entries = entries.map(|one| RestEntry { entry: one.entry, finishes: one.finishes }).collect();
        (std::mem::take(&mut self.bytes), entries)
    }
}
