//! What the program costs: instructions per sample, stack, bytes on the link. Prints what it measures.

use crate::host::{hold, plan, rest, run};
use crate::machine::{Machine, NS_PER_INSTRUCTION};
use crate::words::flag;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::library;
use celltriage_tests::Collector;

/// Instructions that a sample may cost at 1 kHz, on the mean.
const INSTRUCTIONS: f64 = 20_000.0;
/// Bytes on the link that a sample may cost at 1 kHz: what 115,200 bit/s carry, with half of it left over.
const BYTES: f64 = 5.76;
/// Stack that must never have been touched, of what the boards set aside for it.
const UNTOUCHED: f64 = 0.25;

#[test]
fn a_sample_each_millisecond_is_within_its_budget() {
    const SECONDS: u64 = 60;
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(1));
    let mut watch = Collector::default();
    let end = run(&machine, &plan(&[rest(2), hold(600, SECONDS, Micros::from_millis(1))]), &mut watch);
    assert_eq!(end.outcome, Outcome::Complete);
    machine.scene().wishes = flag::TELL_STACK;
    machine.wait_for("the stack", |scene| scene.stack.is_some());

    let scene = machine.scene();
    let blocks = watch
        .events
        .iter()
        .filter_map(|event| if let Event::Samples(block) = event { Some(block) } else { None });
    let samples: usize = blocks.map(|block| usize::from(block.count)).sum();
    // The rest of two seconds adds 200 samples of 10 ms; the fixture's passes without a plan are in the sum as well.
    let instructions = scene.executed_ns as f64 / NS_PER_INSTRUCTION / samples as f64;
    let longest = scene.longest_pass_ns as f64 / NS_PER_INSTRUCTION;
    let bytes = watch.frames.len() as f64 / samples as f64;
    let (untouched, size) = scene.stack.expect("it was told");
    println!(
        "budget: {instructions:.0} instructions per sample at 1 kHz on the mean of {samples} (at most {INSTRUCTIONS:.0})"
    );
    println!("budget: {longest:.0} instructions in the longest pass");
    println!("budget: {bytes:.2} bytes per sample on the link (at most {BYTES})");
    println!("budget: {} of {size} bytes of stack touched", size - untouched);
    assert!(instructions <= INSTRUCTIONS);
    // A pass that takes longer than a sample would leave a gap.
    assert!(longest * NS_PER_INSTRUCTION < 1e6);
    assert!(bytes <= BYTES);
    assert!(f64::from(untouched) >= UNTOUCHED * f64::from(size));
}
