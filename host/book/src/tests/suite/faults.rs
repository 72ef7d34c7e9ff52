//! Every request, with each of its calls failing once: nothing of it is left, the book verifies, and then it is done.

use std::path::Path;
use std::sync::Arc;

use super::between::Between;
use super::calls::{Calls, Fault};
use super::dump::{difference, dump};
use super::keeping::{STORY, keep_some};
use super::{New, assessment, file, fill, on_each_store, second};
use crate::store::Store;
use crate::{Book, BookError, NewEntry, Problem, RecordingNumber};

on_each_store! {
    beginning_a_recording, recording, recording_soon, appending, appending_with_all_that_belongs_to_it,
    appending_many, appending_and_keeping, keeping, forgetting, blanking, merging, copying, reading,
}

/// What a request finds beside the book.
struct Beside<'a> {
    other: &'a dyn Store,
    to: &'a Path,
}

/// A request; it returns the number of an entry that it was told is written, if any.
type Request = fn(&mut Book, &Beside<'_>) -> Result<Option<u32>, BookError>;

/// Lets each call of a request fail in turn, in each way, until none is left that could.
fn at_each_call(new: New, writes: bool, request: Request) {
    for fault in Fault::ALL {
        let (place, theirs, folder) = (new(), new(), tempfile::tempdir().unwrap());
        let mut book = place.begin(1);
        fill(&mut book);
        keep_some(&mut book);
        fill(&mut theirs.begin(2));
        let calls = Arc::new(Calls::default());
        let failing = |inner| Between { inner, calls: Arc::clone(&calls) };
        let other = failing(theirs.store());
        let beside = Beside { other: &other, to: &folder.path().join("copy") };
        let mut book = Book::over(Box::new(failing(place.store())), "a book that fails");
        let before = dump(&*place.store());
        for after in 0.. {
            calls.fail_after(after, fault);
            let done = request(&mut book, &beside);
            match (calls.fail_no_more(), done) {
                (None, done) => {
                    let number = done.unwrap();
                    let written = number.map(|number| place.book().entry(number).unwrap().is_some());
                    assert!(after > 0 && written != Some(false));
                    assert_eq!(dump(&*place.store()) != before, writes);
                    break;
                }
                (Some("scrub"), Err(BookError { problem: Problem::NotScrubbed { entry, .. }, .. })) => {
                    // Written and said so; the log is cleared by the next call.
                    assert!(place.book().entry(entry).unwrap().is_some());
                    let again = request(&mut book, &beside).unwrap_err();
                    assert!(matches!(again.problem, Problem::NotBlanked { .. }));
                    break;
                }
                (Some(name), Err(error)) => {
                    assert!(fault.is(&error.problem), "call {after} ({name}): {error}");
                    assert_eq!(
                        difference(&dump(&*place.store()), &before),
                        [""; 0],
                        "call {after} ({name}) left something"
                    );
                    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "call {after} ({name})");
                    if fault == Fault::Locked {
                        assert_eq!(book.verify().unwrap().faults, [], "call {after} ({name})");
                    }
                }
                // The bytes are written; that the book goes on being impatient undoes nothing.
                (Some("wait_at_most"), Ok(_)) if writes => {
                    assert!(!difference(&dump(&*place.store()), &before).is_empty());
                    break;
                }
                (Some(name), Ok(_)) => panic!("call {after} ({name}) failed and the request says it is done"),
            }
        }
        assert_eq!(book.verify().unwrap().faults, []);
        assert!(book.append(assessment("C-1")).unwrap().number >= 4, "the book goes on");
    }
}

const UNFINISHED: RecordingNumber = RecordingNumber(4);

fn beginning_a_recording(new: New) {
    at_each_call(new, true, |book, _| book.begin_recording("C-5", second(1)).map(|_| None));
}

fn recording(new: New) {
    at_each_call(new, true, |book, _| book.append_recording(UNFINISHED, b"more").map(|()| None));
}

fn recording_soon(new: New) {
    at_each_call(new, true, |book, _| book.append_recording_soon(UNFINISHED, b"more").map(|()| None));
}

fn appending(new: New) {
    at_each_call(new, true, |book, _| book.append(assessment("C-1")).map(|entry| Some(entry.number)));
}

fn appending_with_all_that_belongs_to_it(new: New) {
    at_each_call(new, true, |book, _| {
        let entry = NewEntry {
            attachments: vec![file("a", b"of its own"), file("b", b"policy")],
            recordings: vec![UNFINISHED],
            personal: vec!["M. Orme".into(), "A. Hale".into()],
            corrects: Some(1),
            ..assessment("C-3")
        };
        book.append_after(entry, 3).map(|entry| Some(entry.number))
    });
}

fn appending_many(new: New) {
    at_each_call(new, true, |book, _| {
        let entries = ["C-1", "C-2", "C-7"].map(assessment).into();
        book.append_all(entries).map(|written| written.last().map(|entry| entry.number))
    });
}

fn appending_and_keeping(new: New) {
    at_each_call(new, true, |book, _| {
        let labels = vec![("all".to_owned(), 1), ("new".to_owned(), 2)];
        let changes = [crate::Change { key: "C-1".into(), value: Some("x".into()), labels }];
        let written = book.append_keeping(assessment("C-1"), 3, (STORY, 3), &changes);
        written.map(|entry| Some(entry.number))
    });
}

fn keeping(new: New) {
    at_each_call(new, true, |book, _| {
        let changes = [crate::Change { key: "C-1".into(), value: None, labels: vec![] }];
        book.keep(STORY, 3, 2, &changes).map(|kept| (!kept).then_some(u32::MAX))
    });
}

fn forgetting(new: New) {
    at_each_call(new, true, |book, _| book.forget_kept(STORY).map(|()| None));
}

fn blanking(new: New) {
    at_each_call(new, true, |book, _| {
        book.blank(1, "asked", "A. Hale", second(3)).map(|said| Some(said.number))
    });
}

fn merging(new: New) {
    at_each_call(new, true, |book, beside| {
        let taken = book.merge_from(beside.other)?;
        assert_eq!((taken.entries.len(), taken.recordings), (3, 1));
        Ok(taken.entries.last().copied())
    });
}

fn copying(new: New) {
    at_each_call(new, false, |book, beside| {
        let copied = book.copy_to(beside.to, &mut |_, _| {})?;
        assert_eq!(copied.entries, 3);
        std::fs::remove_file(beside.to).unwrap();
        Ok(Some(copied.entries))
    });
}

fn reading(new: New) {
    at_each_call(new, false, |book, _| {
        let entries = book.entries(&crate::Filter::default())?;
        let cells = book.names(crate::SubjectKind::Cell)?;
        assert_eq!((entries.len(), cells.len(), book.recordings_of(1)?.len()), (3, 2, 1));
        assert_eq!(book.recording(UNFINISHED)?.unwrap(), b"broken off");
        assert_eq!(book.attachment(book.attachments_of(1)?[0].sha256)?.unwrap(), b"C-1");
        assert_eq!((book.unfinished_recordings()?.len(), book.persons_in(1)?.len()), (1, 1));
        assert_eq!((book.kept_under(STORY, "all", None)?.len(), book.kept_labels(STORY, "")?.len()), (3, 2));
        let mut kept = 0;
        book.each_kept(STORY, &mut |_| kept += 1)?;
        let held = book.held(&book.checkpoint(second(0))?)?;
        assert_eq!((kept, held.entries, held.faults), (2, 3, vec![]));
        Ok(book.last()?.map(|head| head.number))
    });
}
