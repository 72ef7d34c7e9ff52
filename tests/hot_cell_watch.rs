//! The watch over a hot cell by itself: alarms within seconds, a link that breaks, a program that is ended.

use celltriage_book::Book;
use celltriage_instrument::hot_cell::alarm::{Alarm, Cause, Level};
use celltriage_instrument::hot_cell::record::Ended;
use celltriage_instrument::hot_cell::watch::HotCellWatch;
use celltriage_link::read_recording;
use celltriage_protocol::frame::Message;
use celltriage_protocol::reply::{Activity, Reply};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_tests::{Break, BreakingLink, Ears, NOON, SharedBench, Shop, connected, keeper, watch_terms};

#[test]
fn a_cell_that_turns_hot_in_the_night_is_told_within_seconds_and_the_load_is_never_on() {
    let shop = Shop::new();
    let book = Book::open(shop.book()).expect("a new book");
    let path = shop.book_path();
    let shared = SharedBench::sound(5);
    shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c: 60.0 }.at(Micros::from_secs(1_800)));
    let watch =
        HotCellWatch::begin(connected(shared.clone()).expect("connects"), watch_terms(60), keeper(&path));
    let mut ears = Ears::default();
    let (record, ..) = watch.expect("begins").run(&mut ears);
    let hot = ears.alarms.iter().find(|alarm| alarm.cause == Cause::Hot).expect("told as hot");
    assert!((1_798.0..1_812.0).contains(&hot.at_s), "{hot:?}");
    assert!(
        record.alarms.len() >= 3 && record.alarms.first().is_some_and(Alarm::is_reacting),
        "{:?}",
        record.alarms
    );
    assert!(!shared.0.borrow().load_is_on());
    let entries = book.entries(&celltriage_book::Filter::default()).expect("readable");
    assert_eq!(entries.len(), record.alarms.len(), "each kind of alarm is in the book before the watch ends");
}

/// The bench's cell has a time constant of ten minutes and no source of heat.
#[test]
fn a_cell_warmed_in_the_hand_that_cools_wakes_nobody() {
    for (name, temperature_c) in [("warm", 33.0), ("cold", 15.0)] {
        let shop = Shop::new();
        let shared = SharedBench::sound(5);
        shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c }.at(Micros::ZERO));
        let connected = connected(shared).expect("connects");
        let watch = HotCellWatch::begin(connected, watch_terms(90), keeper(&shop.book_path()));
        let (record, ..) = watch.expect("begins").run(&mut Ears::default());
        assert!(record.alarms.is_empty() && record.ended == Ended::Time, "{name}: {record:?}");
        assert!((record.seen.hottest_c.unwrap_or_default() - 25.0).abs() < 9.0, "{name}: {record:?}");
    }
}

#[test]
fn a_warm_cell_that_heats_up_during_the_watch_is_told_again_as_reacting() {
    let shop = Shop::new();
    let cell = library::self_warming();
    let options = cell.options(5);
    let shared = SharedBench::new(SimulatedFixture::new(cell.parameters, options));
    shared.0.borrow_mut().inject(Fault::WarmCell { temperature_c: 33.0 }.at(Micros::from_secs(1_800)));
    let connected = connected(shared).expect("connects");
    let watch = HotCellWatch::begin(connected, watch_terms(40), keeper(&shop.book_path()));
    let mut ears = Ears::default();
    drop(watch.expect("begins").run(&mut ears));
    let told: Vec<_> = ears.alarms.iter().map(|alarm| (alarm.level, alarm.at_s < 1_800.0)).collect();
    assert!(told.contains(&(Some(Level::Warm), true)), "{:?}", ears.alarms);
    assert!(told.contains(&(Some(Level::Reacting), false)), "{:?}", ears.alarms);
    assert!(!told.contains(&(Some(Level::Reacting), true)), "{:?}", ears.alarms);
}

#[test]
fn a_fixture_that_has_tripped_can_be_watched_as_it_is() {
    let shop = Shop::new();
    drop(Book::open(shop.book()).expect("a new book"));
    let path = shop.book_path();
    let shared = SharedBench::sound(5);
    shared.0.borrow_mut().inject(Fault::SinkStuckOn { current_a: 0.1 }.at(Micros::ZERO));
    shared.0.borrow_mut().receive(Micros::from_secs(2), &mut Vec::new());
    let connected = connected(shared).expect("connects");
    assert_eq!(connected.state.activity, Activity::Tripped);
    let mut ears = Ears::default();
    let (record, ..) =
        HotCellWatch::begin(connected, watch_terms(2), keeper(&path)).expect("begins").run(&mut ears);
    assert_eq!(record.ended, Ended::Time);
}

#[test]
fn a_break_at_every_nth_operation_of_the_link_is_told_and_the_watch_goes_on() {
    let shop = Shop::new();
    drop(Book::open(shop.book()).expect("a new book"));
    let path = shop.book_path();
    let mut mended = 0;
    for operation in (1..30).chain((30..400).step_by(23)) {
        let link = BreakingLink::at(SharedBench::sound(5), operation, Break::Once);
        let Ok(connected) = connected(link) else { continue };
        let Ok(watch) = HotCellWatch::begin(connected, watch_terms(2), keeper(&path)) else { continue };
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
    let shop = Shop::new();
    let book = Book::open(shop.book()).expect("a new book");
    let path = shop.book_path();
    let link = BreakingLink::at(SharedBench::sound(5), 300, Break::ForGood);
    let watch = HotCellWatch::begin(connected(link).expect("connects"), watch_terms(60), keeper(&path))
        .expect("begins");
    let mut ears = Ears::default();
    let (record, kept, at) = watch.run(&mut ears);
    let recording = kept.recording().expect("begun");
    assert!(kept.finish(&record, at).entry().is_some(), "kept");
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
    let shop = Shop::new();
    drop(Book::open(shop.book()).expect("a new book"));
    let path = shop.book_path();
    let watch = HotCellWatch::begin(
        connected(SharedBench::sound(5)).expect("connects"),
        watch_terms(1),
        keeper(&path),
    );
    // Dropped without a word, as a killed program would be; `tests/book_survives_kill.rs` kills a real one.
    drop(watch.expect("begins").run(&mut Ears::default()));
    let call = shop.unstated(NOON, "book list", None);
    assert!(call.err.contains("of cell PE-0405") && call.err.contains("was never judged"), "{}", call.err);
}
