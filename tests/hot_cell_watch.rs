//! The watch over a hot cell: what people are told and when, what the book keeps, and what survives a lost link and the end
//! of the program.

use celltriage_book::Book;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::alarm::{Alarm, AlarmLimits, Cause};
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::record::Ended;
use celltriage_instrument::hot_cell::watch::{HotCellWatch, Terms, WatchEvent};
use celltriage_link::{Attendant, Client, Link, LinkError, read_recording};
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::{Activity, Reply};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_tests::{Break, BreakingLink, Call, SharedBench, call, call_at};
use insta::{assert_snapshot, with_settings};
use std::cell::{Cell, RefCell};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::{Duration, Instant};

fn watched(kind: &str, more: &[&str], folder: &Path) -> Call {
    let book = folder.join("book.sqlite").to_string_lossy().into_owned();
    let mut typed = vec!["hot-cell-watch", "--id", "PE-0405", "--simulated", kind, "--book", &book];
    typed.extend_from_slice(more);
    // Simulated hours pass at once and stand in the book: the day is stated for the calls after them.
    let mut call = call_at("2026-11-25T12:00:00Z", &typed, None);
    for text in [&mut call.out, &mut call.err] {
        *text = text.replace(&*folder.to_string_lossy(), "FOLDER");
        assert!(!text.contains('\u{7}'), "the bell is for a terminal: {text:?}");
    }
    call
}

macro_rules! snapshot {
    ($name:literal, $call:expr) => {
        with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            let call = $call;
            assert_snapshot!($name, format!("exit code {}\n--- stdout\n{}\n--- stderr\n{}", call.code, call.out, call.err))
        })
    };
}

#[test]
fn a_self_warming_cell_wakes_everybody_at_once_and_a_sound_one_nobody() {
    let folder = tempfile::tempdir().expect("a folder");
    snapshot!(
        "hot_cell_alarm",
        watched("self-warming", &["--hours", "2", "--print-every", "30"], folder.path())
    );
    snapshot!("hot_cell_quiet", watched("swollen", &["--hours", "6", "--print-every", "120"], folder.path()));
    let book = folder.path().join("book.sqlite").to_string_lossy().into_owned();
    snapshot!("hot_cell_book", call_at("2026-11-25T12:00:00Z", &["book", "--book", &book, "list"], None));
    assert_eq!(call(&["book", "--book", &book, "verify"], None).code, 0);
}

#[test]
fn the_falling_voltage_of_a_short_inside_is_an_alarm_of_its_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let more = ["--hours", "3", "--over-air-k", "8", "--growth-k", "8", "--json", "--print-every", "60"];
    let call = watched("self-warming", &more, folder.path());
    assert_eq!(call.code, 6, "{}", call.err);
    let lines: Vec<serde_json::Value> =
        call.out.lines().map(|line| serde_json::from_str(line).expect("one object on each line")).collect();
    let alarm = lines.iter().find(|line| !line["alarm"].is_null()).expect("an alarm");
    assert_eq!(alarm["alarm"]["cause"], "falling_voltage");
    let whole = lines.last().expect("the whole at the end");
    assert_eq!(whole["watch"]["ended"], "time");
    assert_eq!(whole["watch"]["alarms"].as_array().map(Vec::len), Some(1));
}

/// Collects what a person would be told.
#[derive(Default)]
struct Ears {
    alarms: Vec<Alarm>,
    remarks: Vec<String>,
    readings: usize,
    stop: Rc<RefCell<bool>>,
}

impl Attendant<WatchEvent> for Ears {
    fn sees(&mut self, event: &WatchEvent) {
        match event {
            WatchEvent::Reading { .. } => self.readings += 1,
            WatchEvent::Alarm { alarm, first: true } => self.alarms.push(*alarm),
            WatchEvent::Alarm { .. } => {}
            WatchEvent::Remark(text) => self.remarks.push(text.clone()),
        }
    }

    fn stop_wanted(&self) -> bool {
        *self.stop.borrow()
    }
}

fn bench(cell: library::LibraryCell) -> SharedBench {
    let options = cell.options(5);
    SharedBench::new(SimulatedFixture::new(cell.parameters, options))
}

fn connected(link: impl Link + 'static) -> Result<Connected, LinkError> {
    let (client, identity, state) = Client::connect(link)?;
    Ok(Connected { client, identity, state, bench: None })
}

fn terms(minutes: u64) -> Terms {
    Terms {
        cell: "PE-0405".to_owned(),
        span: Some(Duration::from_secs(60 * minutes)),
        every: Duration::from_secs(2),
        limits: AlarmLimits::default(),
        began: "2026-11-25T12:00:00Z".parse().expect("a timestamp"),
        end_on_alarm: false,
    }
}

fn keeper(path: &Path) -> Keeper {
    Keeper::open(path, "PE-0405", terms(1).began)
}

fn book(folder: &Path) -> (PathBuf, Book) {
    let path = folder.join("book.sqlite");
    let book = Book::open(&path).expect("a new book");
    (path, book)
}

#[test]
fn a_cell_that_turns_hot_in_the_night_is_told_within_seconds_and_the_load_is_never_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, book) = book(folder.path());
    let shared = bench(library::sound());
    shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c: 60.0 }.at(Micros::from_secs(1_800)));
    let watch = HotCellWatch::begin(connected(shared.clone()).expect("connects"), terms(60), keeper(&path));
    let mut ears = Ears::default();
    let (record, ..) = watch.expect("begins").run(&mut ears);
    let hot = ears.alarms.iter().find(|alarm| alarm.cause == Cause::Hot).expect("told as hot");
    assert!((1_798.0..1_812.0).contains(&hot.at_s), "{hot:?}");
    assert!(record.alarms.len() >= 3, "{:?}", record.alarms);
    assert!(!shared.0.borrow().load_is_on());
    let entries = book.entries(&celltriage_book::Filter::default()).expect("readable");
    assert_eq!(entries.len(), record.alarms.len(), "each kind of alarm is in the book before the watch ends");
}

#[test]
fn a_fixture_that_has_tripped_can_be_watched_as_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, _) = book(folder.path());
    let shared = bench(library::sound());
    shared.0.borrow_mut().inject(Fault::SinkStuckOn { current_a: 0.1 }.at(Micros::ZERO));
    shared.0.borrow_mut().receive(Micros::from_secs(2), &mut Vec::new());
    let connected = connected(shared).expect("connects");
    assert_eq!(connected.state.activity, Activity::Tripped);
    let mut ears = Ears::default();
    let (record, ..) =
        HotCellWatch::begin(connected, terms(2), keeper(&path)).expect("begins").run(&mut ears);
    assert_eq!(record.ended, Ended::Time);
}

#[test]
fn a_break_at_every_nth_operation_of_the_link_is_told_and_the_watch_goes_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, _) = book(folder.path());
    let mut mended = 0;
    for operation in (1..30).chain((30..400).step_by(23)) {
        let link = BreakingLink::at(bench(library::sound()), operation, Break::Once);
        let Ok(connected) = connected(link) else { continue };
        let Ok(watch) = HotCellWatch::begin(connected, terms(2), keeper(&path)) else { continue };
        let mut ears = Ears::default();
        let (record, ..) = watch.run(&mut ears);
        assert_eq!((record.ended, record.alarms.len()), (Ended::Time, 0), "operation {operation}");
        assert!(!ears.remarks.is_empty(), "operation {operation}: a lost link is told");
        mended += 1;
    }
    assert!(mended > 20, "{mended}");
}

#[test]
fn a_link_that_is_lost_for_good_is_an_alarm_and_what_was_seen_is_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, book) = book(folder.path());
    let link = BreakingLink::at(bench(library::sound()), 300, Break::ForGood);
    let watch =
        HotCellWatch::begin(connected(link).expect("connects"), terms(60), keeper(&path)).expect("begins");
    let mut ears = Ears::default();
    let (record, kept, at) = watch.run(&mut ears);
    let recording = kept.recording().expect("begun");
    kept.finish(&record, at).expect("kept");
    assert_eq!(record.ended, Ended::LinkLost);
    assert_eq!(record.alarms.first().map(|alarm| alarm.cause), Some(Cause::LinkLost));
    let frames = book.recording(recording).expect("readable").expect("there");
    let states = read_recording(&frames)
        .others
        .iter()
        .filter(|frame| matches!(frame.message, Message::Reply(Reply::State(_))))
        .count();
    assert_eq!(states, record.readings as usize);
    assert!(states > 5, "{states}");
}

#[test]
fn a_program_that_is_ended_in_the_middle_leaves_what_was_seen_as_an_unfinished_recording() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, _) = book(folder.path());
    let watch =
        HotCellWatch::begin(connected(bench(library::sound())).expect("connects"), terms(1), keeper(&path));
    // Dropped without a word, as a killed program would be; `tests/book_survives_kill.rs` kills a real one.
    drop(watch.expect("begins").run(&mut Ears::default()));
    let call = call(&["book", "--book", &path.to_string_lossy(), "list"], None);
    assert!(call.err.contains("of cell PE-0405") && call.err.contains("was never judged"), "{}", call.err);
}

#[test]
fn limits_that_would_silence_the_alarm_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    for (more, why) in [
        (["--hottest-c", "80"], "--hottest-c 80 is no alarm limit"),
        (["--over-air-k", "0"], "--over-air-k 0 is no alarm limit"),
        (["--warming-k-per-min", "99"], "--warming-k-per-min 99 is no alarm limit"),
        (["--growth-k", "99"], "--growth-k 99 is no alarm limit"),
        (["--fall-mv", "5000"], "--fall-mv 5000 is no alarm limit"),
        (["--hours", "0"], "--hours: 0 s is no usable span"),
        (["--every", "60"], "--every: 60 s is no usable span"),
    ] {
        let call = watched("sound", &more, folder.path());
        assert!(call.code == 2 && call.err.contains(why), "{more:?}: {}", call.err);
        assert!(!folder.path().join("book.sqlite").exists(), "{more:?}: nothing was watched");
    }
    // The same options with limits that can be are taken: it is the figures that were refused.
    let usable =
        ["--hottest-c", "40", "--over-air-k", "2", "--fall-mv", "5", "--hours", "0.01", "--every", "2"];
    assert_eq!(watched("sound", &usable, folder.path()).code, 0);
}

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
    let shared = bench(library::sound());
    shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c: 60.0 }.at(Micros::from_secs(600)));
    connected(shared).expect("connects")
}

#[test]
fn a_locked_book_keeps_no_alarm_back_and_gets_everything_once_it_is_free() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, book) = book(folder.path());
    let mut guard = guard(&path, 1_500.0);
    let began = Instant::now();
    let watch = HotCellWatch::begin(a_cell_that_turns_hot(), terms(60), keeper(&path)).expect("begins");
    let (record, kept, at) = watch.run(&mut guard);
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
    assert!(guard.slowest_alarm < Duration::from_secs(1), "{:?}", guard.slowest_alarm);
    assert!(guard.ears.alarms.iter().any(|alarm| alarm.cause == Cause::Hot), "{:?}", guard.ears.alarms);
    let told = guard.ears.remarks.join("; ");
    assert_eq!(told.matches("THE WATCH GOES ON BUT IS NOT KEPT").count(), 1, "{told}");
    assert_eq!(told.matches("THE WATCH IS KEPT AGAIN").count(), 1, "{told}");
    let recording = kept.recording().expect("begun");
    kept.finish(&record, at).expect("kept");
    let entries = book.entries(&celltriage_book::Filter::default()).expect("readable");
    assert_eq!(entries.len(), record.alarms.len() + 1, "each kind of alarm, and the watch");
    let frames = book.recording(recording).expect("readable").expect("there");
    assert_eq!(
        read_recording(&frames).others.len(),
        record.readings as usize + 1,
        "each reading, and the identity"
    );
    assert!(book.verify().is_ok_and(|found| found.faults.is_empty()));
}

#[test]
fn a_book_that_stays_locked_ends_no_watch_and_what_was_seen_is_put_beside_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, _) = book(folder.path());
    let mut guard = guard(&path, f64::INFINITY);
    let began = Instant::now();
    let watch = HotCellWatch::begin(a_cell_that_turns_hot(), terms(30), keeper(&path)).expect("begins");
    let (record, kept, at) = watch.run(&mut guard);
    assert_eq!(record.ended, Ended::Time);
    assert!(began.elapsed() < Duration::from_secs(8), "the watch waited for the book: {:?}", began.elapsed());
    let unkept = kept.finish(&record, at).expect_err("still locked");
    let file = unkept.put_beside().expect("there is room");
    let text = std::fs::read_to_string(&file).expect("there");
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(value["watch"]["alarms"].as_array().map(Vec::len), Some(record.alarms.len()));
    assert_eq!(value["alarms_not_in_the_book"].as_array().map(Vec::len), Some(record.alarms.len()));
    let frames = folder.path().join(value["frames"].as_str().expect("named"));
    let frames = std::fs::read(frames).expect("there");
    assert_eq!(read_recording(&frames).others.len(), record.readings as usize + 1);
    assert_ne!(unkept.put_beside().expect("there is room"), file, "nothing is written over");
}

#[test]
fn a_watch_runs_also_without_a_book_or_rules_that_can_be_read_and_the_alarm_counts_more() {
    let folder = tempfile::tempdir().expect("a folder");
    let foreign = folder.path().join("foreign");
    std::fs::write(&foreign, "no book").expect("writes");
    let missing = folder.path().join("nowhere/book.sqlite");
    for book in [&foreign, &missing] {
        for (kind, hours, code) in [("self-warming", "2", 6), ("swollen", "0.2", 5)] {
            let call = call(
                &[
                    "hot-cell-watch",
                    "--id",
                    "PE-0405",
                    "--simulated",
                    kind,
                    "--hours",
                    hours,
                    "--place",
                    "nowhere",
                    "--rules",
                    "no-such-folder",
                    "--book",
                    &book.to_string_lossy(),
                ],
                None,
            );
            assert_eq!(call.code, code, "{}", call.err);
            assert!(call.err.contains("THE WATCH GOES ON BUT IS NOT KEPT"), "{}", call.err);
            assert!(call.err.contains("error: the watch is not in the book"), "{}", call.err);
            assert_eq!(call.err.contains("DANGER: STOP: hands off."), code == 6, "{}", call.err);
            assert!(call.out.contains("watched"), "{}", call.out);
        }
    }
    assert_eq!(std::fs::read_to_string(&foreign).expect("there"), "no book");
    let beside = std::fs::read_dir(folder.path()).expect("a folder").flatten();
    let names: Vec<String> = beside.map(|file| file.file_name().to_string_lossy().into_owned()).collect();
    assert_eq!(names.iter().filter(|name| name.contains(".unkept-")).count(), 4, "{names:?}");
}
