//! The calibration on the emulated fixture: stored over the link, kept over a power failure at every moment of a save.
//!
//! In the write the power fails before every single byte, in the erase before every 61st; the store's own tests do it
//! before every single one there too.

use crate::host::Host;
use crate::machine::Machine;
use crate::words::SECTOR;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_simulated_board::library;

/// Bytes that a save writes after its erase.
const RECORD: usize = 64;

fn calibration(number: u32) -> Calibration {
    let current = Channel { gain_ppm: -1_500, offset: number as i32 };
    Calibration { number, current, ..Calibration::default() }
}

fn stored(host: &mut Host) -> Calibration {
    match host.ask(&Request::ReadCalibration) {
        Reply::Calibration(calibration) => calibration,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_power_failure_at_any_moment_of_a_save_leaves_the_old_or_the_new_calibration() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(1));
    let mut host = Host::new(&machine);
    assert_eq!(stored(&mut host), Calibration::default());
    assert_eq!(host.ask(&Request::Calibrate(calibration(1))), Reply::Done);
    let mut old = calibration(1);
    let (mut kept, mut replaced) = (0, 0);
    let moments = (0..SECTOR).step_by(61).chain(SECTOR..=SECTOR + RECORD);
    for (number, power) in (2..).zip(moments) {
        let new = calibration(number);
        let starts = machine.scene().starts.len();
        machine.scene().flash_power = power;
        if power < SECTOR + RECORD {
            host.say(&Request::Calibrate(new));
            machine.wait_for("the power failure", |scene| scene.starts.len() > starts);
        } else {
            assert_eq!(host.ask(&Request::Calibrate(new)), Reply::Done);
            assert_eq!(machine.scene().flash_power, 0, "a save changes as many bytes as this test thinks");
        }
        let found = stored(&mut host);
        assert!(found == old || found == new, "failed after {power} bytes: {found:?}");
        kept += u32::from(found == old);
        replaced += u32::from(found == new);
        old = found;
    }
    println!("{kept} saves cut short left the old calibration, {replaced} came through");
    assert!(kept > 100 && replaced > 0);
}

#[test]
fn a_calibration_outlives_the_machine() {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(1));
    assert_eq!(Host::new(&machine).ask(&Request::Calibrate(calibration(9))), Reply::Done);
    let machine = Machine::power_up(machine.unplug());
    assert_eq!(stored(&mut Host::new(&machine)), calibration(9));
}
