//! The store against power failures at every byte of every operation, and against damage.

extern crate std;

use super::*;
use crate::test_flash::{SECTOR, TestFlash};
use celltriage_protocol::calibration::Channel;
use proptest::prelude::*;
use std::vec::Vec;

const OFFSET: u32 = SECTOR as u32;

fn calibration(number: u32) -> Calibration {
    let voltage = Channel { gain_ppm: -29_999 + number as i32, offset: i32::MIN };
    Calibration {
        number,
        voltage,
        current: Channel { gain_ppm: 1_498, offset: -50 },
        ..Calibration::default()
    }
}

/// Returns a store that was saved to so many times; the last one has that number.
fn saved(times: u32) -> Store<TestFlash> {
    let mut store = Store::new(TestFlash::new(), OFFSET);
    for number in 1..=times {
        store.save(&calibration(number)).unwrap();
    }
    store
}

#[test]
fn what_was_saved_last_is_loaded_and_nothing_else_is_touched() {
    let mut store = Store::new(TestFlash::new(), OFFSET);
    assert_eq!(store.load(), None, "leftovers are no calibration");
    for number in 1..=9 {
        store.save(&calibration(number)).unwrap();
        assert_eq!(store.load(), Some(calibration(number)));
    }
    assert_eq!(store.flash.bytes[..SECTOR], TestFlash::new().bytes[..SECTOR]);
}

#[test]
fn a_power_failure_at_any_byte_of_any_save_leaves_the_old_or_the_new_one() {
    let (mut old_left, mut new_there) = (0, 0);
    for times in 0..4 {
        let before = saved(times);
        let old = (times > 0).then(|| calibration(times));
        let new = calibration(times + 1);
        let work = {
            let mut whole = before.clone();
            whole.flash.work = 0;
            whole.save(&new).unwrap();
            whole.flash.work
        };
        assert_eq!(work, SECTOR + record::SIZE, "a save is one erase and one write");
        for power in 0..=work {
            for torn in [0x00, 0x01, 0x5A, 0xA5, 0xFE, 0xFF] {
                let mut store = before.clone();
                (store.flash.power, store.flash.torn) = (power, torn);
                let done = store.save(&new).is_ok();
                store.flash.power = usize::MAX;
                let found = store.load();
                assert!(found == old || found == Some(new), "{times} {power} {torn}: {found:?}");
                assert!(!done || found == Some(new), "what was acknowledged is there");
                old_left += u32::from(found == old);
                new_there += u32::from(found == Some(new));
                store.save(&calibration(77)).unwrap();
                assert_eq!(store.load(), Some(calibration(77)), "the next save works");
            }
        }
    }
    assert!(old_left > 0 && new_there > 0, "{old_left} {new_there}");
}

#[test]
fn a_write_that_does_not_take_is_told() {
    let mut store = saved(1);
    store.flash.sectors_are_dead = true;
    assert_eq!(store.save(&calibration(2)), Err(StoreError));
    assert_eq!(store.load(), Some(calibration(1)));
}

#[test]
fn beyond_what_the_flash_bears_nothing_is_saved_and_the_last_one_stays() {
    let mut store = saved(1);
    let worn = |number| Record { number, calibration: calibration(1) }.to_bytes().unwrap();
    store.flash.bytes[SECTOR..SECTOR + record::SIZE].copy_from_slice(&worn(MOST_SAVES - 1));
    store.save(&calibration(8)).unwrap();
    store.flash.work = 0;
    assert_eq!(store.save(&calibration(9)), Err(StoreError));
    assert_eq!((store.load(), store.flash.work), (Some(calibration(8)), 0));
}

#[test]
fn any_single_damaged_bit_of_the_newest_copy_gives_the_one_before() {
    for bit in 0..record::SIZE * 8 {
        let mut store = saved(2);
        store.flash.bytes[2 * SECTOR + bit / 8] ^= 1 << (bit % 8);
        assert_eq!(store.load(), Some(calibration(1)), "bit {bit}");
    }
}

#[test]
fn with_both_copies_damaged_there_is_none() {
    let mut store = saved(2);
    for copy in [1, 2] {
        store.flash.bytes[copy * SECTOR + 20] ^= 0x10;
    }
    assert_eq!(store.load(), None);
}

proptest! {
    #[test]
    fn every_calibration_survives_as_it_is(number in any::<u32>(), values in prop::array::uniform8(any::<i32>())) {
        let channel = |k: usize| Channel { gain_ppm: values[2 * k], offset: values[2 * k + 1] };
        let calibration = Calibration {
            number,
            voltage: channel(0),
            current: channel(1),
            cell_temperature: channel(2),
            ambient_temperature: channel(3),
        };
        let mut store = saved(1);
        store.save(&calibration).unwrap();
        prop_assert_eq!(store.load(), Some(calibration));
    }

    #[test]
    fn no_random_bytes_are_a_record(bytes in prop::collection::vec(any::<u8>(), record::SIZE)) {
        let bytes: Vec<u8> = bytes;
        prop_assert_eq!(Record::from_bytes(bytes.as_slice().try_into().unwrap()), None);
    }
}
