//! Bad input, one row per kind: every estimator refuses, or is right within what it says of itself.
//!
//! "Confidently wrong" is a number whose 95 % interval misses the truth; damage, unlike noise, does not happen to be right
//! nineteen times in twenty, so not one may. Damaged discharges have more kinds of their own (`bad_discharge`). Each kind is tried on a screen and on
//! a full discharge, in a few strengths; quantities without a truth in closed form are only asked to be finite.

use super::*;
use crate::estimate::synthetic::{Cell, Instrument, Random, Rows, Run, Torn};
use crate::si::{Amps, Ohms, Volts};
use crate::trace::Point;
use std::ops::Range;

/// What a kind of bad input does to the rows in a strength from 0 to 1.
type Spoil = fn(&mut Vec<Point>, f64, &mut Random);

/// Each kind with its name and the least number of right answers among 84: four fifths of what was found when it was
/// written, so that nobody passes here by refusing what can be measured. Where it is 0, every answer must be refused.
const KINDS: [(&str, usize, Spoil); 23] = [
    ("short", 43, |rows, strength, _| rows.truncate((rows.len() as f64 * (1.0 - 0.9 * strength)) as usize)),
    ("gappy", 60, |rows, strength, random| rows.retain(|_| random.uniform() > 0.3 + 0.6 * strength)),
    ("blocks lost", 46, |rows, strength, random| {
        for _ in 0..5 {
            let length = (rows.len() as f64 * 0.04 * strength) as usize;
            let at = (random.uniform() * (rows.len() - length) as f64) as usize;
            rows.drain(at..at + length);
        }
    }),
    ("torn", 68, |rows, strength, _| {
        // Every row shows the voltage of a moment some rows ago.
        let late = 1 + (3.0 * strength) as usize;
        let voltages: Vec<Volts> = rows.iter().map(|row| row.voltage).collect();
        rows.iter_mut().skip(late).zip(voltages).for_each(|(row, voltage)| row.voltage = voltage);
    }),
    ("constant voltage", 24, |rows, _, _| rows.iter_mut().for_each(|row| row.voltage = Volts(3.7))),
    ("constant current", 5, |rows, _, _| rows.iter_mut().for_each(|row| row.current = Amps(0.5))),
    ("voltage saturated above", 12, |rows, strength, _| {
        let limit = 3.84 - 0.1 * strength;
        rows.iter_mut().for_each(|row| row.voltage = Volts(row.voltage.0.min(limit)));
    }),
    ("voltage clipped below", 44, |rows, strength, _| {
        let limit = 3.70 + 0.1 * strength;
        rows.iter_mut().for_each(|row| row.voltage = Volts(row.voltage.0.max(limit)));
    }),
    ("current clipped", 52, |rows, strength, _| {
        let limit = IT * (0.9 - 0.5 * strength);
        rows.iter_mut().for_each(|row| row.current = Amps(row.current.0.min(limit)));
    }),
    ("noisy", 68, |rows, strength, random| {
        rows.iter_mut().for_each(|row| row.voltage += Volts((1e-3 + 20e-3 * strength) * random.normal()));
    }),
    ("current noisy", 68, |rows, strength, random| {
        rows.iter_mut().for_each(|row| row.current += Amps((5e-3 + 50e-3 * strength) * random.normal()));
    }),
    ("spikes", 68, |rows, strength, random| {
        for row in rows.iter_mut() {
            if random.uniform() < 0.002 + 0.03 * strength {
                row.voltage += Volts(0.5 * random.normal());
            }
        }
    }),
    ("mains hum", 52, |rows, strength, _| {
        let hum = |time: f64| (0.5e-3 + 10e-3 * strength) * (std::f64::consts::TAU * 50.0 * time).sin();
        rows.iter_mut().for_each(|row| row.voltage += Volts(hum(row.time.0)));
    }),
    ("no numbers", 64, |rows, strength, random| {
        for row in rows.iter_mut() {
            let value = random.uniform();
            if value < 0.05 + 0.3 * strength {
                row.voltage = Volts(f64::NAN);
            } else if value > 0.95 - 0.3 * strength {
                row.current = Amps(f64::NAN);
            }
        }
    }),
    // The temperatures do not hang on a sign.
    ("current of the wrong sign", 6, |rows, _, _| rows.iter_mut().for_each(|row| row.current = -row.current)),
    ("leads swapped", 12, |rows, _, _| rows.iter_mut().for_each(|row| row.voltage = -row.voltage)),
    ("contact bad in one pulse", 67, |rows, strength, _| {
        let ohm = 5e-3 + 25e-3 * strength;
        rows.iter_mut()
            .filter(|row| IN_PULSE.contains(&row.time.0))
            .for_each(|row| row.voltage += -(row.current * Ohms(ohm)));
    }),
    ("contact bad in one level", 67, |rows, strength, _| {
        let ohm = 7e-3 + 23e-3 * strength;
        rows.iter_mut()
            .filter(|row| IN_LEVEL.contains(&row.time.0))
            .for_each(|row| row.voltage += -(row.current * Ohms(ohm)));
    }),
    ("coarse voltage", 64, |rows, strength, _| {
        let step = 1e-3 * 50f64.powf(strength);
        rows.iter_mut().for_each(|row| row.voltage = Volts((row.voltage.0 / step).round() * step));
    }),
    ("coarse current", 55, |rows, strength, _| {
        let step = [0.01, 0.02, 0.05, 0.1][(3.0 * strength) as usize];
        rows.iter_mut().for_each(|row| row.current = Amps((row.current.0 / step).round() * step));
    }),
    ("slow voltage", 44, |rows, strength, _| {
        let seconds = 0.02 * 100f64.powf(strength);
        let (mut shown, mut last) = (rows[0].voltage.0, rows[0].time.0);
        for row in rows.iter_mut() {
            shown += (row.voltage.0 - shown) * -(-(row.time.0 - last) / seconds).exp_m1();
            (row.voltage, last) = (Volts(shown), row.time.0);
        }
    }),
    ("small jumps", 65, |rows, strength, _| {
        let jump = Volts(2e-3 + 8e-3 * strength);
        let is_off = |time: f64| LATE.iter().any(|late| late.contains(&time));
        rows.iter_mut().filter(|row| is_off(row.time.0)).for_each(|row| row.voltage += jump);
    }),
    ("pulse backwards", 67, |rows, _, _| {
        let within: Vec<usize> =
            (0..rows.len()).filter(|row| IN_PULSE.contains(&rows[*row].time.0)).collect();
        let voltages: Vec<Volts> = within.iter().rev().map(|row| rows[*row].voltage).collect();
        within.into_iter().zip(voltages).for_each(|(row, voltage)| rows[row].voltage = voltage);
    }),
];

/// When the screen's last pulse flows, its second level, and the later part of each of its loads, in s.
const IN_PULSE: Range<f64> = 61.0005..71.1995;
const IN_LEVEL: Range<f64> = 30.0005..30.9995;
const LATE: [Range<f64>; 3] = [26.0..29.9995, 30.6..30.9995, 66.0..71.1995];

struct Truth {
    points: Vec<Point>,
    values: Vec<(Quantity, f64)>,
}

fn screen() -> Truth {
    let steps = [(0.0, 20.0), (0.2 * IT, 10.0), (IT, 1.0), (0.0, 30.0), (0.5 * IT, 10.2), (0.0, 10.0)];
    let run = Run::new(&Cell::default(), &steps);
    let rows = Rows::PerStep { period: 0.002 };
    let trace = run.record(&Instrument {
        rows,
        voltage_noise: 100e-6,
        current_noise: 0.3e-3,
        ..Instrument::default()
    });
    // The pulse at 0.5 It is not the one that `Run::resistance_at` speaks of; it starts near equilibrium again.
    let fresh = Run::new(&Cell::default(), &[(0.0, 20.0), (0.5 * IT, 10.2), (0.0, 10.0)]);
    let mut values = vec![
        (Quantity::RestVoltage, run.voltage(0, 20.0)),
        (Quantity::SettledVoltage, run.voltage(0, 20.0)),
        (Quantity::RestDrift, 0.0),
        (Quantity::ResistanceTwoLevel, run.two_level()),
        (Quantity::TemperatureRise, 0.0),
        (Quantity::RestTemperatureRise, 0.0),
        (Quantity::CountedCharge, IT * (0.2 * 10.0 + 1.0 + 0.5 * 10.2) / 3600.0),
    ];
    values.extend(RESISTANCES.map(|(quantity, after)| (quantity, fresh.resistance_at(after))));
    Truth { points: trace.points.into(), values }
}

fn discharge() -> Truth {
    let cell = Cell { source_v: 4.35, fall_v_per_ah: 0.5, ..Cell::default() };
    let current = 0.2 * IT;
    let capacity = (4.35 - current * (cell.series_ohm + cell.pairs[0].0 + cell.pairs[1].0) - 3.0) / 0.5;
    let run = Run::new(&cell, &[(0.0, 60.0), (current, capacity / current * 3600.0), (0.0, 60.0)]);
    let rows = Rows::PerStep { period: 1.0 };
    let trace = run.record(&Instrument {
        rows,
        voltage_noise: 100e-6,
        current_noise: 0.3e-3,
        ..Instrument::default()
    });
    let values = vec![
        (Quantity::RestVoltage, 4.35),
        (Quantity::Capacity, capacity),
        (Quantity::CapacityFraction, capacity / IT),
        (Quantity::CountedCharge, capacity),
    ];
    Truth { points: trace.points.into(), values }
}

/// What a kind of damage changes of the truth itself, so that no estimator can know: the number is then only asked to
/// be finite. Each has its reason.
fn is_beyond_knowing(kind: &str, quantity: Quantity) -> bool {
    match kind {
        // A recording that ends early, or whose current was never measured, has counted what it has seen.
        "short" | "blocks lost" | "constant current" | "current clipped" | "current of the wrong sign" => {
            quantity == Quantity::CountedCharge
        }
        // A voltage that reads 3.7 V from first to last row is what a resting cell of 3.7 V reads.
        "constant voltage" => matches!(quantity, Quantity::RestVoltage | Quantity::SettledVoltage),
        _ => false,
    }
}

#[test]
fn no_kind_of_bad_input_makes_a_confident_wrong_number() {
    let mut random = Random(20_261_126);
    let mut wrong = Vec::new();
    println!("{:28} {:>8} {:>8} {:>8} {:>12}", "kind", "right", "refused", "unknown", "worst error/u");
    for (kind, floor, spoil) in KINDS {
        let (mut right, mut refused, mut unknown, mut worst) = (0, 0, 0, 0.0f64);
        for truth in [screen(), discharge()] {
            for step in 0..6 {
                let mut points = truth.points.clone();
                spoil(&mut points, f64::from(step) / 5.0, &mut random);
                let found = estimate(&from_points(points));
                assert_eq!(found.measured.len() + found.missing.len(), Quantity::ALL.len());
                for (quantity, estimate) in &found.measured {
                    assert!(estimate.value.is_finite() && estimate.standard_uncertainty.is_finite());
                    assert!(estimate.standard_uncertainty >= 0.0, "{kind} {quantity:?}");
                }
                for (quantity, truth) in &truth.values {
                    match found.get(*quantity) {
                        None => refused += 1,
                        Some(_) if is_beyond_knowing(kind, *quantity) => unknown += 1,
                        Some(estimate) => {
                            let ratio = (estimate.value - truth) / estimate.standard_uncertainty;
                            worst = if ratio.abs() > worst.abs() { ratio } else { worst };
                            right += 1;
                            if ratio.abs() > estimate.coverage() {
                                let what =
                                    format!("{kind} {step}: {} {ratio:.1} u, truth {truth}", quantity.key());
                                wrong.push(format!("{what}: {:?} {:?}", estimate.value, estimate.warnings));
                            }
                        }
                    }
                }
            }
        }
        println!("{kind:28} {right:8} {refused:8} {unknown:8} {worst:12.1}");
        assert_eq!(right + refused + unknown, 84, "{kind}");
        assert!(right >= floor && (floor > 0 || right == 0), "{kind}: {right} right, at least {floor} were");
    }
    assert!(wrong.is_empty(), "{} confident wrong numbers:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn torn_rows_of_every_kind_are_within_what_the_numbers_say() {
    let run = Run::new(&Cell::default(), &two_level(IT));
    for torn in [Torn::CurrentFirst, Torn::VoltageFirst, Torn::MeanOfBoth] {
        for period in [0.001, 0.01, 0.1] {
            let found = estimate(&run.record(&Instrument {
                rows: Rows::PerStep { period },
                torn,
                ..Instrument::default()
            }));
            let resistance = found.get(Quantity::ResistanceTwoLevel).unwrap();
            let ratio = (resistance.value - run.two_level()) / resistance.standard_uncertainty;
            assert!(ratio.abs() < 2.0, "{torn:?} {period}: {ratio}");
        }
    }
}
