//! A place in memory that start-up leaves as it is: an entry there outlives a reset, though no power failure.
//!
//! The board puts a [`Keep`] into a section that is not cleared. Whatever lies there after power-up has no right CRC and is
//! nothing; words are atomic, since a panic writes them from whichever priority it happens in.

use crate::entry::{Entry, SIZE};
use core::sync::atomic::{AtomicU32, Ordering};

const WORDS: usize = SIZE / 4;

/// The place.
#[derive(Debug)]
pub struct Keep([AtomicU32; WORDS]);

impl Default for Keep {
    fn default() -> Self {
        Self::new()
    }
}

impl Keep {
    /// Returns an empty place; in its section it has what was left there instead.
    pub const fn new() -> Self {
        Self([const { AtomicU32::new(0) }; WORDS])
    }

    /// Puts an entry there.
    pub fn put(&self, entry: &Entry) {
        let bytes = entry.to_bytes().unwrap_or([0; SIZE]);
        let (words, _) = bytes.as_chunks::<4>();
        for (word, bytes) in self.0.iter().zip(words) {
            word.store(u32::from_le_bytes(*bytes), Ordering::Relaxed);
        }
    }

    /// Takes the entry that lies there, if there is one.
    pub fn take(&self) -> Option<Entry> {
        let mut bytes = [0; SIZE];
        let (places, _) = bytes.as_chunks_mut::<4>();
        for (word, place) in self.0.iter().zip(places) {
            *place = word.swap(0, Ordering::Relaxed).to_le_bytes();
        }
        Entry::from_bytes(&bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entry::What;

    #[test]
    fn an_entry_is_taken_once_and_what_is_left_of_it_is_nothing() {
        let keep = Keep::new();
        assert_eq!(keep.take(), None);
        let entry = Entry { boot: 7, what: What::Panic(crate::entry::calls([3])) };
        keep.put(&entry);
        assert_eq!(keep.take(), Some(entry.clone()));
        assert_eq!(keep.take(), None);
        keep.put(&entry);
        keep.0[3].fetch_xor(1 << 9, Ordering::Relaxed);
        assert_eq!(keep.take(), None);
    }
}
