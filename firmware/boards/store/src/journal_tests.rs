//! The journal against power failures at every byte of every entry and of every change of sectors, and against damage.

extern crate std;

use crate::entry::{Entry, MOST_ADDRESSES, SIZE, What, calls};
use crate::journal::{Journal, Kept};
use crate::test_flash::{SECTOR, TestFlash};
use celltriage_protocol::event::{Trip, TripCause};
use celltriage_protocol::units::Micros;

const OFFSET: u32 = SECTOR as u32;

fn trip(number: u32) -> Trip {
    Trip { number, cause: TripCause::OverCurrent, value: i64::MIN, limit: i64::MAX, at: Micros::MAX }
}

/// Returns the n-th of a course of entries in which each kind comes again and again.
fn entry(n: u32) -> Entry {
    let what = match n % 4 {
        0 => What::Start,
        1 => What::Trip(trip(n)),
        2 if n % 8 == 2 => What::Acknowledged { trip: n - 1 },
        2 => What::Acknowledged { trip: n + 70 },
        _ => What::Panic(calls([0x1000_0001, n, 7, 8, 9])),
    };
    Entry { boot: n, what }
}

/// Returns a flash to which so many entries were written, and what they come to.
fn written(count: u32) -> (TestFlash, Journal) {
    let mut flash = TestFlash::new();
    let mut journal = Journal::open(&mut flash, OFFSET);
    assert_eq!(*journal.kept(), Kept::default(), "leftovers are no entries");
    for n in 1..=count {
        journal.append(&mut flash, &entry(n)).unwrap();
    }
    (flash, journal)
}

#[test]
fn what_the_entries_come_to_is_the_same_after_each_start_whatever_the_sector() {
    for count in 0..60 {
        let (mut flash, journal) = written(count);
        let again = Journal::open(&mut flash, OFFSET);
        assert_eq!(again.kept(), journal.kept(), "{count} entries");
        assert_eq!(again.kept().boot, count);
        assert_eq!(flash.bytes[..SECTOR], TestFlash::new().bytes[..SECTOR], "nothing else is touched");
    }
}

#[test]
fn a_trip_is_latched_until_that_very_one_is_acknowledged() {
    let kept = |count| written(count).1.kept().clone();
    assert!(kept(1).is_latched && kept(1).trip.is_some_and(|past| past.trip == trip(1) && past.boot == 1));
    // Entry 2 acknowledges trip 1; entry 5 is another trip; entry 6 acknowledges one that there never was.
    assert!(!kept(2).is_latched && kept(2).trip.is_some());
    assert!(kept(5).is_latched && kept(6).is_latched);
}

#[test]
fn a_power_failure_at_any_byte_leaves_all_before_or_all_with_the_new_entry() {
    let (mut old_left, mut new_there) = (0, 0);
    for count in 0..14 {
        let (flash, journal) = written(count);
        let old = journal.kept().clone();
        let (new, work) = {
            let (mut flash, mut journal) = (flash.clone(), journal.clone());
            flash.work = 0;
            journal.append(&mut flash, &entry(count + 1)).unwrap();
            (journal.kept().clone(), flash.work)
        };
        for power in 0..=work {
            for torn in [0x00, 0x01, 0x5A, 0xA5, 0xFE, 0xFF] {
                let (mut flash, mut journal) = (flash.clone(), journal.clone());
                (flash.power, flash.torn) = (power, torn);
                let done = journal.append(&mut flash, &entry(count + 1)).is_ok();
                flash.power = usize::MAX;
                let mut again = Journal::open(&mut flash, OFFSET);
                let found = again.kept().clone();
                assert!(found == old || found == new, "{count} {power} {torn}: {found:?}");
                assert!(!done || found == new, "what was acknowledged is there");
                old_left += u32::from(found == old);
                new_there += u32::from(found == new);
                // Whatever was left behind, the next entries work, over another change of sectors.
                for n in 100..110 {
                    again.append(&mut flash, &entry(n)).unwrap();
                }
                assert_eq!(Journal::open(&mut flash, OFFSET).kept(), again.kept());
                assert_eq!(again.kept().boot, 109);
            }
        }
    }
    assert!(old_left > 1_000 && new_there > 50, "{old_left} {new_there}");
}

#[test]
fn a_damaged_bit_costs_that_entry_and_no_other() {
    // The sector's own entry, a start and the first entry were written together; four more lie in places 3 to 6.
    for bit in 0..SIZE * 8 {
        let (mut flash, _) = written(5);
        let newest = SECTOR + 6 * SIZE;
        flash.bytes[newest + bit / 8] ^= 1 << (bit % 8);
        let kept = Journal::open(&mut flash, OFFSET).kept().clone();
        assert_eq!(kept, *written(4).1.kept(), "bit {bit}");
    }
}

#[test]
fn a_sector_is_erased_rarely_and_one_that_is_dead_is_told() {
    let mut flash = TestFlash::new();
    let mut journal = Journal::open(&mut flash, OFFSET);
    for n in 1..=400 {
        journal.append(&mut flash, &entry(n)).unwrap();
    }
    // Of 8 places 1 is the sector's own and at most 4 take over what is kept: each change of sectors serves 3 entries here.
    let erased = (flash.work - 400 * SIZE) / (SECTOR + SIZE);
    assert!(erased < 200, "{erased}");
    let mut dead = TestFlash { sectors_are_dead: true, ..TestFlash::new() };
    let mut journal = Journal::open(&mut dead, OFFSET);
    assert!(journal.append(&mut dead, &entry(1)).is_err());
    assert_eq!(*journal.kept(), Kept::default());
}

#[test]
fn every_entry_survives_as_it_is_and_calls_are_told_as_far_as_they_fit() {
    for n in (0..200).chain([u32::MAX - 71]) {
        let entry = entry(n);
        assert_eq!(Entry::from_bytes(&entry.to_bytes().unwrap()), Some(entry));
    }
    assert_eq!(Entry::from_bytes(&[0xFF; SIZE]), None);
    assert_eq!(Entry::from_bytes(&[0; SIZE]), None);
    assert_eq!(calls([0x1000_A1B3, 7]).as_str(), "1000a1b3 00000007");
    assert_eq!(calls([]).as_str(), "");
    assert_eq!(calls([u32::MAX; 9]).len(), MOST_ADDRESSES * 9 - 1);
}
