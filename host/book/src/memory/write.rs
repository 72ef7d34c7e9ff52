//! The rows of a book written to memory. Each call looks at every rule before it changes anything.

use std::sync::Arc;

use super::super::identity::{Chain, Id};
use super::super::store::{EntryRow, KeptRow, KeptTo, LinkRow, PersonalRow, RecordingRow, RowsMut};
use super::super::texts::Packed;
use super::super::{Digest, NewAttachment, Problem, Sort, Subject};
use super::rules::{is_named, is_there, rule};
use super::tables::{AttachmentRow, Tables, last, last_of, of};

const HERE_ALREADY: &str = "this is here already";

impl RowsMut for Tables {
    fn random(&self) -> Result<[u8; 16], Problem> {
        Ok(self.random.sixteen())
    }

    fn add_book(&mut self, id: Id) -> Result<i64, Problem> {
        rule(self.books.values().all(|known| *known != id), HERE_ALREADY)?;
        let number = last(&self.books) + 1;
        self.books.insert(number, id);
        Ok(number)
    }

    fn add_chain(&mut self, chain: &Chain) -> Result<i64, Problem> {
        rule(self.chains.values().all(|known| known.id != chain.id), HERE_ALREADY)?;
        is_named(&chain.bench)?;
        let number = last(&self.chains) + 1;
        self.chains.insert(number, chain.clone());
        Ok(number)
    }

    fn set_sort(&mut self, sort: Sort) -> Result<(), Problem> {
        rule(self.sort.is_none(), HERE_ALREADY)?;
        self.sort = Some(sort);
        Ok(())
    }

    fn add_entry(&mut self, row: &EntryRow) -> Result<(), Problem> {
        self.takes_entry(row)?;
        self.entries.insert(row.number, Arc::new(row.clone()));
        self.places.insert((row.chain, row.position), row.number);
        self.origins.insert((row.origin, row.origin_number), row.number);
        Ok(())
    }

    fn add_text(&mut self, number: i64, text: &Packed) -> Result<(), Problem> {
        rule(!self.texts.contains_key(&number), "this entry is sealed")?;
        self.is_open(number / 2)?;
        self.texts.insert(number, Arc::new(text.clone()));
        Ok(())
    }

    fn add_words(&mut self, entry: i64, words: &str) -> Result<(), Problem> {
        rule(!self.words.contains_key(&entry), HERE_ALREADY)?;
        self.words.insert(entry, words.into());
        Ok(())
    }

    fn add_about(&mut self, entry: i64, position: i64, subject: &Subject) -> Result<(), Problem> {
        rule(position == last_of(&self.about, entry) + 1, "this entry is sealed")?;
        self.is_open(entry)?;
        is_named(&subject.name)?;
        self.about.insert((entry, position), subject.clone());
        Ok(())
    }

    fn add_personal(&mut self, entry: i64, position: i64, row: &PersonalRow) -> Result<(), Problem> {
        rule(position == last_of(&self.personal, entry) + 1, "this entry is sealed")?;
        self.is_open(entry)?;
        self.personal.insert((entry, position), row.clone());
        Ok(())
    }

    fn blank(&mut self, entry: i64, words: &str) -> Result<(), Problem> {
        let places: Vec<i64> = of(&self.personal, entry).map(|(place, _)| place).collect();
        if !places.is_empty() {
            self.may_be_blanked(entry)?;
        }
        for place in places {
            if let Some(row) = self.personal.get_mut(&(entry, place)) {
                row.text = None;
            }
        }
        if let Some(known) = self.words.get_mut(&entry) {
            *known = words.into();
        }
        Ok(())
    }

    fn add_attachment(&mut self, entry: i64, position: i64, new: &NewAttachment) -> Result<(), Problem> {
        let next = last_of(&self.attachments, entry) + 1;
        rule(position == next, "attachments are numbered without gaps")?;
        self.is_open(entry)?;
        is_named(&new.name)?;
        is_named(&new.media_type)?;
        let sha256 = Digest::of(&new.bytes);
        if !self.content_numbers.contains_key(&sha256) {
            let number = last(&self.contents) + 1;
            self.contents.insert(number, (sha256, new.bytes.as_slice().into()));
            self.content_numbers.insert(sha256, number);
        }
        let row = AttachmentRow { name: new.name.clone(), media_type: new.media_type.clone(), sha256 };
        self.attachments.insert((entry, position), row);
        Ok(())
    }

    fn add_recording(&mut self, row: &RecordingRow) -> Result<(), Problem> {
        rule(row.number == last(&self.recordings) + 1, "recordings are numbered without gaps")?;
        is_named(&row.cell_id)?;
        let mut row = RecordingRow { finished: None, ..row.clone() };
        if row.origin == 1 {
            row.origin_number = row.number;
        } else {
            let from = (row.origin, row.origin_number);
            is_there(self.books.contains_key(&row.origin), "a book")?;
            rule(!self.recordings_from.contains_key(&from), HERE_ALREADY)?;
            self.recordings_from.insert(from, row.number);
        }
        self.unfinished.insert(row.number);
        self.recordings.insert(row.number, row);
        Ok(())
    }

    fn add_chunk(&mut self, recording: i64, position: i64, bytes: &[u8]) -> Result<(), Problem> {
        rule(position == last_of(&self.chunks, recording) + 1, "chunks are numbered without gaps")?;
        let row = self.recordings.get(&recording);
        is_there(row.is_some(), "a recording")?;
        rule(row.is_some_and(|row| row.finished.is_none()), "this recording is finished")?;
        self.chunks.insert((recording, position), bytes.into());
        Ok(())
    }

    fn add_link(&mut self, link: &LinkRow) -> Result<(), Problem> {
        let place = (link.recording, link.position);
        let fits = link.number == last(&self.links) + 1 && !self.link_places.contains_key(&place);
        rule(fits, "links are numbered without gaps")?;
        is_there(self.recordings.contains_key(&link.recording), "a recording")?;
        self.links.insert(link.number, *link);
        self.link_places.insert(place, link.number);
        Ok(())
    }

    fn finish(&mut self, recording: i64, entry: i64, sha256: Digest, length: i64) -> Result<(), Problem> {
        self.is_open(entry)?;
        let row = self.recordings.get_mut(&recording).filter(|row| row.finished.is_none());
        let known = row.ok_or_else(|| Problem::Refused { rule: "this recording is finished".to_owned() })?;
        known.finished = Some((entry, sha256, length));
        self.unfinished.remove(&recording);
        Ok(())
    }

    fn add_known_as(&mut self, book: i64, number: i64, entry: i64) -> Result<(), Problem> {
        rule(!self.known_as.contains_key(&(book, number)), HERE_ALREADY)?;
        is_there(self.books.contains_key(&book), "a book")?;
        is_there(self.entries.contains_key(&entry), "an entry")?;
        self.known_as.insert((book, number), entry);
        Ok(())
    }

    fn set_kept_to(&mut self, fold: &str, to: &KeptTo) -> Result<(), Problem> {
        self.kept_to.insert(fold.to_owned(), *to);
        Ok(())
    }

    fn set_kept(
        &mut self,
        fold: &str,
        key: &str,
        value: Option<&KeptRow>,
        labels: &[(String, i64)],
    ) -> Result<(), Problem> {
        self.put_kept(fold, key, value, labels);
        Ok(())
    }

    fn clear_kept(&mut self, fold: &str) -> Result<(), Problem> {
        self.forget_kept(|of| of == fold);
        Ok(())
    }

    fn clear_all_kept(&mut self) -> Result<(), Problem> {
        self.forget_kept(|_| true);
        Ok(())
    }
}

/// What is kept of folds is drawn from the entries, so no rule holds for it.
impl Tables {
    /// Puts a value and its labels in place of those that the key had.
    pub(super) fn put_kept(
        &mut self,
        fold: &str,
        key: &str,
        value: Option<&KeptRow>,
        labels: &[(String, i64)],
    ) {
        self.kept_under.retain(|(of, _, _, under)| of != fold || under != key);
        let place = (fold.to_owned(), key.to_owned());
        let Some(value) = value else {
            self.kept.remove(&place);
            return;
        };
        self.kept.insert(place, value.clone());
        for (label, rank) in labels {
            self.kept_under.insert((fold.to_owned(), label.clone(), *rank, key.to_owned()));
        }
    }

    /// Forgets folds with all that they keep.
    pub(super) fn forget_kept(&mut self, which: impl Fn(&str) -> bool) {
        self.kept.retain(|(fold, _), _| !which(fold));
        self.kept_under.retain(|(fold, ..)| !which(fold));
        self.kept_to.retain(|fold, _| !which(fold));
    }
}
