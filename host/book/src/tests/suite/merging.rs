//! Taking in what another book has, from each database into each: once, with its seals, or nothing of it.

use super::dump::{difference, dump};
use super::{New, Place, assessment, fill, on_each_store, second};
use crate::{NewEntry, Problem, Subject};

on_each_store! {
    what_another_bench_wrote_is_taken_in_once_from_either_database,
    both_ways_both_know_all,
    nothing_is_taken_in_where_something_does_not_fit,
    a_recording_of_another_book_goes_on_only_there,
    a_recording_that_went_on_in_two_ways_is_told,
}

fn what_another_bench_wrote_is_taken_in_once_from_either_database(new: New) {
    for theirs in [Place::sqlite(), Place::memory()] {
        let (place, mut bench) = (new(), theirs.begin(2));
        let mut book = place.begin(1);
        book.append(assessment("C-8")).unwrap();
        fill(&mut bench);
        bench.append(NewEntry { kind: "correction".into(), corrects: Some(1), ..assessment("C-1") }).unwrap();
        bench.blank(1, "asked", "A. Hale", second(3)).unwrap();
        let taken = book.merge_from(&*theirs.store()).unwrap();
        assert_eq!((taken.entries, taken.known, taken.recordings), (vec![2, 3, 4, 5, 6], 0, 1));
        let once = dump(&*place.store());
        let again = book.merge_from(&*theirs.store()).unwrap();
        assert_eq!((again.entries, again.known, again.recordings), (vec![], 5, 0));
        assert_eq!(difference(&dump(&*place.store()), &once), [""; 0]);
        assert_eq!(book.verify().unwrap().faults, []);
        let (here, there) = (book.entry(3).unwrap().unwrap(), bench.entry(2).unwrap().unwrap());
        assert_eq!((here.digest, &here.inputs, &here.result), (there.digest, &there.inputs, &there.result));
        assert_eq!(here.from, Some((bench.identity().unwrap().book(), 2)));
        assert_eq!(book.head(5).unwrap().unwrap().corrects, Some(2), "by its number here");
        assert_eq!(book.persons_in(2).unwrap(), [""; 0], "blanked there, blanked here");
        assert_eq!(book.attachment(book.attachments_of(3).unwrap()[0].sha256).unwrap().unwrap(), b"C-2");
        assert_eq!(book.append(assessment("C-8")).unwrap().position, 2);
    }
}

fn both_ways_both_know_all(new: New) {
    let (ours, theirs) = (new(), new());
    let (mut book, mut bench) = (ours.begin(1), theirs.begin(2));
    fill(&mut book);
    fill(&mut bench);
    assert_eq!(book.merge_from(&*theirs.store()).unwrap().entries, [4, 5, 6]);
    assert_eq!(bench.merge_from(&*ours.store()).unwrap().entries, [4, 5, 6]);
    assert_eq!(book.merge_from(&*theirs.store()).unwrap().entries, [0; 0]);
    for one in [&book, &bench] {
        assert_eq!((one.verify().unwrap().faults, one.verify().unwrap().entries), (vec![], 6));
        assert_eq!(one.entries_of(&Subject::cell("C-1")).unwrap().len(), 4);
        assert_eq!(one.unfinished_recordings_of("C-3").unwrap().len(), 2);
    }
}

fn nothing_is_taken_in_where_something_does_not_fit(new: New) {
    let (ours, simulated, twin) = (new(), new(), new());
    let mut book = ours.begin(1);
    fill(&mut book);
    // Its first entry would fit; the second is of the other sort.
    let mut other = simulated.begin(2);
    other.append(NewEntry { simulated: None, ..assessment("C-8") }).unwrap();
    other.append(NewEntry { simulated: Some(true), ..assessment("C-9") }).unwrap();
    let before = dump(&*ours.store());
    let refused = book.merge_from(&*simulated.store()).unwrap_err();
    assert!(matches!(refused.problem, Problem::OtherSort { .. }), "{refused}");
    assert_eq!(difference(&dump(&*ours.store()), &before), [""; 0]);
    // The same chain, continued otherwise.
    twin.begin(1).append(assessment("C-7")).unwrap();
    let refused = book.merge_from(&*twin.store()).unwrap_err();
    assert!(matches!(refused.problem, Problem::Forked { entry: 1, .. }), "{refused}");
    assert_eq!(difference(&dump(&*ours.store()), &before), [""; 0]);
}

fn a_recording_of_another_book_goes_on_only_there(new: New) {
    let (ours, theirs) = (new(), new());
    let (mut book, mut bench) = (ours.begin(1), theirs.begin(2));
    let there = bench.begin_recording("C-9", second(0)).unwrap();
    book.begin_recording("C-8", second(0)).unwrap();
    book.merge_from(&*theirs.store()).unwrap();
    let here = book.unfinished_recordings_of("C-9").unwrap()[0].number;
    let before = dump(&*ours.store());
    let grown = book.append_recording(here, b"here").unwrap_err();
    assert!(matches!(grown.problem, Problem::RecordingOfOtherBook { .. }), "{grown}");
    let finished = book.append(NewEntry { recordings: vec![here], ..assessment("C-9") }).unwrap_err();
    assert!(matches!(finished.problem, Problem::RecordingOfOtherBook { .. }), "{finished}");
    assert_eq!(difference(&dump(&*ours.store()), &before), [""; 0]);
    bench.append_recording(there, b"there").unwrap();
    bench.append(NewEntry { recordings: vec![there], ..assessment("C-9") }).unwrap();
    book.merge_from(&*theirs.store()).unwrap();
    assert_eq!(book.recording(here).unwrap().unwrap(), b"there");
    assert_eq!((book.verify().unwrap().faults, book.unfinished_recordings().unwrap().len()), (vec![], 1));
}

fn a_recording_that_went_on_in_two_ways_is_told(new: New) {
    let (ours, theirs, folder) = (new(), new(), tempfile::tempdir().unwrap());
    let mut bench = theirs.begin(2);
    let recording = bench.begin_recording("C-9", second(0)).unwrap();
    // A copy of the bench's book, put in its place later: what was taken in meanwhile is not what it finishes.
    let copy = folder.path().join("copy");
    bench.copy_to(&copy, &mut |_, _| {}).unwrap();
    bench.append_recording(recording, b"lost").unwrap();
    let mut book = ours.begin(1);
    book.merge_from(&*theirs.store()).unwrap();
    let mut restored = crate::Book::open(&copy).unwrap();
    restored.append_recording(recording, b"other").unwrap();
    restored.append(NewEntry { recordings: vec![recording], ..assessment("C-9") }).unwrap();
    let before = dump(&*ours.store());
    let refused = book.merge(&copy).unwrap_err();
    assert!(matches!(refused.problem, Problem::Forked { .. }), "{refused}");
    assert_eq!(difference(&dump(&*ours.store()), &before), [""; 0]);
}
