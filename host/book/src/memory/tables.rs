//! The tables of a book in memory, by the same keys as those of a database.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::super::Sort;
use super::super::identity::{Chain, Id};
use super::super::store::{EntryRow, KeptRow, KeptTo, LinkRow, PersonalRow, RecordingRow};
use super::super::texts::Packed;
use super::super::{Digest, Subject};
use super::random::Random;

/// Rows by one number.
pub(super) type Numbered<T> = BTreeMap<i64, T>;
/// Rows by the number of what they belong to, and their place there.
pub(super) type Placed<T> = BTreeMap<(i64, i64), T>;

/// An attached file without its bytes.
#[derive(Clone, Debug)]
pub(super) struct AttachmentRow {
    pub(super) name: String,
    pub(super) media_type: String,
    pub(super) sha256: Digest,
}

/// All tables.
#[derive(Clone, Debug, Default)]
pub(super) struct Tables {
    pub(super) random: Arc<Random>,
    pub(super) books: Numbered<Id>,
    pub(super) chains: Numbered<Chain>,
    pub(super) sort: Option<Sort>,
    pub(super) entries: Numbered<Arc<EntryRow>>,
    /// Entries by chain and position.
    pub(super) places: Placed<i64>,
    /// Entries by the book that they were first written into, and their number there.
    pub(super) origins: Placed<i64>,
    /// By twice the entry's number, and one more for the result.
    pub(super) texts: Numbered<Arc<Packed>>,
    pub(super) words: Numbered<Arc<str>>,
    pub(super) about: Placed<Subject>,
    pub(super) personal: Placed<PersonalRow>,
    pub(super) attachments: Placed<AttachmentRow>,
    pub(super) contents: Numbered<(Digest, Arc<[u8]>)>,
    pub(super) content_numbers: BTreeMap<Digest, i64>,
    pub(super) recordings: Numbered<RecordingRow>,
    /// Recordings that came from other books, by book and number there.
    pub(super) recordings_from: Placed<i64>,
    pub(super) unfinished: BTreeSet<i64>,
    /// By recording and position.
    pub(super) chunks: Placed<Arc<[u8]>>,
    pub(super) links: Numbered<LinkRow>,
    /// Links by recording and position.
    pub(super) link_places: Placed<i64>,
    /// Entries by book and number there.
    pub(super) known_as: Placed<i64>,
    pub(super) kept_to: BTreeMap<String, KeptTo>,
    /// By fold and key.
    pub(super) kept: BTreeMap<(String, String), KeptRow>,
    /// Fold, label, rank and key.
    pub(super) kept_under: BTreeSet<(String, String, i64, String)>,
}

/// Returns the last number of a table.
pub(super) fn last<T>(table: &Numbered<T>) -> i64 {
    table.last_key_value().map_or(0, |(number, _)| *number)
}

/// Returns the rows that belong to a number, in the order of their places.
pub(super) fn of<T>(table: &Placed<T>, number: i64) -> impl DoubleEndedIterator<Item = (i64, &T)> {
    table.range((number, i64::MIN)..=(number, i64::MAX)).map(|((_, place), row)| (*place, row))
}

/// Returns the last place among the rows that belong to a number.
pub(super) fn last_of<T>(table: &Placed<T>, number: i64) -> i64 {
    of(table, number).next_back().map_or(0, |(place, _)| place)
}
