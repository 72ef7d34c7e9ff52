//! The calibration on the emulated fixture: stored over the link, kept over power failures in the midst of a save.
//!
//! Every byte of a save is a place to fail in the store's own tests; here a few places in erase and write go through
//! the whole machine, power-up included.

use crate::host::Host;
use crate::machine::Machine;
use crate::player::lock;
use crate::words::SECTOR;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_simulated_board::library;
use std::sync::Arc;

/// Bytes that a save writes after its erase.
const RECORD: usize = 64;

fn calibration(number: u32) -> Calibration {
    let current = Channel { gain_ppm: -1_500, offset: number as i32 };
    Calibration { number, current, ..Calibration::default() }
}

fn stored(machine: &Machine) -> Calibration {
    match Host::new(machine).ask(&Request::ReadCalibration) {
        Reply::Calibration(calibration) => calibration,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_power_failure_in_a_save_leaves_the_old_or_the_new_calibration() {
    let cell = library::sound();
    let mut machine = Machine::with_cell(&cell, &cell.options(1));
    assert_eq!(stored(&machine), Calibration::default());
    assert_eq!(Host::new(&machine).ask(&Request::Calibrate(calibration(1))), Reply::Done);
    let mut old = calibration(1);
    let (mut kept, mut replaced) = (0, 0);
    let in_erase = [0, 1, 100, SECTOR / 2, SECTOR - 1];
    let in_write = [0, 1, 4, 9, 30, RECORD - 5, RECORD - 4, RECORD - 1, RECORD].map(|at| SECTOR + at);
    for (number, power) in (2..).zip(in_erase.into_iter().chain(in_write)) {
        let new = calibration(number);
        machine.scene().flash_power = power;
        let mut host = Host::new(&machine);
        if power < SECTOR + RECORD {
            host.say(&Request::Calibrate(new));
            // The bench stops answering then: the processor stands still in the midst of the save.
            machine.wait_for("the power failure", |scene| scene.power_has_failed);
        } else {
            assert_eq!(host.ask(&Request::Calibrate(new)), Reply::Done);
        }
        let scene = machine.unplug();
        lock(&scene).restore_power();
        machine = Machine::power_up(Arc::clone(&scene));
        let found = stored(&machine);
        assert!(found == old || found == new, "failed after {power} bytes: {found:?}");
        kept += u32::from(found == old);
        replaced += u32::from(found == new);
        old = found;
    }
    println!("{kept} saves cut short left the old calibration, {replaced} came through");
    assert!(kept > 0 && replaced > 0);
}
