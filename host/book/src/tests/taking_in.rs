//! Taking in what other benches wrote: recordings that grow between two times, that went through a third book, that were saved.

use super::super::{Book, NewEntry, Problem};
use super::{Shelf, assessment, second, three_entries};

fn faults(book: &Book) -> Vec<super::super::BookFault> {
    book.verify().unwrap().faults
}

#[test]
fn a_recording_that_has_grown_there_since_is_continued_here() {
    let (shelf, other) = (three_entries(), Shelf::new());
    let (mut book, mut bench) = (shelf.open(), other.open());
    let recording = bench.begin_recording("C-9", second(5)).unwrap();
    bench.append_recording(recording, b"first, ").unwrap();
    assert_eq!(book.merge(&other.path()).unwrap().recordings, 1);
    // Its bytes come along as they grow, and a second time nothing is new.
    bench.append_recording(recording, b"second, ").unwrap();
    assert_eq!(book.merge(&other.path()).unwrap().recordings, 0);
    let unfinished = book.unfinished_recordings_of("C-9").unwrap();
    assert_eq!((unfinished.len(), unfinished[0].length), (1, 15));
    bench.append_recording(recording, b"third").unwrap();
    bench.append(NewEntry { recordings: vec![recording], ..assessment("C-9") }).unwrap();
    assert_eq!(book.merge(&other.path()).unwrap().entries, [4]);
    let finished = book.recordings_of(4).unwrap();
    assert_eq!(book.recording(finished[0].number).unwrap().unwrap(), b"first, second, third");
    assert_eq!(faults(&book), []);
}

#[test]
fn a_recording_that_comes_through_a_third_book_is_here_once() {
    let (first, second_shelf, third) = (three_entries(), Shelf::new(), Shelf::new());
    let (mut book, mut between, mut bench) = (first.open(), second_shelf.open(), third.open());
    // The numbers differ in all three.
    between.begin_recording("C-7", second(1)).unwrap();
    let recording = bench.begin_recording("C-9", second(5)).unwrap();
    bench.append_recording(recording, b"on its way").unwrap();
    between.merge(&third.path()).unwrap();
    assert_eq!(book.merge(&second_shelf.path()).unwrap().recordings, 2);
    assert_eq!(book.merge(&second_shelf.path()).unwrap().recordings, 0);
    assert_eq!(book.merge(&third.path()).unwrap().recordings, 0, "it is the same one");
    bench.append(NewEntry { recordings: vec![recording], ..assessment("C-9") }).unwrap();
    book.merge(&third.path()).unwrap();
    assert_eq!(book.unfinished_recordings_of("C-9").unwrap(), []);
    assert_eq!((faults(&book), book.unfinished_recordings().unwrap().len()), (vec![], 1));
    // And back to where it was begun: it is that book's own.
    bench.merge(&first.path()).unwrap();
    assert_eq!((faults(&bench), bench.unfinished_recordings_of("C-9").unwrap()), (vec![], vec![]));
}

#[test]
fn what_is_saved_of_a_book_with_entries_from_elsewhere_fits_its_seals() {
    let (shelf, other) = (three_entries(), Shelf::new());
    let mut bench = other.open();
    let recording = bench.begin_recording("C-9", second(5)).unwrap();
    bench.append_recording(recording, b"frames").unwrap();
    bench.append(NewEntry { recordings: vec![recording], ..assessment("C-9") }).unwrap();
    let note = NewEntry { kind: "correction".into(), corrects: Some(1), ..assessment("C-9") };
    bench.append(note).unwrap();
    shelf.open().merge(&other.path()).unwrap();
    let to = shelf.0.path().join("saved");
    let saved = Book::save_from(&shelf.path(), &to, &mut |_| {}).unwrap();
    assert_eq!((saved.entries, saved.damaged), (5, vec![]));
    let mut new = Book::open(&to).unwrap();
    assert_eq!(faults(&new), []);
    assert_eq!(new.entry(5).unwrap().unwrap().corrects, Some(4), "by its number here");
    assert_eq!(new.merge(&other.path()).unwrap().known, 2);
}

#[test]
fn a_blanked_text_that_somebody_still_reads_from_the_log_is_told_and_cleared_away_later() {
    let shelf = three_entries();
    let mut book = shelf.open();
    book.wait_at_most(std::time::Duration::from_millis(20)).unwrap();
    let reader = shelf.stranger();
    reader.execute_batch("BEGIN; SELECT count(*) FROM entry").unwrap();
    let told = book.blank(1, "asked for by the person", "A. Hale", second(20)).unwrap_err();
    assert!(matches!(told.problem, Problem::NotScrubbed { entry: 4, .. }), "{told}");
    assert!(!told.to_string().contains("nothing was written"), "{told}");
    assert_eq!((book.persons_in(1).unwrap(), faults(&book)), (vec![], vec![]));
    let again = |book: &mut Book| {
        book.blank(1, "asked for by the person", "A. Hale", second(21)).unwrap_err().problem
    };
    assert!(matches!(again(&mut book), Problem::Locked), "it cannot be cleared away yet");
    reader.execute_batch("ROLLBACK").unwrap();
    assert!(matches!(again(&mut book), Problem::NotBlanked { .. }));
    let mut log = shelf.path().into_os_string();
    log.push("-wal");
    assert_eq!(std::fs::metadata(log).unwrap().len(), 0);
}
