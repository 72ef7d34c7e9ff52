//! Blanking the texts about persons in an entry: they go for good, every seal still fits, and that it was done is an entry.

use jiff::Timestamp;
use serde_json::json;

use super::append::append;
use super::entry::{Entry, NewEntry};
use super::personal::BLANKED;
use super::read::{sealed_text, words_of_row};
use super::store::PersonalRow;
use super::{Book, BookError, Problem};

/// The kind of the entry that says that another was blanked.
pub const BLANKED_KIND: &str = "blanked";

const ALREADY: &str = "it is blanked already";

impl Book {
    /// Blanks the texts about persons in an entry, and writes down that it was done, by whom and why. What was drawn from entries
    /// is drawn again at the next question. Copies of the book still hold the texts.
    ///
    /// # Errors
    /// [`Problem::NotScrubbed`] where all this is done and only traces could not be cleared away; a second call clears them, and
    /// says that the entry is blanked already.
    pub fn blank(&mut self, entry: u32, because: &str, by: &str, at: Timestamp) -> Result<Entry, BookError> {
        let done = self.write(|rows| {
            let number = i64::from(entry);
            let row = rows.entry(number)?.ok_or(Problem::UnknownEntry { number: entry })?;
            let personal = rows.personal(number)?;
            let why_not = if row.form == 1 {
                Some("it was written by an older version, which sealed names together with all else")
            } else if personal.is_empty() {
                Some("it holds no text about a person")
            } else if personal.iter().all(|one| one.text.is_none()) {
                Some(ALREADY)
            } else {
                None
            };
            if let Some(why) = why_not {
                return Err(Problem::NotBlanked { entry, why });
            }
            let texts = personal.len();
            let blank: Vec<PersonalRow> =
                personal.into_iter().map(|one| PersonalRow { text: None, ..one }).collect();
            let words = words_of_row(&row, &sealed_text(rows, number * 2)?, &blank)?;
            let new = NewEntry {
                summary: format!("{BLANKED} texts about persons in entry {entry}: {because} [{by}]"),
                inputs: json!({ "entry": entry, "texts": texts, "because": because, "by": by }),
                personal: vec![by.to_owned()],
                corrects: Some(entry),
                ..NewEntry::of(BLANKED_KIND, row.subject.clone(), at)
            };
            let said = append(rows, &new, None)?;
            rows.blank(number, &words)?;
            rows.clear_all_kept()?;
            Ok(said)
        });
        let blanked_already = done
            .as_ref()
            .is_err_and(|error| matches!(error.problem, Problem::NotBlanked { why, .. } if why == ALREADY));
        if blanked_already {
            // What was not cleared away at the time may go now.
            self.store.scrub().map_err(|problem| problem.at(&self.path))?;
        }
        let said = done?;
        // The texts are out of the book by now and an entry says so, which "nothing was written" would deny.
        self.store.scrub().map_err(|problem| {
            let detail = match problem {
                Problem::Locked => "another program reads the book".to_owned(),
                Problem::DiskFull => "the disk is full".to_owned(),
                other => other.to_string(),
            };
            Problem::NotScrubbed { entry: said.number, detail }.at(&self.path)
        })?;
        Ok(said)
    }
}
