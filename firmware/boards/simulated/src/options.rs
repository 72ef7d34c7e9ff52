//! What can be chosen about a simulated bench besides its cell.

use crate::chips::channel::ChannelErrors;
use crate::controller_adc::LookErrors;
use crate::fault::Injection;
use celltriage_protocol::calibration::Calibration;

/// Errors of the parts, as a fixture fresh from the soldering iron has them; a calibration can tell them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Imperfections {
    /// Voltage and current channel.
    pub channels: ChannelErrors,
    /// Added by the cell's thermometer, in kelvin.
    pub cell_thermometer_k: f64,
    /// Added by the air's thermometer, in kelvin.
    pub ambient_thermometer_k: f64,
    /// Relative error of the sink's set point.
    pub set_point_gain: f64,
    /// The controller's own converter.
    pub look: LookErrors,
}

impl Default for Imperfections {
    /// Returns small fixed errors: those of the channels, thermometers well inside their 0.1 K (data sheet, from
    /// memory), a sink regulated to a third of a percent (design value).
    fn default() -> Self {
        Self {
            channels: ChannelErrors::default(),
            cell_thermometer_k: 0.04,
            ambient_thermometer_k: -0.03,
            set_point_gain: 0.003,
            look: LookErrors::default(),
        }
    }
}

impl Imperfections {
    /// Returns parts without errors; noise and codes remain.
    pub const NONE: Self = Self {
        channels: ChannelErrors {
            voltage_gain: 0.0,
            voltage_offset_v: 0.0,
            current_gain: 0.0,
            shunt_offset_v: 0.0,
        },
        cell_thermometer_k: 0.0,
        ambient_thermometer_k: 0.0,
        set_point_gain: 0.0,
        look: LookErrors {
            supply: 0.0,
            filter_drop_v: 0.0,
            reference: 0.0,
            divider: 0.0,
            leak_a: 0.0,
            zero_codes: 0.0,
        },
    };
}

/// Choices for a simulated bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Seed of all noise: the same seed and the same requests give the same bytes.
    pub seed: u64,
    /// Serial number of the fixture.
    pub serial: u64,
    /// Temperature of the air in degrees Celsius.
    pub ambient_c: f64,
    /// State of charge of the cell, 1 = full; a little below 0 is a deeply discharged cell.
    pub initial_soc: f64,
    /// Temperature of the cell in degrees Celsius, if it has not lain in the room for long.
    pub cell_temperature_c: Option<f64>,
    /// Faults and when they begin.
    pub faults: Vec<Injection>,
    /// Errors of the parts.
    pub imperfections: Imperfections,
    /// Calibration in the permanent store.
    pub calibration: Option<Calibration>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            seed: 1,
            serial: 1,
            ambient_c: 25.0,
            initial_soc: 0.5,
            cell_temperature_c: None,
            faults: Vec::new(),
            imperfections: Imperfections::default(),
            calibration: None,
        }
    }
}
