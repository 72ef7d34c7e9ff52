//! The judge against a lumped thermal model: which level is told of which cell, how soon, and how often for nothing.

use super::super::*;
use super::live;
use super::lump::{Chance, Course, Lump, Thermometers};
use proptest::prelude::*;

/// Mass in g and surface in cm2 of cells as they lie on a bench (from their usual outer sizes).
const CELLS: [(&str, f64, f64); 5] = [
    ("pouch 25 x 30 x 3 mm", 5.0, 18.3),
    ("pouch 35 x 50 x 4 mm", 16.0, 41.8),
    ("pouch 65 x 75 x 4 mm", 45.0, 108.7),
    ("round 18 x 65 mm", 47.0, 41.8),
    ("round 21 x 70 mm", 70.0, 53.1),
];
const BENCH: Thermometers = Thermometers { offset_k: 0.0, noise_k: 0.02, lag_s: 10.0, draught_k: 0.05 };

/// Every cell with the most and the least of both figures.
fn lumps() -> impl Iterator<Item = (&'static str, Lump)> {
    CELLS.into_iter().flat_map(|(name, mass, surface)| {
        [(0.9, 12.0), (1.0, 5.0)]
            .map(|(specific, coefficient)| (name, Lump::of(mass, specific, surface, coefficient)))
    })
}

/// Watches; returns when each level was told first, in s.
fn watched(
    lump: &Lump,
    course: &Course,
    of: &Thermometers,
    every_s: f64,
    until_s: f64,
    seed: u64,
) -> [Option<f64>; 2] {
    let (mut judge, mut chance) = (Judge::new(AlarmLimits::default()), Chance::seeded(seed));
    let (mut told, mut at_s) = ([None; 2], 0.0);
    while at_s <= until_s {
        let (cell, air) = course.at(lump, at_s);
        let taken_on = 1.0 - (-at_s / of.lag_s).exp();
        let shown = air + (cell - air) * taken_on + of.offset_k + of.noise_k * chance.normal();
        let draught = of.draught_k * (at_s * std::f64::consts::TAU / 180.0).sin();
        let air = air + draught + of.noise_k * chance.normal();
        for alarm in judge.take(at_s, &live(Some(shown), Some(air), 3.9)) {
            let place = usize::from(alarm.is_reacting());
            if let Some(first) = told.get_mut(place) {
                first.get_or_insert(at_s);
            }
        }
        at_s += every_s;
    }
    told
}

#[test]
fn cells_without_a_source_of_heat_raise_no_alarm_whatever_the_room_does() {
    for start_k in [-10.0, 0.0, 8.0] {
        for air_k_per_h in [-2.0, 0.0, 2.0] {
            let course = Course { start_k, air_k_per_h, ..Course::default() };
            for (name, lump) in lumps() {
                for offset_k in [-0.3, 0.3] {
                    let told = watched(&lump, &course, &Thermometers { offset_k, ..BENCH }, 5.0, 7_200.0, 1);
                    let tau = lump.time_constant_s() / 60.0;
                    assert_eq!(told, [None; 2], "{name}, {tau:.0} min, offset {offset_k}: {course:?}");
                }
            }
        }
    }
}

#[test]
fn a_steady_source_is_warm_and_never_reacting_in_whatever_room() {
    for air_k_per_h in [-2.0, 0.0, 2.0] {
        for (name, lump) in lumps() {
            let steady_w = 3.5 / lump.resistance_k_per_w;
            // It has lain there for long: the air's change takes it away from the air by its own time constant.
            let lag_k = air_k_per_h / 3_600.0 * lump.time_constant_s();
            let course = Course { start_k: 3.5 - lag_k, air_k_per_h, steady_w, growing: None };
            let [warm, reacting] = watched(&lump, &course, &BENCH, 5.0, 7_200.0, 2);
            assert_eq!(reacting, None, "{name}: {course:?}");
            assert!(warm.is_some_and(|at_s| at_s <= 600.0), "{name}: {warm:?} {course:?}");
        }
    }
}

#[test]
fn a_hand_warm_cell_with_a_source_is_told_once_it_no_longer_cools() {
    for (name, lump) in lumps() {
        let steady_w = 3.5 / lump.resistance_k_per_w;
        let course = Course { start_k: 8.0, steady_w, ..Course::default() };
        let [warm, reacting] = watched(&lump, &course, &BENCH, 5.0, 14_400.0, 3);
        assert_eq!(reacting, None, "{name}");
        // The rest of the hand's heat, 4.5 K, is below the share that hides it after 2 time constants.
        let latest = 600.0 + 3.0 * lump.time_constant_s();
        assert!(warm.is_some_and(|at_s| at_s <= latest), "{name}: {warm:?}, {latest:.0} s");
    }
}

#[test]
fn heat_that_grows_is_reacting_before_the_cell_is_more_than_a_few_kelvins_warm() {
    println!("time from 100 mW of self-heating to the evacuation text, rise then:");
    for (name, lump) in lumps() {
        for doubling_min in [5.0, 10.0, 20.0, 40.0] {
            let doubling_s = doubling_min * 60.0;
            let course = Course { growing: Some((1e-3, doubling_s)), ..Course::default() };
            let [_, reacting] = watched(&lump, &course, &BENCH, 2.0, 12.0 * doubling_s, 4);
            let at_s = reacting.unwrap_or_else(|| panic!("{name}, doubles in {doubling_min} min: not told"));
            let (cell, air) = course.at(&lump, at_s);
            let since = at_s - doubling_s * (0.1f64 / 1e-3).log2();
            println!(
                "  {name:<22} {:>3.0} min, doubles in {doubling_min:>2.0} min: {:>+6.1} min, {:>4.0} mW, {:.1} K",
                lump.time_constant_s() / 60.0,
                since / 60.0,
                course.power_w(at_s) * 1e3,
                cell - air
            );
            // Rising by half a kelvin in ten minutes at this pace, the doubt of the thermometers, and a minute of medians.
            let per_window = 1.0 - (-10.0 / doubling_min).exp2();
            let highest = (0.5 / per_window + 0.3 + 0.2) * (3.0 / doubling_min).exp2();
            assert!(cell - air <= highest, "{name}, {doubling_min} min: {:.2} K, {highest:.2} K", cell - air);
        }
    }
}

#[test]
fn a_source_that_begins_all_at_once_is_reacting_while_the_cell_still_rises() {
    for (name, lump) in lumps() {
        let steady_w = 5.0 / lump.resistance_k_per_w;
        let course = Course { steady_w, ..Course::default() };
        let [_, reacting] = watched(&lump, &course, &BENCH, 2.0, 7_200.0, 5);
        let told = reacting.map(|at_s| (at_s, course.at(&lump, at_s)));
        assert!(told.is_some_and(|(_, (cell, air))| cell - air < 2.6), "{name}: {told:?}");
    }
}

#[test]
fn of_a_thousand_cells_warmed_in_the_hand_none_sends_anybody_out() {
    let mut chance = Chance::seeded(2026);
    let mut told = [0u32; 2];
    for seed in 0..1_000 {
        let mass = chance.between(5.0, 70.0);
        // Between the flattest and the roundest of the cells above.
        let surface = chance.between(1.1, 4.3) * mass.powf(0.9);
        let lump = Lump::of(mass, chance.between(0.9, 1.0), surface, chance.between(5.0, 12.0));
        let course = Course {
            start_k: chance.between(2.0, 12.0),
            air_k_per_h: chance.between(-2.0, 2.0),
            ..Course::default()
        };
        let thermometers = Thermometers {
            offset_k: chance.between(-0.3, 0.3),
            noise_k: chance.between(0.0, 0.05),
            lag_s: chance.between(3.0, 15.0),
            draught_k: chance.between(0.0, 0.15),
        };
        let of_this = watched(&lump, &course, &thermometers, 5.0, 3_600.0, seed);
        for (count, level) in told.iter_mut().zip(of_this) {
            *count += u32::from(level.is_some());
        }
    }
    let [warm, reacting] = told;
    println!("of 1000 cells warmed in the hand: {warm} told as warm, {reacting} as reacting");
    assert_eq!(reacting, 0);
    assert!(warm <= 10, "{warm}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever the cell, its start, the room and the thermometers: without a source of heat nobody is sent out.
    #[test]
    fn no_source_no_evacuation(
        mass in 5.0..70.0f64, shape in 1.1..4.3f64, specific in 0.9..1.0f64, coefficient in 5.0..12.0f64,
        start_k in -12.0..12.0f64, air_k_per_h in -2.0..2.0f64,
        offset_k in -0.5..0.5f64, noise_k in 0.0..0.06f64, lag_s in 2.0..15.0f64, draught_k in 0.0..0.2f64,
        every_s in 0.5..10.0f64, seed in proptest::num::u64::ANY,
    ) {
        let lump = Lump::of(mass, specific, shape * mass.powf(0.9), coefficient);
        let course = Course { start_k, air_k_per_h, ..Course::default() };
        let thermometers = Thermometers { offset_k, noise_k, lag_s, draught_k };
        let [_, reacting] = watched(&lump, &course, &thermometers, every_s, 2_400.0, seed);
        prop_assert_eq!(reacting, None);
    }

    /// Heat that grows is found under the same doubts, also in a cell that was cold or warm at first.
    #[test]
    fn growing_heat_is_always_found(
        mass in 5.0..70.0f64, shape in 1.1..4.3f64, coefficient in 5.0..12.0f64,
        start_k in -10.0..8.0f64, air_k_per_h in -2.0..2.0f64, doubling_min in 3.0..20.0f64,
        offset_k in -0.3..0.3f64, noise_k in 0.0..0.05f64, every_s in 1.0..10.0f64, seed in proptest::num::u64::ANY,
    ) {
        let lump = Lump::of(mass, 0.95, shape * mass.powf(0.9), coefficient);
        let growing = Some((0.01 / lump.resistance_k_per_w, doubling_min * 60.0));
        let course = Course { start_k, air_k_per_h, steady_w: 0.0, growing };
        let thermometers = Thermometers { offset_k, noise_k, ..BENCH };
        // 0.01 K of steady rise at first: 20 doublings are far beyond every limit.
        let [_, reacting] = watched(&lump, &course, &thermometers, every_s, 20.0 * doubling_min * 60.0, seed);
        prop_assert!(reacting.is_some());
        let (cell, air) = course.at(&lump, reacting.unwrap_or_default());
        prop_assert!(cell - air < 6.0, "{} K over the air", cell - air);
    }
}
