//! What lies between the cell and the monitor's converter: sense leads, amplifier, shunt, and what is wrong with them.
//!
//! Takes the true voltage and current, gives what the converter sees of them.

use crate::chips::noise::Noise;

/// Highest voltage that an open sense input picks up (common practice: a few tenths of a volt through the input's
/// own resistance to ground).
const OPEN_INPUT_V: f64 = 0.3;

/// State of the sense leads.
#[derive(Clone, Copy, Debug, Default)]
pub enum SenseLeads {
    /// Both touch their tabs.
    #[default]
    Good,
    /// One hardly touches: up to so many volts are lost.
    Loose(f64),
    /// The positive one is off.
    Open,
    /// The negative one is off: the amplifier's resistors give half.
    NegativeOpen,
    /// They touch each other.
    Shorted,
}

/// The way of voltage and current to the monitor's converter.
#[derive(Clone, Debug)]
pub struct SensePath {
    /// The leads.
    pub leads: SenseLeads,
    /// Factor of the voltage.
    pub volts_gain: f64,
    /// Added to the voltage.
    pub volts_offset_v: f64,
    /// Factor of the current.
    pub amps_gain: f64,
    /// Added to the current.
    pub amps_offset_a: f64,
    /// Voltage and current that the converter sees instead of the true ones.
    pub replayed: Option<(f64, f64)>,
    wander: Noise,
}

impl SensePath {
    /// Returns a path without a fault; `wander` is what moves a lead that does not touch.
    pub const fn new(wander: Noise) -> Self {
        Self {
            leads: SenseLeads::Good,
            volts_gain: 1.0,
            volts_offset_v: 0.0,
            amps_gain: 1.0,
            amps_offset_a: 0.0,
            replayed: None,
            wander,
        }
    }

    /// Mends everything.
    pub const fn mend(&mut self) {
        self.leads = SenseLeads::Good;
        (self.volts_gain, self.volts_offset_v) = (1.0, 0.0);
        (self.amps_gain, self.amps_offset_a) = (1.0, 0.0);
        self.replayed = None;
    }

    /// Returns what the converter sees of a voltage and a current.
    pub fn seen(&mut self, voltage_v: f64, current_a: f64) -> (f64, f64) {
        let brought_v = match self.leads {
            SenseLeads::Good => voltage_v,
            SenseLeads::Loose(spread_v) => voltage_v - self.wander.uniform(spread_v),
            SenseLeads::Open => self.wander.uniform(OPEN_INPUT_V),
            SenseLeads::NegativeOpen => voltage_v / 2.0,
            SenseLeads::Shorted => 0.0,
        };
        let seen = (
            brought_v * self.volts_gain + self.volts_offset_v,
            current_a * self.amps_gain + self.amps_offset_a,
        );
        self.replayed.unwrap_or(seen)
    }
}
