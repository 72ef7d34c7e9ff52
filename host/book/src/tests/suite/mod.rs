//! What every database that holds a book must do, asked of each: one line in `on_each_store` more for another one.

mod between;
mod blanking;
mod calls;
mod copying;
mod dump;
mod faults;
mod keeping;
mod merging;
mod random_books;
mod random_rows;
mod reading;
mod recording;
mod refusing;
mod selecting;
mod steps;
mod transactions;
mod verifying;

use tempfile::TempDir;

use super::{assessment, file, second};
use crate::identity::{Chain, Id};
use crate::memory::Memory;
use crate::sqlite::Sqlite;
use crate::store::{Rows, RowsMut, Store};
use crate::{Book, NewEntry, PATIENCE, Problem, RecordingNumber};

/// Makes a test of each function, once for each database.
macro_rules! on_each_store {
    ($($name:ident),* $(,)?) => {
        mod sqlite {
            $(#[test] fn $name() { super::$name(super::super::Place::sqlite) })*
        }
        mod memory {
            $(#[test] fn $name() { super::$name(super::super::Place::memory) })*
        }
    };
}
use on_each_store;

/// Where a database of some sort is during a test; it may be opened many times.
enum Place {
    Sqlite(TempDir),
    Memory(Memory),
}

/// Makes a place with an empty database.
type New = fn() -> Place;

impl Place {
    fn sqlite() -> Self {
        Self::Sqlite(tempfile::tempdir().unwrap())
    }

    fn memory() -> Self {
        Self::Memory(Memory::without_identity())
    }

    /// Opens the database.
    fn store(&self) -> Box<dyn Store> {
        match self {
            Self::Sqlite(folder) => {
                let path = folder.path().join("cells.book");
                let store = Sqlite::open_without_identity(&path, PATIENCE).unwrap();
                // No test here cuts the power, and many write often.
                store.connection.pragma_update(None, "synchronous", "off").unwrap();
                Box::new(store)
            }
            Self::Memory(memory) => Box::new(memory.clone()),
        }
    }

    /// Opens the book that was begun.
    fn book(&self) -> Book {
        Book::over(self.store(), "a book of the suite")
    }

    /// Begins the book under an identity of its own.
    fn begin(&self, name: u8) -> Book {
        let mut store = self.store();
        begin(&mut *store, name);
        Book::over(store, "a book of the suite")
    }
}

/// Gives a database an identity.
fn begin(store: &mut dyn Store, name: u8) {
    let id = Id([name; 16]);
    let chain = Chain { id, bench: format!("bench {name}"), home: true };
    let done = store.write(&mut |rows| {
        assert_eq!(rows.add_book(id)?, 1);
        assert_eq!(rows.add_chain(&chain)?, 1);
        Ok(())
    });
    done.unwrap();
}

/// Reads from a database.
fn read<T>(store: &dyn Store, request: impl Fn(&dyn Rows) -> Result<T, Problem>) -> T {
    let mut answer = None;
    store
        .read(&mut |rows| {
            answer = Some(request(rows)?);
            Ok(())
        })
        .unwrap();
    answer.unwrap()
}

/// Writes to a database.
fn write(
    store: &mut dyn Store,
    mut request: impl FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
) -> Result<(), Problem> {
    store.write(&mut |rows| request(rows))
}

/// Three entries of two cells with files, persons and recordings, and a recording that is not finished.
fn fill(book: &mut Book) -> RecordingNumber {
    for (cell, name) in [("C-1", "M. Orme"), ("C-2", "A. Hale"), ("C-1", "M. Orme")] {
        let recording = book.begin_recording(cell, second(0)).unwrap();
        book.append_recording(recording, cell.as_bytes()).unwrap();
        book.append_recording(recording, b", the end").unwrap();
        let entry = NewEntry {
            attachments: vec![file("trace.csv", cell.as_bytes()), file("policy.toml", b"policy")],
            recordings: vec![recording],
            personal: vec![name.to_owned()],
            inputs: serde_json::json!({"by": name, "rated_capacity_ah": 4.2}),
            ..assessment(cell)
        };
        book.append(entry).unwrap();
    }
    let left = book.begin_recording("C-3", second(9)).unwrap();
    book.append_recording(left, b"broken off").unwrap();
    left
}
