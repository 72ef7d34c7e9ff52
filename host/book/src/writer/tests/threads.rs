//! The thread and real books: locked by another connection, removed, and a disk that hangs.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use super::{Instantly, entry, terms};
use crate::{Book, BookError, Done, Filter, Kept, News, Problem, Work, Worker, Writer, aside};

/// So long a call of the one who measures may take: it only takes a lock that nobody holds over a request.
const AT_MOST: Duration = Duration::from_millis(100);

fn quick<T>(call: impl FnOnce() -> T) -> T {
    let began = Instant::now();
    let done = call();
    assert!(began.elapsed() < AT_MOST, "{:?}", began.elapsed());
    done
}

/// Pushes a frame each 50 ms and gathers what is told, until something holds or so much time has passed.
fn push_until(
    writer: &Writer,
    told: &mut Vec<News>,
    most: Duration,
    holds: impl Fn(&[News]) -> bool,
) -> usize {
    let (began, mut pushed) = (Instant::now(), 0);
    while !holds(told) {
        assert!(began.elapsed() < most, "{told:?}");
        quick(|| writer.push(b"frame "));
        pushed += 1;
        told.extend(quick(|| writer.news()));
        std::thread::sleep(Duration::from_millis(50));
    }
    pushed
}

fn is_told(wanted: &str) -> impl Fn(&[News]) -> bool {
    move |told| told.iter().any(|news| matches!(news, News::NotKept(why) if why.contains(wanted)))
}

fn is_kept_again(told: &[News]) -> bool {
    told.iter().any(|news| matches!(news, News::KeptAgain { lost_frames: 0 }))
}

fn shelf() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cells.book");
    (folder, path)
}

#[test]
fn a_lock_held_by_another_connection_holds_up_nobody_and_ends_nothing() {
    let (_folder, path) = shelf();
    drop(Book::open(&path).unwrap());
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let writer = Writer::begin(terms(&path));
    let mut told = Vec::new();
    let mut pushed = push_until(&writer, &mut told, Duration::from_secs(2), is_told("holds it locked"));
    quick(|| writer.enter(entry(1)));
    assert_eq!(writer.acknowledged(), crate::Acknowledged::default());
    drop(other);
    pushed += push_until(&writer, &mut told, Duration::from_secs(6), is_kept_again);
    assert_eq!(told.len(), 2, "{told:?}");
    let Kept::InBook(last) = writer.finish(entry(2), Duration::from_secs(10)) else { panic!("it is free") };
    let book = Book::open_read_only(&path).unwrap();
    assert_eq!(book.entry(last.number).unwrap().as_ref(), Some(&*last));
    assert_eq!(last.number, 2);
    let [recording] = &book.recordings_of(2).unwrap()[..] else { panic!("one") };
    assert_eq!(book.recording(recording.number).unwrap().unwrap(), b"frame ".repeat(pushed));
    assert!(book.verify().unwrap().passed() && aside::beside(&path).is_empty());
}

#[test]
fn a_book_that_was_finished_is_one_file_that_can_be_copied() {
    for _ in 0..20 {
        let (folder, path) = shelf();
        let writer = Writer::begin(terms(&path));
        writer.push(b"frames");
        assert!(writer.finish(entry(1), Duration::from_secs(10)).entry().is_some());
        let names: Vec<_> =
            std::fs::read_dir(folder.path()).unwrap().flatten().map(|file| file.file_name()).collect();
        assert_eq!(names, ["cells.book"], "no log lies beside it");
    }
}

#[test]
fn a_book_whose_file_is_removed_is_told_is_not_begun_again_and_what_was_seen_lies_beside_it() {
    let (folder, path) = shelf();
    let writer = Writer::begin(terms(&path));
    let mut told = Vec::new();
    quick(|| writer.push(b"first "));
    writer.wait_for_first_word(Duration::from_secs(5));
    assert_eq!(writer.acknowledged().bytes, 6);
    for name in std::fs::read_dir(folder.path()).unwrap().flatten() {
        std::fs::remove_file(name.path()).unwrap();
    }
    let pushed = push_until(&writer, &mut told, Duration::from_secs(4), is_told("was removed"));
    let began = Instant::now();
    let kept = writer.finish(entry(1), Duration::from_secs(10));
    assert!(began.elapsed() < Duration::from_secs(2), "nobody waits for a file that is gone");
    let Kept::Beside { why, file } = kept else { panic!("{kept:?}") };
    assert!(why.contains("was removed") && !path.exists());
    // Another book at the same place takes it in, whole.
    let mut book = Book::open(&path).unwrap();
    aside::take_in(&mut book, &file).unwrap();
    let [recording] = &book.recordings_of(1).unwrap()[..] else { panic!("one") };
    let whole = [b"first ".to_vec(), b"frame ".repeat(pushed)].concat();
    assert_eq!(book.recording(recording.number).unwrap().unwrap(), whole);
}

#[test]
fn another_book_in_the_place_of_the_first_gets_nothing_of_it() {
    let (folder, path) = shelf();
    let writer = Writer::begin(terms(&path));
    quick(|| writer.push(b"first "));
    writer.wait_for_first_word(Duration::from_secs(5));
    for name in std::fs::read_dir(folder.path()).unwrap().flatten() {
        std::fs::remove_file(name.path()).unwrap();
    }
    let mut told = Vec::new();
    push_until(&writer, &mut told, Duration::from_secs(4), is_told("was removed"));
    // The system may give the new file the number of the old one, and its first recording has the number of ours.
    let mut other = Book::open(&path).unwrap();
    let number = other.begin_recording("C-2", super::second(0)).unwrap();
    assert_eq!(writer.recording(), Some(number));
    let began = Instant::now();
    while began.elapsed() < super::super::queue::RETRY_EVERY + Duration::from_millis(500) {
        quick(|| writer.push(b"frame "));
        std::thread::sleep(Duration::from_millis(50));
    }
    let kept = writer.finish(entry(1), Duration::from_secs(10));
    let Kept::Beside { why, .. } = kept else { panic!("{kept:?}") };
    assert!(why.contains("another file lies there"), "{why}");
    assert_eq!(other.recording(number).unwrap().unwrap(), b"");
    assert_eq!(other.entries(&Filter::default()).unwrap(), []);
}

#[test]
fn a_book_that_is_moved_away_and_back_is_gone_on_with() {
    let (folder, path) = shelf();
    // Without a log beside it, which a move would leave behind.
    drop(Book::open(&path).unwrap());
    let writer = Writer::begin(terms(&path));
    quick(|| writer.push(b"first "));
    writer.wait_for_first_word(Duration::from_secs(5));
    let away = folder.path().join("away");
    let moved = |from: &PathBuf, to: &PathBuf| {
        for ending in ["", "-wal", "-shm"] {
            let with = |path: &PathBuf| PathBuf::from(format!("{}{ending}", path.display()));
            if with(from).exists() {
                std::fs::rename(with(from), with(to)).unwrap();
            }
        }
    };
    moved(&path, &away);
    let mut told = Vec::new();
    let mut pushed = push_until(&writer, &mut told, Duration::from_secs(4), is_told("was removed"));
    moved(&away, &path);
    pushed += push_until(&writer, &mut told, Duration::from_secs(6), is_kept_again);
    assert!(writer.finish(entry(1), Duration::from_secs(10)).entry().is_some());
    let book = Book::open_read_only(&path).unwrap();
    let [recording] = &book.recordings_of(1).unwrap()[..] else { panic!("one") };
    let whole = [b"first ".to_vec(), b"frame ".repeat(pushed)].concat();
    assert_eq!(book.recording(recording.number).unwrap().unwrap(), whole);
}

/// A store whose first request comes back only when the test says so.
struct Hanging(Receiver<()>);

impl Hanging {
    fn new() -> (Sender<()>, Self) {
        let (release, held) = channel();
        (release, Self(held))
    }
}

impl Worker for Hanging {
    fn perform(&mut self, _: &Work) -> Result<Done, BookError> {
        let _until_the_test_ends = self.0.recv();
        Err(Problem::Locked.at(std::path::Path::new("cells.book")))
    }
}

#[test]
fn a_disk_that_hangs_holds_up_nobody_is_told_and_the_end_does_not_wait_for_it() {
    let (_folder, path) = shelf();
    let (_release, store) = Hanging::new();
    let writer = Writer::on(store, terms(&path));
    let mut told = Vec::new();
    let pushed = push_until(&writer, &mut told, Duration::from_secs(4), is_told("has not answered for 2 s"));
    let began = Instant::now();
    let kept = writer.finish(entry(1), Duration::from_millis(700));
    assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
    let Kept::Beside { file, .. } = kept else { panic!("{kept:?}") };
    let aside = Book::open_read_only(&file).unwrap();
    let last = &aside.entries(&Filter::default()).unwrap()[0];
    let [recording] = &aside.recordings_of(last.number).unwrap()[..] else { panic!("one") };
    assert_eq!(aside.recording(recording.number).unwrap().unwrap(), b"frame ".repeat(pushed));
}

#[test]
fn a_writer_that_is_dropped_brings_what_it_has_to_the_disk_and_waits_for_no_book_that_refuses() {
    let (_folder, path) = shelf();
    let writer = Writer::begin(terms(&path));
    writer.push(b"all of it");
    drop(writer);
    let book = Book::open(&path).unwrap();
    let [left] = &book.unfinished_recordings().unwrap()[..] else { panic!("one") };
    assert_eq!(book.recording(left.number).unwrap().unwrap(), b"all of it");
    drop(book);

    let refused = Writer::on(Instantly, terms(&path));
    refused.push(b"x");
    let began = Instant::now();
    drop(refused);
    assert!(began.elapsed() < Duration::from_millis(400), "{:?}", began.elapsed());
    assert!(aside::beside(&path).is_empty(), "whoever ends without a word has nothing put beside");
}
