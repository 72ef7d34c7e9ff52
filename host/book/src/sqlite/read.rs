//! The rows of a book read from SQLite.

use rusqlite::{Connection, Params, Row, params};

use super::super::Sort;
use super::super::identity::{Chain, Id, Identity};
use super::super::store::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Rows, Take, TakeContent,
    Wanted,
};
use super::super::texts::Packed;
use super::super::{Attachment, Digest, Problem, Subject, SubjectKind};
use super::columns::{COLUMNS, LINK, RECORDING};
use super::selection::selection;

/// Handed over for bytes that cannot be unpacked, so that their digest is another one.
const NOT_UNPACKED: &[u8] = b"\0these bytes could not be unpacked\0";

fn entry_row(row: &Row<'_>) -> Result<EntryRow, Problem> {
    Ok(EntryRow {
        number: row.get(0)?,
        chain: row.get(1)?,
        position: row.get(2)?,
        origin: row.get(3)?,
        origin_number: row.get(4)?,
        form: row.get(5)?,
        at_ms: row.get(6)?,
        kind: row.get(7)?,
        subject: subject(row, 8)?,
        simulated: row.get(10)?,
        fate: row.get(11)?,
        summary: row.get(12)?,
        program: row.get(13)?,
        corrects: row.get(14)?,
        inputs: row.get(15)?,
        result: row.get(16)?,
        stream: (row.get(17)?, row.get(18)?),
        previous: row.get(19)?,
        digest: row.get(20)?,
    })
}

fn subject(row: &Row<'_>, at: usize) -> Result<Subject, Problem> {
    let kind: String = row.get(at)?;
    Ok(Subject { kind: SubjectKind::of_word(&kind)?, name: row.get(at + 1)? })
}

fn recording_row(row: &Row<'_>) -> Result<RecordingRow, Problem> {
    let entry: Option<i64> = row.get(4)?;
    Ok(RecordingRow {
        number: row.get(0)?,
        at_ms: row.get(1)?,
        cell_id: row.get(2)?,
        origin: row.get(7)?,
        origin_number: row.get(3)?,
        finished: match entry {
            Some(entry) => Some((entry, row.get(5)?, row.get(6)?)),
            None => None,
        },
    })
}

fn packed(row: &Row<'_>) -> Result<Packed, Problem> {
    Ok(Packed { packing: row.get(0)?, bytes: row.get(1)? })
}

fn kept_row(row: &Row<'_>) -> Result<KeptRow, Problem> {
    Ok(KeptRow { packed: packed(row)?, digest: row.get(2)? })
}

fn link_row(row: &Row<'_>) -> Result<LinkRow, Problem> {
    Ok(LinkRow {
        number: row.get(0)?,
        recording: row.get(1)?,
        position: row.get(2)?,
        content: row.get(3)?,
        digest: row.get(4)?,
    })
}

/// Hears the rows of a query until it wants no more.
fn each<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
    take: Take<'_, T>,
) -> Result<(), Problem> {
    let mut statement = connection.prepare_cached(query)?;
    let mut rows = statement.query(params)?;
    while let Some(row) = rows.next()? {
        if !take(make(row)?)? {
            break;
        }
    }
    Ok(())
}

fn all<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
) -> Result<Vec<T>, Problem> {
    let mut found = Vec::new();
    each(connection, query, params, make, &mut |one| {
        found.push(one);
        Ok(true)
    })?;
    Ok(found)
}

fn one<T>(
    connection: &Connection,
    query: &str,
    params: impl Params,
    make: impl Fn(&Row<'_>) -> Result<T, Problem>,
) -> Result<Option<T>, Problem> {
    let mut statement = connection.prepare_cached(query)?;
    let mut rows = statement.query(params)?;
    rows.next()?.map(make).transpose()
}

fn number(connection: &Connection, query: &str, params: impl Params) -> Result<i64, Problem> {
    Ok(connection.prepare_cached(query)?.query_row(params, |row| row.get(0))?)
}

impl Rows for Connection {
    fn identity(&self) -> Result<Identity, Problem> {
        let id = |row: &Row<'_>, at: usize| {
            let bytes: Vec<u8> = row.get(at)?;
            Id::of(&bytes).ok_or_else(|| Problem::Corrupt { detail: "the name of a book or chain".into() })
        };
        let chain = |row: &Row<'_>| Ok(Chain { id: id(row, 0)?, bench: row.get(1)?, home: row.get(2)? });
        let sort = one(self, "SELECT sort FROM sort", [], |row| Ok(row.get::<_, String>(0)?))?;
        Ok(Identity {
            books: all(self, "SELECT id FROM book ORDER BY number", [], |row| id(row, 0))?,
            chains: all(self, "SELECT id, bench, home FROM chain ORDER BY number", [], chain)?,
            sort: match sort {
                Some(word) => {
                    Some(Sort::of_word(&word).ok_or_else(|| Problem::Corrupt {
                        detail: format!("unknown sort of book: {word}"),
                    })?)
                }
                None => None,
            },
        })
    }

    fn last(&self) -> Result<Option<EntryRow>, Problem> {
        one(self, &format!("SELECT {COLUMNS} FROM entry ORDER BY number DESC LIMIT 1"), [], entry_row)
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
        all(self, query, [entry], |row| {
            let (salt, text): (Option<[u8; 16]>, Option<String>) = (row.get(1)?, row.get(2)?);
            Ok(PersonalRow { digest: row.get(0)?, text: salt.zip(text) })
        })
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
        let query = "SELECT entry, name FROM attachment WHERE sha256 NOT IN (SELECT sha256 FROM content) \
             ORDER BY entry, position";
        all(self, query, [], |row| Ok((row.get(0)?, row.get(1)?)))
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
}
