//! Broken recordings: a number is right within its uncertainty or it is not given.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run, Torn};
use crate::si::{Amps, Volts};
use crate::trace::Point;
use proptest::prelude::*;

fn broken(change: impl Fn(usize, &mut Point)) -> Estimates {
    let instrument = Instrument {
        rows: Rows::PerStep { period: 0.004 },
        voltage_noise: 100e-6,
        current_noise: 0.3e-3,
        ..Instrument::default()
    };
    let mut trace = Run::new(&Cell::default(), &two_level(IT)).record(&instrument);
    trace.points.edit().iter_mut().enumerate().for_each(|(index, point)| change(index, point));
    estimate(&from_points(trace.points.into()))
}

#[test]
fn a_voltage_that_never_moves_gives_no_resistance() {
    let stuck = broken(|_, point| point.voltage = Volts(3.7));
    missing(&stuck, Quantity::ResistanceTwoLevel);
    for (quantity, _) in RESISTANCES {
        missing(&stuck, quantity);
    }
}

#[test]
fn a_clipped_voltage_or_current_gives_no_two_level_resistance() {
    let voltage = broken(|_, point| point.voltage = Volts(point.voltage.0.max(3.75)));
    missing(&voltage, Quantity::ResistanceTwoLevel);
    let current = broken(|_, point| point.current = Amps(point.current.0.min(2.2)));
    missing(&current, Quantity::ResistanceTwoLevel);
}

#[test]
fn the_wrong_sign_of_the_voltage_gives_no_resistance() {
    let turned = broken(|_, point| point.voltage = Volts(7.7 - point.voltage.0));
    missing(&turned, Quantity::ResistanceTwoLevel);
    missing(&turned, Quantity::Resistance1Second);
}

#[test]
fn empty_short_and_silent_traces_give_reasons_and_no_numbers() {
    let point = |time: f64| Point {
        time: Seconds(time),
        current: Amps(0.0),
        voltage: Volts(3.8),
        cell: None,
        ambient: None,
    };
    for rows in [0, 1, 2, 3] {
        let found = estimate(&from_points((0..rows).map(|row| point(f64::from(row))).collect()));
        let all: Vec<_> =
            found.measured.keys().filter(|quantity| **quantity != Quantity::CountedCharge).collect();
        assert_eq!(all, Vec::<&Quantity>::new(), "{rows} rows");
        assert_eq!(found.measured.len() + found.missing.len(), Quantity::ALL.len());
    }
}

/// Damages of a recording: each takes the rows, a place and a length and spoils something.
type Damage = fn(&mut Vec<Point>, usize, usize);

const DAMAGES: [(&str, Damage); 12] = [
    ("rows lost", |rows, at, length| drop(rows.drain(at..at + length))),
    ("rows repeated", |rows, at, length| {
        let again = rows[at..at + length].to_vec();
        rows.splice(at + length..at + length, again);
    }),
    ("clock set back", |rows, at, length| {
        rows[at..].iter_mut().for_each(|row| row.time += Seconds(-0.01 * length as f64));
    }),
    ("clock jumps ahead", |rows, at, length| {
        rows[at..].iter_mut().for_each(|row| row.time += Seconds(0.05 * length as f64));
    }),
    ("clock stands still", |rows, at, length| {
        let time = rows[at].time;
        rows[at..at + length].iter_mut().for_each(|row| row.time = time);
    }),
    ("rows out of order", |rows, at, length| rows[at..at + length].reverse()),
    ("wild voltage", |rows, at, length| {
        rows[at..at + length.min(2)].iter_mut().for_each(|row| row.voltage += Volts(0.3));
    }),
    ("wild current", |rows, at, length| {
        rows[at..at + length.min(2)].iter_mut().for_each(|row| row.current += Amps(1.0));
    }),
    ("voltage stuck", |rows, at, length| {
        let stuck = rows[at].voltage;
        rows[at..at + length].iter_mut().for_each(|row| row.voltage = stuck);
    }),
    ("current reads zero", |rows, at, length| {
        rows[at..at + length].iter_mut().for_each(|row| row.current = Amps(0.0));
    }),
    ("contact moved", |rows, at, length| {
        rows[at..at + length].iter_mut().for_each(|row| row.voltage += Volts(-0.05));
    }),
    ("recording ends", |rows, at, _| rows.truncate(at)),
];

/// Whatever happens to a recording, a number is right within its uncertainty or it is not given.
#[test]
fn damaged_recordings_never_give_a_confident_wrong_resistance() {
    let run = Run::new(&Cell::default(), &two_level(IT));
    let clean = run.record(&Instrument {
        rows: Rows::PerStep { period: 0.002 },
        voltage_noise: 200e-6,
        current_noise: 0.5e-3,
        torn: Torn::CurrentFirst,
        ..Instrument::default()
    });
    let truths = [(Quantity::ResistanceTwoLevel, run.two_level())];
    let instants = RESISTANCES.map(|(quantity, after)| (quantity, run.resistance_at(after)));
    let truths: Vec<_> = truths.into_iter().chain(instants).collect();
    let mut random = Random(4);
    for (name, damage) in DAMAGES {
        let (mut right, mut refused) = (0, 0);
        for _ in 0..60 {
            let mut points = clean.points.to_vec();
            let at = (random.uniform() * points.len() as f64) as usize;
            let length = random.pick(&[1, 3, 20, 200, 1000]).min(points.len() - at);
            damage(&mut points, at, length);
            let found = estimate(&from_points(points));
            for (quantity, truth) in &truths {
                match found.get(*quantity) {
                    None => refused += 1,
                    Some(found) => {
                        right += 1;
                        let ratio = (found.value - truth) / found.standard_uncertainty;
                        assert!(
                            ratio.abs() < 3.0,
                            "{name} at row {at}, {length} rows: {} {ratio:.1} uncertainties off: {found:?}",
                            quantity.key()
                        );
                    }
                }
            }
        }
        println!("{name}: {right} right, {refused} refused");
        assert!(right > refused / 4, "{name}: nearly everything is refused");
    }
}

proptest! {
    #[test]
    fn no_trace_whatever_makes_it_panic_or_give_no_finite_number(
        rows in proptest::collection::vec((0.0..2.0f64, -3.0..3.0f64, -1.0..6.0f64), 0..120)
    ) {
        let mut time = 0.0;
        let points = rows.iter().map(|(step, current, voltage)| {
            time += step;
            let current = if current.abs() < 1.0 { 0.0 } else { current.round() };
            Point { time: Seconds(time), current: Amps(current), voltage: Volts(*voltage), cell: None, ambient: None }
        });
        let found = estimate(&from_points(points.collect()));
        prop_assert_eq!(found.measured.len() + found.missing.len(), Quantity::ALL.len());
        for estimate in found.measured.values() {
            prop_assert!(estimate.value.is_finite() && estimate.standard_uncertainty >= 0.0);
        }
    }
}
