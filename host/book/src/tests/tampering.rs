//! Tampering: what gets past the database's refusals shows.

use std::fs;

use super::super::{Book, NewEntry, Problem, Verification};
use super::{Shelf, assessment, file, second, three_entries, without_triggers};

/// Does something to the file the way a stranger with full rights would.
fn tampered(statement: &str) -> Verification {
    let shelf = three_entries();
    without_triggers(&shelf, |stranger| {
        assert!(stranger.execute(statement, []).unwrap() > 0, "{statement} changed nothing");
    });
    Book::open_read_only(shelf.path()).unwrap().verify().unwrap()
}

#[test]
fn an_untouched_book_passes() {
    let shelf = three_entries();
    let found = shelf.open().verify().unwrap();
    assert!(found.passed(), "{found:?}");
    assert_eq!((found.entries, found.first_bad_entry()), (3, None));
}

#[test]
fn every_changed_column_of_an_entry_shows_and_is_named() {
    for change in [
        "at_ms = at_ms + 1",
        "kind = 'correction'",
        "subject = 'C-1'",
        "subject_kind = 'container'",
        "position = 9",
        "origin_number = 9",
        "simulated = NULL",
        "simulated = 1",
        "stream = 1",
        "stream_digest = zeroblob(32)",
        "fate = 'reuse'",
        "fate = NULL",
        "summary = summary || '.'",
        "program = 'celltriage 0.1.1'",
        "inputs = zeroblob(32)",
        "result = zeroblob(32)",
        "corrects = 1",
        "previous = zeroblob(32)",
        "digest = zeroblob(32)",
    ] {
        let found = tampered(&format!("UPDATE entry SET {change} WHERE number = 2"));
        assert_eq!(found.first_bad_entry(), Some(2), "{change}: {found:?}");
    }
}

#[test]
fn changes_of_what_belongs_to_an_entry_show_and_name_it() {
    for statement in [
        "UPDATE attachment SET name = 'other.csv' WHERE entry = 2",
        "UPDATE attachment SET media_type = 'text/plain' WHERE entry = 2",
        "UPDATE attachment SET sha256 = (SELECT sha256 FROM attachment WHERE entry = 1) WHERE entry = 2",
        "UPDATE content SET bytes = x'00' WHERE sha256 = (SELECT sha256 FROM attachment WHERE entry = 2)",
        "UPDATE content SET packing = 1 WHERE sha256 = (SELECT sha256 FROM attachment WHERE entry = 2)",
        "UPDATE content SET packing = 9 WHERE sha256 = (SELECT sha256 FROM attachment WHERE entry = 2)",
        "DELETE FROM content WHERE sha256 = (SELECT sha256 FROM attachment WHERE entry = 2)",
        "DELETE FROM attachment WHERE entry = 2",
        "INSERT INTO attachment SELECT 2, 2, name, media_type, sha256 FROM attachment WHERE entry = 1",
        "UPDATE recording_chunk SET bytes = x'00' WHERE recording = 2 AND position = 1",
        "DELETE FROM recording_chunk WHERE recording = 2 AND position = 2",
        "UPDATE recording SET at_ms = 0 WHERE number = 2",
        "UPDATE recording SET cell_id = 'C-1' WHERE number = 2",
        "DELETE FROM finished_recording WHERE entry = 2",
        "UPDATE text SET bytes = x'7b7d', packing = 0 WHERE number = 4",
        "UPDATE text SET bytes = x'7b7d', packing = 0 WHERE number = 5",
        "DELETE FROM text WHERE number = 5",
        "UPDATE about SET subject = 'C-1' WHERE entry = 2",
        "INSERT INTO about VALUES (2, 2, 'cell', 'C-1')",
        "UPDATE personal SET text = 'A. Hale' WHERE entry = 2",
        "UPDATE personal SET digest = zeroblob(32) WHERE entry = 2",
        "UPDATE words SET text = 'nothing' WHERE entry = 2",
        "UPDATE stream SET digest = zeroblob(32) WHERE recording = 2 AND position = 2",
        "UPDATE stream SET content = zeroblob(32) WHERE recording = 2 AND position = 2",
    ] {
        let found = tampered(statement);
        assert_eq!(found.first_bad_entry(), Some(2), "{statement}: {found:?}");
    }
}

#[test]
fn nothing_is_written_behind_a_last_entry_that_was_changed() {
    let shelf = three_entries();
    let stranger = shelf.stranger();
    stranger.execute_batch("DROP TRIGGER entry_keeps").unwrap();
    stranger.execute("UPDATE entry SET fate = 'reuse' WHERE number = 3", []).unwrap();
    let refused = Book::open(shelf.path()).unwrap_err();
    assert!(refused.to_string().contains("its last entry, 3"), "{refused}");
    // What can be read is still read and verified.
    let found = Book::open_read_only(shelf.path()).unwrap().verify().unwrap();
    assert_eq!(found.first_bad_entry(), Some(3));
}

#[test]
fn a_removed_entry_shows_at_the_one_after_it() {
    assert_eq!(tampered("DELETE FROM entry WHERE number = 1").first_bad_entry(), Some(2));
    assert_eq!(tampered("DELETE FROM entry WHERE number = 2").first_bad_entry(), Some(3));
}

#[test]
fn an_entry_exchanged_for_one_of_another_book_shows() {
    let (shelf, other) = (three_entries(), Shelf::new());
    let mut book = other.open();
    let recording = book.begin_recording("C-1", second(0)).unwrap();
    book.append_recording(recording, b"frames of C-1").unwrap();
    book.append_recording(recording, b", the end").unwrap();
    let (attachments, recordings) = (vec![file("trace.csv", b"trace of C-1")], vec![recording]);
    book.append(NewEntry { attachments, recordings, fate: Some("reuse".into()), ..assessment("C-1") })
        .unwrap();
    assert!(book.verify().unwrap().passed(), "the entry is well made");

    let stranger = shelf.stranger();
    stranger.execute("ATTACH $1 AS other", [other.path().to_str()]).unwrap();
    stranger.execute_batch("DROP TRIGGER entry_keeps").unwrap();
    let exchange = "UPDATE entry SET (fate, digest) = (SELECT fate, digest FROM other.entry WHERE number = 1)
                    WHERE number = 1";
    assert_eq!(stranger.execute(exchange, []).unwrap(), 1);
    // Its seal names its own chain, so it does not even fit by itself.
    assert_eq!(shelf.open().verify().unwrap().first_bad_entry(), Some(1));
}

#[test]
fn a_row_that_belongs_to_nothing_shows() {
    for statement in [
        "INSERT INTO attachment SELECT 99, 1, 'trace.csv', 'text/csv', sha256 FROM content LIMIT 1",
        "INSERT INTO recording_chunk VALUES (7, 99, 1, x'00')",
        "INSERT INTO content VALUES (4, zeroblob(32), x'00', 0, NULL)",
    ] {
        assert!(!tampered(statement).passed(), "{statement}");
    }
}

#[test]
fn a_missing_or_added_definition_shows() {
    for (statement, words) in [
        ("DROP TRIGGER entry_keeps", "entry_keeps is missing"),
        ("CREATE TRIGGER extra AFTER INSERT ON entry BEGIN SELECT 1; END", "extra was added"),
    ] {
        let shelf = three_entries();
        shelf.stranger().execute_batch(statement).unwrap();
        let found = shelf.open().verify().unwrap();
        assert!(found.faults.iter().any(|fault| fault.what.contains(words)), "{statement}: {found:?}");
    }
}

#[test]
fn a_changed_attachment_is_not_handed_out() {
    let shelf = three_entries();
    let sha256 = shelf.open().attachments_of(2).unwrap()[0].sha256;
    edit(&shelf, b"trace of C-2", b"trace of C-1");
    let error = shelf.open().attachment(sha256).unwrap_err();
    assert!(matches!(error.problem, Problem::Corrupt { .. }), "{error}");
}

#[test]
fn an_edit_of_the_files_bytes_shows_and_names_the_entry() {
    for (old, new) in [(&b"frames of C-2"[..], &b"frames of C-3"[..]), (b"trace of C-2", b"trace of C-1")] {
        let shelf = three_entries();
        edit(&shelf, old, new);
        let found = shelf.open().verify().unwrap();
        assert_eq!(found.first_bad_entry(), Some(2), "{found:?}");
    }
}

#[test]
fn a_page_of_rubbish_is_reported_and_never_passes() {
    let shelf = three_entries();
    let sound = fs::read(shelf.path()).unwrap();
    // 4096 is SQLite's page; the first holds the header and what names the file a book.
    for page in 1..sound.len() / 4096 {
        let mut bytes = sound.clone();
        bytes[page * 4096..(page + 1) * 4096].fill(0xA5);
        fs::write(shelf.path(), &bytes).unwrap();
        match Book::open(shelf.path()).and_then(|book| book.verify()) {
            Ok(found) => assert!(!found.passed(), "page {page}"),
            Err(error) => assert!(matches!(error.problem, Problem::Corrupt { .. }), "page {page}: {error}"),
        }
    }
}

/// Replaces bytes that are in the file exactly once.
fn edit(shelf: &Shelf, old: &[u8], new: &[u8]) {
    let mut bytes = fs::read(shelf.path()).unwrap();
    let places: Vec<usize> = bytes
        .windows(old.len())
        .enumerate()
        .filter(|(_, window)| *window == old)
        .map(|(place, _)| place)
        .collect();
    assert_eq!(places.len(), 1, "{:?}", String::from_utf8_lossy(old));
    bytes[places[0]..places[0] + new.len()].copy_from_slice(new);
    fs::write(shelf.path(), bytes).unwrap();
}

/// Everything that a person can get out of a book.
fn contents(book: &Book) -> Result<String, super::super::BookError> {
    let mut all = format!("{:?} {:?}", book.identity()?, book.unfinished_recordings()?);
    for entry in book.entries(&super::super::Filter::default())? {
        all.push_str(&format!("{entry:?} {:?}", book.about(entry.number)?));
        for kept in book.attachments_of(entry.number)? {
            all.push_str(&format!("{kept:?} {:?}", book.attachment(kept.sha256)?));
        }
        for recording in book.recordings_of(entry.number)? {
            all.push_str(&format!("{recording:?} {:?}", book.recording(recording.number)?));
        }
    }
    all.push_str(&format!("{:?}", book.find("C-2")?.len()));
    Ok(all)
}

#[test]
fn a_flipped_bit_anywhere_shows_or_changes_nothing() {
    let shelf = three_entries();
    let sound = fs::read(shelf.path()).unwrap();
    let before = contents(&Book::open_read_only(shelf.path()).unwrap()).unwrap();
    // A prime stride, so that every kind of byte of a page is met.
    let stride = if cfg!(debug_assertions) { 211 } else { 23 };
    let (mut told, mut harmless) = (0, 0);
    for place in (0..sound.len()).step_by(stride) {
        let mut bytes = sound.clone();
        bytes[place] ^= 1 << (place % 8);
        fs::write(shelf.path(), &bytes).unwrap();
        let Ok(book) = Book::open_read_only(shelf.path()) else {
            told += 1;
            continue;
        };
        match book.verify() {
            Ok(found) if found.passed() => {
                harmless += 1;
                assert_eq!(contents(&book).unwrap(), before, "byte {place} changed something unseen");
            }
            Ok(_) => told += 1,
            Err(error) => {
                assert!(
                    matches!(error.problem, Problem::Corrupt { .. } | Problem::NotABook { .. }),
                    "{error}"
                );
                told += 1;
            }
        }
    }
    assert!(told > harmless / 20, "{told} told, {harmless} harmless");
}

#[test]
fn a_book_cut_short_anywhere_shows() {
    let shelf = three_entries();
    let sound = fs::read(shelf.path()).unwrap();
    for length in (1..sound.len()).step_by(1_511) {
        fs::write(shelf.path(), &sound[..length]).unwrap();
        if let Ok(found) = Book::open_read_only(shelf.path()).and_then(|book| book.verify()) {
            assert!(!found.passed(), "cut to {length} of {} bytes", sound.len());
        }
    }
}
