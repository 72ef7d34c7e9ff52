//! Recordings: they grow, are found again when left, and are finished once.

use super::super::{Book, NewEntry, Problem};
use super::{Shelf, assessment, second};

#[test]
fn a_recording_left_by_a_crash_is_listed_and_can_be_finished_later() {
    let shelf = Shelf::new();
    let number = {
        let mut book = shelf.open();
        let number = book.begin_recording("C-1", second(0)).unwrap();
        book.append_recording(number, b"first").unwrap();
        book.append_recording(number, b" second").unwrap();
        number
    };
    let mut book = shelf.open();
    let [left] = &book.unfinished_recordings().unwrap()[..] else { panic!("one is left") };
    assert_eq!((left.number, left.at, left.cell_id.as_str(), left.length), (number, second(0), "C-1", 12));
    assert_eq!(book.recording(number).unwrap().unwrap(), b"first second");

    book.append(NewEntry { recordings: vec![number], ..assessment("C-1") }).unwrap();
    assert_eq!(book.unfinished_recordings().unwrap(), []);
    let [finished] = &book.recordings_of(1).unwrap()[..] else { panic!("one is finished") };
    assert_eq!((finished.number, finished.length), (number, 12));
    // Over its chunks' digests, worked out apart from this program: tests/book_seal.py.
    assert_eq!(
        finished.digest.to_string(),
        "d9da33ccd77489b2a2e9872f94b16ac5de4cf67ffef71f8545c5d931b7d871ab"
    );
    assert!(book.verify().unwrap().passed());
}

#[test]
fn a_recording_that_never_got_a_byte_is_listed_too() {
    let shelf = Shelf::new();
    let number = shelf.open().begin_recording("C-1", second(0)).unwrap();
    let book = Book::open_read_only(shelf.path()).unwrap();
    assert_eq!(book.unfinished_recordings().unwrap()[0].length, 0);
    assert_eq!(book.recording(number).unwrap(), Some(vec![]));
}

#[test]
fn chunks_of_several_recordings_stay_in_their_own_order() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let [a, b] = ["C-1", "C-2"].map(|cell| book.begin_recording(cell, second(0)).unwrap());
    for byte in 0..=255_u8 {
        book.append_recording(a, &[byte]).unwrap();
        book.append_recording(b, &[255 - byte]).unwrap();
    }
    let rising: Vec<u8> = (0..=255).collect();
    assert_eq!(book.recording(a).unwrap().unwrap(), rising);
    assert_eq!(book.recording(b).unwrap().unwrap(), rising.into_iter().rev().collect::<Vec<u8>>());
}

#[test]
fn a_finished_recording_takes_nothing_more() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let number = book.begin_recording("C-1", second(0)).unwrap();
    book.append(NewEntry { recordings: vec![number], ..assessment("C-1") }).unwrap();
    let error = book.append_recording(number, b"late").unwrap_err();
    assert!(matches!(error.problem, Problem::RecordingFinished { entry: 1, .. }), "{error}");
    let error = book.append(NewEntry { recordings: vec![number], ..assessment("C-1") }).unwrap_err();
    assert!(matches!(error.problem, Problem::RecordingFinished { entry: 1, .. }), "{error}");
    assert_eq!(book.verify().unwrap().entries, 1);
}

#[test]
fn an_entry_cannot_finish_what_is_not_its_own() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let number = book.begin_recording("C-1", second(0)).unwrap();
    let error = book.append(NewEntry { recordings: vec![number], ..assessment("C-2") }).unwrap_err();
    assert!(matches!(error.problem, Problem::RecordingOfOtherCell { .. }), "{error}");
    assert_eq!(book.unfinished_recordings().unwrap().len(), 1);

    let elsewhere = Shelf::new();
    let mut other = elsewhere.open();
    assert_eq!(other.recording(number).unwrap(), None);
    let error = other.append_recording(number, b"x").unwrap_err();
    assert!(matches!(error.problem, Problem::UnknownRecording { .. }), "{error}");
    let error = other.append(NewEntry { recordings: vec![number], ..assessment("C-1") }).unwrap_err();
    assert!(matches!(error.problem, Problem::UnknownRecording { .. }), "{error}");
}
