//! Copies: a copy of any database is one SQLite file with the same rows.

use super::dump::{difference, dump};
use super::{New, assessment, fill, on_each_store, second};
use crate::sqlite::Sqlite;
use crate::{Book, Problem};

on_each_store! {
    a_copy_has_every_row_and_is_a_book_to_work_with,
    nothing_is_left_of_a_copy_that_fails,
}

fn a_copy_has_every_row_and_is_a_book_to_work_with(new: New) {
    let (place, other, folder) = (new(), new(), tempfile::tempdir().unwrap());
    let mut book = place.begin(1);
    fill(&mut book);
    fill(&mut other.begin(2));
    book.merge_from(&*other.store()).unwrap();
    book.blank(1, "asked", "A. Hale", second(3)).unwrap();
    let to = folder.path().join("copy");
    let mut steps = Vec::new();
    let copied = book.copy_to(&to, &mut |done, of| steps.push((done, of))).unwrap();
    assert_eq!(copied.entries, 7);
    let (done, of) = steps.last().unwrap();
    assert!(done == of && *of > 0, "{steps:?}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "one file");
    let copy = Sqlite::open_read_only(&to).unwrap();
    assert_eq!(difference(&dump(&copy), &dump(&*place.store())), [""; 0]);
    let mut copy = Book::open(&to).unwrap();
    assert_eq!((copy.verify().unwrap().faults, copy.identity().unwrap()), (vec![], book.identity().unwrap()));
    assert_eq!(copy.checkpoint(second(0)).unwrap(), book.checkpoint(second(0)).unwrap());
    let entry = copy.append(assessment("C-4")).unwrap();
    assert_eq!((entry.number, entry.position), (8, 5));
}

fn nothing_is_left_of_a_copy_that_fails(new: New) {
    let (place, folder) = (new(), tempfile::tempdir().unwrap());
    let mut book = place.begin(1);
    fill(&mut book);
    let to = folder.path().join("copy");
    std::fs::write(&to, b"another file").unwrap();
    let refused = book.copy_to(&to, &mut |_, _| {}).unwrap_err();
    assert!(matches!(refused.problem, Problem::InTheWay));
    assert_eq!(std::fs::read(&to).unwrap(), b"another file");
    let nowhere = folder.path().join("not there").join("copy");
    assert!(book.copy_to(&nowhere, &mut |_, _| {}).is_err());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
