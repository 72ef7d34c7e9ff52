//! A book that another program holds locked keeps no running test waiting: the fixture drops its load after 3 s of silence.

use celltriage_book::Book;
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
    let mut book = Book::open(&path).expect("a new book");
    let recording = book.begin_recording("PE-1", Timestamp::UNIX_EPOCH).expect("begun");
    let other = rusqlite::Connection::open(&path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");

    let mut told = Told::default();
    let mut recorder = RunRecorder::new(&mut book, recording, &mut told);
    let keep = |recorder: &mut RunRecorder<'_, '_>, frame: &[u8]| {
        let began = Instant::now();
        recorder.keep(frame).expect("goes on");
        assert!(
            began.elapsed() < Duration::from_millis(500),
            "the fixture would hear nothing: {:?}",
            began.elapsed()
        );
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
    sleep(A_FLUSH_LATER);
    keep(&mut recorder, b" end");
    let (frames, _) = recorder.finish().expect("kept");
    assert_eq!(book.recording(recording).expect("readable").as_ref(), Some(&frames));
    assert!(frames.starts_with(b"one two lots") && frames.ends_with(b" end"));
    assert_eq!(told.0, ["locked", "takes again", "ends"]);
}

/// What an attendant is told of the book.
#[derive(Default)]
struct Told(Vec<&'static str>);

impl Attendant<WorkEvent> for Told {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::BookLocked(_) => self.0.push("locked"),
            WorkEvent::BookTakesAgain => self.0.push("takes again"),
            WorkEvent::RunEnds => self.0.push("ends"),
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}
