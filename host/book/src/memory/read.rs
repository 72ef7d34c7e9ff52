//! The rows of a book read from memory.

use super::super::identity::Identity;
use super::super::store::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Rows, Take, TakeContent,
    Wanted,
};
use super::super::texts::Packed;
use super::super::{Attachment, Digest, Problem, Subject};
use super::tables::{Tables, last, last_of, of};

impl Tables {
    fn recording_rows<'a>(&self, numbers: impl IntoIterator<Item = &'a i64>) -> Vec<RecordingRow> {
        numbers.into_iter().filter_map(|number| self.recordings.get(number).cloned()).collect()
    }

    fn bytes(&self, sha256: Digest) -> Option<&[u8]> {
        let number = self.content_numbers.get(&sha256)?;
        self.contents.get(number).map(|(_, bytes)| &**bytes)
    }
}

/// Hears rows until it is enough.
fn each<T>(rows: impl IntoIterator<Item = T>, take: Take<'_, T>) -> Result<(), Problem> {
    for row in rows {
        if !take(row)? {
            break;
        }
    }
    Ok(())
}

impl Rows for Tables {
    fn identity(&self) -> Result<Identity, Problem> {
        Ok(Identity {
            books: self.books.values().copied().collect(),
            chains: self.chains.values().cloned().collect(),
            sort: self.sort,
        })
    }

    fn last(&self) -> Result<Option<EntryRow>, Problem> {
        Ok(self.entries.last_key_value().map(|(_, row)| EntryRow::clone(row)))
    }

    fn last_number(&self) -> Result<i64, Problem> {
        Ok(self.entries.last_key_value().map_or(0, |(number, _)| *number))
    }

    fn number_after(&self, number: i64) -> Result<Option<i64>, Problem> {
        Ok(self.entries.range(number.saturating_add(1)..).next().map(|(number, _)| *number))
    }

    fn digest_of(&self, number: i64) -> Result<Option<Digest>, Problem> {
        Ok(self.entries.get(&number).map(|row| row.digest))
    }

    fn head(&self, chain: i64) -> Result<Option<(i64, Digest)>, Problem> {
        Ok(self.entry_at(chain, last_of(&self.places, chain))?.map(|row| (row.position, row.digest)))
    }

    fn entry(&self, number: i64) -> Result<Option<EntryRow>, Problem> {
        Ok(self.entries.get(&number).map(|row| EntryRow::clone(row)))
    }

    fn entry_at(&self, chain: i64, position: i64) -> Result<Option<EntryRow>, Problem> {
        self.places.get(&(chain, position)).map_or(Ok(None), |number| self.entry(*number))
    }

    fn entries(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> Result<(), Problem> {
        self.select(wanted, take)
    }

    fn text(&self, number: i64) -> Result<Option<Packed>, Problem> {
        Ok(self.texts.get(&number).map(|text| Packed::clone(text)))
    }

    fn words(&self, entry: i64) -> Result<Option<String>, Problem> {
        Ok(self.words.get(&entry).map(|words| words.to_string()))
    }

    fn about(&self, entry: i64) -> Result<Vec<Subject>, Problem> {
        Ok(of(&self.about, entry).map(|(_, subject)| subject.clone()).collect())
    }

    fn names(&self, kind: &str) -> Result<Vec<String>, Problem> {
        let of_kind = self.about.values().filter(|subject| subject.kind.word() == kind);
        let mut names: Vec<String> = of_kind.map(|subject| subject.name.clone()).collect();
        names.sort();
        names.dedup();
        Ok(names)
    }

    fn personal(&self, entry: i64) -> Result<Vec<PersonalRow>, Problem> {
        Ok(of(&self.personal, entry).map(|(_, row)| row.clone()).collect())
    }

    fn attachments(&self, entry: i64) -> Result<Vec<Attachment>, Problem> {
        let attachment = |(_, row): (i64, &super::tables::AttachmentRow)| Attachment {
            name: row.name.clone(),
            media_type: row.media_type.clone(),
            sha256: row.sha256,
            length: self.bytes(row.sha256).map_or(0, |bytes| bytes.len() as u64),
        };
        Ok(of(&self.attachments, entry).map(attachment).collect())
    }

    fn attachments_without_bytes(&self) -> Result<Vec<(i64, String)>, Problem> {
        let without = self.attachments.iter().filter(|(_, row)| self.bytes(row.sha256).is_none());
        Ok(without.map(|((entry, _), row)| (*entry, row.name.clone())).collect())
    }

    fn content(&self, sha256: Digest) -> Result<Option<Vec<u8>>, Problem> {
        Ok(self.bytes(sha256).map(<[u8]>::to_vec))
    }

    fn contents(&self, take: TakeContent<'_>) -> Result<(), Problem> {
        for (sha256, bytes) in self.contents.values() {
            let first = self.attachments.iter().find(|(_, row)| row.sha256 == *sha256);
            take(*sha256, first.map(|((entry, _), _)| *entry), bytes);
        }
        Ok(())
    }

    fn recording(&self, number: i64) -> Result<Option<RecordingRow>, Problem> {
        Ok(self.recordings.get(&number).cloned())
    }

    fn recording_from(&self, origin: i64, number: i64) -> Result<Option<i64>, Problem> {
        Ok(self.recordings_from.get(&(origin, number)).copied())
    }

    fn recordings(&self, entry: i64) -> Result<Vec<RecordingRow>, Problem> {
        let of_entry = |row: &&RecordingRow| row.finished.is_some_and(|(by, ..)| by == entry);
        Ok(self.recordings.values().filter(of_entry).cloned().collect())
    }

    fn unfinished(&self, cell: Option<&str>) -> Result<Vec<RecordingRow>, Problem> {
        let mut rows = self.recording_rows(&self.unfinished);
        rows.retain(|row| cell.is_none_or(|cell| row.cell_id == cell));
        Ok(rows)
    }

    fn chunks(&self, recording: i64, take: &mut dyn FnMut(&[u8])) -> Result<(), Problem> {
        of(&self.chunks, recording).for_each(|(_, bytes)| take(bytes));
        Ok(())
    }

    fn chunk(&self, recording: i64, position: i64) -> Result<Option<Vec<u8>>, Problem> {
        Ok(self.chunks.get(&(recording, position)).map(|bytes| bytes.to_vec()))
    }

    fn length(&self, recording: i64) -> Result<i64, Problem> {
        Ok(of(&self.chunks, recording).map(|(_, bytes)| bytes.len() as i64).sum())
    }

    fn last_link(&self) -> Result<Option<LinkRow>, Problem> {
        Ok(self.links.last_key_value().map(|(_, link)| *link))
    }

    fn link(&self, number: i64) -> Result<Option<LinkRow>, Problem> {
        Ok(self.links.get(&number).copied())
    }

    fn links_of(&self, recording: i64) -> Result<Vec<LinkRow>, Problem> {
        let numbers = of(&self.link_places, recording).map(|(_, number)| number);
        Ok(numbers.filter_map(|number| self.links.get(number).copied()).collect())
    }

    fn unlinked(&self) -> Result<Vec<i64>, Problem> {
        let begins = self.recordings.keys().map(|number| (*number, 0));
        let parts = begins.chain(self.chunks.keys().copied());
        let mut found: Vec<i64> =
            parts.filter(|part| !self.link_places.contains_key(part)).map(|(number, _)| number).collect();
        found.sort_unstable();
        found.dedup();
        Ok(found)
    }

    fn links(&self, take: Take<'_, LinkRow>) -> Result<(), Problem> {
        each(self.links.values().copied(), take)
    }

    fn last_recording(&self) -> Result<i64, Problem> {
        Ok(last(&self.recordings))
    }

    fn last_chunk(&self, recording: i64) -> Result<i64, Problem> {
        Ok(last_of(&self.chunks, recording))
    }

    fn known_as(&self, book: i64, number: i64) -> Result<Option<i64>, Problem> {
        Ok(self.known_as.get(&(book, number)).copied())
    }

    fn known(&self, take: Take<'_, Known>) -> Result<(), Problem> {
        each(self.known_as.iter().map(|((book, number), entry)| (*book, *number, *entry)), take)
    }

    fn kept_to(&self, fold: &str) -> Result<Option<KeptTo>, Problem> {
        Ok(self.kept_to.get(fold).copied())
    }

    fn kept(&self, fold: &str, key: &str) -> Result<Option<KeptRow>, Problem> {
        Ok(self.kept.get(&(fold.to_owned(), key.to_owned())).cloned())
    }

    fn kept_under(&self, fold: &str, label: &str, most: Option<u32>) -> Result<Vec<String>, Problem> {
        let under = self.kept_under.iter().filter(|row| row.0 == fold && row.1 == label);
        let mut ranked: Vec<_> = under.map(|(_, _, rank, key)| (std::cmp::Reverse(*rank), key)).collect();
        ranked.sort();
        let most = most.map_or(ranked.len(), |most| most as usize);
        Ok(ranked.into_iter().take(most).map(|(_, key)| key.clone()).collect())
    }

    fn kept_labels(&self, fold: &str, beginning: &str) -> Result<Vec<(String, u64)>, Problem> {
        let mut found: Vec<(String, u64)> = Vec::new();
        for (_, label, ..) in
            self.kept_under.iter().filter(|row| row.0 == fold && row.1.starts_with(beginning))
        {
            match found.last_mut() {
                Some((last, count)) if last == label => *count += 1,
                _ => found.push((label.clone(), 1)),
            }
        }
        Ok(found)
    }

    fn kept_all(&self, fold: &str, take: Take<'_, KeptAll>) -> Result<(), Problem> {
        let rows = self.kept.iter().filter(|((of, _), _)| of == fold);
        let labels = |key: &str| {
            let under = self.kept_under.iter().filter(|row| row.0 == fold && row.3 == key);
            under.map(|(_, label, rank, _)| (label.clone(), *rank)).collect()
        };
        each(rows.map(|((_, key), row)| (key.clone(), row.clone(), labels(key))), take)
    }
}
