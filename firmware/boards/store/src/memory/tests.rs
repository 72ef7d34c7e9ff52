//! Starts, resets, power failures, trips and panics in every order, and what they cost the flash.

extern crate std;

use super::*;
use crate::entry::calls;
use crate::test_flash::{SECTOR, TestFlash};
use celltriage_protocol::event::TripCause;

const OFFSET: u32 = SECTOR as u32;

fn power_up(flash: &mut TestFlash) -> (Memory, Boot) {
    Memory::begin(flash, OFFSET, None, None, Some(ResetCause::PowerOn))
}

fn reset(flash: &mut TestFlash, before: &Memory, panic: Option<Entry>) -> (Memory, Boot) {
    Memory::begin(flash, OFFSET, Some(before.boot()), panic, Some(ResetCause::Watchdog))
}

fn trip(number: u32, at: Micros) -> Trip {
    Trip { number, cause: TripCause::OverTemperature, value: 50_000, limit: 45_000, at }
}

fn failed(boot: u32, line: u32) -> Option<Entry> {
    Some(Entry { boot, what: What::Panic(calls([0x1000_0000, line])) })
}

#[test]
fn boot_numbers_rise_over_resets_and_power_failures_and_a_loop_of_resets_writes_nothing() {
    let mut flash = TestFlash::new();
    let mut last = 0;
    for _ in 0..10 {
        let (mut memory, boot) = power_up(&mut flash);
        assert!(boot.number > last && boot.reset == Some(ResetCause::PowerOn));
        last = boot.number;
        flash.work = 0;
        for _ in 0..1_000 {
            let (next, boot) = reset(&mut flash, &memory, None);
            assert!(boot.number > last && boot.reset == Some(ResetCause::Watchdog));
            (memory, last) = (next, boot.number);
        }
        assert_eq!(flash.work, 0, "a thousand resets change not a byte");
    }
    // A loop that goes on for days writes once in 4,096 resets.
    let (mut memory, _) = power_up(&mut flash);
    flash.work = 0;
    for _ in 0..5 * RESETS {
        let (next, boot) = reset(&mut flash, &memory, None);
        assert!(boot.number > memory.boot());
        memory = next;
    }
    assert!(flash.work <= 5 * (SECTOR + 6 * 64), "{}", flash.work);
}

#[test]
fn a_start_whose_power_fails_before_its_number_is_written_gives_it_to_the_next() {
    let mut flash = TestFlash::new();
    let (_, first) = power_up(&mut flash);
    flash.power = 10;
    power_up(&mut flash);
    flash.power = usize::MAX;
    let (_, third) = power_up(&mut flash);
    assert!(third.number > first.number);
}

#[test]
fn a_trip_stands_over_everything_until_it_is_acknowledged() {
    let mut flash = TestFlash::new();
    let (mut memory, boot) = power_up(&mut flash);
    assert_eq!((boot.trip, boot.latched), (None, None));
    let tripped = trip(1, Micros::from_secs(5));
    memory.trip(&mut flash, &tripped);
    let began = boot.number;
    for _ in 0..3 {
        let (after_reset, boot) = reset(&mut flash, &memory, None);
        assert_eq!(boot.latched, Some(tripped));
        assert_eq!(boot.trip.map(|past| (past.boot, past.trip)), Some((began, tripped)));
        let (after_power, boot) = power_up(&mut flash);
        assert_eq!(boot.latched, Some(tripped));
        memory = if began % 2 == 0 { after_reset } else { after_power };
    }
    memory.acknowledged(&mut flash, 2, Micros::from_secs(6));
    assert!(power_up(&mut flash).1.latched.is_some(), "another number acknowledges nothing");
    memory = power_up(&mut flash).0;
    memory.acknowledged(&mut flash, 1, Micros::from_secs(6));
    let (_, boot) = power_up(&mut flash);
    assert_eq!((boot.latched, boot.trip.map(|past| past.trip)), (None, Some(tripped)), "it is told for good");
}

#[test]
fn the_last_panic_is_told_and_a_loop_of_panics_is_written_a_few_times() {
    let mut flash = TestFlash::new();
    let (mut memory, _) = power_up(&mut flash);
    flash.work = 0;
    for round in 0..2_000 {
        let panic = failed(memory.boot(), 10 + round % 2);
        let (next, boot) = reset(&mut flash, &memory, panic);
        assert_eq!(boot.reset, Some(ResetCause::Panic));
        let past = boot.panic.expect("a panic");
        assert_eq!(
            (past.boot, past.place.ends_with(if round % 2 == 0 { "0a" } else { "0b" })),
            (memory.boot(), true)
        );
        memory = next;
    }
    assert!(flash.work <= 8 * 64 + 4 * (SECTOR + 6 * 64), "{}", flash.work);
    // Over a power failure the last one that was written is told.
    let (_, boot) = power_up(&mut flash);
    assert!(boot.panic.is_some() && boot.reset == Some(ResetCause::PowerOn));
    // The same panic at each start is written once.
    let mut flash = TestFlash::new();
    let (mut memory, _) = power_up(&mut flash);
    memory = reset(&mut flash, &memory, failed(1, 5)).0;
    flash.work = 0;
    for _ in 0..50 {
        memory = reset(&mut flash, &memory, failed(memory.boot(), 5)).0;
    }
    assert_eq!(flash.work, 0);
}

#[test]
fn a_host_that_trips_it_all_day_writes_once_a_minute_and_what_is_latched_is_never_lost() {
    let mut flash = TestFlash::new();
    let (mut memory, _) = power_up(&mut flash);
    flash.work = 0;
    for number in 1..=10_000 {
        let at = Micros::from_millis(u64::from(number) * 3_100);
        memory.trip(&mut flash, &trip(number, at));
    }
    let hours = 10_000.0 * 3.1 / 3_600.0;
    println_work(flash.work, hours);
    // 16 at once and 517 minutes; each takes its place of 64 bytes, and a test's sector of 8 places changes often.
    assert!(flash.work < 540 * (64 + SECTOR / 3 + 2 * 64), "{}", flash.work);
    assert!(power_up(&mut flash).1.latched.is_some());
}

fn println_work(work: usize, hours: f64) {
    std::println!("{work} bytes of flash erased or written in {hours:.1} h of a trip each 3.1 s");
}
