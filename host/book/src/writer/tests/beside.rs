//! What lies beside a book: it carries its own seal, is taken in once whatever happens in between, and nothing is removed.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{entry, second};
use crate::{Book, Digest, Filter, Kept, NewAttachment, NewEntry, Problem, Rest, RestEntry, Subject, aside};

const PATIENCE: Duration = Duration::from_secs(10);

fn rest(book: &Path) -> Rest {
    let attachments = vec![NewAttachment {
        name: "policy.toml".into(),
        media_type: "application/toml".into(),
        bytes: b"limits".to_vec(),
    }];
    let decision = NewEntry { fate: Some("recycle".into()), attachments, ..entry(2) };
    Rest {
        book: book.to_owned(),
        why: "book cells.book: the disk is full".into(),
        cell: "C-1".into(),
        began: second(0),
        from: 0,
        bytes: b"all frames".to_vec(),
        entries: vec![
            RestEntry { entry: entry(1), finishes: false },
            RestEntry { entry: decision, finishes: true },
        ],
        lost_frames: 0,
    }
}

fn put(rest: Rest) -> PathBuf {
    match aside::keep(rest, PATIENCE) {
        Kept::Beside { file, .. } => file,
        other => panic!("{other:?}"),
    }
}

fn shelf() -> (tempfile::TempDir, PathBuf, Book) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cells.book");
    let book = Book::open(&path).unwrap();
    (folder, path, book)
}

/// Checks that the book has the two entries and the whole recording, once.
fn has_it_once(book: &Book) {
    let entries = book.entries_of(&Subject::cell("C-1")).unwrap();
    let summaries: Vec<&str> = entries.iter().map(|entry| entry.summary.as_str()).collect();
    assert_eq!(summaries, ["alarm 1", "alarm 2"]);
    assert_eq!((entries[0].at, entries[1].at), (second(1), second(2)), "the time at which it happened");
    assert_eq!(entries[1].fate.as_deref(), Some("recycle"));
    let last = entries[1].number;
    let [recording] = &book.recordings_of(last).unwrap()[..] else { panic!("one") };
    assert_eq!(book.recording(recording.number).unwrap().unwrap(), b"all frames");
    assert_eq!((recording.at, recording.cell_id.as_str()), (second(0), "C-1"));
    let [policy] = &book.attachments_of(last).unwrap()[..] else { panic!("one") };
    assert_eq!((policy.name.as_str(), policy.sha256), ("policy.toml", Digest::of(b"limits")));
    assert_eq!(book.unfinished_recordings().unwrap(), []);
    assert!(book.verify().unwrap().passed());
}

#[test]
fn it_is_a_book_with_its_own_seal_and_is_listed_until_it_is_taken_in() {
    let (_folder, path, mut book) = shelf();
    let file = put(rest(&path));
    let name = file.file_name().unwrap().to_string_lossy().into_owned();
    assert_eq!(name, format!("cells.book.aside-{}-1.sqlite", second(2).strftime("%Y%m%dT%H%M%SZ")));
    assert_eq!(aside::beside(&path), std::slice::from_ref(&file));
    let small = Book::open_read_only(&file).unwrap();
    assert!(small.verify().unwrap().passed());
    assert_eq!(small.entries_of(&Subject::cell("C-1")).unwrap().len(), 3, "two entries, and whose they are");
    drop(small);
    let taken = aside::take_in(&mut book, &file).unwrap();
    assert_eq!((taken.entries, aside::beside(&path)), (2, vec![]));
    assert!(taken.file.exists() && !file.exists(), "renamed, not removed");
    has_it_once(&book);
}

#[test]
fn a_crash_between_the_last_commit_and_the_new_name_takes_nothing_in_twice() {
    let (_folder, path, mut book) = shelf();
    let file = put(rest(&path));
    let taken = aside::take_in(&mut book, &file).unwrap();
    // As if the program had ended before it gave the name.
    std::fs::rename(&taken.file, &file).unwrap();
    aside::take_in(&mut book, &file).unwrap();
    has_it_once(&book);
}

#[test]
fn a_crash_after_any_commit_goes_on_where_it_stopped() {
    // What take_in commits, in its order.
    for commits in 0..=4 {
        let (_folder, path, mut book) = shelf();
        let whole = rest(&path);
        let file = put(whole.clone());
        if commits >= 1 {
            book.append(entry(1)).unwrap();
        }
        if commits >= 2 {
            let number = book.begin_recording("C-1", second(0)).unwrap();
            if commits >= 3 {
                book.append_recording(number, b"all frames").unwrap();
            }
            if commits >= 4 {
                let last = NewEntry { recordings: vec![number], ..whole.entries[1].entry.clone() };
                book.append(last).unwrap();
            }
        }
        aside::take_in(&mut book, &file).unwrap();
        has_it_once(&book);
    }
}

#[test]
fn a_recording_that_the_book_has_in_part_is_gone_on_with() {
    for from in [0, 4] {
        let (_folder, path, mut book) = shelf();
        let number = book.begin_recording("C-1", second(0)).unwrap();
        book.append_recording(number, b"all ").unwrap();
        let bytes = b"all frames"[from as usize..].to_vec();
        let file = put(Rest { from, bytes, ..rest(&path) });
        aside::take_in(&mut book, &file).unwrap();
        has_it_once(&book);
    }
}

#[test]
fn a_commit_whose_answer_never_came_is_not_taken_in_a_second_time() {
    // The disk hung, everything was put beside, and then the commit was made after all.
    let (_folder, path, mut book) = shelf();
    let file = put(rest(&path));
    book.append(entry(1)).unwrap();
    aside::take_in(&mut book, &file).unwrap();
    has_it_once(&book);
}

#[test]
fn nothing_there_is_written_over_and_each_is_taken_in() {
    let (_folder, path, mut book) = shelf();
    let files: Vec<PathBuf> = (0..3).map(|_| put(rest(&path))).collect();
    assert_eq!(aside::beside(&path), files);
    for file in &files {
        aside::take_in(&mut book, file).unwrap();
    }
    has_it_once(&book);
}

#[test]
fn those_that_are_put_there_in_the_same_moment_have_names_of_their_own() {
    let (_folder, path, _book) = shelf();
    let all: Vec<_> = (0..8)
        .map(|_| {
            let rest = rest(&path);
            std::thread::spawn(move || put(rest))
        })
        .collect();
    let mut files: Vec<PathBuf> = all.into_iter().map(|one| one.join().unwrap()).collect();
    files.sort();
    assert_eq!(aside::beside(&path), files);
    files.dedup();
    assert_eq!(files.len(), 8);
}

#[cfg(unix)]
#[test]
fn a_second_folder_that_others_may_write_is_not_believed() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("disk"), b"").unwrap();
    let path = folder.path().join("disk").join("cells.book");
    let file = put(rest(&path));
    let second = file.parent().unwrap();
    assert_eq!(std::fs::metadata(second).unwrap().permissions().mode() & 0o777, 0o700);
    std::fs::set_permissions(second, std::fs::Permissions::from_mode(0o777)).unwrap();
    assert!(aside::beside(&path).is_empty());
    std::fs::remove_dir_all(second).unwrap();
}

#[test]
fn one_that_does_not_hold_what_was_written_is_not_taken_in_and_stays() {
    let (_folder, path, mut book) = shelf();
    let file = put(rest(&path));
    let stranger = rusqlite::Connection::open(&file).unwrap();
    stranger
        .execute_batch("DROP TRIGGER entry_keeps; UPDATE entry SET summary = 'all well' WHERE number = 2")
        .unwrap();
    drop(stranger);
    let error = aside::take_in(&mut book, &file).unwrap_err();
    assert!(matches!(error.problem, Problem::Corrupt { .. }) && error.path == file, "{error}");
    assert_eq!(aside::beside(&path), [file]);
    assert_eq!(book.entries(&Filter::default()).unwrap(), []);
}

#[test]
fn a_folder_that_cannot_be_written_leaves_the_temporary_one_where_it_is_found_again() {
    let folder = tempfile::tempdir().unwrap();
    // A file where the folder should be: nobody can write below it, whoever runs this.
    std::fs::write(folder.path().join("disk"), b"").unwrap();
    let path = folder.path().join("disk").join("cells.book");
    let file = put(rest(&path));
    assert!(file.starts_with(std::env::temp_dir()), "{}", file.display());
    assert_eq!(aside::beside(&path), std::slice::from_ref(&file));
    let elsewhere = folder.path().join("cells.book");
    assert!(aside::beside(&elsewhere).is_empty(), "another book of the same name has its own");
    let mut book = Book::open(&elsewhere).unwrap();
    aside::take_in(&mut book, &file).unwrap();
    has_it_once(&book);
    std::fs::remove_dir_all(file.parent().unwrap()).unwrap();
}
