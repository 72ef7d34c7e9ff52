//! The rows of a book written to SQLite.

use rusqlite::{Connection, Params, Transaction, params};

use super::super::Sort;
use super::super::identity::{Chain, Id, Identity};
use super::super::store::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Rows, RowsMut, Take,
    TakeContent, Wanted,
};
use super::super::texts::Packed;
use super::super::{Attachment, Digest, NewAttachment, Problem, Subject};
use super::columns::COLUMNS;

/// A transaction that writes.
pub(super) struct Writing<'a>(pub(super) Transaction<'a>);

impl Writing<'_> {
    fn run(&self, statement: &str, params: impl Params) -> Result<(), Problem> {
        self.0.prepare_cached(statement)?.execute(params)?;
        Ok(())
    }

    /// Runs statements that belong together: where one is refused, the ones before it are undone.
    fn whole(&self, statements: impl FnOnce(&Self) -> Result<(), Problem>) -> Result<(), Problem> {
        self.run("SAVEPOINT whole", [])?;
        if let Err(problem) = statements(self) {
            // After some faults, such as a full disk, SQLite has undone the whole transaction and knows no savepoint any more.
            let _may_be_gone = self.0.execute_batch("ROLLBACK TO whole; RELEASE whole");
            return Err(problem);
        }
        self.run("RELEASE whole", [])
    }
}

impl RowsMut for Writing<'_> {
    fn random(&self) -> Result<[u8; 16], Problem> {
        Ok(self.0.prepare_cached("SELECT randomblob(16)")?.query_row([], |row| row.get(0))?)
    }

    fn add_book(&mut self, id: Id) -> Result<i64, Problem> {
        self.run("INSERT INTO book (number, id) SELECT coalesce(max(number), 0) + 1, $1 FROM book", [id.0])?;
        Ok(self.0.last_insert_rowid())
    }

    fn add_chain(&mut self, chain: &Chain) -> Result<i64, Problem> {
        self.run(
            "INSERT INTO chain (number, id, bench, home) SELECT coalesce(max(number), 0) + 1, $1, $2, $3 FROM chain",
            params![chain.id.0, chain.bench, chain.home],
        )?;
        Ok(self.0.last_insert_rowid())
    }

    fn set_sort(&mut self, sort: Sort) -> Result<(), Problem> {
        self.run("INSERT INTO sort (one, sort) VALUES (1, $1)", [sort.word()])
    }

    fn add_entry(&mut self, row: &EntryRow) -> Result<(), Problem> {
        let places: Vec<String> = (1..=COLUMNS.split(',').count()).map(|place| format!("${place}")).collect();
        self.run(
            &format!("INSERT INTO entry ({COLUMNS}) VALUES ({})", places.join(", ")),
            params![
                row.number,
                row.chain,
                row.position,
                row.origin,
                row.origin_number,
                row.form,
                row.at_ms,
                row.kind,
                row.subject.kind.word(),
                row.subject.name,
                row.simulated,
                row.fate,
                row.summary,
                row.program,
                row.corrects,
                row.inputs,
                row.result,
                row.stream.0,
                row.stream.1,
                row.previous,
                row.digest,
            ],
        )
    }

    fn add_text(&mut self, number: i64, text: &Packed) -> Result<(), Problem> {
        let row = params![number, text.packing, text.bytes];
        self.run("INSERT INTO text (number, packing, bytes) VALUES ($1, $2, $3)", row)
    }

    fn add_words(&mut self, entry: i64, words: &str) -> Result<(), Problem> {
        self.run("INSERT INTO words (entry, text) VALUES ($1, $2)", params![entry, words])
    }

    fn add_about(&mut self, entry: i64, position: i64, subject: &Subject) -> Result<(), Problem> {
        self.run(
            "INSERT INTO about (entry, position, subject_kind, subject) VALUES ($1, $2, $3, $4)",
            params![entry, position, subject.kind.word(), subject.name],
        )
    }

    fn add_personal(&mut self, entry: i64, position: i64, row: &PersonalRow) -> Result<(), Problem> {
        let (salt, text) = match &row.text {
            Some((salt, text)) => (Some(salt), Some(text)),
            None => (None, None),
        };
        self.run(
            "INSERT INTO personal (entry, position, digest, salt, text) VALUES ($1, $2, $3, $4, $5)",
            params![entry, position, row.digest, salt, text],
        )
    }

    fn blank(&mut self, entry: i64, words: &str) -> Result<(), Problem> {
        self.whole(|rows| {
            rows.run("UPDATE personal SET salt = NULL, text = NULL WHERE entry = $1", [entry])?;
            rows.run("UPDATE words SET text = $1 WHERE entry = $2", params![words, entry])
        })
    }

    fn add_attachment(&mut self, entry: i64, position: i64, new: &NewAttachment) -> Result<(), Problem> {
        let sha256 = Digest::of(&new.bytes);
        self.whole(|rows| {
            let known = rows.0.prepare_cached("SELECT 1 FROM content WHERE sha256 = $1")?.exists([sha256])?;
            if !known {
                let packed = Packed::of_bytes(&new.bytes);
                let length = (packed.packing != 0).then_some(new.bytes.len() as i64);
                rows.run(
                    "INSERT INTO content (number, sha256, bytes, packing, length)
                     SELECT coalesce(max(number), 0) + 1, $1, $2, $3, $4 FROM content",
                    params![sha256, packed.bytes, packed.packing, length],
                )?;
            }
            rows.run(
                "INSERT INTO attachment (entry, position, name, media_type, sha256) VALUES ($1, $2, $3, $4, $5)",
                params![entry, position, new.name, new.media_type, sha256],
            )
        })
    }

    fn add_recording(&mut self, row: &RecordingRow) -> Result<(), Problem> {
        self.whole(|rows| {
            rows.run(
                "INSERT INTO recording (number, at_ms, cell_id) VALUES ($1, $2, $3)",
                params![row.number, row.at_ms, row.cell_id],
            )?;
            if row.origin != 1 {
                rows.run(
                    "INSERT INTO recording_from (recording, origin, origin_number) VALUES ($1, $2, $3)",
                    [row.number, row.origin, row.origin_number],
                )?;
            }
            rows.run(
                "INSERT INTO unfinished (recording, cell_id) VALUES ($1, $2)",
                params![row.number, row.cell_id],
            )
        })
    }

    fn add_chunk(&mut self, recording: i64, position: i64, bytes: &[u8]) -> Result<(), Problem> {
        self.run(
            "INSERT INTO recording_chunk (number, recording, position, bytes)
             SELECT coalesce(max(number), 0) + 1, $1, $2, $3 FROM recording_chunk",
            params![recording, position, bytes],
        )
    }

    fn add_link(&mut self, link: &LinkRow) -> Result<(), Problem> {
        self.run(
            "INSERT INTO stream (number, recording, position, content, digest) VALUES ($1, $2, $3, $4, $5)",
            params![link.number, link.recording, link.position, link.content, link.digest],
        )
    }

    fn finish(&mut self, recording: i64, entry: i64, sha256: Digest, length: i64) -> Result<(), Problem> {
        self.whole(|rows| {
            rows.run(
                "INSERT INTO finished_recording (recording, entry, sha256, length) VALUES ($1, $2, $3, $4)",
                params![recording, entry, sha256, length],
            )?;
            rows.run("DELETE FROM unfinished WHERE recording = $1", [recording])
        })
    }

    fn add_known_as(&mut self, book: i64, number: i64, entry: i64) -> Result<(), Problem> {
        self.run("INSERT INTO known_as (book, number, entry) VALUES ($1, $2, $3)", [book, number, entry])
    }

    fn set_kept_to(&mut self, fold: &str, to: &KeptTo) -> Result<(), Problem> {
        self.run(
            "INSERT OR REPLACE INTO kept_to (fold, version, number, digest) VALUES ($1, $2, $3, $4)",
            params![fold, to.version, to.number, to.digest],
        )
    }

    fn set_kept(
        &mut self,
        fold: &str,
        key: &str,
        value: Option<&KeptRow>,
        labels: &[(String, i64)],
    ) -> Result<(), Problem> {
        self.whole(|rows| {
            rows.run("DELETE FROM kept_under WHERE fold = $1 AND key = $2", [fold, key])?;
            let Some(value) = value else {
                return rows.run("DELETE FROM kept WHERE fold = $1 AND key = $2", [fold, key]);
            };
            rows.run(
                "INSERT OR REPLACE INTO kept (fold, key, packing, value, digest) VALUES ($1, $2, $3, $4, $5)",
                params![fold, key, value.packed.packing, value.packed.bytes, value.digest],
            )?;
            labels.iter().try_for_each(|(label, rank)| {
                rows.run(
                    "INSERT OR REPLACE INTO kept_under (fold, label, rank, key) VALUES ($1, $2, $3, $4)",
                    params![fold, label, rank, key],
                )
            })
        })
    }

    fn clear_kept(&mut self, fold: &str) -> Result<(), Problem> {
        self.run("DELETE FROM kept WHERE fold = $1", [fold])?;
        self.run("DELETE FROM kept_under WHERE fold = $1", [fold])?;
        self.run("DELETE FROM kept_to WHERE fold = $1", [fold])
    }

    fn clear_all_kept(&mut self) -> Result<(), Problem> {
        self.run("DELETE FROM kept", [])?;
        self.run("DELETE FROM kept_under", [])?;
        self.run("DELETE FROM kept_to", [])
    }
}

/// What can be read in a transaction that writes is what can be read from its connection.
macro_rules! read_from_the_connection {
    ($(fn $name:ident(&self $(, $argument:ident: $of:ty)*) -> $result:ty;)*) => {
        impl Rows for Writing<'_> {
            $(fn $name(&self $(, $argument: $of)*) -> Result<$result, Problem> {
                let connection: &Connection = &self.0;
                Rows::$name(connection $(, $argument)*)
            })*
        }
    };
}

read_from_the_connection! {
    fn identity(&self) -> Identity;
    fn last(&self) -> Option<EntryRow>;
    fn last_number(&self) -> i64;
    fn number_after(&self, number: i64) -> Option<i64>;
    fn digest_of(&self, number: i64) -> Option<Digest>;
    fn head(&self, chain: i64) -> Option<(i64, Digest)>;
    fn entry(&self, number: i64) -> Option<EntryRow>;
    fn entry_at(&self, chain: i64, position: i64) -> Option<EntryRow>;
    fn entries(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> ();
    fn text(&self, number: i64) -> Option<Packed>;
    fn words(&self, entry: i64) -> Option<String>;
    fn about(&self, entry: i64) -> Vec<Subject>;
    fn names(&self, kind: &str) -> Vec<String>;
    fn personal(&self, entry: i64) -> Vec<PersonalRow>;
    fn attachments(&self, entry: i64) -> Vec<Attachment>;
    fn attachments_without_bytes(&self) -> Vec<(i64, String)>;
    fn content(&self, sha256: Digest) -> Option<Vec<u8>>;
    fn contents(&self, take: TakeContent<'_>) -> ();
    fn recording(&self, number: i64) -> Option<RecordingRow>;
    fn recording_from(&self, origin: i64, number: i64) -> Option<i64>;
    fn recordings(&self, entry: i64) -> Vec<RecordingRow>;
    fn unfinished(&self, cell: Option<&str>) -> Vec<RecordingRow>;
    fn chunks(&self, recording: i64, take: &mut dyn FnMut(&[u8])) -> ();
    fn chunk(&self, recording: i64, position: i64) -> Option<Vec<u8>>;
    fn length(&self, recording: i64) -> i64;
    fn last_link(&self) -> Option<LinkRow>;
    fn link(&self, number: i64) -> Option<LinkRow>;
    fn links_of(&self, recording: i64) -> Vec<LinkRow>;
    fn unlinked(&self) -> Vec<i64>;
    fn links(&self, take: Take<'_, LinkRow>) -> ();
    fn last_recording(&self) -> i64;
    fn last_chunk(&self, recording: i64) -> i64;
    fn known_as(&self, book: i64, number: i64) -> Option<i64>;
    fn known(&self, take: Take<'_, Known>) -> ();
    fn kept_to(&self, fold: &str) -> Option<KeptTo>;
    fn kept(&self, fold: &str, key: &str) -> Option<KeptRow>;
    fn kept_under(&self, fold: &str, label: &str, most: Option<u32>) -> Vec<String>;
    fn kept_labels(&self, fold: &str, beginning: &str) -> Vec<(String, u64)>;
    fn kept_all(&self, fold: &str, take: Take<'_, KeptAll>) -> ();
}
