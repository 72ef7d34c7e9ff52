//! The longest discharge that is planned for: ten hours.

use crate::host::{plan, rest, run, step};
use crate::machine::Machine;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Step};
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros};
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
