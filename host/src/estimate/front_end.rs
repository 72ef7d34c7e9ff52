//! What the measuring front end itself adds to the uncertainty of every number.
//!
//! All figures are standard uncertainties (one standard deviation) of a four-wire fixture with a calibrated shunt. They
//! are the table `[front_end]` of `hardware-notes/error_budget.toml`, which adds each up from its contributors, with
//! their sources (a test compares the two). From them follows the promise of 1 % + 0.3 mOhm (k = 2) on a resistance of
//! 30 mOhm and more; below that the contact decides.

use crate::si::{Amps, Kelvins, Ohms, Volts};

/// Standard uncertainties of the measuring channels.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontEnd {
    /// What measured, for people.
    pub name: String,
    /// Whether the figures are known to be those of the instrument that measured.
    pub is_known: bool,
    /// Gain of the voltage channel, as a share of the reading.
    pub voltage_gain: f64,
    /// Offset of the voltage channel.
    pub voltage_offset: Volts,
    /// Gain of the current channel, as a share of the reading.
    pub current_gain: f64,
    /// Offset of the current channel.
    pub current_offset: Amps,
    /// What leads and contacts still add after a four-wire connection.
    pub contact: Ohms,
    /// One thermometer, its contact included.
    pub temperature: Kelvins,
}

impl FrontEnd {
    /// Returns the budget of this project's fixture.
    pub fn fixture() -> Self {
        Self {
            name: "celltriage fixture".to_owned(),
            is_known: true,
            voltage_gain: 1e-3,
            voltage_offset: Volts(0.5e-3),
            current_gain: 5e-3,
            current_offset: Amps(0.2e-3),
            contact: Ohms(0.25e-3),
            temperature: Kelvins(0.3),
        }
    }

    /// Returns the same budget for a trace of unknown origin; estimates then carry a warning.
    pub fn unknown() -> Self {
        Self { name: "unknown instrument".to_owned(), is_known: false, ..Self::fixture() }
    }

    /// Returns what every number from an unknown instrument must say.
    pub fn warning(&self) -> Option<String> {
        (!self.is_known).then(|| {
            format!(
                "unknown instrument, taken as: voltage gain {} %, current gain {} %, contact {} mOhm",
                self.voltage_gain * 100.0,
                self.current_gain * 100.0,
                self.contact.0 * 1e3
            )
        })
    }

    /// Returns the standard uncertainty of a voltage read once, noise apart.
    pub fn of_voltage(&self, voltage: Volts) -> Volts {
        Volts((voltage.0 * self.voltage_gain).hypot(self.voltage_offset.0))
    }

    /// Returns the standard uncertainty of a resistance, where `noise` is that of the difference of voltages.
    ///
    /// Offsets cancel in differences; gains and contact do not.
    pub fn of_resistance(&self, resistance: Ohms, current: Amps, noise: Volts, current_noise: Amps) -> Ohms {
        let shares = [
            noise / current,
            resistance * (current_noise / current),
            resistance * self.voltage_gain,
            resistance * self.current_gain,
            self.contact,
        ];
        Ohms(shares.iter().map(|share| share.0 * share.0).sum::<f64>().sqrt())
    }
}

impl Default for FrontEnd {
    fn default() -> Self {
        Self::fixture()
    }
}
