//! Readings that stand still under load.

use super::*;

/// A load whose next reading is the first of a run of the same.
fn still() -> Scene {
    let mut scene = Scene::loaded();
    scene.still = true;
    scene.amps(CURRENT.get() + 31);
    scene.volts(3_900_195);
    scene
}

#[test]
fn a_current_may_come_a_hundred_times_in_a_row_and_a_voltage_six_hundred_times() {
    let mut scene = still();
    for count in 1..=100 {
        assert!(scene.step(LOAD).load_on, "{count}");
    }
    let trip = scene.step(LOAD).tripped.unwrap();
    assert_eq!((trip.cause, trip.value, trip.limit), (TripCause::StaleReading, 1_010_000, 1_000_000));

    let mut scene = still();
    for count in 1..=600 {
        scene.amps(CURRENT.get() + 31 * (count % 2));
        assert!(scene.step(LOAD).load_on, "{count}");
    }
    let trip = scene.step(LOAD).tripped.unwrap();
    assert_eq!((trip.cause, trip.value, trip.limit), (TripCause::StaleReading, 6_010_000, 6_000_000));
}

#[test]
fn a_run_is_ended_by_one_other_code_by_a_rest_and_counts_only_new_readings() {
    let mut scene = still();
    for _ in 0..5 {
        for _ in 0..100 {
            assert!(scene.step(LOAD).load_on);
        }
        // The same reading looked at again is no new one.
        for _ in 0..200 {
            assert!(scene.judge(LOAD).load_on);
        }
        scene.amps(CURRENT.get());
        assert!(scene.step(LOAD).load_on);
        scene.amps(CURRENT.get() + 31);
    }
    scene.amps(0);
    for _ in 0..1_000 {
        assert_eq!(scene.step(Demand::Rest(TERMS)).tripped, None, "without a load it does not count");
    }
    scene.judge(LOAD);
    scene.amps(CURRENT.get());
    for _ in 0..100 {
        assert!(scene.step(LOAD).load_on);
    }
}

#[test]
fn such_a_trip_is_gone_once_the_reading_that_stood_still_has_changed() {
    let mut scene = still();
    let tripped = (0..200).any(|_| !scene.step(LOAD).load_on);
    assert!(tripped);
    let acknowledge = |scene: &mut Scene| {
        scene.step(Demand::Idle);
        let Scene { guard, now, inputs, .. } = scene;
        guard.acknowledge(1, *now, inputs)
    };
    assert_eq!(acknowledge(&mut scene).unwrap_err().cause, RejectCause::CauseRemains);
    scene.volts(3_950_000);
    assert_eq!(acknowledge(&mut scene).unwrap_err().cause, RejectCause::CauseRemains, "the current stands");
    scene.amps(0);
    assert_eq!(acknowledge(&mut scene), Ok(()));
}

#[test]
fn another_stale_reading_is_forgotten_though_nothing_moves_afterwards() {
    let mut scene = Scene::loaded();
    scene.now = scene.now.saturating_add(Micros::new(80_001));
    scene.inputs.last_word = scene.now;
    assert_eq!(scene.judge(LOAD).tripped.unwrap().cause, TripCause::StaleReading);
    scene.still = true;
    scene.amps(0);
    for _ in 0..1_000 {
        scene.step(Demand::Idle);
    }
    assert_eq!(scene.guard.acknowledge(1, scene.now, &scene.inputs), Ok(()));
}
