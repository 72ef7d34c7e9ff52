//! What the fixture shall do by itself: a plan of up to sixteen steps.
//!
//! The host sends a whole plan before it starts anything; the fixture then runs and guards it without help.
//! A plan that asks for more than [`crate::limits`] allows is rejected as a whole, with the figure asked for and the
//! limit it broke.

use crate::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};
use heapless::Vec;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Most steps of one plan.
pub const MAX_STEPS: usize = 16;

/// What one step does to the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Action {
    /// No load; voltage and temperatures are watched.
    Rest,
    /// A constant current for the whole duration of the step.
    Hold {
        /// Set point, positive (discharging).
        current: MicroAmps,
    },
    /// A constant current until the cell's voltage falls to `floor`; the duration is the longest it may take.
    Discharge {
        /// Set point, positive (discharging).
        current: MicroAmps,
        /// Voltage at the sense leads at which the step has done its work.
        floor: MicroVolts,
    },
}

impl Action {
    /// Returns the current the step asks of the sink; zero at rest.
    pub const fn current(self) -> MicroAmps {
        match self {
            Action::Rest => MicroAmps::ZERO,
            Action::Hold { current } | Action::Discharge { current, .. } => current,
        }
    }
}

/// Bounds that end the plan early, without a trip, when a reading reaches them.
///
/// They can only be narrower than the guard's limits: the guard looks first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Bounds {
    /// The plan ends at or below this voltage at the sense leads.
    pub lowest_voltage: MicroVolts,
    /// The plan ends at or above this cell temperature.
    pub highest_temperature: MilliCelsius,
    /// The plan ends at or above this rise of the cell over ambient.
    pub highest_rise: MilliCelsius,
    /// The plan ends once this charge was taken out since its start.
    pub most_charge: MicroCoulombs,
}

/// One step: an action, how long, how often it is sampled, and when it must end early.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Step {
    /// What is done to the cell.
    pub action: Action,
    /// How long it lasts; for a discharge how long it may last.
    pub duration: Micros,
    /// Time between samples: the guard looks at every one of them.
    pub sample_period_us: u32,
    /// How many samples are averaged into one that is told to the host; 1 tells every one.
    pub report_every: u16,
    /// Bounds that end the plan early.
    pub bounds: Bounds,
}

/// Whether the host, knowing label and looks of the cell, lets it be loaded at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum Permit {
    /// Swollen, damaged, unknown or not judged: voltage and temperature may be watched, never a load.
    #[default]
    WatchOnly = 0,
    /// The host found no reason against a load within the limits.
    Load = 1,
}

/// A whole plan.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Plan {
    /// Chosen by the host, repeated in [`crate::request::Request::Start`] so that no other plan is started by mistake.
    pub number: u32,
    /// The cell's charge-limit voltage from its label; above it by more than a margin the cell is over-charged.
    pub charge_limit: MicroVolts,
    /// Whether the cell may be loaded.
    pub permit: Permit,
    /// The steps, in order.
    pub steps: Vec<Step, MAX_STEPS>,
}
