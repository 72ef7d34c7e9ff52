//! Recordings through the book: unfinished ones stay listed, finished ones grow no more, all are linked.

use super::{New, assessment, fill, on_each_store, read, second};
use crate::{NewEntry, Problem, RecordingNumber};

on_each_store! {
    what_was_never_finished_stays_listed_oldest_first,
    a_finished_recording_grows_no_more,
    parts_of_many_recordings_are_linked_in_the_order_of_writing,
    a_recording_without_a_byte_is_one_too,
}

fn what_was_never_finished_stays_listed_oldest_first(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    for (cell, at) in [("C-9", 7), ("C-3", 1)] {
        book.begin_recording(cell, second(at)).unwrap();
    }
    drop(book);
    let book = place.book();
    let listed = |found: Vec<crate::UnfinishedRecording>| -> Vec<(u32, u64)> {
        found.into_iter().map(|one| (one.number.0, one.length)).collect()
    };
    assert_eq!(listed(book.unfinished_recordings().unwrap()), [(4, 10), (5, 0), (6, 0)]);
    assert_eq!(listed(book.unfinished_recordings_of("C-3").unwrap()), [(4, 10), (6, 0)]);
    assert_eq!(listed(book.unfinished_recordings_of("C-1").unwrap()), []);
    assert_eq!(book.unfinished_recordings().unwrap()[1].at, second(7));
    assert_eq!(book.recording(RecordingNumber(4)).unwrap().unwrap(), b"broken off");
    assert_eq!(book.recording(RecordingNumber(7)).unwrap(), None);
}

fn a_finished_recording_grows_no_more(new: New) {
    let place = new();
    let mut book = place.begin(1);
    let left = fill(&mut book);
    let late = book.append_recording(RecordingNumber(1), b"late").unwrap_err();
    assert!(matches!(late.problem, Problem::RecordingFinished { entry: 1, .. }), "{late}");
    let again = NewEntry { recordings: vec![RecordingNumber(1)], ..assessment("C-1") };
    assert!(matches!(book.append(again).unwrap_err().problem, Problem::RecordingFinished { .. }));
    let of_other = NewEntry { recordings: vec![left], ..assessment("C-1") };
    assert!(matches!(book.append(of_other).unwrap_err().problem, Problem::RecordingOfOtherCell { .. }));
    let unknown = book.append_recording(RecordingNumber(9), b"x").unwrap_err();
    assert!(matches!(unknown.problem, Problem::UnknownRecording { .. }));
    let twice = NewEntry { recordings: vec![left, left], ..assessment("C-3") };
    assert!(book.append(twice).is_err());
    book.append_recording_soon(left, b", mended").unwrap();
    let entry = book.append(NewEntry { recordings: vec![left], ..assessment("C-3") }).unwrap();
    let finished = book.recordings_of(entry.number).unwrap();
    assert_eq!((finished.len(), finished[0].number, finished[0].length), (1, left, 18));
    assert!(book.unfinished_recordings().unwrap().is_empty());
    assert_eq!(book.verify().unwrap().faults, []);
}

fn parts_of_many_recordings_are_linked_in_the_order_of_writing(new: New) {
    let place = new();
    let mut book = place.begin(1);
    let first = book.begin_recording("C-1", second(0)).unwrap();
    let other = book.begin_recording("C-2", second(0)).unwrap();
    for part in 0..3 {
        book.append_recording(other, &[part]).unwrap();
        book.append_recording(first, &[part, part]).unwrap();
    }
    let mut places = Vec::new();
    read(&*place.store(), |rows| {
        let mut heard = Vec::new();
        rows.links(&mut |link| {
            heard.push((link.recording, link.position));
            Ok(true)
        })?;
        Ok(heard)
    })
    .into_iter()
    .for_each(|one| places.push(one));
    assert_eq!(places, [(1, 0), (2, 0), (2, 1), (1, 1), (2, 2), (1, 2), (2, 3), (1, 3)]);
    // An entry of either seals how far both had come.
    let entry = book.append(NewEntry { recordings: vec![other], ..assessment("C-2") }).unwrap();
    let row = read(&*place.store(), |rows| rows.entry(entry.number.into())).unwrap();
    assert_eq!(row.stream.0, 8);
    assert_eq!(book.verify().unwrap().faults, []);
}

fn a_recording_without_a_byte_is_one_too(new: New) {
    let place = new();
    let mut book = place.begin(1);
    let empty = book.begin_recording("C-1", second(0)).unwrap();
    let part = book.begin_recording("C-1", second(0)).unwrap();
    book.append_recording(part, b"").unwrap();
    let entry = book.append(NewEntry { recordings: vec![part, empty], ..assessment("C-1") }).unwrap();
    let lengths: Vec<u64> = book.recordings_of(entry.number).unwrap().iter().map(|one| one.length).collect();
    assert_eq!((lengths, book.recording(empty).unwrap()), (vec![0, 0], Some(vec![])));
    assert_eq!(book.verify().unwrap().faults, []);
}
