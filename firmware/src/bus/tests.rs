//! The helped bus against every order of two faults.

extern crate std;

use super::*;
use embedded_hal::i2c::NoAcknowledgeSource;
use std::vec::Vec;

const REFUSED: ErrorKind = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);

/// A bus whose transfers end as they are told, one after the other; beyond that they succeed.
#[derive(Default)]
struct Told {
    ends: Vec<ErrorKind>,
    transfers: usize,
    frees: usize,
    holds: bool,
}

impl ErrorType for Told {
    type Error = ErrorKind;
}

impl I2c for Told {
    fn transaction(&mut self, _: u8, _: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        self.transfers += 1;
        if self.ends.is_empty() { Ok(()) } else { Err(self.ends.remove(0)) }
    }
}

impl Freeable for Told {
    fn free(&mut self) -> Lines {
        self.frees += 1;
        if self.holds { Lines::Held } else { Lines::Free { pulses: 3 } }
    }
}

fn told(ends: &[ErrorKind], holds: bool) -> (Told, Help, Result<(), NoData>) {
    let mut bus = Told { ends: ends.to_vec(), holds, ..Told::default() };
    let mut help = Help::default();
    let result = help.on(&mut bus).write(0x40, &[1]).map_err(|error| no_data(&error));
    (bus, help, result)
}

#[test]
fn a_single_refusal_is_borne_and_counted_and_a_second_is_told() {
    let (bus, help, result) = told(&[REFUSED], false);
    assert_eq!((result, bus.transfers, bus.frees), (Ok(()), 2, 0));
    assert_eq!((help.tried_again, help.freed, help.locked), (1, 0, 0));
    let (bus, help, result) = told(&[REFUSED, REFUSED], false);
    assert_eq!((result, bus.transfers, bus.frees), (Err(NoData::NoAnswer), 2, 0));
    assert_eq!(help.tried_again, 1);
}

#[test]
fn what_is_no_refusal_frees_the_lines_once_and_is_tried_once_more() {
    for first in [ErrorKind::Bus, ErrorKind::ArbitrationLoss, ErrorKind::Other] {
        let (bus, help, result) = told(&[first], false);
        assert_eq!((result, bus.transfers, bus.frees), (Ok(()), 2, 1), "{first:?}");
        assert_eq!((help.tried_again, help.freed, help.locked), (0, 1, 0));
        for second in [ErrorKind::Bus, ErrorKind::ArbitrationLoss, ErrorKind::Other] {
            let (bus, _, result) = told(&[first, second], false);
            assert_eq!((result, bus.transfers, bus.frees), (Err(NoData::BusRecovered), 2, 1));
        }
        let (_, _, result) = told(&[first, REFUSED], false);
        assert_eq!(result, Err(NoData::NoAnswer));
    }
}

#[test]
fn a_bus_that_stays_locked_is_told_at_once_looked_at_each_time_and_used_again_when_it_is_free() {
    let (mut bus, mut help, result) = told(&[ErrorKind::Bus], true);
    assert_eq!((result, bus.transfers, bus.frees), (Err(NoData::BusLocked), 1, 1));
    assert!(help.is_locked());
    for _ in 0..5 {
        let error = help.on(&mut bus).write(0x40, &[1]).unwrap_err();
        assert_eq!(no_data(&error), NoData::BusLocked);
    }
    assert_eq!(
        (bus.transfers, bus.frees, help.locked),
        (1, 6, 1),
        "nobody waits for it again, and it is counted once"
    );
    bus.holds = false;
    assert_eq!(help.on(&mut bus).write(0x40, &[1]), Ok(()));
    assert_eq!((help.freed, help.is_locked()), (1, false));
    assert_eq!(help.on(&mut bus).write(0x40, &[1]), Ok(()));
    assert_eq!(bus.frees, 7, "a free bus is left alone");
}
