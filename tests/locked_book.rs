//! A book that another program holds locked keeps no running test waiting: the fixture drops its load after 3 s of silence.

use celltriage_book::Book;
use celltriage_host::io::Io;
use celltriage_host::session::Session;
use celltriage_link::{BenchCell, Recorder};
use celltriage_measure::plan::{Extent, plan};
use celltriage_tests::Shop;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::sync::atomic::AtomicBool;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A little more than the time between two flushes.
const A_FLUSH_LATER: Duration = Duration::from_millis(1_050);

#[test]
fn frames_wait_in_memory_while_the_book_is_locked_and_stand_in_it_afterwards() {
    let shop = Shop::new();
    let path = shop.book_path();
    let mut book = Book::open(&path).expect("a new book");
    let recording = book.begin_recording("PE-1", Timestamp::UNIX_EPOCH).expect("begun");
    let other = rusqlite::Connection::open(&path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");

    let label = BenchCell::find("sound").expect("there is one").nameplate;
    let planned = plan(&label, Extent::Screen, 1).expect("a plan");
    let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
    let mut io = Io {
        stated_day: None,
        out: &mut out,
        err: &mut err,
        ask: None,
        now: Timestamp::UNIX_EPOCH,
        zone: TimeZone::UTC,
        width: 100,
        height: None,
        colour: false,
        live: false,
        bars: None,
        screen: false,
        told: Vec::new(),
        stop: &stop,
    };
    let mut session = Session::new(&mut io, &planned, Some((&mut book, recording)));
    let keep = |session: &mut Session<'_, '_>, frame: &[u8]| {
        let began = Instant::now();
        session.keep(frame).expect("goes on");
        assert!(
            began.elapsed() < Duration::from_millis(500),
            "the fixture would hear nothing: {:?}",
            began.elapsed()
        );
    };
    keep(&mut session, b"one ");
    for frame in [b"two ", b"lots"] {
        sleep(A_FLUSH_LATER);
        keep(&mut session, frame);
    }
    // Much waits, and is not tried again with every frame.
    let began = Instant::now();
    (0..20).for_each(|_| keep(&mut session, &[b'.'; 64 * 1024]));
    assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
    drop(other);
    sleep(A_FLUSH_LATER);
    keep(&mut session, b" end");
    let frames = session.finish().expect("kept");
    assert_eq!(book.recording(recording).expect("readable").as_ref(), Some(&frames));
    assert!(frames.starts_with(b"one two lots") && frames.ends_with(b" end"));
    let told = String::from_utf8(err).expect("text");
    assert_eq!(told.matches("holds it locked; the test goes on").count(), 1, "{told}");
    assert_eq!(told.matches("takes the frames again").count(), 1, "{told}");
}
