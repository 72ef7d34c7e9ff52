//! The steps in virtual time: a book that is locked, full or hangs for a minute, and what is told and kept meanwhile.
//!
//! The one who measures takes a turn each quarter of a second, as the loop that says keep-alives does; between its turns it calls
//! nothing that could wait.

use std::path::Path;
use std::time::Duration;

use super::super::queue::{HANGS_AFTER, RETRY_EVERY};
use super::{Play, Played, entry, step, terms};
use crate::{News, Queue, Work};

const TURN: Duration = Duration::from_millis(250);

/// When each piece of news was told.
type Told = Vec<(Duration, News)>;

/// A hundred seconds with an alarm at 20 s; the book does this from 10 to 70 s.
fn hundred_seconds(mut book_does: impl FnMut(&mut Queue, &mut Played, Duration)) -> (Queue, Played, Told) {
    let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
    let mut told = Told::new();
    for turn in 0..400 {
        let now = TURN * turn;
        queue.push(&turn.to_le_bytes());
        if now == Duration::from_secs(20) {
            queue.enter(entry(1));
        }
        told.extend(queue.news(now).into_iter().map(|news| (now, news)));
        book_does(&mut queue, &mut book, now);
    }
    (queue, book, told)
}

fn is_bad(now: Duration) -> bool {
    (Duration::from_secs(10)..Duration::from_secs(70)).contains(&now)
}

/// Checks what holds after each bad minute: told once and in time, kept again in time, all there and in order, once.
fn all_is_there((mut queue, mut book, told): (Queue, Played, Told), told_within: Duration) {
    let [(bad, News::NotKept(_)), (good, News::KeptAgain { lost_frames: 0 })] = &told[..] else {
        panic!("{told:?}");
    };
    let begins = Duration::from_secs(10);
    assert!(*bad >= begins && *bad <= begins + told_within + TURN, "told after {bad:?}");
    let ends = Duration::from_secs(70);
    assert!(*good >= ends && *good <= ends + RETRY_EVERY + TURN * 2, "kept again after {good:?}");
    queue.end(Duration::from_secs(100));
    while step(&mut queue, &mut book, Duration::from_secs(100), Play::Well) {}
    assert!(queue.is_all_kept());
    let pushed: Vec<u8> = (0..400_u32).flat_map(u32::to_le_bytes).collect();
    assert_eq!(book.bytes(), pushed);
    // 20 s are 80 turns, and the frame of that turn came before the alarm.
    assert_eq!((book.entries.len(), &book.after[..]), (1, &[81 * 4][..]));
}

#[test]
fn a_book_that_is_locked_for_a_minute_is_told_within_a_second_and_gets_everything_after() {
    let run = hundred_seconds(|queue, book, now| {
        let play = if is_bad(now) { Play::Locked } else { Play::Well };
        while step(queue, book, now, play) {}
    });
    all_is_there(run, Duration::from_secs(1));
}

#[test]
fn so_is_a_full_disk() {
    let run = hundred_seconds(|queue, book, now| {
        let play = if is_bad(now) { Play::Full } else { Play::Well };
        while step(queue, book, now, play) {}
    });
    all_is_there(run, Duration::from_secs(1));
}

#[test]
fn a_disk_that_hangs_for_a_minute_is_told_although_no_request_comes_back() {
    let mut hangs: Option<Work> = None;
    let run = hundred_seconds(|queue, book, now| {
        if let Some(work) = hangs.take_if(|_| !is_bad(now)) {
            let outcome = book.does(&work, Play::Well);
            queue.done(outcome, now);
        }
        if is_bad(now) {
            hangs = hangs.take().or_else(|| queue.next(now));
            assert_eq!(queue.next(now), None, "one at a time");
        } else {
            while step(queue, book, now, Play::Well) {}
        }
    });
    all_is_there(run, Duration::from_secs(1) + HANGS_AFTER);
}

#[test]
fn an_alarm_goes_to_the_disk_at_once_and_frames_about_once_a_second() {
    let mut when = Vec::new();
    let (_, book, told) = hundred_seconds(|queue, book, now| {
        while let Some(work) = queue.next(now) {
            if matches!(work, Work::Append { .. } | Work::Enter(_)) {
                when.push((now, matches!(work, Work::Enter(_))));
            }
            let outcome = book.does(&work, Play::Well);
            queue.done(outcome, now);
        }
    });
    assert_eq!(told, []);
    let entries: Vec<Duration> = when.iter().filter(|(_, entry)| *entry).map(|(now, _)| *now).collect();
    assert_eq!(entries, [Duration::from_secs(20)], "in the turn in which it was raised");
    assert!((95..=105).contains(&when.len()), "a sync each second, not each turn: {}", when.len());
    assert_eq!(book.entries.len(), 1);
}

#[test]
fn what_is_acknowledged_is_on_the_disk_and_nothing_else_is_acknowledged() {
    let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
    let ticket = queue.push(b"four");
    assert_eq!(queue.acknowledged().bytes, 0);
    let mut now = Duration::ZERO;
    // Opened and begun: still nothing is there.
    for _ in 0..2 {
        assert!(step(&mut queue, &mut book, now, Play::Well));
        assert_eq!(queue.acknowledged().bytes, 0);
    }
    let work = queue.next(now).expect("the bytes");
    assert_eq!(queue.acknowledged().bytes, 0, "under way is not on the disk");
    let outcome = book.does(&work, Play::Well);
    queue.done(outcome, now);
    assert_eq!(queue.acknowledged().bytes, ticket);
    // An entry has no number before its commit came back.
    now += TURN;
    queue.finish_with(entry(1), now);
    assert_eq!(queue.take_finished(), None);
    let work = queue.next(now).expect("the entry");
    assert_eq!(queue.take_finished(), None);
    let outcome = book.does(&work, Play::Well);
    queue.done(outcome, now);
    assert_eq!(queue.take_finished().map(|entry| entry.number), Some(1));
    assert!(book.finished);
}

#[test]
fn memory_is_bounded_and_what_is_lost_is_counted_and_told() {
    let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
    let frame = [7_u8; 1 << 10];
    let mut told = Vec::new();
    for turn in 0..2_000_u32 {
        queue.push(&frame);
        step(&mut queue, &mut book, TURN * turn, Play::Full);
        told.extend(queue.news(TURN * turn));
    }
    let (dropped, bytes) = queue.bytes();
    assert!(dropped == 0 && bytes.len() == 1 << 20, "{dropped} {}", bytes.len());
    assert_eq!(queue.lost_frames(), 2_000 - 1_024);
    assert_eq!(told.iter().filter(|news| matches!(news, News::Losing)).count(), 1, "{told:?}");
    // Afterwards what is on the disk makes room, and the loss is told once more.
    let now = TURN * 2_100;
    while step(&mut queue, &mut book, now, Play::Well) {}
    assert_eq!(queue.news(now), [News::KeptAgain { lost_frames: 976 }]);
    queue.push(&frame);
    assert_eq!(queue.bytes().0, 1 << 20);
    assert_eq!(queue.lost_frames(), 976);
    let rest = queue.give_up();
    assert_eq!((rest.from, rest.bytes.len()), (1 << 20, 1 << 10));
}

#[test]
fn the_end_gives_the_whole_recording_and_every_entry_that_is_not_in_the_book() {
    let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
    queue.push(b"kept ");
    while step(&mut queue, &mut book, Duration::ZERO, Play::Well) {}
    queue.push(b"not kept");
    queue.enter(entry(1));
    let now = Duration::from_secs(5);
    queue.finish_with(entry(2), now);
    step(&mut queue, &mut book, now, Play::Locked);
    assert!(!queue.is_hopeless(), "a lock passes");
    step(&mut queue, &mut book, now + RETRY_EVERY, Play::Full);
    assert!(queue.is_hopeless(), "a full disk does not pass while a person waits");
    let rest = queue.give_up();
    assert_eq!((rest.from, &rest.bytes[..]), (0, &b"kept not kept"[..]));
    let finishes: Vec<bool> = rest.entries.iter().map(|one| one.finishes).collect();
    assert_eq!(finishes, [false, true]);
    assert!(rest.why.contains("the disk is full"), "the newest reason: {}", rest.why);
    assert_eq!(queue.next(now + RETRY_EVERY * 9), None, "nothing more is given out");
}
