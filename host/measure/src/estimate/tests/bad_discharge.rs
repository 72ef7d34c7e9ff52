//! Damaged discharges, one row per kind: the charge is right within its 95 % interval, or it is refused.
//!
//! Each kind is tried on a full discharge and on a part of one between two long rests, in six strengths.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run};
use crate::si::{Amps, Seconds, Volts};
use crate::trace::Point;
use std::ops::Range;

/// What a kind of damage does to the rows, of which `load` are under load, in a strength from 0 to 1.
type Spoil = fn(&mut Vec<Point>, Range<usize>, f64, &mut Random);

/// Returns rows from a share of the load on.
fn part(load: &Range<usize>, from: f64, rows: usize) -> Range<usize> {
    let start = load.start + (load.len() as f64 * from) as usize;
    start..(start + rows).min(load.end)
}

/// Returns the rows between two shares of the load.
fn stretch(load: &Range<usize>, from: f64, until: f64) -> Range<usize> {
    part(load, from, (load.len() as f64 * (until - from)) as usize)
}

/// Sets the voltage of rows.
fn read(rows: &mut [Point], volts: f64) {
    rows.iter_mut().for_each(|row| row.voltage = Volts(volts));
}

/// Scales the current of rows.
fn scale(rows: &mut [Point], share: f64) {
    rows.iter_mut().for_each(|row| row.current = row.current * share);
}

/// Lets single rows of a load read something else.
fn scatter(rows: &mut [Point], share: f64, random: &mut Random, change: impl Fn(f64) -> f64) {
    for row in rows {
        if random.uniform() < share {
            row.voltage = Volts(change(row.voltage.0));
        }
    }
}

/// Each kind with its name and how many of the 30 numbers must be right; the rest may be refused. Where it is 0, all must
/// be. A row up by 1 V is refused where it is the very last one, since then none is below the end.
const KINDS: [(&str, usize, Spoil); 19] = [
    ("contact lost half way", 30, |rows, load, strength, _| {
        read(&mut rows[part(&load, 0.5, 1 + (60.0 * strength) as usize)], 0.0);
    }),
    ("contact lost early", 30, |rows, load, strength, _| {
        read(&mut rows[part(&load, 0.1, 1 + (8.0 * strength) as usize)], 0.0);
    }),
    ("contact lost late", 30, |rows, load, strength, _| {
        read(&mut rows[part(&load, 0.9, 1 + (20.0 * strength) as usize)], 2.9);
    }),
    ("contact lost just before the end", 30, |rows, load, strength, _| {
        let length = 1 + (4.0 * strength) as usize;
        read(&mut rows[load.end - 3 - length..load.end - 3], 0.0);
    }),
    ("contact lost until the load ends", 0, |rows, load, strength, _| {
        let first = load.start + (load.len() as f64 * (0.9 - 0.8 * strength)) as usize;
        rows.drain(first + 3..load.end);
        read(&mut rows[first..first + 3], 0.0);
    }),
    ("nothing read half way", 30, |rows, load, strength, _| {
        let lost = part(&load, 0.5, 1 + (8.0 * strength) as usize);
        read(&mut rows[lost.clone()], 0.0);
        scale(&mut rows[lost], 0.0);
    }),
    ("nothing read for long", 0, |rows, load, strength, _| {
        let lost = stretch(&load, 0.5, 0.55 + 0.2 * strength);
        read(&mut rows[lost.clone()], 0.0);
        scale(&mut rows[lost], 0.0);
    }),
    ("rows of 0 V", 30, |rows, load, strength, random| {
        scatter(&mut rows[load], 0.01 + 0.09 * strength, random, |_| 0.0);
    }),
    ("rows of -1.5 V", 30, |rows, load, strength, random| {
        scatter(&mut rows[load], 0.01 + 0.09 * strength, random, |volts| volts - 1.5);
    }),
    ("rows up by 1 V", 28, |rows, load, strength, random| {
        scatter(&mut rows[load], 0.01 + 0.09 * strength, random, |volts| volts + 1.0);
    }),
    ("voltage sinks and comes back", 30, |rows, load, strength, _| {
        let sunk = part(&load, 0.3, 400);
        let deep = 0.2 + 1.2 * strength;
        for (row, point) in rows[sunk].iter_mut().enumerate() {
            point.voltage += Volts(-deep * (row as f64 / 400.0 * std::f64::consts::PI).sin());
        }
    }),
    ("voltage lost most of the time", 6, |rows, load, strength, random| {
        scatter(&mut rows[load], 0.3 + 0.4 * strength, random, |_| 0.0);
    }),
    ("time in minutes or hours", 0, |rows, _, strength, _| {
        rows.iter_mut().for_each(|row| row.time = row.time / if strength < 0.5 { 60.0 } else { 3600.0 });
    }),
    ("time in milliseconds", 0, |rows, _, _, _| {
        rows.iter_mut().for_each(|row| row.time = row.time * 1e3);
    }),
    ("current read too low for a while", 0, |rows, load, strength, _| {
        scale(&mut rows[stretch(&load, 0.3, 0.8)], 0.9 - 0.4 * strength);
    }),
    ("current read too high for a while", 0, |rows, load, strength, _| {
        scale(&mut rows[stretch(&load, 0.1, 0.9)], 1.1 + 0.2 * strength);
    }),
    ("current read too low until the end", 0, |rows, load, strength, _| {
        scale(&mut rows[load.start + load.len() / 2..load.end], 0.9 - 0.4 * strength);
    }),
    ("voltage jumps in a rest", 24, |rows, load, strength, _| {
        let half = (load.end + rows.len()) / 2;
        rows[half..].iter_mut().for_each(|row| row.voltage += Volts(0.02 + 0.08 * strength));
    }),
    ("voltage drifts in a rest", 25, |rows, load, strength, _| {
        let length = (rows.len() - load.end) as f64;
        for (row, point) in rows[load.end..].iter_mut().enumerate() {
            point.voltage += Volts(-(0.02 + 0.08 * strength) * row as f64 / length);
        }
    }),
];

struct Truth {
    points: Vec<Point>,
    load: Range<usize>,
    values: Vec<(Quantity, f64)>,
}

impl Truth {
    fn new(trace: Trace, values: Vec<(Quantity, f64)>) -> Self {
        let points: Vec<Point> = trace.points.into();
        let loaded = |point: &Point| point.current > Amps(0.1);
        let load = points.iter().position(loaded).unwrap()..points.iter().rposition(loaded).unwrap() + 1;
        Self { points, load, values }
    }
}

fn whole(cell: &Cell, period: f64) -> Truth {
    let current = 0.2 * IT;
    let drop = current * (cell.series_ohm + cell.pairs[0].0 + cell.pairs[1].0);
    let capacity = (cell.source_v - drop - 3.0) / cell.fall_v_per_ah;
    let run = Run::new(cell, &[(0.0, 60.0), (current, capacity / current * 3600.0), (0.0, 60.0)]);
    let trace = run.record(&Instrument {
        rows: Rows::PerStep { period },
        voltage_noise: 100e-6,
        current_noise: 0.3e-3,
        ..Instrument::default()
    });
    Truth::new(trace, vec![(Quantity::Capacity, capacity), (Quantity::CapacityFraction, capacity / IT)])
}

fn between_rests() -> Truth {
    let mut random = Random(5);
    let mut trace = super::partial::between(0.95, 0.15, 2.2, 4000.0);
    for point in trace.points.edit().iter_mut() {
        point.voltage += Volts(100e-6 * random.normal());
        point.current += Amps(0.3e-3 * random.normal());
    }
    Truth::new(trace, vec![(Quantity::CapacityFromPart, 2.2)])
}

#[test]
fn no_damage_of_a_discharge_makes_a_confident_wrong_charge() {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let truths = [whole(&cell, 1.0), whole(&cell, 5.0), between_rests()];
    let mut random = Random(20_261_127);
    let mut wrong = Vec::new();
    for (kind, floor, spoil) in KINDS {
        let (mut right, mut refused, mut worst) = (0, 0, 0.0f64);
        for (number, truth) in truths.iter().enumerate() {
            for step in 0..6 {
                let mut points = truth.points.clone();
                spoil(&mut points, truth.load.clone(), f64::from(step) / 5.0, &mut random);
                let found = estimate(&from_points(points));
                for (quantity, truth) in &truth.values {
                    let Some(estimate) = found.get(*quantity) else {
                        refused += 1;
                        continue;
                    };
                    let ratio = (estimate.value - truth) / estimate.standard_uncertainty;
                    worst = if ratio.abs() > worst.abs() { ratio } else { worst };
                    right += 1;
                    if ratio.abs() > estimate.coverage() {
                        let what = format!("{kind} {number} {step}: {} {ratio:.1} u", quantity.key());
                        wrong.push(format!("{what}: {:?} {:?}", estimate.value, estimate.warnings));
                    }
                }
            }
        }
        println!("{kind:36} {right:8} {refused:8} {worst:12.1}");
        if right < floor || (floor == 0 && right > 0) {
            wrong.push(format!("{kind}: {right} are told, {floor} should be"));
        }
    }
    assert!(wrong.is_empty(), "{} confident wrong numbers:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn a_contact_that_was_lost_is_said() {
    let truth = whole(&Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() }, 1.0);
    let mut points = truth.points.clone();
    read(&mut points[5000..5005], 0.0);
    let found = estimate(&from_points(points));
    let capacity = found.get(Quantity::Capacity).unwrap();
    approx::assert_relative_eq!(capacity.value, truth.values[0].1, max_relative = 2e-3);
    assert!(
        capacity.warnings.iter().any(|text| text.contains("5 rows, 5 s in all")),
        "{:?}",
        capacity.warnings
    );
}

#[test]
fn a_current_that_changes_is_said() {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let run = Run::new(&cell, &[(0.0, 60.0), (0.5, 7200.0), (0.4, 17_000.0), (0.0, 60.0)]);
    let instrument =
        Instrument { rows: Rows::PerStep { period: 1.0 }, voltage_noise: 100e-6, ..Instrument::default() };
    let found = estimate(&run.record(&instrument));
    let capacity = found.get(Quantity::Capacity).unwrap();
    assert!(capacity.warnings.iter().any(|text| text.contains("not constant")), "{:?}", capacity.warnings);
}

#[test]
fn a_discharge_of_many_short_pulses_is_counted() {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let pulses = (0..400).flat_map(|_| [(0.5, 60.0), (0.0, 60.0)]);
    let steps: Vec<(f64, f64)> = std::iter::once((0.0, 60.0)).chain(pulses).collect();
    let trace = Run::new(&cell, &steps).record(&Instrument {
        rows: Rows::PerStep { period: 1.0 },
        voltage_noise: 100e-6,
        ..Instrument::default()
    });
    let found = estimate(&trace);
    // Each pulse begins from a rest, so the slow pair is not full at the first crossing's place: a little more flows.
    let capacity = found.get(Quantity::Capacity).unwrap();
    let truth = whole(&cell, 60.0).values[0].1;
    approx::assert_relative_eq!(capacity.value, truth, max_relative = 5e-3);
    assert!(capacity.warnings.iter().any(|text| text.contains("interrupted")), "{:?}", capacity.warnings);
}

#[test]
fn a_unit_of_time_that_cannot_be_is_told() {
    let truth = whole(&Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() }, 1.0);
    let mut points = truth.points.clone();
    points.iter_mut().for_each(|row| row.time = Seconds(row.time.0 / 3600.0));
    let found = estimate(&from_points(points));
    let why = missing(&found, Quantity::Capacity);
    assert!(why.contains("check the units of time"), "{why}");
}
