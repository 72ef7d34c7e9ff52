//! Answers that a person gave about a cell before the call that asked for them came to its end: kept beside the book, offered to
//! the next call about the cell, forgotten once a decision holds them.
//!
//! They are no entry of the book: nobody has decided anything on them. A file that cannot be written or read loses no more than
//! the time of asking again.

use celltriage_book::files::{folder_of, named_after};
use celltriage_measure::observation::{Answer, Observations, Sign};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use std::fs::OpenOptions;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Write;
use std::path::{Path, PathBuf};

/// So long they may be taken up again: for so long a look speaks for a charge, too (common practice).
const USABLE: SignedDuration = crate::charge_permit::HOLDS;

/// The answers about one cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptAnswers {
    /// The cell.
    pub cell: String,
    /// When the last of them was given.
    pub at: Timestamp,
    /// The answers.
    pub answers: Observations,
}

impl KeptAnswers {
    /// Returns how many signs are answered.
    pub fn signs(&self) -> usize {
        Sign::ALL.into_iter().filter(|sign| self.answers.answer(*sign) != Answer::NotObserved).count()
    }

    /// Keeps them, in place of earlier ones.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn keep(&self, book: &Path) -> std::io::Result<()> {
        let file = file_of(book, &self.cell);
        std::fs::create_dir_all(folder_of(&file))?;
        let mut new = file.clone().into_os_string();
        new.push(".new");
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(&new)?.write_all(serde_json::to_string(self)?.as_bytes())?;
        // In one step: an answer is whole or not there.
        std::fs::rename(&new, &file)
    }

    /// Returns those of a cell that are not too old; whatever cannot be read is none.
    pub fn of(book: &Path, cell: &str, now: Timestamp) -> Option<Self> {
        let text = std::fs::read_to_string(file_of(book, cell)).ok()?;
        let kept: Self = serde_json::from_str(&text).ok()?;
        let age = now.duration_since(kept.at);
        (kept.cell == cell && !age.is_negative() && age <= USABLE).then_some(kept)
    }

    /// Forgets those of a cell.
    pub fn forget(book: &Path, cell: &str) {
        let _there_may_be_none = std::fs::remove_file(file_of(book, cell));
    }

    /// Returns all that are kept beside a book, also old ones.
    pub fn beside(book: &Path) -> Vec<Self> {
        let files = named_after(book, folder_of(book), "answers-", ".json");
        let read = |file: PathBuf| serde_json::from_str(&std::fs::read_to_string(file).ok()?).ok();
        files.into_iter().filter_map(read).collect()
    }
}

/// A name may hold signs that no file name can, so the file is named by a digest; it holds the name itself.
fn file_of(book: &Path, cell: &str) -> PathBuf {
    let mut digest = DefaultHasher::new();
    cell.hash(&mut digest);
    let mut file = book.as_os_str().to_owned();
    file.push(format!(".answers-{:016x}.json", digest.finish()));
    file.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOON: &str = "2026-11-25T12:00:00Z";

    #[test]
    fn answers_are_found_again_by_their_cell_for_a_day() {
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("book.sqlite");
        let at: Timestamp = NOON.parse().unwrap();
        let mut answers = Observations::default();
        answers.set(Sign::Swollen, Answer::No);
        answers.add_thickness(vec![3.3, 3.4]);
        let kept = KeptAnswers { cell: "PE/1 \u{e9}".to_owned(), at, answers };
        kept.keep(&book).unwrap();
        let of = |cell: &str, after: SignedDuration| KeptAnswers::of(&book, cell, at + after);
        let (now, hour) = (SignedDuration::ZERO, SignedDuration::from_hours(1));
        assert_eq!(of(&kept.cell, now), Some(kept.clone()));
        assert_eq!((kept.signs(), KeptAnswers::beside(&book).len()), (1, 1));
        assert_eq!(of("PE/1", now), None);
        assert_eq!(of(&kept.cell, USABLE + hour), None, "too old");
        assert_eq!(of(&kept.cell, -hour), None, "of a clock that stood ahead");
        std::fs::write(file_of(&book, &kept.cell), "{").unwrap();
        assert_eq!(of(&kept.cell, now), None);
        KeptAnswers::forget(&book, &kept.cell);
        assert!(KeptAnswers::beside(&book).is_empty());
    }

    #[cfg(unix)]
    #[test]
    fn only_the_owner_reads_them() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("book.sqlite");
        let kept =
            KeptAnswers { cell: "PE-1".to_owned(), at: NOON.parse().unwrap(), answers: Default::default() };
        kept.keep(&book).unwrap();
        let mode = std::fs::metadata(file_of(&book, "PE-1")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
}
