//! What the measuring front end itself adds to the uncertainty of every number.
//!
//! All figures are standard uncertainties (one standard deviation) of a four-wire fixture with a calibrated shunt. They
//! are the table `[front_end]` of `hardware-notes/error_budget.toml`, which adds each up from its contributors, with
//! their sources (a test compares the two). From them follows the promise of 1 % + 0.3 mOhm (k = 2) on a resistance of
//! 30 mOhm and more; below that the contact decides.

use crate::observation::SensedAt;
use crate::si::{Amps, Kelvins, Ohms, Volts};
use crate::uncertainty::{Input, Measurand};
use serde::{Deserialize, Serialize};

/// What a calibration leaves in doubt of a channel, as standard uncertainties: its reference and its readings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Doubt {
    /// Of the gain, as a share of the reading.
    pub gain: f64,
    /// Of the offset, in V or A.
    pub offset: f64,
}

/// The rows of the budget that a calibration's own figures replace (`hardware-notes/error_budget.toml`; a test compares
/// them): reference meter at 4 V and its digits, reference current at 1.5 A, thermometer.
pub const BUDGETED_VOLTAGE: Doubt = Doubt { gain: 0.5774e-3, offset: 0.1155e-3 };
/// See [`BUDGETED_VOLTAGE`]; the offset of the current is found with the load off, without a reference.
pub const BUDGETED_CURRENT: Doubt = Doubt { gain: 2.8868e-3, offset: 0.0 };
/// See [`BUDGETED_VOLTAGE`], in K.
pub const BUDGETED_THERMOMETER: f64 = 0.05774;
/// A channel that was never calibrated: 0.5 % of divider and monitor and several millivolts of offset; 1 % of shunt
/// (limits taken as rectangular; parts' tolerances as in `protocol/src/calibration.rs`, the offset from memory).
const NEVER_VOLTAGE: Doubt = Doubt { gain: 2.9e-3, offset: 2.9e-3 };
/// See [`NEVER_VOLTAGE`].
const NEVER_CURRENT: Doubt = Doubt { gain: 5.8e-3, offset: 0.2e-3 };
/// The current and the clock of an instrument that nobody knows: within 2 % each, taken as rectangular (common practice: simple
/// chargers and loggers state 1 to 2 % of the current; a processor's own oscillator without a crystal keeps time to 1 to 2 %).
const UNKNOWN_CURRENT_GAIN: f64 = 11.5e-3;
/// See [`UNKNOWN_CURRENT_GAIN`].
const UNKNOWN_CLOCK: f64 = 11.5e-3;

/// What the sprung pins of the adapter add (`[front_end]` of the budget; a test compares them).
pub const SPRUNG_PINS: Ohms = Ohms(0.7e-3);

/// Names of the lines that a budget has from the front end.
pub(super) const VOLTAGE_GAIN: &str = "voltage gain";
/// See [`VOLTAGE_GAIN`].
pub(super) const CURRENT_GAIN: &str = "current gain";
/// See [`VOLTAGE_GAIN`].
pub(super) const CONTACT: &str = "leads and contact";

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
    /// The clock, as a share of the time; the fixture's crystal (some 1e-5) is as good as none.
    pub clock: f64,
    /// The clock of the fixture's own charge counter, as a share of the time.
    pub counter_clock: f64,
    /// What leads and contacts still add after a four-wire connection.
    pub contact: Ohms,
    /// One thermometer with its contact, on a cell some 10 K from the air.
    pub temperature: Kelvins,
    /// One thermometer alone, as it counts in a difference between two.
    pub thermometer: Kelvins,
    /// What pad and cable of the cell's thermometer lose, as a share of the cell's difference to the air.
    pub thermometer_loss: f64,
}

impl FrontEnd {
    /// Returns the budget of this project's fixture.
    pub fn fixture() -> Self {
        Self {
            name: "celltriage fixture".to_owned(),
            is_known: true,
            voltage_gain: 1e-3,
            voltage_offset: Volts(0.5e-3),
            current_gain: 3.5e-3,
            current_offset: Amps(0.2e-3),
            clock: 0.0,
            counter_clock: 3.5e-3,
            contact: Ohms(0.25e-3),
            temperature: Kelvins(0.3),
            thermometer: Kelvins(0.07),
            thermometer_loss: 0.03,
        }
    }

    /// Returns the budget of a fixture whose calibration left this in doubt; nothing stands for a channel that was never
    /// calibrated, but for the thermometers, whose makers calibrate them.
    pub fn calibrated(voltage: Option<Doubt>, current: Option<Doubt>, thermometer_k: Option<f64>) -> Self {
        let budget = Self::fixture();
        // Put in the place of the row that the budget supposes; never below what the other rows leave.
        let instead =
            |whole: f64, row: f64, found: f64| (whole * whole - row * row).max(0.0).sqrt().hypot(found);
        let voltage = voltage.unwrap_or(NEVER_VOLTAGE);
        let current = current.unwrap_or(NEVER_CURRENT);
        let thermometer = thermometer_k.unwrap_or(BUDGETED_THERMOMETER);
        Self {
            voltage_gain: instead(budget.voltage_gain, BUDGETED_VOLTAGE.gain, voltage.gain),
            voltage_offset: Volts(instead(budget.voltage_offset.0, BUDGETED_VOLTAGE.offset, voltage.offset)),
            current_gain: instead(budget.current_gain, BUDGETED_CURRENT.gain, current.gain),
            current_offset: Amps(instead(budget.current_offset.0, BUDGETED_CURRENT.offset, current.offset)),
            temperature: Kelvins(instead(budget.temperature.0, BUDGETED_THERMOMETER, thermometer)),
            ..budget
        }
    }

    /// Returns the same with the contacts of that place: sprung pins instead of clips (`contact_adapter_ohm` of the budget).
    /// Nothing said is clips, as it always was; an instrument with worse contacts keeps them.
    #[must_use]
    pub fn sensing(mut self, place: Option<SensedAt>) -> Self {
        if place.is_some_and(SensedAt::needs_sprung_pins) {
            self.contact = Ohms(self.contact.0.max(SPRUNG_PINS.0));
        }
        self
    }

    /// Returns the budget for a trace of unknown origin: channels that nobody is known to have calibrated. Leads and contact
    /// stay those of four wires; what two would add depends on the clips and may be anything. Estimates carry a warning.
    pub fn unknown() -> Self {
        let never = Self::calibrated(None, None, None);
        let (current_gain, clock) = (UNKNOWN_CURRENT_GAIN, UNKNOWN_CLOCK);
        // How its thermometers lie on cell and in the air is not known either: each counts whole in a difference.
        let (thermometer, thermometer_loss) = (never.temperature, 0.0);
        let name = "unknown instrument".to_owned();
        Self { name, is_known: false, current_gain, clock, thermometer, thermometer_loss, ..never }
    }

    /// Returns what every number from an unknown instrument must say.
    pub fn warning(&self) -> Option<String> {
        (!self.is_known).then(|| {
            format!(
                "unknown instrument, taken as: voltage gain {:.1} %, current gain {:.1} %, clock {:.1} %, contact {} mOhm \
                 (four wires)",
                self.voltage_gain * 100.0,
                self.current_gain * 100.0,
                self.clock * 100.0,
                self.contact.0 * 1e3
            )
        })
    }

    /// Returns the error of the voltage channel's gain, as a share of the reading.
    pub fn voltage_gain_error(&self) -> Input {
        Input::new(VOLTAGE_GAIN, "1", 0.0, self.voltage_gain)
    }

    /// Returns the error of the voltage channel at zero. It cancels in differences.
    pub fn voltage_offset_error(&self) -> Input {
        Input::new("voltage offset", "V", 0.0, self.voltage_offset.0)
    }

    /// Returns the error of the current channel's gain, as a share of the reading.
    pub fn current_gain_error(&self) -> Input {
        Input::new(CURRENT_GAIN, "1", 0.0, self.current_gain)
    }

    /// Returns the error of the current channel at zero. It cancels in differences.
    pub fn current_offset_error(&self) -> Input {
        Input::new("current offset", "A", 0.0, self.current_offset.0)
    }

    /// Returns the error of the clock, as a share of the time.
    pub fn clock_error(&self) -> Input {
        Input::new("clock", "1", 0.0, self.clock)
    }

    /// Returns the error of the clock of the fixture's own charge counter, as a share of the time.
    pub fn counter_clock_error(&self) -> Input {
        Input::new("clock of the counter", "1", 0.0, self.counter_clock)
    }

    /// Returns what leads and contacts add.
    pub fn contact_error(&self) -> Input {
        Input::new(CONTACT, "ohm", 0.0, self.contact.0)
    }

    /// Returns the error of one thermometer, as it counts in a difference between two.
    pub fn thermometer_error(&self, which: &'static str) -> Input {
        Input::new(which, "K", 0.0, self.thermometer.0)
    }

    /// Returns what pad and cable of the cell's thermometer lose, as a share of the cell's difference to the air.
    pub fn thermometer_loss_error(&self) -> Input {
        Input::new("contact of the thermometer", "1", 0.0, self.thermometer_loss)
    }

    /// Returns the standard uncertainty of a resistance that is read without noise.
    pub fn of_resistance(&self, resistance: Ohms) -> Ohms {
        let inputs = [self.voltage_gain_error(), self.current_gain_error(), self.contact_error()];
        let read = |[voltage, current, contact]: [f64; 3]| {
            resistance.0 * (1.0 + voltage) / (1.0 + current) + contact
        };
        Ohms(Measurand::new(inputs, read).budget().standard_uncertainty)
    }
}

impl Default for FrontEnd {
    fn default() -> Self {
        Self::fixture()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reference_as_budgeted_leaves_the_budget_and_a_better_one_less() {
        let budget = FrontEnd::fixture();
        let same = FrontEnd::calibrated(Some(BUDGETED_VOLTAGE), Some(BUDGETED_CURRENT), None);
        assert!((same.voltage_gain - budget.voltage_gain).abs() < 1e-12);
        assert!((same.current_gain - budget.current_gain).abs() < 1e-12);
        let better = Doubt { gain: 1e-4, offset: 1e-5 };
        let better = FrontEnd::calibrated(Some(better), Some(better), Some(0.02));
        assert!(better.voltage_gain < budget.voltage_gain && better.current_gain < budget.current_gain);
        // The other rows stay: 0.1 % less its reference's share.
        assert!(better.voltage_gain > 0.8e-3, "{}", better.voltage_gain);
        let never = FrontEnd::calibrated(None, None, None);
        assert!(
            never.voltage_offset.0 > 5.0 * budget.voltage_offset.0
                && never.current_gain > budget.current_gain
        );
        assert_eq!(never.temperature, budget.temperature);
    }

    #[test]
    fn sprung_pins_add_their_doubt_and_nothing_said_adds_none() {
        let fixture = FrontEnd::fixture();
        assert_eq!(fixture.clone().sensing(None), fixture);
        assert_eq!(fixture.clone().sensing(Some(SensedAt::Tabs)), fixture);
        for place in [SensedAt::CellPads, SensedAt::PackPads, SensedAt::Connector] {
            let pins = fixture.clone().sensing(Some(place));
            assert_eq!(pins.contact, SPRUNG_PINS);
            assert_eq!(FrontEnd { contact: fixture.contact, ..pins }, fixture);
        }
        let worse = FrontEnd { contact: Ohms(2e-3), ..fixture };
        assert_eq!(worse.clone().sensing(Some(SensedAt::Connector)), worse);
    }

    #[test]
    fn an_instrument_that_nobody_knows_is_trusted_less_than_the_fixture() {
        let (unknown, fixture) = (FrontEnd::unknown(), FrontEnd::fixture());
        assert!(
            unknown.voltage_gain > 2.0 * fixture.voltage_gain && unknown.current_gain > fixture.current_gain
        );
        assert!(unknown.voltage_offset.0 > 2.0 * fixture.voltage_offset.0);
        let warning = unknown.warning().unwrap();
        assert!(warning.contains("voltage gain 0.3 %") && warning.contains("four wires"), "{warning}");
    }
}
