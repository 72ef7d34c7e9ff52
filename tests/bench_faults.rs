//! Whole assessments on a bench where something goes wrong: the load is off, the cause is named, nothing ends as good.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::{BenchCell, Client, RunEnd};
use celltriage_measure::plan::{Extent, plan};
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::chips::Chip;
use celltriage_simulated_board::fault::{Fault, Injection};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library::{self, LibraryCell};
use celltriage_tests::{Collector, SharedBench};
use celltriage_verdict::RunOutcome;

fn bench(cell: &LibraryCell, faults: &[Injection]) -> SharedBench {
    let mut options = cell.options(5);
    options.faults.extend_from_slice(faults);
    SharedBench::new(SimulatedFixture::new(cell.parameters.clone(), options))
}

fn screen(cell: &LibraryCell, faults: &[Injection]) -> (SharedBench, Collector, RunEnd) {
    let bench = bench(cell, faults);
    let label = BenchCell::find("sound").expect("a cell").nameplate;
    let planned = plan(&label, Extent::Screen, 1).expect("a plan");
    let (mut client, _, _) = Client::connect(bench.clone()).expect("connects");
    let mut watch = Collector::default();
    let end = client.run(&planned.plan, &mut watch).expect("the link is whole");
    drop(client);
    (bench, watch, end)
}

/// Takes what the fixture says after a trip, and the true current at the end.
fn is_dead(bench: &SharedBench) -> bool {
    let mut bytes = Vec::new();
    let mut fixture = bench.0.borrow_mut();
    fixture.receive(Micros::from_millis(200), &mut bytes);
    !fixture.load_is_on()
}

#[test]
fn each_fault_is_tripped_with_its_cause_and_the_load_off() {
    let under_load = Micros::from_secs(66);
    let at_rest = Micros::from_secs(30);
    let cases: [(&str, Fault, Micros, &[TripCause]); 9] = [
        ("open sense lead under load", Fault::OpenSenseLead, under_load, &[TripCause::VoltageFloor]),
        ("open force lead under load", Fault::OpenForceLead, under_load, &[TripCause::ContactLost]),
        (
            "hot cell at rest",
            Fault::WarmCell { temperature_c: 52.0 },
            at_rest,
            &[
                TripCause::OverTemperature,
                TripCause::TemperatureRise,
                TripCause::RiseRate,
                TripCause::TemperatureHigh,
            ],
        ),
        (
            "hot cell under load",
            Fault::WarmCell { temperature_c: 60.0 },
            under_load,
            &[TripCause::OverTemperature, TripCause::TemperatureRise, TripCause::RiseRate],
        ),
        ("reversed cell", Fault::ReversedCell, at_rest, &[TripCause::Polarity]),
        (
            "sink conducts when off",
            Fault::SinkStuckOn { current_a: 0.3 },
            at_rest,
            &[TripCause::ConductsWhenOff],
        ),
        (
            "sink runs away under load",
            Fault::SinkStuckOn { current_a: 4.0 },
            under_load,
            &[TripCause::OverCurrent],
        ),
        (
            "monitor silent under load",
            Fault::NoAnswer { chip: Some(Chip::PowerMonitor) },
            under_load,
            &[TripCause::MissingReading, TripCause::StaleReading],
        ),
        (
            "bus dead under load",
            Fault::NoAnswer { chip: None },
            under_load,
            &[TripCause::MissingReading, TripCause::StaleReading],
        ),
    ];
    for (name, fault, at, causes) in cases {
        let (bench, watch, end) = screen(&library::sound(), &[fault.at(at)]);
        assert_eq!(end.outcome, Outcome::Tripped, "{name}");
        let trip = end.trip.unwrap_or_else(|| panic!("{name}: no trip told"));
        assert!(causes.contains(&trip.cause), "{name}: {trip:?}");
        assert!(is_dead(&bench), "{name}: the load is still on");
        let recorded = Recorded::read(&watch.frames, None);
        assert!(matches!(recorded.run, RunOutcome::Tripped { .. }), "{name}: {:?}", recorded.run);
    }
}

#[test]
fn cells_that_must_not_be_loaded_never_are() {
    for (cell, cause) in [
        (library::deeply_discharged(), TripCause::VoltageLow),
        (library::tripped_protection(), TripCause::VoltageLow),
        (library::reversed(), TripCause::Polarity),
    ] {
        let name = cell.parameters.tables().name.clone();
        let (bench, watch, end) = screen(&cell, &[]);
        assert_eq!(end.trip.map(|trip| trip.cause), Some(cause), "{name}");
        assert!(is_dead(&bench), "{name}");
        let largest = watch
            .events
            .iter()
            .filter_map(|event| if let Event::Samples(block) = event { Some(block) } else { None })
            .flat_map(|block| block.samples())
            .map(|sample| sample.current.get())
            .max()
            .unwrap_or(0);
        assert!(largest < 20_000, "{name}: {largest} uA flowed");
    }
}

/// Returns transactions of a loaded run at which a fault is to begin: the first one by one (set-up), then a spread over all
/// phases, prime so that no rhythm is missed.
fn points() -> Vec<u64> {
    let (bench, _, end) = screen(&library::sound(), &[]);
    assert_eq!(end.outcome, Outcome::Complete);
    let clean = bench.0.borrow().transactions();
    assert!(clean > 20_000, "{clean} transactions");
    (1..=80).chain((81..400).step_by(7)).chain((401..clean).step_by(1_009)).collect()
}

#[test]
fn one_refusal_at_any_bus_transaction_is_borne() {
    for number in points() {
        let (bench, _, end) = screen(&library::sound(), &[Fault::NoAnswerOnce.from_transaction(number)]);
        assert_eq!(end.outcome, Outcome::Complete, "transaction {number}: {:?}", end.trip);
        assert!(is_dead(&bench), "transaction {number}: the load is still on");
    }
}

/// Two refusals in a row leave the load off at the end, whether they tripped or not.
#[test]
fn two_refusals_at_any_bus_transaction_end_with_the_load_off() {
    let points = points();
    let mut tripped = 0;
    for &number in &points {
        let twice = Fault::NoAnswerTimes { count: 2 }.from_transaction(number);
        let (bench, _, end) = screen(&library::sound(), &[twice]);
        assert!(is_dead(&bench), "transaction {number} and the next: the load is still on");
        tripped += usize::from(end.outcome == Outcome::Tripped);
    }
    println!("{tripped} of {} doubles tripped, the others were at rest and told as missing", points.len());
    assert!(tripped > 0, "refusals under load must trip");
}

#[test]
fn refusals_for_good_from_any_bus_transaction_trip() {
    for number in points().into_iter().filter(|number| *number > 400) {
        let (bench, _, end) =
            screen(&library::sound(), &[Fault::NoAnswer { chip: None }.from_transaction(number)]);
        assert_eq!(end.outcome, Outcome::Tripped, "transaction {number} on");
        assert!(is_dead(&bench), "transaction {number} on: the load is still on");
    }
}
