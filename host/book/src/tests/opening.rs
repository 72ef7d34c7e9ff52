//! Opening: a new book, a wrong file, a newer format, many at once.

use std::fs;

use super::super::sqlite::schema;
use super::super::{Book, BookError, NewEntry, Problem};
use super::{Shelf, assessment, connection, file, three_entries};

fn problem(result: Result<Book, BookError>) -> Problem {
    result.unwrap_err().problem
}

/// Every file in the shelf's folder with its bytes.
fn everything(shelf: &Shelf) -> Vec<(std::path::PathBuf, Vec<u8>)> {
    let mut files: Vec<_> = fs::read_dir(shelf.0.path())
        .unwrap()
        .map(|file| file.unwrap().path())
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect();
    files.sort();
    files
}

#[test]
fn a_new_book_is_empty_sound_and_fully_synchronised() {
    let shelf = Shelf::new();
    let book = shelf.open();
    assert_eq!(book.entries(&Default::default()).unwrap(), []);
    assert!(book.verify().unwrap().passed());
    let setting =
        |name| connection(&book).pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
    // 2 is FULL in SQLite's numbering of the setting.
    assert_eq!((setting("synchronous"), setting("foreign_keys")), (2, 1));
    let mode: String = connection(&book).pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
    assert_eq!(mode, "wal");
}

#[test]
fn an_empty_file_becomes_a_book_but_is_none_to_read() {
    let shelf = Shelf::new();
    fs::write(shelf.path(), b"").unwrap();
    assert!(matches!(problem(Book::open_read_only(shelf.path())), Problem::Missing));
    assert_eq!(fs::read(shelf.path()).unwrap(), b"");
    shelf.open().append(assessment("C-1")).unwrap();
}

#[test]
fn reading_a_book_that_is_not_there_creates_none() {
    let shelf = Shelf::new();
    assert!(matches!(problem(Book::open_read_only(shelf.path())), Problem::Missing));
    assert_eq!(everything(&shelf), []);
}

#[test]
fn a_file_of_another_kind_is_refused_and_left_alone() {
    for bytes in [b"x".to_vec(), b"Test Time / s,Voltage / V\n0,3.7\n".to_vec(), vec![0; 5000]] {
        let shelf = Shelf::new();
        fs::write(shelf.path(), &bytes).unwrap();
        let before = everything(&shelf);
        assert!(matches!(problem(Book::open(shelf.path())), Problem::NotABook { .. }));
        assert!(matches!(problem(Book::open_read_only(shelf.path())), Problem::NotABook { .. }));
        assert_eq!(everything(&shelf), before);
    }
}

#[test]
fn another_programs_database_is_refused_and_left_alone_with_its_log() {
    let shelf = Shelf::new();
    let other = shelf.stranger();
    other.pragma_update(None, "journal_mode", "wal").unwrap();
    other.execute_batch("CREATE TABLE stock (part TEXT); INSERT INTO stock VALUES ('screw')").unwrap();
    let before = everything(&shelf);
    assert_eq!(before.len(), 3, "the database, its log and the log's index");
    assert!(matches!(problem(Book::open(shelf.path())), Problem::NotABook { .. }));
    assert!(matches!(problem(Book::open_read_only(shelf.path())), Problem::NotABook { .. }));
    assert_eq!(everything(&shelf), before);
}

#[test]
fn a_folder_and_a_missing_folder_are_told_apart() {
    let shelf = Shelf::new();
    assert!(matches!(problem(Book::open(shelf.0.path())), Problem::NotABook { .. }));
    let nowhere = shelf.0.path().join("not there").join("cells.book");
    assert!(matches!(problem(Book::open(nowhere)), Problem::CannotOpen { .. }));
}

#[test]
fn a_book_of_a_newer_format_is_refused_and_left_alone() {
    let shelf = Shelf::new();
    shelf.open().append(assessment("C-1")).unwrap();
    shelf.stranger().pragma_update(None, "user_version", schema::VERSION + 1).unwrap();
    let before = fs::read(shelf.path()).unwrap();
    for result in [Book::open(shelf.path()), Book::open_read_only(shelf.path())] {
        let error = result.unwrap_err();
        assert!(matches!(error.problem, Problem::NewerVersion { .. }), "{error}");
        assert!(error.to_string().contains("use a newer celltriage"), "{error}");
        assert!(error.to_string().contains("cells.book"), "{error}");
    }
    assert_eq!(fs::read(shelf.path()).unwrap(), before);
}

#[test]
fn a_path_with_signs_that_mean_something_in_an_address_is_opened_as_it_is() {
    let shelf = Shelf::new();
    for name in ["a b", "50%41", "who?mode=memory", "no#1", "Prüfstand"] {
        let path = shelf.0.path().join(name);
        Book::open(&path).unwrap().append(assessment("C-1")).unwrap();
        assert!(path.is_file(), "{name}");
        assert_eq!(Book::open(&path).unwrap().verify().unwrap().entries, 1, "{name}");
    }
}

#[test]
fn a_book_is_opened_while_its_log_is_only_half_carried_over() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let large = NewEntry { attachments: vec![file("large.csv", &[0xff; 50_000])], ..assessment("C-1") };
    book.append(large).unwrap();
    // The state a kill leaves, or another process meets, in the middle of a checkpoint: of the log's pages the first one
    // is in the file already, and it counts pages that are not. A log holds 32 bytes, then for each page 24 bytes, of
    // which the first four are its number (SQLite's file format, section 4.1).
    let mut bytes = fs::read(shelf.path()).unwrap();
    let log = fs::read(shelf.0.path().join("cells.book-wal")).unwrap();
    let page = bytes.len().min(4096);
    let first = log[32..].chunks_exact(24 + page).rfind(|frame| frame[..4] == [0, 0, 0, 1]).unwrap();
    bytes[..page].copy_from_slice(&first[24..]);
    let pages = u32::from_be_bytes(bytes[28..32].try_into().unwrap()) as usize;
    assert!(pages * page > bytes.len(), "the log adds pages");

    let copy = Shelf::new();
    fs::write(copy.path(), bytes).unwrap();
    fs::write(copy.0.path().join("cells.book-wal"), log).unwrap();
    assert_eq!(Book::open_read_only(copy.path()).unwrap().verify().unwrap().entries, 1);
    let found = copy.open().verify().unwrap();
    assert_eq!((found.entries, found.faults), (1, vec![]));
}

#[test]
fn a_book_is_opened_and_sound_at_any_moment_of_anothers_writing() {
    let shelf = Shelf::new();
    let mut writer = shelf.open();
    let opened = std::thread::scope(|scope| {
        // Entries of this size make SQLite carry its log over every twenty or so.
        let writing = scope.spawn(move || {
            for count in 0..60_u8 {
                let large = file("large.csv", &vec![count; 200_000]);
                writer.append(NewEntry { attachments: vec![large], ..assessment("C-1") }).unwrap();
            }
        });
        let mut opened = 0;
        while !writing.is_finished() {
            assert_eq!(Book::open_read_only(shelf.path()).unwrap().verify().unwrap().faults, []);
            assert_eq!(Book::open(shelf.path()).unwrap().verify().unwrap().faults, []);
            opened += 1;
        }
        writing.join().unwrap();
        opened
    });
    assert!(opened > 1, "nothing was opened during the writing");
    assert_eq!(shelf.open().verify().unwrap().entries, 60);
}

#[test]
fn a_book_opened_to_read_cannot_be_written() {
    let shelf = Shelf::new();
    shelf.open().append(assessment("C-1")).unwrap();
    let mut book = Book::open_read_only(shelf.path()).unwrap();
    assert_eq!(book.entries(&Default::default()).unwrap().len(), 1);
    let error = book.append(assessment("C-2")).unwrap_err();
    assert!(matches!(error.problem, Problem::ReadOnly), "{error}");
}

#[test]
fn many_may_begin_the_same_book_at_once() {
    // Eight threads race for the first commit; 20 rounds because the race is narrow.
    for _ in 0..20 {
        let shelf = Shelf::new();
        std::thread::scope(|scope| {
            for thread in 0..8 {
                let path = shelf.path();
                scope.spawn(move || {
                    Book::open(path).unwrap().append(assessment(&format!("C-{thread}"))).unwrap();
                });
            }
        });
        let found = shelf.open().verify().unwrap();
        assert_eq!((found.entries, found.faults), (8, vec![]));
    }
}

#[test]
fn a_statement_is_planned_once_whatever_is_asked_for() {
    let shelf = three_entries();
    let book = Book::open_read_only(shelf.path()).unwrap();
    let query = "SELECT entry, name FROM attachment LEFT JOIN content USING (sha256) WHERE entry = $1 ORDER BY position";
    let mut statement = connection(&book).prepare(query).unwrap();
    for entry in 1..=3 {
        let number: i64 = statement.query_row([entry], |row| row.get(0)).unwrap();
        assert_eq!(number, entry);
    }
    assert_eq!(statement.get_status(rusqlite::StatementStatus::RePrepare), 0);
}
