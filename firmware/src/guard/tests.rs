//! Every state of the guard against every cause, and each limit on both sides.

extern crate std;

mod course;
mod forgetting;
mod second_look;
mod table;
mod unchanged;

use super::*;
use crate::second_look::Look;
use celltriage_protocol::event::TripCause;
use celltriage_protocol::units::{MicroCoulombs, NoData};
use table::cases;

const PERIOD: Micros = Micros::from_millis(10);
const TERMS: Terms = Terms {
    permit: Permit::Load,
    charge_limit: MicroVolts::from_millivolts(4_350),
    floor: limits::LOADED_FLOOR,
    period: PERIOD,
};
const CURRENT: MicroAmps = MicroAmps::from_milliamps(1_000);
const LOAD: Demand = Demand::Load(TERMS, CURRENT);

/// A guard with its clock and the inputs it sees next.
#[derive(Clone)]
struct Scene {
    guard: Guard,
    now: Micros,
    inputs: Inputs,
    steps: u32,
    /// Whether voltage and current have no noise at all.
    still: bool,
    /// Whether the second look sees what the first reading says, at every moment.
    follows: bool,
}

impl Scene {
    fn new() -> Self {
        let mut scene = Self {
            guard: Guard::default(),
            now: Micros::from_secs(1_000),
            inputs: Inputs::default(),
            steps: 0,
            still: false,
            follows: true,
        };
        scene.set(|readings, now| {
            readings.voltage.take(now, Ok(MicroVolts::from_millivolts(3_900)));
            readings.current.take(now, Ok(MicroAmps::ZERO));
            readings.cell.take(now, Ok(MilliCelsius::new(23_000)));
            readings.ambient.take(now, Ok(MilliCelsius::new(22_500)));
            readings.charge.take(now, Ok(MicroCoulombs::ZERO));
        });
        for _ in 0..10 {
            scene.step(Demand::Idle);
        }
        scene
    }

    fn set(&mut self, change: impl Fn(&mut Readings, Micros)) {
        change(&mut self.inputs.readings, self.now);
    }

    fn volts(&mut self, microvolts: i32) {
        self.set(|readings, now| readings.voltage.take(now, Ok(MicroVolts::new(microvolts))));
    }

    fn amps(&mut self, microamps: i32) {
        self.set(|readings, now| readings.current.take(now, Ok(MicroAmps::new(microamps))));
    }

    /// Lets the guard have seen this three times on its second look.
    fn looks_thrice(&mut self, microvolts: i32, microamps: i32) {
        let look = Look { voltage: MicroVolts::new(microvolts), current: MicroAmps::new(microamps) };
        for tick in 1..=3 {
            let at = self.now.saturating_add(Micros::new(tick));
            self.guard.second_look.take(at, look, MicroVolts::from_millivolts(3_900), CURRENT);
        }
    }

    fn cell(&mut self, millidegrees: i32) {
        self.set(|readings, now| readings.cell.take(now, Ok(MilliCelsius::new(millidegrees))));
    }

    fn ambient(&mut self, millidegrees: i32) {
        self.set(|readings, now| readings.ambient.take(now, Ok(MilliCelsius::new(millidegrees))));
    }

    /// Lets one sample pass: what has not failed is read again with the same value, but that the last digits of voltage
    /// and current never stand still for long; the host speaks.
    fn step(&mut self, demand: Demand) -> Outputs {
        self.now = self.now.saturating_add(PERIOD);
        self.inputs.last_word = self.now;
        let now = self.now;
        self.steps += 1;
        let noise = i32::from(!self.still && self.steps.is_multiple_of(50));
        let readings = &mut self.inputs.readings;
        fn again<T: Copy>(aged: &mut crate::readings::Aged<T>, now: Micros) {
            if let (None, Some((value, _))) = (aged.failure(), aged.last()) {
                aged.take(now, Ok(value));
            }
        }
        if let (None, Some((voltage, _))) = (readings.voltage.failure(), readings.voltage.last()) {
            readings.voltage.take(now, Ok(MicroVolts::new(voltage.get() ^ noise)));
        }
        if let (None, Some((current, _))) = (readings.current.failure(), readings.current.last()) {
            readings.current.take(now, Ok(MicroAmps::new(current.get() ^ noise)));
        }
        again(&mut readings.cell, now);
        again(&mut readings.ambient, now);
        again(&mut readings.charge, now);
        self.judge(demand)
    }

    /// Lets the guard judge the inputs as they are, without time passing.
    fn judge(&mut self, demand: Demand) -> Outputs {
        let readings = &mut self.inputs.readings;
        if let (true, Some((voltage, _)), Some((current, _))) =
            (self.follows, readings.voltage.last(), readings.current.last())
        {
            readings.look.take(self.now, Ok(Look { voltage, current }));
        }
        let outputs = self.guard.step(self.now, &self.inputs, demand);
        // In no state and for no input may these differ.
        assert!(outputs.load_on || outputs.set_point == MicroAmps::ZERO);
        assert!(outputs.tripped.is_none() || !outputs.load_on);
        assert_eq!(outputs.load_on, self.guard.is_loaded());
        outputs
    }

    fn resting() -> Self {
        let mut scene = Self::new();
        for _ in 0..10 {
            assert_eq!(scene.step(Demand::Rest(TERMS)), Outputs::default());
        }
        scene
    }

    fn loaded() -> Self {
        let mut scene = Self::resting();
        assert_eq!(scene.judge(LOAD), Outputs { load_on: true, set_point: CURRENT, tripped: None });
        scene.amps(CURRENT.get());
        for _ in 0..10 {
            assert!(scene.step(LOAD).load_on);
        }
        scene
    }

    fn latched() -> Self {
        let mut scene = Self::loaded();
        scene.inputs.reversed = true;
        assert!(scene.step(LOAD).tripped.is_some());
        scene.inputs.reversed = false;
        scene.amps(0);
        scene
    }
}

#[test]
fn every_cause_in_every_state_does_what_the_table_says() {
    let mut seen = std::collections::HashSet::new();
    for (number, (spoil, expected)) in cases().into_iter().enumerate() {
        let scenes = [
            (Scene::new(), Demand::Idle),
            (Scene::resting(), Demand::Rest(TERMS)),
            (Scene::resting(), LOAD),
            (Scene::loaded(), LOAD),
        ];
        for ((mut scene, demand), expected) in scenes.into_iter().zip(expected) {
            spoil(&mut scene);
            let outputs = scene.judge(demand);
            let found = outputs.tripped.map(|trip| trip.cause);
            assert_eq!(found, expected, "case {number}, {demand:?}: {:?}", outputs.tripped);
            seen.extend(found);
            if let Some(trip) = outputs.tripped {
                assert_eq!((trip.number, trip.at), (1, scene.now));
                assert_eq!(scene.guard.latched(), Some(trip));
                // Whatever is asked for now, the load stays off and no second trip is told.
                for demand in [LOAD, Demand::Rest(TERMS), Demand::Idle, LOAD] {
                    assert_eq!(scene.judge(demand), Outputs::default());
                }
            }
        }
        let mut latched = Scene::latched();
        let first = latched.guard.latched();
        spoil(&mut latched);
        assert_eq!(latched.judge(LOAD), Outputs::default());
        assert_eq!(latched.guard.latched(), first, "the first cause is kept");
    }
    // The one cause that the table cannot show: its terms are not those of the other scenes.
    seen.insert(TripCause::Forbidden);
    assert_eq!(seen.len(), TripCause::SecondLookCurrent as usize + 1, "every cause is in the table");
}

#[test]
fn at_the_limit_itself_nothing_trips() {
    let at_rest: [fn(&mut Scene); 6] = [
        |s| s.volts(4_400_000),
        |s| s.ambient(21_000),
        |s| s.cell(23_500),
        |s| s.amps(20_000),
        |s| s.amps(-20_000),
        |s| s.inputs.last_word = s.now.saturating_sub(limits::HOST_SILENCE),
    ];
    for (number, spoil) in at_rest.into_iter().enumerate() {
        for demand in [Demand::Rest(TERMS), LOAD] {
            let mut scene = Scene::resting();
            spoil(&mut scene);
            assert_eq!(scene.judge(demand).tripped, None, "at rest {number}, {demand:?}");
        }
    }
    let under_load: [fn(&mut Scene); 6] = [
        |s| s.volts(2_500_000),
        |s| s.ambient(15_000),
        |s| s.cell(24_500),
        |s| s.amps(900_000),
        |s| s.amps(1_150_000),
        |s| {
            s.now = s.now.saturating_add(Micros::new(80_000));
            s.inputs.last_word = s.now;
        },
    ];
    for (number, spoil) in under_load.into_iter().enumerate() {
        let mut scene = Scene::loaded();
        spoil(&mut scene);
        assert!(scene.judge(LOAD).load_on, "under load {number}");
    }
    let mut scene = Scene::resting();
    scene.volts(3_000_000);
    assert!(scene.judge(LOAD).load_on);
}

#[test]
fn the_floor_under_load_is_that_of_the_terms_and_before_a_load_is_not_lowered() {
    let deep = Demand::Load(Terms { floor: MicroVolts::from_millivolts(1_900), ..TERMS }, CURRENT);
    let mut scene = Scene::loaded();
    scene.volts(1_900_000);
    assert!(scene.judge(deep).load_on);
    let mut scene = Scene::loaded();
    scene.volts(1_899_999);
    let trip = scene.judge(deep).tripped.unwrap();
    assert_eq!((trip.cause, trip.value, trip.limit), (TripCause::VoltageFloor, 1_899_999, 1_900_000));
    let mut scene = Scene::resting();
    scene.volts(2_999_999);
    assert_eq!(scene.judge(deep).tripped.unwrap().cause, TripCause::VoltageLow);
}
