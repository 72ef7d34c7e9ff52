//! What depends on the course of things: settling, warmth left by a load, slow warming, watched cells.

use super::*;

#[test]
fn a_watched_cell_may_rest_and_never_gets_a_load() {
    let watched = Terms { permit: Permit::WatchOnly, ..TERMS };
    let mut scene = Scene::resting();
    assert_eq!(scene.step(Demand::Rest(watched)), Outputs::default());
    let trip = scene.step(Demand::Load(watched, CURRENT)).tripped.unwrap();
    assert_eq!((trip.cause, trip.value), (TripCause::Forbidden, 1_000_000));
    let mut scene = Scene::loaded();
    assert_eq!(scene.step(Demand::Load(watched, CURRENT)).tripped.unwrap().cause, TripCause::Forbidden);
}

#[test]
fn the_current_has_its_time_to_arrive_and_no_more() {
    let fast = Terms { period: Micros::from_millis(1), ..TERMS };
    let mut scene = Scene::resting();
    scene.judge(Demand::Load(fast, CURRENT));
    let switched = scene.now;
    for millisecond in 1..=4 {
        scene.now = switched.saturating_add(Micros::from_millis(millisecond));
        scene.volts(3_900_000);
        scene.amps(0);
        let outputs = scene.judge(Demand::Load(fast, CURRENT));
        assert_eq!(outputs.load_on, millisecond < 4, "{millisecond} ms");
    }
    assert_eq!(scene.guard.latched().unwrap().cause, TripCause::ContactLost);
}

#[test]
fn after_a_step_down_the_larger_set_point_counts_until_the_current_had_its_time() {
    let lower = Demand::Load(TERMS, MicroAmps::from_milliamps(200));
    let mut scene = Scene::loaded();
    assert!(scene.judge(lower).load_on);
    let switched = scene.now;
    for (millis, load_on) in [(3, true), (4, false)] {
        scene.now = switched.saturating_add(Micros::from_millis(millis));
        scene.amps(CURRENT.get());
        assert_eq!(scene.judge(lower).load_on, load_on, "{millis} ms");
    }
    assert_eq!(scene.guard.latched().unwrap().cause, TripCause::OverCurrent);
}

#[test]
fn the_absolute_ceiling_holds_whatever_the_set_point() {
    let mut scene = Scene::resting();
    let outputs = scene.judge(Demand::Load(TERMS, MicroAmps::MAX));
    assert_eq!(outputs.set_point, limits::LARGEST_PULSE);
    scene.amps(limits::CURRENT_CEILING.get() + 1);
    let trip = scene.judge(Demand::Load(TERMS, MicroAmps::MAX)).tripped.unwrap();
    assert_eq!((trip.cause, trip.limit), (TripCause::OverCurrent, 5_500_000));
}

#[test]
fn a_small_load_must_flow_too() {
    let small = Demand::Load(TERMS, limits::SMALLEST_LOAD);
    for (current, load_on) in [(15_000, true), (7_500, true), (7_499, false), (0, false)] {
        let mut scene = Scene::resting();
        scene.judge(small);
        scene.amps(current);
        assert_eq!(scene.step(small).load_on, load_on, "{current} uA");
    }
}

#[test]
fn current_that_still_decays_after_a_load_is_no_conducting_sink() {
    let mut scene = Scene::loaded();
    scene.judge(Demand::Rest(TERMS));
    let off = scene.now;
    for (millis, trips) in [(0, false), (3, false), (4, true)] {
        scene.now = off.saturating_add(Micros::from_millis(millis));
        scene.amps(500_000);
        assert_eq!(scene.judge(Demand::Rest(TERMS)).tripped.is_some(), trips, "{millis} ms");
    }
}

#[test]
fn warmth_that_a_load_has_left_is_borne_while_it_goes_and_not_when_it_grows() {
    let mut scene = Scene::loaded();
    scene.guard.warming.clear();
    // Four kelvin over the air by the load; the rate is not the matter here.
    for cell in (23_000..=26_500).step_by(100) {
        scene.cell(cell);
        for _ in 0..500 {
            assert!(scene.step(LOAD).load_on, "{cell}");
        }
    }
    scene.amps(0);
    for cell in [26_500, 26_700, 26_000, 25_000] {
        scene.cell(cell);
        for _ in 0..1_000 {
            assert_eq!(scene.step(Demand::Rest(TERMS)).tripped, None, "{cell}");
        }
    }
    // It had come down to 2.5 K; two more are too many, though it was warmer before.
    scene.guard.warming.clear();
    scene.cell(27_001);
    assert_eq!(scene.step(Demand::Rest(TERMS)).tripped.unwrap().cause, TripCause::TemperatureRise);
}

#[test]
fn a_cell_that_warms_slowly_at_rest_trips_within_the_span() {
    let mut scene = Scene::resting();
    let start = scene.now;
    let trip = loop {
        let elapsed = scene.now.saturating_sub(start).get();
        assert!(elapsed < 60_000_000, "never trips");
        // 1.2 K a minute.
        let rise = i32::try_from(elapsed / 50_000).unwrap();
        scene.ambient(22_500 + rise);
        scene.cell(23_000 + rise);
        if let Some(trip) = scene.step(Demand::Rest(TERMS)).tripped {
            break trip;
        }
    };
    assert_eq!(trip.cause, TripCause::RiseRate);
    // Half a kelvin at 1.2 K a minute takes 25 s.
    let after = trip.at.saturating_sub(start);
    assert!(after <= Micros::from_millis(25_100), "{after}");
}

#[test]
fn a_fast_warming_by_the_load_is_judged_as_such_for_one_span_after_it() {
    let mut scene = Scene::loaded();
    // 2 K a minute for half a minute: fine under load, too fast at rest.
    for tenth in 0..300 {
        scene.cell(23_000 + tenth * 1_000 / 300);
        for _ in 0..10 {
            assert!(scene.step(LOAD).load_on);
        }
    }
    scene.amps(0);
    let off = scene.now;
    while scene.now.saturating_sub(off) < limits::WARMING_SPAN {
        assert_eq!(scene.step(Demand::Rest(TERMS)).tripped, None);
    }
    scene.step(Demand::Rest(TERMS));
    // The same warming once more, now without a load.
    scene.cell(24_501);
    assert_eq!(scene.step(Demand::Rest(TERMS)).tripped.unwrap().cause, TripCause::RiseRate);
}

#[test]
fn what_happened_to_the_thermometer_between_plans_is_forgotten() {
    let mut scene = Scene::new();
    for cell in (10_000..23_000).step_by(100) {
        scene.cell(cell);
        scene.step(Demand::Idle);
    }
    assert_eq!(scene.step(Demand::Rest(TERMS)).tripped, None);
}

#[test]
fn warmth_left_by_a_load_is_no_excuse_in_the_next_plan() {
    let mut scene = Scene::loaded();
    scene.cell(24_400);
    assert!(scene.step(LOAD).load_on);
    scene.ambient(22_000);
    assert!(scene.step(LOAD).load_on);
    scene.amps(0);
    assert_eq!(scene.step(Demand::Rest(TERMS)).tripped, None);
    scene.step(Demand::Idle);
    assert_eq!(scene.step(Demand::Rest(TERMS)).tripped.unwrap().cause, TripCause::TemperatureRise);
}

#[test]
fn the_contact_is_judged_by_the_newest_readings() {
    let mut scene = Scene::resting();
    scene.volts(3_925_001);
    scene.step(Demand::Rest(TERMS));
    assert_eq!(scene.clone().judge(LOAD).tripped.unwrap().cause, TripCause::Contact);
    for _ in 1..REST_READINGS {
        scene.step(Demand::Rest(TERMS));
    }
    assert!(scene.judge(LOAD).load_on, "eight readings later the old ones count no more");
}

#[test]
fn readings_from_before_the_last_load_say_nothing_about_the_contact_now() {
    let mut scene = Scene::loaded();
    scene.judge(Demand::Rest(TERMS));
    scene.amps(0);
    for _ in 1..REST_READINGS {
        scene.step(Demand::Rest(TERMS));
    }
    assert_eq!(scene.clone().judge(LOAD).tripped.unwrap().cause, TripCause::MissingReading);
    scene.step(Demand::Rest(TERMS));
    assert!(scene.judge(LOAD).load_on);
}
