//! The second look against the first reading, the load and the floor: an independent layer below the other checks.
//!
//! Takes the newest look and reading, gives a finding where they cannot both be of this cell under this load. A monitor that
//! stands still, drifts or is replayed is found here as soon as the cell has moved by the margin, whatever it says; and a look
//! that is itself wrong is found in the same way. A few looks in a row must say so; one that is not there is a trip at once.

use super::finding::{Check, Finding};
use super::values::oldest_electrical;
use super::{Inputs, Terms};
use crate::second_look::Look;
use celltriage_protocol::event::TripCause;
use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, NoData};

/// How many looks in a row were out of bounds, and what the newest one found.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SecondLook {
    bad: u32,
    finding: Option<Finding>,
    seen: Micros,
}

impl SecondLook {
    /// Takes the look of a moment, judged beside the newest reading; the same one again changes nothing.
    pub fn take(&mut self, at: Micros, look: Look, voltage: MicroVolts, set_point: MicroAmps) {
        if at <= self.seen {
            return;
        }
        self.seen = at;
        self.finding = judge(look, voltage, set_point);
        self.bad = if self.finding.is_some() { self.bad.saturating_add(1) } else { 0 };
    }

    /// Finds looks out of bounds, once there were too many in a row.
    pub fn check(&self) -> Check {
        match self.finding {
            Some(finding) if self.bad > limits::MOST_BAD_LOOKS => Err(finding),
            _ => Ok(()),
        }
    }
}

/// Finds a look that is not there or too old: the worst case.
pub(super) fn check_present(now: Micros, inputs: &Inputs, terms: Terms) -> Result<Look, Finding> {
    inputs.readings.look.within(now, oldest_electrical(terms.period)).map_err(missing)
}

/// Finds a current that still flows on a look with the load off, and a look that is not there.
pub(super) fn check_current_gone(now: Micros, inputs: &Inputs, oldest: Micros) -> Check {
    let look = inputs.readings.look.within(now, oldest).map_err(missing)?;
    check_current(look.current, MicroAmps::ZERO)
}

fn missing(cause: NoData) -> Finding {
    Finding { cause: TripCause::SecondLookMissing, value: cause as i64, limit: 0 }
}

fn judge(look: Look, voltage: MicroVolts, set_point: MicroAmps) -> Option<Finding> {
    check_voltage(look.voltage, voltage, set_point)
        .and_then(|()| check_current(look.current, set_point))
        .err()
}

/// The force lead is below the sense leads by the fall over clips, fuse and leads, and never above them. Since the first reading
/// may not be below the floor under load, this is a floor of its own for the second one: lower by fall and margin.
fn check_voltage(seen: MicroVolts, voltage: MicroVolts, set_point: MicroAmps) -> Check {
    let margin = i64::from(limits::LOOK_VOLTAGE_MARGIN.get());
    let fall = i64::from(set_point.get()) * limits::LOOK_LEAD_UOHM / 1_000_000;
    let voltage = i64::from(voltage.get());
    within(TripCause::SecondLookVoltage, i64::from(seen.get()), voltage - fall - margin, voltage + margin)
}

fn check_current(seen: MicroAmps, set_point: MicroAmps) -> Check {
    let set_point = i64::from(set_point.get());
    let margin = i64::from(limits::LOOK_CURRENT_MARGIN.get()) + set_point / 10;
    within(TripCause::SecondLookCurrent, i64::from(seen.get()), set_point - margin, set_point + margin)
}

fn within(cause: TripCause, value: i64, lowest: i64, highest: i64) -> Check {
    if value < lowest {
        return Err(Finding { cause, value, limit: lowest });
    }
    if value > highest { Err(Finding { cause, value, limit: highest }) } else { Ok(()) }
}
