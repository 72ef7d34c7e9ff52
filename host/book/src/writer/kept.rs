//! Where something is kept that was to go into the book.

use std::path::PathBuf;

use crate::Entry;

/// Where it is kept.
#[derive(Clone, Debug, PartialEq)]
pub enum Kept {
    /// In this entry of the book.
    InBook(Box<Entry>),
    /// In a file beside the book, which is a small book by itself and is taken in later.
    Beside {
        /// Why the book did not take it.
        why: String,
        /// The file.
        file: PathBuf,
    },
    /// Nowhere.
    Nowhere {
        /// Why the book did not take it.
        why: String,
        /// Why it could not be put beside the book.
        beside: String,
    },
}

impl Kept {
    /// Returns the number of the entry, once it is on the disk.
    pub fn entry(&self) -> Option<u32> {
        match self {
            Self::InBook(entry) => Some(entry.number),
            Self::Beside { .. } | Self::Nowhere { .. } => None,
        }
    }

    /// Returns why the book did not take it.
    pub fn not_kept(&self) -> Option<&str> {
        match self {
            Self::InBook(_) => None,
            Self::Beside { why, .. } | Self::Nowhere { why, .. } => Some(why),
        }
    }
}
