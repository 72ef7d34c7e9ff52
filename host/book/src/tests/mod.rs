//! Tests of the book, by what they concern; here the words they share.

mod copying;
mod opening;
mod proving;
mod reading;
mod recording;
mod refusing;
mod suite;
mod taking_in;
mod tampering;
mod writing;

use jiff::Timestamp;
use serde_json::json;
use tempfile::TempDir;

use super::{Book, NewAttachment, NewEntry, Subject};

/// A folder that goes away with the test, and the path of a book in it.
struct Shelf(TempDir);

impl Shelf {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self) -> std::path::PathBuf {
        self.0.path().join("cells.book")
    }

    fn open(&self) -> Book {
        Book::open(self.path()).unwrap()
    }

    /// Another program at the same file, which knows nothing of books.
    fn stranger(&self) -> rusqlite::Connection {
        rusqlite::Connection::open(self.path()).unwrap()
    }
}

/// The connection of a book that is a SQLite file.
fn connection(book: &Book) -> &rusqlite::Connection {
    let store: &dyn std::any::Any = &*book.store;
    &store.downcast_ref::<super::sqlite::Sqlite>().unwrap().connection
}

fn second(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + seconds).unwrap()
}

/// An assessment of one cell, as small as it can be.
fn assessment(cell_id: &str) -> NewEntry {
    NewEntry {
        at: second(0),
        kind: "assessment".into(),
        subject: Subject::cell(cell_id),
        about: Vec::new(),
        simulated: Some(false),
        personal: Vec::new(),
        fate: Some("recycle".into()),
        summary: format!("{cell_id}: capacity below the limit"),
        program: "celltriage 0.1.0".into(),
        inputs: json!({"nameplate": {"rated_capacity_ah": 4.2, "source": "school tablet"}}),
        result: json!({"schema": "celltriage.assessment/1", "verdict": {"fate": "recycle"}}),
        corrects: None,
        attachments: Vec::new(),
        recordings: Vec::new(),
    }
}

fn file(name: &str, bytes: &[u8]) -> NewAttachment {
    NewAttachment { name: name.into(), media_type: "text/csv".into(), bytes: bytes.into() }
}

/// Three entries, each with a file and a recording of its own; closed, so that all is in the one file.
fn three_entries() -> Shelf {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    for cell in ["C-1", "C-2", "C-3"] {
        let recording = book.begin_recording(cell, second(0)).unwrap();
        book.append_recording(recording, format!("frames of {cell}").as_bytes()).unwrap();
        book.append_recording(recording, b", the end").unwrap();
        let attachments = vec![file("trace.csv", format!("trace of {cell}").as_bytes())];
        let personal = vec!["M. Orme".to_owned()];
        let inputs = json!({"by": "M. Orme", "rated_capacity_ah": 4.2});
        book.append(NewEntry {
            attachments,
            recordings: vec![recording],
            personal,
            inputs,
            ..assessment(cell)
        })
        .unwrap();
    }
    drop(book);
    shelf
}

/// Lets a stranger with full rights at the file: triggers and foreign keys out of the way, and the triggers put back
/// afterwards.
fn without_triggers(shelf: &Shelf, act: impl FnOnce(&rusqlite::Connection)) {
    let stranger = shelf.stranger();
    stranger.pragma_update(None, "foreign_keys", false).unwrap();
    let triggers: Vec<(String, String)> = stranger
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    for (name, _) in &triggers {
        stranger.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    act(&stranger);
    for (_, definition) in &triggers {
        stranger.execute_batch(definition).unwrap();
    }
}
