//! The longest discharge that is planned for, ten hours; and one near its floor whose converter stands still.

use crate::host::{Host, plan, rest, run, step};
use crate::machine::Machine;
use celltriage_link::{Attendant, Recorder, RunEvent};
use celltriage_protocol::event::{Event, Outcome, StepEnd, Trip, TripCause};
use celltriage_protocol::label::{CellLabel, CellPlan};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Plan, Step};
use celltriage_protocol::reply::{RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros};
use celltriage_simulated_board::chips::Chip;
use celltriage_simulated_board::fault::Fault;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::{Imperfections, Options};
use celltriage_tests::Collector;
use std::time::Instant;

#[test]
fn ten_hours_of_discharge_count_the_charge_that_flowed() {
    let options = Options { initial_soc: 1.0, imperfections: Imperfections::NONE, ..Options::default() };
    let machine = Machine::with_cell(&library::sound(), &options);
    // A tenth of what the cell holds in one hour.
    let action = Action::Discharge {
        current: MicroAmps::from_milliamps(288),
        floor: MicroVolts::from_millivolts(3_000),
    };
    let period = Micros::new(u64::from(limits::LONGEST_LOADED_PERIOD_US));
    let discharge = Step { report_every: 10, ..step(action, 11 * 3_600, period) };
    let mut watch = Collector::default();
    let begun = Instant::now();
    let end = run(&machine, &plan(&[rest(5), discharge, rest(5)]), &mut watch);
    assert_eq!(end.outcome, Outcome::Complete);
    let told = watch.events.iter().rev().find_map(|event| match event {
        Event::StepEnded { charge: Ok(charge), .. } => Some(charge.get() as f64 / 1e6),
        _ => None,
    });
    let told = told.expect("the charge is told");
    let mut scene = machine.scene();
    let truth = scene.bench.truth().expect("a cell").charge_out_c;
    let hours = scene.now_ns as f64 / 3.6e12;
    println!(
        "{hours:.2} h in {:.0} s, {} bus transactions, told {told:.2} C, truly {truth:.2} C",
        begun.elapsed().as_secs_f64(),
        scene.bench.transactions()
    );
    assert!((9.5..10.1).contains(&hours), "{hours}");
    // One reading of 100 ms at 0.288 A is 0.03 C; the leak of 50 uA does not pass the shunt.
    assert!((told - truth).abs() < 0.1, "told {told} C, truly {truth} C");
    assert_eq!(scene.starts.len(), 1);
}

#[test]
fn an_iron_phosphate_cell_is_discharged_to_the_end_on_its_label() {
    let cell = library::iron_phosphate();
    let machine = Machine::with_cell(&cell, &Options { initial_soc: 0.12, ..Options::default() });
    let (current, floor) = (limits::LARGEST_STEADY, limits::LOWEST_LFP_END);
    let period = Micros::new(u64::from(limits::LONGEST_LOADED_PERIOD_US));
    let mut discharge = step(Action::Discharge { current, floor }, 3_600, period);
    discharge.bounds.lowest_voltage = floor;
    let plan =
        Plan { charge_limit: MicroVolts::from_millivolts(3_650), ..plan(&[rest(5), discharge, rest(5)]) };
    let mut watch = Collector::default();
    let end = run(&machine, CellPlan { label: cell.label(), plan: plan.clone() }, &mut watch);
    assert_eq!(end.outcome, Outcome::Complete);
    let ends: Vec<StepEnd> = watch
        .events
        .iter()
        .filter_map(|event| match event {
            Event::StepEnded { cause, .. } => Some(*cause),
            _ => None,
        })
        .collect();
    assert_eq!(ends, [StepEnd::Time, StepEnd::Floor, StepEnd::Time]);
    // Without the label the same plan is refused; nothing of it is left.
    let mut host = Host::new(&machine);
    match host.ask(&Request::Load(CellPlan { label: CellLabel::default(), plan })) {
        Reply::Rejected(reject) => {
            assert_eq!((reject.cause, reject.limit), (RejectCause::LowestVoltage, 2_600_000));
        }
        other => panic!("{other:?}"),
    }
}

/// Puts a fault in with the first samples of the discharge.
struct Spoiler<'a> {
    machine: &'a Machine,
    fault: Option<Fault>,
    trip: Option<Trip>,
}

impl Attendant<RunEvent> for Spoiler<'_> {
    fn sees(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Fixture(event) => match event {
                Event::Samples(block) if block.step == 1 => {
                    if let Some(fault) = self.fault.take() {
                        let mut scene = self.machine.scene();
                        let now = Micros::new(scene.now_ns / 1_000);
                        scene.bench.inject(fault.at(now));
                    }
                }
                Event::Tripped(trip) => self.trip = Some(*trip),
                _ => {}
            },
            RunEvent::Remark(text) => {
                let _nobody_listens = text;
            }
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

impl Recorder for Spoiler<'_> {
    fn keep(&mut self, _: &[u8]) -> Result<(), String> {
        Ok(())
    }
}

#[test]
fn a_converter_that_stands_still_near_the_floor_ends_the_discharge_above_two_and_a_half_volts() {
    let current = MicroAmps::from_milliamps(576);
    let action = Action::Discharge { current, floor: MicroVolts::from_millivolts(3_000) };
    let period = Micros::new(u64::from(limits::LONGEST_LOADED_PERIOD_US));
    let discharge = Step { report_every: 10, ..step(action, 600, period) };
    for (fault, seconds) in
        [(Fault::StuckSensor { chip: Chip::PowerMonitor, says_ready: true }, 10), (Fault::StuckVoltage, 60)]
    {
        let options = Options { initial_soc: 0.012, ..Options::default() };
        let machine = Machine::with_cell(&library::sound(), &options);
        let mut spoiler = Spoiler { machine: &machine, fault: Some(fault), trip: None };
        let end = run(&machine, &plan(&[rest(5), discharge]), &mut spoiler);
        assert_eq!(end.outcome, Outcome::Tripped, "{fault:?}");
        let trip = spoiler.trip.expect("a trip is told");
        assert_eq!((trip.cause, trip.limit), (TripCause::StaleReading, seconds * 1_000_000), "{fault:?}");
        let mut scene = machine.scene();
        assert!(!scene.bench.load_is_on());
        let truth = scene.bench.truth().expect("a cell");
        // Under the load it was lower by 0.6 A over less than 150 mOhm.
        println!("{fault:?}: {trip:?}, {truth:?}");
        assert!(truth.voltage_v > 2.6, "{truth:?}");
    }
}
