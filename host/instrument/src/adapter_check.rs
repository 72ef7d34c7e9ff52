//! Small currents before the first load through an adapter: do the pins touch, is sense on the pack that is loaded, do the
//! contacts hold? The steps 1 to 4 of `hardware-notes/adapter.md`, in a plan of its own.
//!
//! Takes a client and what the label says; gives the resistance that sense saw at both currents, or what is wrong in words.
//! A force pin that is open is told by the fixture's guard, which drops the load ([`Tripped`](crate::error::InstrumentError::Tripped)). Step 5,
//! force against sense, needs a meter: the fixture does not tell its second look.

use crate::error::Result;
use crate::readings::{self, Reading, ReadingEvent, Wanted, run};
use celltriage_link::{Attendant, Client};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::units::{MicroAmps, Micros};

/// The two currents: harmless to any cell that may be loaded, and ten times what a coarse converter resolves.
const FIRST: MicroAmps = MicroAmps::from_milliamps(100);
const SECOND: MicroAmps = MicroAmps::from_milliamps(500);
/// How long each is held, and the part that is read.
const HELD: Micros = Micros::from_millis(500);
const READ: Micros = Micros::from_millis(250);
/// The rest before them ends so long after the one it is compared with, and is to be steady within this, in V.
const STEADY: Micros = Micros::from_secs(5);
const STEADY_V: f64 = 1e-3;
/// How far the first current may be from its set point, in A.
const CURRENT_A: f64 = 5e-3;
/// Below this, sense is not on the pack that is loaded; above, it stands behind a bad pin, or a protection is about to open.
const PATH_OHM: [f64; 2] = [0.005, 0.5];
/// By how much the two resistances may differ: the larger of both.
const AGREE_OHM: f64 = 0.010;
const AGREE_SHARE: f64 = 0.10;
/// Number of the plan; it only has to differ from the one after it.
const PLAN: u32 = 7_004;

/// What sense saw, in ohms, at the smaller and the larger current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// At 0.1 A.
    pub first_ohm: f64,
    /// At 0.5 A.
    pub second_ohm: f64,
}

/// Runs the check under the permit, label and charge limit of a plan that is to follow. What is wrong with the contacts is
/// the inner error, in words.
///
/// # Errors
/// The check was refused, tripped or stopped.
pub fn check(
    client: &mut Client<'_>,
    follows: &CellPlan,
    attendant: &mut dyn Attendant<ReadingEvent>,
) -> Result<std::result::Result<Seen, String>> {
    let later = Wanted { duration: STEADY, ..Wanted::REST };
    let wanted = [Wanted::REST, later, Wanted::hold(FIRST, HELD, READ), Wanted::hold(SECOND, HELD, READ)];
    let Plan { charge_limit, permit, .. } = follows.plan;
    let plan = Plan { charge_limit, permit, ..readings::plan(&wanted, PLAN) };
    let read = run(client, CellPlan { label: follows.label, plan }, &wanted, attendant)?;
    Ok(match read.as_slice() {
        [before, rest, first, second] => judge(before, rest, first, second),
        _ => Err("the check has not been read".to_owned()),
    })
}

fn judge(
    before: &Reading,
    rest: &Reading,
    first: &Reading,
    second: &Reading,
) -> std::result::Result<Seen, String> {
    let wandered = (rest.voltage_v.mean - before.voltage_v.mean).abs();
    if wandered > STEADY_V {
        return Err(format!(
            "without a current the voltage moved by {:.1} mV within {} s: a pin that hardly touches",
            wandered * 1e3,
            STEADY.get() / 1_000_000
        ));
    }
    let wanted_a = f64::from(FIRST.get()) / 1e6;
    if (first.current_a.mean - wanted_a).abs() > CURRENT_A {
        return Err(format!(
            "of {wanted_a} A only {:.3} A flow: a force pin does not touch",
            first.current_a.mean
        ));
    }
    let ohms = |hold: &Reading| (rest.voltage_v.mean - hold.voltage_v.mean) / hold.current_a.mean;
    let seen = Seen { first_ohm: ohms(first), second_ohm: ohms(second) };
    let [lowest, highest] = PATH_OHM;
    for ohm in [seen.first_ohm, seen.second_ohm] {
        if ohm.is_nan() || ohm < lowest {
            return Err(format!(
                "the voltage falls by less than {:.0} mOhm would make it: sense is not on the pack that is loaded",
                lowest * 1e3
            ));
        }
        if ohm > highest {
            return Err(format!(
                "{:.0} mOhm in the path, more than {:.0}: sense behind a bad pin, or a protection about to open",
                ohm * 1e3,
                highest * 1e3
            ));
        }
    }
    let differ = (seen.second_ohm - seen.first_ohm).abs();
    if differ > AGREE_OHM.max(AGREE_SHARE * seen.first_ohm) {
        return Err(format!(
            "{:.0} mOhm at 0.1 A and {:.0} mOhm at 0.5 A: a contact that changes with the current",
            seen.first_ohm * 1e3,
            seen.second_ohm * 1e3
        ));
    }
    Ok(seen)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::Mean;

    fn reading(volts: f64, amps: f64) -> Reading {
        let mean = |mean| Mean { mean, ..Mean::default() };
        Reading { voltage_v: mean(volts), current_a: mean(amps), ..Reading::default() }
    }

    fn judged(drift: f64, first: (f64, f64), second: (f64, f64)) -> std::result::Result<Seen, String> {
        let at = |(ohm, amps): (f64, f64)| reading(3.9 - ohm * amps, amps);
        judge(&reading(3.9 + drift, 0.0), &reading(3.9, 0.0), &at(first), &at(second))
    }

    #[test]
    fn sound_contacts_pass_and_each_fault_of_the_table_has_its_words() {
        let good = judged(0.0, (0.15, 0.1), (0.152, 0.5)).unwrap();
        assert!((good.first_ohm - 0.15).abs() < 1e-9 && (good.second_ohm - 0.152).abs() < 1e-9);
        for (drift, first, second, words) in [
            (0.0011, (0.15, 0.1), (0.15, 0.5), "hardly touches"),
            (0.0, (0.15, 0.094), (0.15, 0.5), "force pin does not touch"),
            (0.0, (0.0049, 0.1), (0.0051, 0.5), "sense is not on the pack"),
            (0.0, (0.15, 0.1), (0.0, 0.5), "sense is not on the pack"),
            (0.0, (0.501, 0.1), (0.5, 0.5), "more than 500"),
            (0.0, (0.05, 0.1), (0.061, 0.5), "changes with the current"),
            (0.0, (0.2, 0.1), (0.179, 0.5), "changes with the current"),
            (0.0, (f64::NAN, 0.1), (0.2, 0.5), "sense is not on the pack"),
        ] {
            let said = judged(drift, first, second).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
        assert!(judged(0.0009, (0.05, 0.1), (0.0599, 0.5)).is_ok());
        assert!(judged(0.0, (0.2, 0.1), (0.219, 0.5)).is_ok(), "10 % of more than 0.1 Ohm");
    }
}
