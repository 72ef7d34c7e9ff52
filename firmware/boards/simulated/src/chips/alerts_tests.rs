//! The flags of the power monitor: each limit at its border, and who clears what.

use super::*;

/// A limit's place, its value, the results just within and just beyond it, and its flag.
type Border = (usize, u16, Results, Results, u16);

const NONE: Results = Results { shunt: None, bus: None, die: None, power: None, overflow: false };

fn borders() -> [Border; 6] {
    [
        (
            0,
            100,
            Results { shunt: Some(100 << 4 | 15), ..NONE },
            Results { shunt: Some(101 << 4), ..NONE },
            1 << 6,
        ),
        (
            1,
            0xFF9C,
            Results { shunt: Some(-100 << 4), ..NONE },
            Results { shunt: Some((-100 << 4) - 1), ..NONE },
            1 << 5,
        ),
        (
            2,
            1_000,
            Results { bus: Some(1_000 << 4 | 15), ..NONE },
            Results { bus: Some(1_001 << 4), ..NONE },
            1 << 4,
        ),
        (
            3,
            1_000,
            Results { bus: Some(1_000 << 4), ..NONE },
            Results { bus: Some((1_000 << 4) - 1), ..NONE },
            1 << 3,
        ),
        (4, 3_840, Results { die: Some(3_840), ..NONE }, Results { die: Some(3_841), ..NONE }, 1 << 7),
        (
            5,
            10,
            Results { power: Some(10 << 8 | 255), ..NONE },
            Results { power: Some(11 << 8), ..NONE },
            1 << 2,
        ),
    ]
}

#[test]
fn no_limit_is_met_by_any_result_as_the_chip_wakes() {
    let mut alerts = Alerts::default();
    for end in [
        Results {
            shunt: Some(524_287),
            bus: Some(524_287),
            die: Some(i16::MAX),
            power: Some(0xFF_FFFF),
            overflow: false,
        },
        Results { shunt: Some(-524_288), bus: Some(0), die: Some(i16::MIN), power: Some(0), overflow: false },
    ] {
        alerts.compare(&end);
        assert_eq!(alerts.read(), 1);
    }
}

#[test]
fn without_the_latch_a_flag_follows_the_results_and_a_read_clears_nothing() {
    for (place, limit, within, beyond, flag) in borders() {
        let mut alerts = Alerts::default();
        alerts.write_limit(place, limit);
        alerts.compare(&within);
        assert_eq!(alerts.read(), 1, "{place}");
        alerts.compare(&beyond);
        assert_eq!(alerts.read(), flag | 1, "{place}");
        assert_eq!(alerts.read(), flag | 1, "{place}");
        alerts.compare(&within);
        assert_eq!(alerts.read(), 1, "{place}");
    }
}

#[test]
fn with_the_latch_a_flag_stays_until_it_is_read_and_comes_back_with_the_next_result() {
    for (place, limit, within, beyond, flag) in borders() {
        let mut alerts = Alerts::default();
        alerts.write(0x8000);
        alerts.write_limit(place, limit);
        alerts.compare(&beyond);
        alerts.compare(&within);
        assert_eq!(alerts.read(), 0x8003 | flag, "{place}: it outlives the fault");
        assert_eq!(alerts.read(), 0x8001, "{place}: a read clears it");
        alerts.compare(&beyond);
        let _ = alerts.read();
        assert_eq!(alerts.read(), 0x8001, "{place}: also while the fault lasts");
        alerts.compare(&beyond);
        assert_eq!(alerts.read(), 0x8003 | flag, "{place}: until the next result");
    }
}

#[test]
fn a_conversion_of_one_channel_leaves_the_flags_of_the_others() {
    let mut alerts = Alerts::default();
    alerts.write_limit(3, 1_000);
    alerts.compare(&Results { bus: Some(0), ..NONE });
    alerts.compare(&Results { shunt: Some(0), ..NONE });
    assert_eq!(alerts.read(), 1 << 3 | 1);
}

#[test]
fn settings_that_stop_the_conversions_leave_the_ready_flag() {
    let mut alerts = Alerts::default();
    alerts.write(0x8000);
    alerts.tell_ready();
    alerts.restarted(true);
    assert_eq!(alerts.read(), 0x8003);
    alerts.tell_ready();
    alerts.restarted(false);
    assert_eq!(alerts.read(), 0x8001);
}

#[test]
fn a_flag_of_a_counter_is_cleared_by_reading_that_counter_alone() {
    let mut alerts = Alerts::default();
    alerts.ran_over(Counter::Charge);
    alerts.ran_over(Counter::Energy);
    assert_eq!(alerts.read(), 0x0C01);
    assert_eq!(alerts.read(), 0x0C01, "reading the flags does not");
    alerts.counter_was_read(Counter::Charge);
    assert_eq!(alerts.read(), 0x0801);
    alerts.counter_was_read(Counter::Energy);
    assert_eq!(alerts.read(), 1);
}

#[test]
fn a_current_that_does_not_fit_is_told_until_one_fits_or_the_counters_are_cleared() {
    let mut alerts = Alerts::default();
    let (over, fits) =
        (Results { shunt: Some(0), overflow: true, ..NONE }, Results { shunt: Some(0), ..NONE });
    alerts.compare(&over);
    assert_eq!(alerts.read(), 1 << 9 | 1);
    alerts.compare(&fits);
    assert_eq!(alerts.read(), 1);
    alerts.compare(&over);
    alerts.counters_were_cleared();
    assert_eq!(alerts.read(), 1);
}

#[test]
fn flags_cannot_be_written_and_the_limits_of_the_bus_have_fifteen_bits() {
    let mut alerts = Alerts::default();
    alerts.write(0x7FFE);
    assert_eq!(alerts.read(), 0x7001);
    for place in 0..6 {
        alerts.write_limit(place, 0xFFFF);
    }
    assert_eq!(
        [0, 1, 2, 3, 4, 5].map(|place| alerts.limit(place)),
        [0xFFFF, 0xFFFF, 0x7FFF, 0x7FFF, 0xFFFF, 0xFFFF]
    );
}
