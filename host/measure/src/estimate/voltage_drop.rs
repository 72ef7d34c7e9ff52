//! A resistance from two moments: drop of voltage over rise of current, with its budget.
//!
//! R = (U1 - U2 - drift - jump) (1 + gU) / ((I2 - I1) (1 + gI)) + contact + R x (method). Offsets of both channels cancel
//! in the differences; gains and what leads and contacts add do not. `drift` is what the resting voltage would have moved
//! between both moments by itself; `jump` may be a contact that moved; `method` is what the way of reading leaves open,
//! as a share.

use super::FrontEnd;
use crate::si::{Amps, Ohms, Volts};
use crate::uncertainty::{Budget, Input, Measurand};

/// Voltage and current at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moment {
    /// Voltage.
    pub(super) voltage: Volts,
    /// Its standard uncertainty, gain and offset apart.
    pub(super) voltage_deviation: Volts,
    /// Degrees of freedom of that.
    pub(super) degrees_of_freedom: f64,
    /// Current.
    pub(super) current: Amps,
    /// Its standard uncertainty, gain and offset apart.
    pub(super) current_deviation: Amps,
}

/// What else the number depends on.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Terms {
    /// Fall of the resting voltage between both moments that the load did not cause, and its standard uncertainty.
    pub(super) drift: Volts,
    pub(super) drift_deviation: Volts,
    /// Largest jump of the voltage without the current on the way; whether the cell made it is not known.
    pub(super) jump: Volts,
    /// Standard uncertainty of the way of reading, as a share of the resistance.
    pub(super) method: f64,
    /// Standard uncertainty that only this method has, such as the moment of the step.
    pub(super) timing: Ohms,
}

/// Propagates what is known of both moments to the resistance between them.
pub(super) fn resistance(front_end: &FrontEnd, before: &Moment, after: &Moment, terms: &Terms) -> Budget {
    let voltage = |name: &'static str, moment: &Moment| {
        Input::new(name, "V", moment.voltage.0, moment.voltage_deviation.0)
            .with_degrees_of_freedom(moment.degrees_of_freedom)
    };
    let current = |name: &'static str, moment: &Moment| {
        Input::new(name, "A", moment.current.0, moment.current_deviation.0)
    };
    let inputs = [
        voltage("voltage before", before),
        voltage("voltage after", after),
        current("current before", before),
        current("current after", after),
        front_end.voltage_gain_error(),
        front_end.current_gain_error(),
        front_end.contact_error(),
        Input::new("drift of the resting voltage", "V", terms.drift.0, terms.drift_deviation.0),
        Input::rectangular("jump of the voltage", "V", 0.0, terms.jump.0),
        Input::new("moment of the step", "ohm", 0.0, terms.timing.0),
        Input::new("way of reading", "1", 0.0, terms.method),
    ];
    let function = |[u1, u2, i1, i2, gain_u, gain_i, contact, drift, jump, timing, method]: [f64; 11]| {
        let plain = (u1 - u2 - drift - jump) * (1.0 + gain_u) / ((i2 - i1) * (1.0 + gain_i));
        plain * (1.0 + method) + contact + timing
    };
    Measurand::new(inputs, function).budget()
}
