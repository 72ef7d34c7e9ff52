//! The rows of a book read from SQLite.

use rusqlite::{Connection, Row, params};

use super::super::Sort;
use super::super::identity::{Chain, Id, Identity};
use super::super::store::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Rows, Take, TakeContent,
    TakeText, Wanted,
};
use super::super::texts::{Packed, unpack_into};
use super::super::{Attachment, Digest, Problem, Subject};
use super::between;
use super::columns::{COLUMNS, LINK, RECORDING};
use super::reader::{
    all, each, entry_row, kept_row, link_row, number, one, packed, personal_row, recording_row, subject,
};
use super::selection::selection;

/// Handed over for bytes that cannot be unpacked, so that their digest is another one.
const NOT_UNPACKED: &[u8] = b"\0these bytes could not be unpacked\0";

impl Rows for Connection {
    fn identity(&self) -> Result<Identity, Problem> {
        // One request: whoever writes an entry asks this each time.
        let query = "SELECT 0 AS part, number, id, NULL, NULL, NULL FROM book
             UNION ALL SELECT 1, number, id, bench, home, NULL FROM chain
             UNION ALL SELECT 2, one, NULL, NULL, NULL, sort FROM sort ORDER BY part, number";
        let id = |row: &Row<'_>| {
            let bytes: Vec<u8> = row.get(2)?;
            Id::of(&bytes).ok_or_else(|| Problem::Corrupt { detail: "the name of a book or chain".into() })
        };
        let mut found = Identity { books: Vec::new(), chains: Vec::new(), sort: None };
        let mut statement = self.prepare_cached(query)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            match row.get(0)? {
                0 => found.books.push(id(row)?),
                1 => found.chains.push(Chain { id: id(row)?, bench: row.get(3)?, home: row.get(4)? }),
                _ => {
                    let word: String = row.get(5)?;
                    let unknown = || Problem::Corrupt { detail: format!("unknown sort of book: {word}") };
                    found.sort = Some(Sort::of_word(&word).ok_or_else(unknown)?);
                }
            }
        }
        Ok(found)
    }

    fn last(&self) -> Result<Option<EntryRow>, Problem> {
        one(self, &format!("SELECT {COLUMNS} FROM entry ORDER BY number DESC LIMIT 1"), [], entry_row)
    }

    fn last_number(&self) -> Result<i64, Problem> {
        number(self, "SELECT coalesce(max(number), 0) FROM entry", [])
    }

    fn number_after(&self, number: i64) -> Result<Option<i64>, Problem> {
        let query = "SELECT number FROM entry WHERE number > $1 ORDER BY number LIMIT 1";
        one(self, query, [number], |row| Ok(row.get(0)?))
    }

    fn digest_of(&self, number: i64) -> Result<Option<Digest>, Problem> {
        one(self, "SELECT digest FROM entry WHERE number = $1", [number], |row| Ok(row.get(0)?))
    }

    fn head(&self, chain: i64) -> Result<Option<(i64, Digest)>, Problem> {
        let query = "SELECT position, digest FROM entry WHERE chain = $1 ORDER BY position DESC LIMIT 1";
        one(self, query, [chain], |row| Ok((row.get(0)?, row.get(1)?)))
    }

    fn entry(&self, number: i64) -> Result<Option<EntryRow>, Problem> {
        one(self, &format!("SELECT {COLUMNS} FROM entry WHERE number = $1"), [number], entry_row)
    }

    fn entry_at(&self, chain: i64, position: i64) -> Result<Option<EntryRow>, Problem> {
        let query = format!("SELECT {COLUMNS} FROM entry WHERE chain = $1 AND position = $2");
        one(self, &query, [chain, position], entry_row)
    }

    fn entries(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> Result<(), Problem> {
        let (query, values) = selection(wanted);
        each(self, &query, rusqlite::params_from_iter(values), entry_row, take)
    }

    fn text(&self, number: i64) -> Result<Option<Packed>, Problem> {
        one(self, "SELECT packing, bytes FROM text WHERE number = $1", [number], packed)
    }

    fn words(&self, entry: i64) -> Result<Option<String>, Problem> {
        one(self, "SELECT text FROM words WHERE entry = $1", [entry], |row| Ok(row.get(0)?))
    }

    fn about(&self, entry: i64) -> Result<Vec<Subject>, Problem> {
        let query = "SELECT subject_kind, subject FROM about WHERE entry = $1 ORDER BY position";
        all(self, query, [entry], |row| subject(row, 0))
    }

    fn names(&self, kind: &str) -> Result<Vec<String>, Problem> {
        // One step down the index for each name, however many entries each has.
        let query = "WITH RECURSIVE name (one) AS (
             SELECT (SELECT min(subject) FROM about WHERE subject_kind = $1)
             UNION ALL
             SELECT (SELECT min(subject) FROM about WHERE subject_kind = $1 AND subject > one) FROM name WHERE one IS NOT NULL
         ) SELECT one FROM name WHERE one IS NOT NULL";
        all(self, query, [kind], |row| Ok(row.get(0)?))
    }

    fn personal(&self, entry: i64) -> Result<Vec<PersonalRow>, Problem> {
        let query = "SELECT digest, salt, text FROM personal WHERE entry = $1 ORDER BY position";
        all(self, query, [entry], personal_row)
    }

    fn attachments(&self, entry: i64) -> Result<Vec<Attachment>, Problem> {
        let query = "SELECT name, media_type, sha256, coalesce(content.length, length(bytes), 0) FROM attachment \
             LEFT JOIN content USING (sha256) WHERE entry = $1 ORDER BY position";
        all(self, query, [entry], |row| {
            Ok(Attachment {
                name: row.get(0)?,
                media_type: row.get(1)?,
                sha256: row.get(2)?,
                length: u64::from(row.get::<_, u32>(3)?),
            })
        })
    }

    fn attachments_without_bytes(&self) -> Result<Vec<(i64, String)>, Problem> {
        let mut found =
            all(self, between::WITHOUT_BYTES, [], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        found.sort();
        Ok(found.into_iter().map(|(entry, _, name): (i64, i64, String)| (entry, name)).collect())
    }

    fn content(&self, sha256: Digest) -> Result<Option<Vec<u8>>, Problem> {
        let query = "SELECT packing, bytes FROM content WHERE sha256 = $1";
        one(self, query, [sha256], packed)?.map(Packed::unpacked).transpose()
    }

    fn contents(&self, take: TakeContent<'_>) -> Result<(), Problem> {
        let query = "SELECT sha256, bytes, (SELECT min(entry) FROM attachment WHERE attachment.sha256 = content.sha256), \
             packing FROM content ORDER BY number";
        let mut statement = self.prepare(query)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let stored = row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?;
            match row.get(3)? {
                0 => take(row.get(0)?, row.get(2)?, stored),
                packing => match (Packed { packing, bytes: stored.to_vec() }).unpacked() {
                    Ok(bytes) => take(row.get(0)?, row.get(2)?, &bytes),
                    Err(_) => take(row.get(0)?, row.get(2)?, NOT_UNPACKED),
                },
            }
        }
        Ok(())
    }

    fn recording(&self, number: i64) -> Result<Option<RecordingRow>, Problem> {
        one(self, &format!("{RECORDING} WHERE recording.number = $1"), [number], recording_row)
    }

    fn recording_from(&self, origin: i64, number: i64) -> Result<Option<i64>, Problem> {
        let query = "SELECT recording FROM recording_from WHERE origin = $1 AND origin_number = $2";
        one(self, query, [origin, number], |row| Ok(row.get(0)?))
    }

    fn recordings(&self, entry: i64) -> Result<Vec<RecordingRow>, Problem> {
        // From the entry's own rows, not from all recordings.
        let query = format!(
            "{RECORDING} WHERE recording.number IN \
             (SELECT recording FROM finished_recording WHERE entry = $1) ORDER BY recording.number"
        );
        all(self, &query, [entry], recording_row)
    }

    fn unfinished(&self, cell: Option<&str>) -> Result<Vec<RecordingRow>, Problem> {
        let of = |which: &str| {
            format!(
                "{RECORDING} WHERE recording.number IN (SELECT recording FROM unfinished {which}) \
                 ORDER BY recording.number"
            )
        };
        match cell {
            Some(cell) => all(self, &of("WHERE cell_id = $1"), [cell], recording_row),
            None => all(self, &of(""), [], recording_row),
        }
    }

    fn chunks(&self, recording: i64, take: &mut dyn FnMut(&[u8])) -> Result<(), Problem> {
        let query = "SELECT bytes FROM recording_chunk WHERE recording = $1 ORDER BY position";
        let mut statement = self.prepare_cached(query)?;
        let mut rows = statement.query([recording])?;
        while let Some(row) = rows.next()? {
            take(row.get_ref(0)?.as_blob().map_err(rusqlite::Error::from)?);
        }
        Ok(())
    }

    fn chunk(&self, recording: i64, position: i64) -> Result<Option<Vec<u8>>, Problem> {
        let query = "SELECT bytes FROM recording_chunk WHERE recording = $1 AND position = $2";
        one(self, query, [recording, position], |row| Ok(row.get(0)?))
    }

    fn length(&self, recording: i64) -> Result<i64, Problem> {
        number(
            self,
            "SELECT coalesce(sum(length(bytes)), 0) FROM recording_chunk WHERE recording = $1",
            [recording],
        )
    }

    fn last_link(&self) -> Result<Option<LinkRow>, Problem> {
        one(self, &format!("{LINK} ORDER BY number DESC LIMIT 1"), [], link_row)
    }

    fn link(&self, number: i64) -> Result<Option<LinkRow>, Problem> {
        one(self, &format!("{LINK} WHERE number = $1"), [number], link_row)
    }

    fn links_of(&self, recording: i64) -> Result<Vec<LinkRow>, Problem> {
        all(self, &format!("{LINK} WHERE recording = $1 ORDER BY position"), [recording], link_row)
    }

    fn unlinked(&self) -> Result<Vec<i64>, Problem> {
        let query = "SELECT recording FROM recording_chunk WHERE NOT EXISTS (SELECT 1 FROM stream
                 WHERE stream.recording = recording_chunk.recording AND stream.position = recording_chunk.position)
             UNION SELECT number FROM recording WHERE NOT EXISTS (SELECT 1 FROM stream
                 WHERE stream.recording = recording.number AND stream.position = 0) ORDER BY 1";
        all(self, query, [], |row| Ok(row.get(0)?))
    }

    fn links(&self, take: Take<'_, LinkRow>) -> Result<(), Problem> {
        each(self, &format!("{LINK} ORDER BY number"), [], link_row, take)
    }

    fn last_recording(&self) -> Result<i64, Problem> {
        number(self, "SELECT coalesce(max(number), 0) FROM recording", [])
    }

    fn last_chunk(&self, recording: i64) -> Result<i64, Problem> {
        let query = "SELECT coalesce(max(position), 0) FROM recording_chunk WHERE recording = $1";
        number(self, query, [recording])
    }

    fn known_as(&self, book: i64, number: i64) -> Result<Option<i64>, Problem> {
        let query = "SELECT entry FROM known_as WHERE book = $1 AND number = $2";
        one(self, query, [book, number], |row| Ok(row.get(0)?))
    }

    fn known(&self, take: Take<'_, Known>) -> Result<(), Problem> {
        let query = "SELECT book, number, entry FROM known_as ORDER BY book, number";
        each(self, query, [], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)), take)
    }

    fn kept_to(&self, fold: &str) -> Result<Option<KeptTo>, Problem> {
        one(self, "SELECT version, number, digest FROM kept_to WHERE fold = $1", [fold], |row| {
            Ok(KeptTo { version: row.get(0)?, number: row.get(1)?, digest: row.get(2)? })
        })
    }

    fn kept(&self, fold: &str, key: &str) -> Result<Option<KeptRow>, Problem> {
        one(
            self,
            "SELECT packing, value, digest FROM kept WHERE fold = $1 AND key = $2",
            [fold, key],
            kept_row,
        )
    }

    fn kept_under(&self, fold: &str, label: &str, most: Option<u32>) -> Result<Vec<String>, Problem> {
        let query =
            "SELECT key FROM kept_under WHERE fold = $1 AND label = $2 ORDER BY rank DESC, key LIMIT $3";
        all(self, query, params![fold, label, most.map_or(-1, i64::from)], |row| Ok(row.get(0)?))
    }

    fn kept_labels(&self, fold: &str, beginning: &str) -> Result<Vec<(String, u64)>, Problem> {
        let query = "SELECT label, count(*) FROM kept_under WHERE fold = $1 AND label >= $2 \
             AND label < $2 || char(1114111) GROUP BY label ORDER BY label";
        all(self, query, [fold, beginning], |row| Ok((row.get(0)?, u64::from(row.get::<_, u32>(1)?))))
    }

    fn kept_all(&self, fold: &str, take: Take<'_, KeptAll>) -> Result<(), Problem> {
        let mut labels =
            self.prepare("SELECT label, rank FROM kept_under WHERE fold = $1 AND key = $2 ORDER BY 1, 2")?;
        let mut statement =
            self.prepare("SELECT packing, value, digest, key FROM kept WHERE fold = $1 ORDER BY key")?;
        let mut rows = statement.query([fold])?;
        while let Some(row) = rows.next()? {
            let key: String = row.get(3)?;
            let under = labels.query_map([fold, &key], |row| Ok((row.get(0)?, row.get(1)?)))?;
            let under = under.collect::<rusqlite::Result<Vec<_>>>()?;
            if !take((key, kept_row(row)?, under))? {
                break;
            }
        }
        Ok(())
    }

    fn about_between(&self, first: i64, last: i64) -> Result<Vec<(i64, Subject)>, Problem> {
        all(self, between::ABOUT, [first, last], |row| Ok((row.get(0)?, subject(row, 1)?)))
    }

    fn personal_between(&self, first: i64, last: i64) -> Result<Vec<(i64, PersonalRow)>, Problem> {
        all(self, between::PERSONAL, [first, last], |row| Ok((row.get(3)?, personal_row(row)?)))
    }

    fn attachments_between(&self, first: i64, last: i64) -> Result<Vec<(i64, Attachment)>, Problem> {
        all(self, between::ATTACHMENTS, [first, last], |row| {
            let (name, media_type, sha256) = (row.get(1)?, row.get(2)?, row.get(3)?);
            Ok((row.get(0)?, Attachment { name, media_type, sha256, length: 0 }))
        })
    }

    fn recordings_between(&self, first: i64, last: i64) -> Result<Vec<(i64, RecordingRow)>, Problem> {
        let query = format!("{RECORDING} {}", between::RECORDINGS);
        let found = all(self, &query, [first, last], recording_row)?;
        Ok(found.into_iter().map(|row| (row.finished.map_or(0, |(entry, ..)| entry), row)).collect())
    }

    fn words_between(&self, first: i64, last: i64) -> Result<Vec<(i64, String)>, Problem> {
        all(self, between::WORDS, [first, last], |row| Ok((row.get(0)?, row.get(1)?)))
    }

    fn texts_between(&self, first: i64, last: i64, take: TakeText<'_>) -> Result<(), Problem> {
        let mut statement = self.prepare_cached(between::TEXTS)?;
        let mut rows = statement.query([first * 2, last * 2 + 1])?;
        while let Some(row) = rows.next()? {
            take(row.get(0)?, row.get(1)?, row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?);
        }
        Ok(())
    }

    fn content_after(&self, number: i64) -> Result<Option<i64>, Problem> {
        let query = "SELECT number FROM content WHERE number > $1 ORDER BY number LIMIT 1";
        one(self, query, [number], |row| Ok(row.get(0)?))
    }

    fn contents_between(
        &self,
        first: i64,
        last: i64,
        take: &mut dyn FnMut(Digest, &[u8]),
    ) -> Result<(), Problem> {
        let mut statement = self.prepare_cached(between::CONTENTS)?;
        let mut rows = statement.query([first, last])?;
        let mut unpacked = Vec::new();
        while let Some(row) = rows.next()? {
            let stored = row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?;
            take(row.get(0)?, unpack_into(row.get(2)?, stored, &mut unpacked).unwrap_or(NOT_UNPACKED));
        }
        Ok(())
    }

    fn first_with(&self, sha256: Digest) -> Result<Option<i64>, Problem> {
        let query = "SELECT min(entry) FROM attachment WHERE sha256 = $1";
        Ok(self.prepare_cached(query)?.query_row([sha256], |row| row.get(0))?)
    }

    fn contents_of_no_entry(&self) -> Result<Vec<Digest>, Problem> {
        all(self, between::OF_NO_ENTRY, [], |row| Ok(row.get(0)?))
    }
}
