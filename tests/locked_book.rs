//! A book that another program holds locked keeps no running test waiting: the fixture drops its load after 3 s of silence.

use celltriage_book::{Book, PATIENCE, RETRY_EVERY, RecordingTerms, Writer};
use celltriage_link::{Attendant, Recorder};
use celltriage_tests::Shop;
use celltriage_workshop::RunRecorder;
use celltriage_workshop::event::WorkEvent;
use jiff::Timestamp;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A little more than the time between two flushes.
const A_FLUSH_LATER: Duration = Duration::from_millis(1_050);

#[test]
fn frames_wait_in_memory_while_the_book_is_locked_and_stand_in_it_afterwards() {
    let shop = Shop::new();
    let path = shop.book();
    drop(Book::open(&path).expect("a new book"));
    let other = rusqlite::Connection::open(&path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");

    let mut told = Told::default();
    let mut recorder = RunRecorder::new(writer(&path), &mut told);
    let keep = |recorder: &mut RunRecorder<'_, '_>, frame: &[u8]| {
        let began = Instant::now();
        recorder.keep(frame).expect("goes on");
        // It only hands over: the fixture hears the next word in time whatever the book does.
        assert!(began.elapsed() < Duration::from_millis(100), "{:?}", began.elapsed());
    };
    keep(&mut recorder, b"one ");
    for frame in [b"two ", b"lots"] {
        sleep(A_FLUSH_LATER);
        keep(&mut recorder, frame);
    }
    // Much waits, and is not tried again with every frame.
    let began = Instant::now();
    (0..20).for_each(|_| keep(&mut recorder, &[b'.'; 64 * 1024]));
    assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
    drop(other);
    sleep(RETRY_EVERY + A_FLUSH_LATER);
    keep(&mut recorder, b" end");
    let (writer, _) = recorder.finish();
    assert!(writer.settle(PATIENCE));
    let frames = writer.read(|_, frames| frames.to_vec());
    let book = Book::open_read_only(&path).expect("there");
    let recording = writer.recording().expect("begun");
    assert_eq!(book.recording(recording).expect("readable").as_ref(), Some(&frames));
    assert!(frames.starts_with(b"one two lots") && frames.ends_with(b" end"));
    assert_eq!(told.0, ["locked", "takes again", "ends"]);
}

fn writer(book: &str) -> Writer {
    let (book, cell) = (book.into(), "PE-1".to_owned());
    Writer::begin(RecordingTerms { book, cell, began: Timestamp::UNIX_EPOCH, most_bytes: 64 << 20 })
}

/// What an attendant is told of the book.
#[derive(Default)]
struct Told(Vec<&'static str>);

impl Attendant<WorkEvent> for Told {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::NotKept(_) => self.0.push("locked"),
            WorkEvent::KeptAgain { lost_frames: 0 } => self.0.push("takes again"),
            WorkEvent::RunEnds => self.0.push("ends"),
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}
