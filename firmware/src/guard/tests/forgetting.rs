//! What a trip needs to be forgotten.

use super::*;

#[test]
fn a_trip_is_forgotten_only_by_its_number_and_only_when_its_cause_is_gone() {
    for (number, (spoil, expected)) in cases().into_iter().enumerate() {
        let scenes = [
            (Scene::new(), Demand::Idle),
            (Scene::resting(), Demand::Rest(TERMS)),
            (Scene::resting(), LOAD),
            (Scene::loaded(), LOAD),
        ];
        for ((mut scene, demand), expected) in scenes.into_iter().zip(expected) {
            let Some(cause) = expected else { continue };
            spoil(&mut scene);
            scene.judge(demand);
            let wrong = scene.guard.acknowledge(2, scene.now, &scene.inputs).unwrap_err();
            assert_eq!((wrong.cause, wrong.asked, wrong.limit), (RejectCause::WrongTrip, 2, 1));
            let lasts = matches!(
                cause,
                TripCause::Polarity
                    | TripCause::VoltageHigh
                    | TripCause::TemperatureHigh
                    | TripCause::OverTemperature
                    | TripCause::TemperatureRise
                    | TripCause::RiseRate
                    | TripCause::OverCurrent
                    | TripCause::ConductsWhenOff
                    | TripCause::SinkEnergy
                    | TripCause::SetUp
                    | TripCause::SecondLookMissing
            );
            if lasts {
                let refused = scene.guard.acknowledge(1, scene.now, &scene.inputs).unwrap_err();
                assert_eq!(refused.cause, RejectCause::CauseRemains, "case {number}, {cause:?}");
                assert!(scene.guard.latched().is_some());
            }
            // Everything is well again, and the sink has cooled.
            scene.inputs = Scene::new().inputs;
            scene.follows = true;
            scene.now = scene.now.saturating_add(Micros::from_secs(60));
            for _ in 0..10 {
                scene.step(Demand::Idle);
            }
            assert_eq!(
                scene.guard.acknowledge(1, scene.now, &scene.inputs),
                Ok(()),
                "case {number}, {cause:?}"
            );
            assert_eq!(scene.guard.latched(), None);
        }
    }
}

#[test]
fn a_missing_reading_must_be_back_before_its_trip_is_forgotten() {
    let lose: [fn(&mut Scene); 4] = [
        |s| s.set(|readings, now| readings.voltage.take(now, Err(NoData::NoAnswer))),
        |s| s.set(|readings, now| readings.current.take(now, Err(NoData::NoAnswer))),
        |s| s.set(|readings, now| readings.cell.take(now, Err(NoData::NoAnswer))),
        |s| s.set(|readings, now| readings.ambient.take(now, Err(NoData::NoAnswer))),
    ];
    for lose in lose {
        let mut scene = Scene::loaded();
        lose(&mut scene);
        assert_eq!(scene.judge(LOAD).tripped.unwrap().cause, TripCause::MissingReading);
        scene.step(Demand::Idle);
        assert!(scene.guard.acknowledge(1, scene.now, &scene.inputs).is_err());
        scene.inputs = Scene::new().inputs;
        scene.step(Demand::Idle);
        assert_eq!(scene.guard.acknowledge(1, scene.now, &scene.inputs), Ok(()));
    }
}

#[test]
fn trips_are_numbered_and_a_new_load_needs_all_checks_again() {
    let mut scene = Scene::latched();
    for _ in 0..10 {
        scene.step(Demand::Idle);
    }
    assert_eq!(scene.guard.acknowledge(1, scene.now, &scene.inputs), Ok(()));
    scene.volts(2_900_000);
    let trip = scene.judge(LOAD).tripped.unwrap();
    assert_eq!(trip.number, 2);
}

#[test]
fn at_the_limit_itself_a_cause_is_gone() {
    let mut scene = Scene::resting();
    scene.amps(300_000);
    assert!(scene.step(Demand::Rest(TERMS)).tripped.is_some());
    for (current, gone) in [(20_001, false), (-20_001, false), (20_000, true)] {
        scene.amps(current);
        assert_eq!(scene.guard.acknowledge(1, scene.now, &scene.inputs).is_ok(), gone, "{current}");
    }
    scene = Scene::resting();
    scene.volts(4_500_000);
    assert!(scene.step(Demand::Rest(TERMS)).tripped.is_some());
    for (voltage, gone) in [(4_400_001, false), (4_400_000, true)] {
        scene.volts(voltage);
        assert_eq!(scene.guard.acknowledge(1, scene.now, &scene.inputs).is_ok(), gone, "{voltage}");
    }
}

#[test]
fn a_sink_that_was_too_hot_must_have_lost_half_of_its_store() {
    // The store is full with 20 W for 5 s; from then on the sink loses 8 W.
    let mut scene = Scene::loaded();
    let begun = scene.now;
    let pass = |scene: &mut Scene, millis: u64, milliamps: i32| {
        let at = begun.saturating_add(Micros::from_millis(millis));
        let (voltage, current) = (MicroVolts::from_millivolts(4_000), MicroAmps::from_milliamps(milliamps));
        scene.guard.heat.pass(at, Some(voltage), Some(current));
    };
    pass(&mut scene, 6_000, 5_000);
    assert_eq!(scene.judge(LOAD).tripped.unwrap().cause, TripCause::SinkEnergy);
    let over = scene.guard.heat.held().get() - limits::SINK_STORE.get() / 2;
    let half_at = 6_000 + over as u64 / 8_000;
    for (millis, gone) in [(half_at - 1, false), (half_at + 1, true)] {
        pass(&mut scene, millis, 0);
        assert!(scene.guard.heat.held().get() > 0);
        let Scene { guard, now, inputs, .. } = &mut scene;
        assert_eq!(guard.acknowledge(1, *now, inputs).is_ok(), gone, "after {millis} ms");
    }
}
