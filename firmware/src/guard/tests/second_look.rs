//! The second look: its bounds on both sides, how often in a row, when it counts, and when its trip is gone.

use super::*;

/// Makes a number of samples with this on the second look; returns the trip, if there was one.
fn looks(scene: &mut Scene, times: u32, microvolts: i32, microamps: i32, demand: Demand) -> Option<Trip> {
    scene.follows = false;
    let look = Look { voltage: MicroVolts::new(microvolts), current: MicroAmps::new(microamps) };
    for _ in 0..times {
        let at = scene.now.saturating_add(PERIOD);
        scene.inputs.readings.look.take(at, Ok(look));
        let tripped = scene.step(demand).tripped;
        if tripped.is_some() {
            return tripped;
        }
    }
    None
}

fn told(trip: Option<Trip>) -> Option<(TripCause, i64, i64)> {
    trip.map(|trip| (trip.cause, trip.value, trip.limit))
}

#[test]
fn under_load_each_bound_holds_on_both_sides_and_for_good() {
    use TripCause::{SecondLookCurrent, SecondLookVoltage};
    // 3.9 V on the sense leads at 1 A: at most 0.15 V above, at most 0.15 V and 0.1 Ohm x 1 A below.
    for (inside, outside) in [(4_050_000, 4_050_001), (3_650_000, 3_649_999)] {
        // The first reading moves by a microvolt with every fiftieth sample only, which is later.
        let mut scene = Scene::loaded();
        assert_eq!(told(looks(&mut scene, 15, inside, CURRENT.get(), LOAD)), None);
        let found = told(looks(&mut scene, 3, outside, CURRENT.get(), LOAD));
        assert_eq!(found, Some((SecondLookVoltage, i64::from(outside), i64::from(inside))));
    }
    // 1 A: at most 0.7 A and a tenth away.
    for (inside, outside) in [(1_800_000, 1_800_001), (200_000, 199_999)] {
        let mut scene = Scene::loaded();
        assert_eq!(told(looks(&mut scene, 15, 3_900_000, inside, LOAD)), None);
        let found = told(looks(&mut scene, 3, 3_900_000, outside, LOAD));
        assert_eq!(found, Some((SecondLookCurrent, i64::from(outside), i64::from(inside))));
    }
}

#[test]
fn before_a_load_there_is_no_fall_and_no_current() {
    for (microvolts, microamps, good) in [
        (4_050_000, 700_000, true),
        (3_750_000, 0, true),
        (4_050_001, 0, false),
        (3_749_999, 0, false),
        (3_900_000, 700_001, false),
    ] {
        let mut scene = Scene::resting();
        let at_rest = looks(&mut scene, 3, microvolts, microamps, Demand::Rest(TERMS));
        assert_eq!(told(at_rest), None, "a cell at rest is only watched");
        let outputs = scene.judge(LOAD);
        assert_eq!(outputs.load_on, good, "{microvolts} {microamps}: {:?}", outputs.tripped);
    }
}

#[test]
fn two_bad_looks_in_a_row_are_borne_and_looking_again_at_one_counts_nothing() {
    let mut scene = Scene::loaded();
    for _ in 0..10 {
        assert_eq!(told(looks(&mut scene, 2, 3_000_000, CURRENT.get(), LOAD)), None);
        for _ in 0..10 {
            assert!(scene.judge(LOAD).load_on);
        }
        assert_eq!(told(looks(&mut scene, 1, 3_900_000, CURRENT.get(), LOAD)), None);
    }
    assert!(looks(&mut scene, 3, 3_000_000, CURRENT.get(), LOAD).is_some());
}

#[test]
fn a_look_while_the_current_settles_is_not_judged() {
    // A load of 5 A comes; the look of that moment, and the reading, are still of the rest before.
    let mut scene = Scene::resting();
    let pulse = Demand::Load(TERMS, limits::LARGEST_PULSE);
    assert!(scene.judge(pulse).load_on);
    scene.follows = false;
    for microseconds in 1..=3 {
        let at = scene.now.saturating_add(Micros::new(microseconds * 1_000 - 1));
        let mut inputs = scene.inputs;
        inputs.readings.voltage.take(at, Ok(MicroVolts::new(3_900_000)));
        inputs.readings.current.take(at, Ok(MicroAmps::ZERO));
        inputs.readings.look.take(at, Ok(Look { voltage: MicroVolts::ZERO, current: MicroAmps::ZERO }));
        inputs.last_word = at;
        let outputs = scene.guard.step(at, &inputs, pulse);
        assert!(outputs.load_on, "{:?}", outputs.tripped);
    }
    // From 4 ms on both count: a look that is still settled at nothing is found with the third.
    scene.amps(5_000_000);
    assert!(looks(&mut scene, 2, 0, 0, pulse).is_none());
    assert_eq!(told(looks(&mut scene, 1, 0, 0, pulse)).unwrap().0, TripCause::SecondLookVoltage);
}

#[test]
fn a_look_that_fails_or_gets_old_drops_the_load_at_once_with_its_cause() {
    let mut scene = Scene::loaded();
    scene.follows = false;
    scene.set(|readings, now| readings.look.take(now, Err(NoData::Implausible)));
    let trip = scene.judge(LOAD).tripped;
    assert_eq!(told(trip), Some((TripCause::SecondLookMissing, NoData::Implausible as i64, 0)));

    let mut scene = Scene::loaded();
    scene.follows = false;
    for _ in 0..8 {
        // 50 ms and three periods of 10 ms.
        assert!(scene.step(LOAD).load_on);
    }
    let trip = scene.step(LOAD).tripped;
    assert_eq!(told(trip), Some((TripCause::SecondLookMissing, NoData::Stale as i64, 0)));
}

#[test]
fn a_cell_is_watched_without_a_second_look_but_not_loaded() {
    let mut scene = Scene::resting();
    scene.follows = false;
    scene.inputs.readings.look = Default::default();
    for _ in 0..100 {
        assert_eq!(scene.step(Demand::Rest(TERMS)), Outputs::default());
    }
    assert_eq!(told(scene.judge(LOAD).tripped).unwrap().0, TripCause::SecondLookMissing);
}

#[test]
fn a_trip_for_its_current_is_gone_once_a_look_sees_none() {
    let mut scene = Scene::loaded();
    assert!(looks(&mut scene, 3, 3_900_000, 3_000_000, LOAD).is_some());
    scene.amps(0);
    scene.step(Demand::Idle);
    let acknowledge = |scene: &mut Scene| {
        let Scene { guard, now, inputs, .. } = scene;
        guard.acknowledge(1, *now, inputs)
    };
    for microamps in [3_000_000, 700_001] {
        looks(&mut scene, 1, 3_900_000, microamps, Demand::Idle);
        assert_eq!(acknowledge(&mut scene).unwrap_err().cause, RejectCause::CauseRemains);
    }
    scene.set(|readings, now| readings.look.take(now, Err(NoData::NoAnswer)));
    assert_eq!(acknowledge(&mut scene).unwrap_err().cause, RejectCause::CauseRemains);
    looks(&mut scene, 1, 3_900_000, 700_000, Demand::Idle);
    assert_eq!(acknowledge(&mut scene), Ok(()));
}
