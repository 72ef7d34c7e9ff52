//! Faults put into whole runs: each one that shows trips, and every one ends with the load off.

use crate::chips::Chip;
use crate::fault::{Fault, Injection};
use crate::fixture::SimulatedFixture;
use crate::library::{self, LibraryCell};
use crate::options::Options;
use crate::test_host::{Host, discharge, hold, rest};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::reply::{Activity, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{Micros, NoData};

fn host(cell: LibraryCell, options: Options) -> Host {
    Host::new(SimulatedFixture::new(cell.parameters, options))
}

/// Returns the true current when the sink has had time to settle.
fn settled_current(host: &mut Host) -> f64 {
    host.stay(Micros::from_millis(5));
    host.fixture.truth().unwrap().current_a
}

/// Runs a load, lets a fault begin in its middle; returns the host when the plan has ended.
fn with_fault(fault: Fault) -> (Host, Outcome) {
    let start = Micros::from_secs(8);
    let mut host = host(
        library::sound(),
        Options { initial_soc: 0.5, faults: vec![fault.at(start)], ..Options::default() },
    );
    let outcome = host.run(&[rest(5), hold(600, 20), rest(5)]);
    (host, outcome)
}

#[test]
fn every_fault_that_shows_trips_at_once_and_drops_the_load() {
    for (fault, causes) in [
        (Fault::OpenSenseLead, vec![TripCause::VoltageFloor]),
        (Fault::OpenForceLead, vec![TripCause::ContactLost]),
        (
            Fault::StuckSensor { chip: Chip::PowerMonitor, says_ready: false },
            vec![TripCause::StaleReading, TripCause::MissingReading],
        ),
        (Fault::StuckSensor { chip: Chip::PowerMonitor, says_ready: true }, vec![TripCause::StaleReading]),
        (Fault::StuckVoltage, vec![TripCause::StaleReading]),
        (
            Fault::StuckSensor { chip: Chip::CellThermometer, says_ready: false },
            vec![TripCause::StaleReading, TripCause::MissingReading],
        ),
        (
            Fault::WarmCell { temperature_c: 60.0 },
            vec![TripCause::RiseRate, TripCause::TemperatureRise, TripCause::OverTemperature],
        ),
        (Fault::ReversedCell, vec![TripCause::Polarity, TripCause::VoltageFloor, TripCause::ContactLost]),
        (Fault::SinkStuckOn { current_a: 2.0 }, vec![TripCause::OverCurrent]),
        (Fault::NoAnswer { chip: None }, vec![TripCause::MissingReading]),
        (Fault::NoAnswer { chip: Some(Chip::PowerMonitor) }, vec![TripCause::MissingReading]),
    ] {
        let (mut host, outcome) = with_fault(fault);
        assert_eq!(outcome, Outcome::Tripped, "{fault:?}");
        assert!(!host.fixture.load_is_on(), "{fault:?}");
        assert_eq!(host.fixture.activity(), Activity::Tripped, "{fault:?}");
        let trip = host.trip().unwrap();
        assert!(causes.contains(&trip.cause), "{fault:?}: {trip:?}");
        // A temperature needs its sensor's lag, a stale one its second. A monitor that says nothing new is borne for
        // 50 ms and three periods of 10 ms, and looked at a period later; one that repeats itself, for a hundred periods
        // of the current or six hundred of the voltage. The rest shows within a few samples.
        let longest = match fault {
            Fault::WarmCell { .. } => 3_000,
            Fault::StuckSensor { chip: Chip::CellThermometer, .. } => 1_500,
            Fault::StuckSensor { says_ready: true, .. } => 1_020,
            Fault::StuckVoltage => 6_020,
            Fault::StuckSensor { .. } => 95,
            _ => 30,
        };
        let after = trip.at.saturating_sub(Micros::from_secs(8));
        assert!(after <= Micros::from_millis(longest), "{fault:?}: {after}");
        if !matches!(fault, Fault::SinkStuckOn { .. }) {
            assert_eq!(settled_current(&mut host), 0.0, "{fault:?}");
        }
    }
}

#[test]
fn a_current_that_runs_away_behind_a_monitor_that_is_replayed_is_seen_by_the_second_look() {
    let start = Micros::from_secs(8);
    let faults = [Fault::ReplayedMonitor, Fault::StuckSetPoint { current_a: 3.0 }];
    let faults = faults.iter().map(|fault| fault.at(start)).collect();
    let mut host = host(library::sound(), Options { initial_soc: 0.5, faults, ..Options::default() });
    assert_eq!(host.run(&[rest(5), hold(600, 20), rest(5)]), Outcome::Tripped);
    let trip = host.trip().unwrap();
    assert!(matches!(trip.cause, TripCause::SecondLookCurrent | TripCause::SecondLookVoltage), "{trip:?}");
    // Three looks, one each 10 ms.
    assert!(trip.at.saturating_sub(start) <= Micros::from_millis(31), "{trip:?}");
    assert_eq!(settled_current(&mut host), 0.0);
}

#[test]
fn a_sink_that_conducts_when_off_is_found_at_rest() {
    let mut host = host(library::sound(), Options::default());
    host.start(&[rest(5), hold(600, 5)]);
    host.fixture.inject(Fault::SinkStuckOn { current_a: 0.3 }.at(Micros::ZERO));
    assert_eq!(host.finish(), Outcome::Tripped);
    assert_eq!(host.trip().unwrap().cause, TripCause::ConductsWhenOff);
}

#[test]
fn a_false_temperature_is_not_seen_and_the_load_goes_off_with_the_end_of_its_step() {
    for fault in
        [Fault::StuckSensor { chip: Chip::CellThermometer, says_ready: true }, Fault::ThermometerOffCell]
    {
        let (mut host, outcome) = with_fault(fault);
        assert_eq!(outcome, Outcome::Complete, "{fault:?}");
        assert!(!host.fixture.load_is_on(), "{fault:?}");
        assert_eq!(settled_current(&mut host), 0.0, "{fault:?}");
    }
}

#[test]
fn a_cell_that_must_not_be_loaded_never_is() {
    for (cell, options, causes) in [
        (library::reversed(), Options::default(), vec![TripCause::Polarity]),
        (library::deeply_discharged(), Options::default(), vec![TripCause::VoltageLow]),
        (library::tripped_protection(), Options::default(), vec![TripCause::VoltageLow]),
        (library::self_warming(), Options::default(), vec![TripCause::TemperatureRise]),
        (
            library::sound(),
            Options { cell_temperature_c: Some(5.0), ..Options::default() },
            vec![TripCause::TemperatureLow],
        ),
        (
            library::sound(),
            Options { cell_temperature_c: Some(38.0), ..Options::default() },
            vec![TripCause::TemperatureHigh, TripCause::TemperatureRise],
        ),
        (library::sound(), with_faults(&[Fault::LooseSenseLead { spread_v: 0.3 }]), vec![TripCause::Contact]),
        (
            library::sound(),
            with_faults(&[Fault::OpenSenseLead]),
            vec![TripCause::VoltageLow, TripCause::Contact],
        ),
        (library::sound(), with_faults(&[Fault::OpenForceLead]), vec![TripCause::SecondLookVoltage]),
    ] {
        let faults = options.faults.iter().chain(&cell.faults).copied().collect();
        let name = format!("{} with {faults:?}", cell.parameters.tables().name);
        let initial_soc = cell.initial_soc.min(0.6);
        let mut host = host(cell, Options { faults, initial_soc, ..options });
        host.start(&[rest(3), hold(600, 5)]);
        let before = host.fixture.truth().unwrap().charge_out_c;
        assert_eq!(host.finish(), Outcome::Tripped, "{name}");
        let trip = host.trip().unwrap();
        assert!(causes.contains(&trip.cause), "{name}: {trip:?}");
        let taken = host.fixture.truth().unwrap().charge_out_c - before;
        assert!(taken < 1e-6, "{name}: {taken} C");
    }
}

fn with_faults(faults: &[Fault]) -> Options {
    let faults: Vec<Injection> = faults.iter().map(|fault| fault.at(Micros::ZERO)).collect();
    Options { faults, ..Options::default() }
}

#[test]
fn a_refusal_at_any_transaction_ends_with_the_load_off() {
    let steps = [rest(2), hold(600, 1), rest(1)];
    let mut whole = host(library::sound(), Options::default());
    assert_eq!(whole.run(&steps), Outcome::Complete);
    let count = whole.fixture.transactions();
    let mut tripped = 0;
    for number in 1..=count {
        for fault in [Fault::NoAnswerOnce, Fault::NoAnswerTimes { count: 2 }, Fault::NoAnswer { chip: None }]
        {
            let faults = vec![fault.from_transaction(number)];
            let mut host = host(library::sound(), Options { faults, ..Options::default() });
            // A fixture whose chips cannot be set up may refuse the plan.
            if host.try_start(&steps) {
                let outcome = host.finish();
                tripped += u64::from(outcome == Outcome::Tripped);
                let borne = fault != Fault::NoAnswerOnce || outcome == Outcome::Complete;
                assert!(borne, "one refusal, of {number}: {:?}", host.trip());
            }
            assert!(!host.fixture.load_is_on(), "{fault:?} at {number}");
            assert_eq!(settled_current(&mut host), 0.0, "{fault:?} at {number}");
        }
    }
    // A refusal for good trips wherever it comes while the plan runs.
    assert!(tripped > count / 2, "{tripped} of {count}");
}

#[test]
fn a_chip_that_holds_the_data_line_is_clocked_free_and_the_run_goes_on() {
    for pulses in 1..=9 {
        let (host, outcome) = with_fault(Fault::DataHeld { pulses });
        assert_eq!(outcome, Outcome::Complete, "{pulses} pulses: {:?}", host.trip());
    }
}

#[test]
fn a_bus_that_stays_locked_drops_the_load_at_once_and_says_what_it_is() {
    let locked = i64::from(NoData::BusLocked as u8);
    for fault in [
        Fault::DataHeld { pulses: 10 },
        Fault::ClockHeld { time: Micros::from_millis(200) },
        Fault::ClockHeld { time: Micros::from_secs(100_000) },
    ] {
        let (mut host, outcome) = with_fault(fault);
        assert_eq!(outcome, Outcome::Tripped, "{fault:?}");
        let trip = host.trip().unwrap();
        assert_eq!((trip.cause, trip.limit), (TripCause::MissingReading, locked), "{fault:?}: {trip:?}");
        assert!(trip.at <= Micros::from_millis(8_030), "{fault:?}: {trip:?}");
        assert_eq!(settled_current(&mut host), 0.0, "{fault:?}");
        // The fixture goes on, with the load off, and answers.
        host.stay(Micros::from_secs(20));
        let state = host.state();
        assert_eq!((state.activity, state.load_on), (Activity::Tripped, false));
        assert!(host.fixture.watchdog_fed() > 200);
        host.fixture.mend();
        host.stay(Micros::from_secs(2));
        assert_eq!(host.ask(&Request::AcknowledgeTrip { trip: trip.number }), Reply::Done);
        assert_eq!(host.run(&[rest(2), hold(600, 1)]), Outcome::Complete);
    }
}

#[test]
fn two_thousand_refusals_in_five_hours_end_nothing() {
    const REFUSALS: u64 = 2_000;
    // Every nine seconds one; 401 is prime, so that every kind of transaction is met.
    let faults = (1..=REFUSALS).map(|k| Fault::NoAnswerOnce.from_transaction(k * 401)).collect();
    let options = Options { initial_soc: 1.0, faults, ..Options::default() };
    let mut host = host(library::sound(), options);
    assert_eq!(host.run(&[rest(10), discharge(576)]), Outcome::Complete, "{:?}", host.trip());
    let hours = host.fixture.now().get() as f64 / 3.6e9;
    println!("{REFUSALS} refusals in {} transactions, {hours:.2} h", host.fixture.transactions());
    assert!(hours > 4.5 && host.fixture.transactions() > REFUSALS * 401);
}

#[test]
fn a_silent_host_ends_the_plan() {
    let mut host = host(library::sound(), Options::default());
    host.start(&[hold(600, 20)]);
    let deadline = host.fixture.now().saturating_add(Micros::from_secs(10));
    while host.fixture.now() < deadline {
        host.listen(Micros::from_millis(100));
    }
    assert_eq!(host.trip().map(|trip| trip.cause), Some(TripCause::HostSilent));
    assert!(!host.fixture.load_is_on());
}

#[test]
fn whoever_only_asks_keeps_no_orphaned_load_on() {
    let mut host = host(library::sound(), Options::default());
    // The owner is gone in the pulse; the plan would go on with a load for a minute.
    host.start(&[rest(2), hold(3_000, 2), hold(1_500, 60)]);
    host.stay(Micros::from_millis(3_500));
    assert!((settled_current(&mut host) - 3.0).abs() < 0.05);
    host.ask(&Request::KeepAlive);
    let left = host.fixture.now();
    let questions = [Request::Identify, Request::ReadState, Request::ResendFrom { sequence: 0 }];
    for question in questions.iter().cycle() {
        if !host.fixture.load_is_on() {
            break;
        }
        assert!(host.fixture.now() < left.saturating_add(Micros::from_millis(3_100)), "the load is still on");
        host.fixture.send(&[0, 1, 2, 3, 0]);
        host.ask(question);
        host.listen(Micros::from_millis(20));
    }
    assert_eq!(host.trip().map(|trip| trip.cause), Some(TripCause::HostSilent));
    assert_eq!(settled_current(&mut host), 0.0);
}

#[test]
fn a_plan_that_has_run_loads_no_other_cell() {
    let mut host = host(library::sound(), Options::default());
    assert_eq!(host.run(&[rest(2), hold(3_000, 1), rest(1)]), Outcome::Complete);
    host.fixture.swap_cell(library::faded().parameters, 0.9);
    match host.ask(&Request::Start { plan: 1 }) {
        Reply::Rejected(reject) => {
            assert_eq!((reject.cause, reject.asked, reject.limit), (RejectCause::WrongPlan, 1, 0))
        }
        other => panic!("{other:?}"),
    }
    host.stay(Micros::from_secs(5));
    let taken = host.fixture.truth().unwrap().charge_out_c;
    assert!(taken.abs() < 1e-6, "{taken} C");
}

#[test]
fn a_trip_stays_until_it_is_acknowledged_with_its_cause_gone() {
    let mut host = host(library::sound(), Options::default());
    host.start(&[hold(600, 20)]);
    host.stay(Micros::from_secs(2));
    host.fixture.inject(Fault::SinkStuckOn { current_a: 2.0 }.at(Micros::ZERO));
    assert_eq!(host.finish(), Outcome::Tripped);
    let trip = host.trip().unwrap().number;
    assert!(matches!(host.ask(&Request::AcknowledgeTrip { trip }), Reply::Rejected(_)));
    host.fixture.mend();
    host.stay(Micros::from_secs(1));
    assert_eq!(host.ask(&Request::AcknowledgeTrip { trip }), Reply::Done);
    assert_eq!(host.state().activity, Activity::Idle);
    assert_eq!(host.run(&[rest(2), hold(600, 1)]), Outcome::Complete);
}
