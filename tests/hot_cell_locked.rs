//! A watch over a hot cell whose book another program holds locked: no alarm waits, nothing seen is lost.

use celltriage_book::{Book, BookError, Done, Kept, RecordingTerms, Work, Worker, Writer, aside};
use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::alarm::Cause;
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::record::{ALARM, Ended, WATCH, WatchRecord};
use celltriage_instrument::hot_cell::watch::{HotCellWatch, WatchEvent};
use celltriage_link::{Attendant, read_recording};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_tests::{Ears, SharedBench, Shop, connected, keeper, watch_terms};
use std::cell::Cell;
use std::path::Path;
use std::time::{Duration, Instant};

/// Another program that holds the book's write lock until it is dropped.
fn lock(path: &Path) -> rusqlite::Connection {
    let other = rusqlite::Connection::open(path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");
    other
}

/// Notes how long after the question to the fixture an alarm came, and gives the lock back at some time.
struct Guard {
    ears: Ears,
    asked: Cell<Instant>,
    slowest_alarm: Duration,
    lock: Option<rusqlite::Connection>,
    release_at_s: f64,
}

impl Attendant<WatchEvent> for Guard {
    fn sees(&mut self, event: &WatchEvent) {
        match event {
            WatchEvent::Reading { at_s, .. } if *at_s >= self.release_at_s && self.lock.take().is_some() => {
                // A simulated hour lasts a moment: time for the keeper to try again.
                std::thread::sleep(Duration::from_millis(2_100));
                self.asked.set(Instant::now());
            }
            WatchEvent::Alarm { .. } => {
                self.slowest_alarm = self.slowest_alarm.max(self.asked.get().elapsed())
            }
            WatchEvent::Reading { .. } | WatchEvent::Remark(_) => {}
        }
        self.ears.sees(event);
    }

    fn stop_wanted(&self) -> bool {
        self.asked.set(Instant::now());
        false
    }
}

fn guard(path: &Path, release_at_s: f64) -> Guard {
    let (ears, asked) = (Ears::default(), Cell::new(Instant::now()));
    Guard { ears, asked, slowest_alarm: Duration::ZERO, lock: Some(lock(path)), release_at_s }
}

fn a_cell_that_turns_hot() -> Connected {
    let shared = SharedBench::sound(5);
    shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c: 60.0 }.at(Micros::from_secs(600)));
    connected(shared).expect("connects")
}

#[test]
fn a_locked_book_keeps_no_alarm_back_and_gets_everything_once_it_is_free() {
    let shop = Shop::new();
    let book = Book::open(shop.book()).expect("a new book");
    let path = shop.book_path();
    let mut guard = guard(&path, 1_500.0);
    let began = Instant::now();
    let watch = HotCellWatch::begin(a_cell_that_turns_hot(), watch_terms(60), keeper(&path)).expect("begins");
    let (record, kept, at) = watch.run(&mut guard);
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
    assert!(guard.slowest_alarm < Duration::from_secs(1), "{:?}", guard.slowest_alarm);
    assert!(guard.ears.alarms.iter().any(|alarm| alarm.cause == Cause::Hot), "{:?}", guard.ears.alarms);
    let told = guard.ears.remarks.join("; ");
    assert_eq!(told.matches("THE WATCH GOES ON BUT IS NOT KEPT").count(), 1, "{told}");
    assert_eq!(told.matches("THE WATCH IS KEPT AGAIN").count(), 1, "{told}");
    let recording = kept.recording().expect("begun");
    assert!(kept.finish(&record, at).entry().is_some(), "kept");
    let entries = book.entries(&celltriage_book::Filter::default()).expect("readable");
    assert_eq!(entries.len(), record.alarms.len() + 1, "each kind of alarm, and the watch");
    let frames = book.recording(recording).expect("readable").expect("there");
    assert_eq!(
        read_recording(&frames).others.len(),
        record.readings as usize + 2,
        "each reading, the identity, and the description"
    );
    assert!(book.verify().is_ok_and(|found| found.faults.is_empty()));
}

#[test]
fn a_book_that_stays_locked_ends_no_watch_and_what_was_seen_is_put_beside_it() {
    let shop = Shop::new();
    drop(Book::open(shop.book()).expect("a new book"));
    let path = shop.book_path();
    let mut guard = guard(&path, f64::INFINITY);
    let began = Instant::now();
    let watch = HotCellWatch::begin(a_cell_that_turns_hot(), watch_terms(30), keeper(&path)).expect("begins");
    let (record, kept, at) = watch.run(&mut guard);
    assert_eq!(record.ended, Ended::Time);
    assert!(began.elapsed() < Duration::from_secs(8), "the watch waited for the book: {:?}", began.elapsed());
    let Kept::Beside { why, file } = kept.finish(&record, at) else { panic!("still locked") };
    assert!(why.contains("holds it locked"), "{why}");
    let aside = Book::open_read_only(&file).expect("a small book");
    assert!(aside.verify().is_ok_and(|found| found.passed()));
    holds_the_watch(&aside, &record);
    drop(aside);

    // The next command that writes takes it in, once the other program has gone.
    drop(guard);
    let mut book = Book::open(&path).expect("free");
    assert_eq!(aside::beside(&path), std::slice::from_ref(&file));
    let taken = aside::take_in(&mut book, &file).expect("taken in");
    assert!(taken.file.exists() && aside::beside(&path).is_empty());
    assert_eq!(taken.entries, record.alarms.len() + 1);
    assert!(book.verify().is_ok_and(|found| found.passed()));
    holds_the_watch(&book, &record);
}

/// Checks that a book has each alarm, and the watch with each reading.
fn holds_the_watch(book: &Book, record: &WatchRecord) {
    let entries = book.entries_of(&celltriage_book::Subject::cell("PE-0405")).expect("readable");
    let of_kind = |kind: &str| entries.iter().filter(|entry| entry.kind == kind).collect::<Vec<_>>();
    assert_eq!(of_kind(ALARM).len(), record.alarms.len());
    let [watch] = of_kind(WATCH)[..] else { panic!("one watch: {entries:?}") };
    let [recording] = &book.recordings_of(watch.number).expect("readable")[..] else { panic!("one") };
    let frames = book.recording(recording.number).expect("readable").expect("there");
    assert_eq!(read_recording(&frames).others.len(), record.readings as usize + 2);
}

/// A store on a disk that never answers.
struct Hanging;

impl Worker for Hanging {
    fn perform(&mut self, _: &Work) -> Result<Done, BookError> {
        loop {
            std::thread::park();
        }
    }
}

#[test]
fn a_disk_that_hangs_keeps_no_alarm_back_and_ends_no_watch() {
    let shop = Shop::new();
    let terms = RecordingTerms {
        book: shop.book_path(),
        cell: "PE-0405".to_owned(),
        began: watch_terms(1).began,
        most_bytes: 1 << 20,
    };
    let keeper = Keeper::with(Writer::on(Hanging, terms), "PE-0405");
    let mut guard = guard_without_lock();
    let began = Instant::now();
    let watch = HotCellWatch::begin(a_cell_that_turns_hot(), watch_terms(60), keeper).expect("begins");
    let (record, kept, at) = watch.run(&mut guard);
    assert_eq!(record.ended, Ended::Time);
    assert!(guard.slowest_alarm < Duration::from_secs(1), "{:?}", guard.slowest_alarm);
    assert!(guard.ears.alarms.iter().any(|alarm| alarm.cause == Cause::Hot), "{:?}", guard.ears.alarms);
    assert!(began.elapsed() < Duration::from_secs(8), "the watch waited for the disk: {:?}", began.elapsed());
    let Kept::Beside { file, .. } = kept.finish(&record, at) else { panic!("it never answers") };
    holds_the_watch(&Book::open_read_only(&file).expect("a small book"), &record);
}

fn guard_without_lock() -> Guard {
    Guard {
        ears: Ears::default(),
        asked: Cell::new(Instant::now()),
        slowest_alarm: Duration::ZERO,
        lock: None,
        release_at_s: f64::INFINITY,
    }
}
