//! Single courses of readings: each cause with its level and its time, wild readings, readings that are missing.

mod lump;
mod model;

use super::*;
use crate::live::Value;
use proptest::prelude::*;

pub(super) fn live(cell: Option<f64>, air: Option<f64>, volts: f64) -> Live {
    let value =
        |reading: Option<f64>| reading.map_or(Value::Missing("its chip does not answer"), Value::Read);
    Live {
        fixture_s: 0.0,
        activity: "idle",
        load_on: false,
        step: None,
        voltage_v: Value::Read(volts),
        current_a: Value::Read(0.0),
        cell_c: value(cell),
        air_c: value(air),
        trip: None,
    }
}

/// Feeds a course of cell, air and voltage, one reading each 2 s; returns the first alarm of each cause and level.
fn alarms(course: impl Fn(f64) -> (Option<f64>, Option<f64>, f64), until_s: f64) -> Vec<Alarm> {
    let mut judge = Judge::new(AlarmLimits::default());
    let (mut at_s, mut found) = (0.0, Vec::<Alarm>::new());
    while at_s <= until_s {
        let (cell, air, volts) = course(at_s);
        for alarm in judge.take(at_s, &live(cell, air, volts)) {
            if !found.iter().any(|known| (known.cause, known.level) == (alarm.cause, alarm.level)) {
                found.push(alarm);
            }
        }
        at_s += 2.0;
    }
    found
}

fn told(found: &[Alarm]) -> Vec<(Cause, Option<Level>)> {
    found.iter().map(|alarm| (alarm.cause, alarm.level)).collect()
}

const AIR: Option<f64> = Some(25.0);
const REACTING: Option<Level> = Some(Level::Reacting);
const WARM: Option<Level> = Some(Level::Warm);

#[test]
fn a_quiet_cell_raises_no_alarm_in_a_day() {
    assert_eq!(alarms(|at| (Some(25.3 + 0.1 * (at / 900.0).sin()), AIR, 3.9), 86_400.0), []);
}

#[test]
fn each_cause_raises_its_alarm_at_its_level_within_the_time_it_needs() {
    type Course = fn(f64) -> (Option<f64>, Option<f64>, f64);
    type Row = (&'static str, Cause, Option<Level>, Course, f64, f64);
    let table: [Row; 9] = [
        // Nothing says that it cools: told once that can be seen, after 60 s of settling and 120 s.
        ("steadily 2 K over the air", Cause::OverAir, WARM, |_| (Some(27.1), AIR, 3.9), 180.0, 190.0),
        // A rate of 1 K/min needs 1 K within the span: at 1.2 K/min 50 s after the thermometer has settled.
        ("fast", Cause::Warming, REACTING, |at| (Some(25.0 + 0.02 * at), AIR, 3.9), 110.0, 120.0),
        // The trend of 0.4 K/min shows first: 0.5 K after 75 s, a median over a minute lags by half of that.
        ("rising away", Cause::RisingAway, REACTING, |at| (Some(25.3 + at / 150.0), AIR, 3.9), 130.0, 230.0),
        // 0.05 K/min is 0.5 K in 10 min.
        (
            "the slowest that reacts",
            Cause::RisingAway,
            REACTING,
            |at| (Some(25.4 + at * 9.2e-4), AIR, 3.9),
            600.0,
            720.0,
        ),
        // 0.02 K/min: 1 K beyond the doubt of the thermometers after 65 min.
        ("slowly", Cause::Growth, WARM, |at| (Some(25.0 + at / 3_000.0), AIR, 3.9), 3_900.0, 3_960.0),
        // 36 mV/h: 20 mV after 2,000 s, seen through a mean over 20 s.
        (
            "falling voltage",
            Cause::FallingVoltage,
            WARM,
            |at| (Some(25.2), AIR, 3.9 - 1e-5 * at),
            2_000.0,
            2_030.0,
        ),
        // 0.03 K/min is half a trend: with the voltage it is enough.
        (
            "falling voltage and heat",
            Cause::FallingVoltage,
            REACTING,
            |at| (Some(25.4 + 5e-4 * (at - 1_000.0).max(0.0)), AIR, 3.9 - 1e-5 * at),
            2_000.0,
            2_030.0,
        ),
        // The thermometer fails after 100 s: half a minute later.
        ("thermometer gone", Cause::Blind, None, |at| ((at < 100.0).then_some(25.2), AIR, 3.9), 128.0, 130.0),
        ("hot in a hot room", Cause::Hot, REACTING, |_| (Some(46.0), Some(45.0), 3.9), 4.0, 4.0),
    ];
    for (name, cause, level, course, earliest, latest) in table {
        let found = alarms(course, 10_000.0);
        let first = found.first().unwrap_or_else(|| panic!("no alarm: {name}"));
        assert_eq!((first.cause, first.level), (cause, level), "{name}: {found:?}");
        assert!((earliest..=latest).contains(&first.at_s), "{name}: {first:?}");
    }
}

#[test]
fn what_no_heat_explains_is_neither_reacting_nor_warm() {
    type Course = fn(f64) -> (Option<f64>, Option<f64>, f64);
    let table: [(&str, Course); 6] = [
        // A window is opened: the air falls by 5 K in 5 min, the cell follows.
        ("a window", |at| {
            (Some(25.0 - 5.0 * (1.0 - (-at / 1_800.0).exp())), Some(25.0 - 5.0 * (at / 300.0).min(1.0)), 3.9)
        }),
        // The air's thermometer lay in the sun until a cloud came.
        ("a cloud", |at| (Some(24.5), Some(if at < 3_000.0 { 28.0 } else { 25.0 }), 3.9)),
        ("the sun", |at| (Some(25.2), Some(25.0 + 6.0 * (at / 300.0).min(1.0)), 3.9)),
        ("a thermometer put on a cell warmed in the hand", |at| {
            (Some(25.0 + 8.0 * (1.0 - (-at / 10.0).exp()) * (-at / 900.0).exp()), AIR, 3.9)
        }),
        // 0.4 K of offset between the thermometers.
        ("a cold cell", |at| (Some(25.4 - 10.0 * (-at / 300.0).exp()), AIR, 3.9)),
        ("single wild readings", |at| {
            let cell = if at % 50.0 == 0.0 {
                60.0
            } else if at % 70.0 == 0.0 {
                -40.0
            } else {
                25.5
            };
            (Some(cell), Some(if at % 90.0 == 0.0 { -10.0 } else { 25.0 }), 3.9)
        }),
    ];
    for (name, course) in table {
        assert_eq!(told(&alarms(course, 7_200.0)), [], "{name}");
    }
}

#[test]
fn a_cell_that_is_warm_first_and_heats_up_then_is_told_twice() {
    let course = |at: f64| (Some(28.0 + ((at - 3_600.0) / 400.0).max(0.0)), AIR, 3.9);
    let found = alarms(course, 5_000.0);
    assert_eq!(told(&found)[..2], [(Cause::OverAir, WARM), (Cause::RisingAway, REACTING)]);
    assert!(found.iter().any(|alarm| alarm.is_reacting() && alarm.at_s < 3_600.0 + 300.0), "{found:?}");
}

#[test]
fn a_fall_of_the_voltage_becomes_graver_once_the_cell_heats_up() {
    let course = |at: f64| (Some(25.4 + 5e-4 * (at - 4_000.0).max(0.0)), AIR, 3.9 - 1e-5 * at);
    let found: Vec<_> =
        alarms(course, 5_000.0).into_iter().filter(|alarm| alarm.cause == Cause::FallingVoltage).collect();
    assert_eq!(told(&found), [(Cause::FallingVoltage, WARM), (Cause::FallingVoltage, REACTING)]);
}

#[test]
fn what_nobody_sees_is_taken_at_its_worst() {
    // The air is not known, and the cell has warmed by half a kelvin.
    let no_air = |at: f64| (Some(20.0 + at / 1_000.0), None, 3.9);
    assert!(told(&alarms(no_air, 1_200.0)).contains(&(Cause::RisingAway, REACTING)));
    // The voltage falls, and nobody sees whether the cell is warm.
    let unseen = |at: f64| ((at < 100.0).then_some(25.0), AIR, 3.9 - 1e-5 * at);
    assert!(told(&alarms(unseen, 3_000.0)).contains(&(Cause::FallingVoltage, REACTING)));
    // Nothing was seen for an hour in which it warmed.
    let mut judge = Judge::new(AlarmLimits::default());
    let mut found = Vec::new();
    for at in (0..600).step_by(2).chain((4_200..4_400).step_by(2)) {
        let at = f64::from(at);
        let rise = if at < 600.0 { 0.4 } else { 1.8 };
        found.extend(judge.take(at, &live(Some(25.0 + rise), AIR, 3.9)));
    }
    assert!(found.iter().any(Alarm::is_reacting), "{found:?}");
}

#[test]
fn seldom_readings_are_judged_as_well() {
    // One reading in 25 s: the third of a median is older than its minute.
    let seldom = |at: f64| ((at % 25.0 < 2.0).then_some(27.5), AIR, 3.9);
    assert_eq!(told(&alarms(seldom, 1_200.0)), [(Cause::OverAir, WARM)]);
}

proptest! {
    /// However a reading jumps about below the limits, and whatever single reading is wild, nobody is woken.
    #[test]
    fn one_wild_reading_is_no_alarm(wild in -100.0..200.0f64, at in 1usize..400, of_air in proptest::bool::ANY) {
        let mut judge = Judge::new(AlarmLimits::default());
        for tick in 0..450usize {
            let reading = |usual| Some(if tick == at { wild } else { usual });
            let (cell, air) = if of_air { (Some(25.5), reading(25.0)) } else { (reading(25.5), AIR) };
            prop_assert_eq!(judge.take(2.0 * tick as f64, &live(cell, air, 3.9)), []);
        }
    }

    /// A cell that stays beyond a limit is told, however it got there.
    #[test]
    fn a_cell_that_stays_warm_is_always_told(rise in 2.0..19.0f64, noise in 0.0..0.1f64, every_s in 0.5..10.0f64) {
        let mut judge = Judge::new(AlarmLimits::default());
        let mut told = false;
        let mut at_s = 0.0;
        while at_s < 900.0 {
            let cell = 25.0 + rise + noise * (at_s / every_s % 2.0);
            told |= judge.take(at_s, &live(Some(cell), AIR, 3.9)).iter().any(|a| a.level == WARM);
            at_s += every_s;
        }
        prop_assert!(told);
    }
}
