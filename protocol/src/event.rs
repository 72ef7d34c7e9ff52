//! What the fixture tells without being asked, numbered without gaps.

use crate::block::Block;
use crate::fitted::Taps;
use crate::units::{MicroCoulombs, Micros, NoData, Reading};
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// An event. Variants are only ever added at the end.
// Blocks are most of the traffic; there is no heap on the fixture to box them.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Event {
    /// Samples.
    Samples(Block),
    /// A plan was started.
    PlanStarted {
        /// The plan's number.
        plan: u32,
        /// When.
        at: Micros,
    },
    /// A step was started; its first sample is the next one.
    StepStarted {
        /// Index of the step.
        step: u8,
        /// When.
        at: Micros,
    },
    /// A step has ended.
    StepEnded {
        /// Index of the step.
        step: u8,
        /// When.
        at: Micros,
        /// Why.
        cause: StepEnd,
        /// Charge counted since the plan started.
        charge: Reading<MicroCoulombs>,
    },
    /// The plan has ended; the load is off.
    PlanEnded {
        /// The plan's number.
        plan: u32,
        /// When.
        at: Micros,
        /// How.
        outcome: Outcome,
    },
    /// The guard has dropped the load and latched.
    Tripped(Trip),
    /// A sample could not be taken; the gap is known, not hidden.
    Missing {
        /// Which reading.
        sensor: Sensor,
        /// When.
        at: Micros,
        /// Why.
        cause: NoData,
    },
    /// Version 2. Reserved, not sent by any board yet: voltages of the cells of a pack.
    Taps(Taps),
}

/// Why a step ended. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum StepEnd {
    /// Its time was over.
    Time = 0,
    /// A discharge reached its floor.
    Floor = 1,
    /// The lowest-voltage bound was reached; the plan ends.
    BoundVoltage = 2,
    /// The temperature bound was reached; the plan ends.
    BoundTemperature = 3,
    /// The temperature-rise bound was reached; the plan ends.
    BoundRise = 4,
    /// The charge bound was reached; the plan ends.
    BoundCharge = 5,
    /// The host asked to stop; the plan ends.
    Stopped = 6,
    /// The guard tripped; the plan ends.
    Tripped = 7,
}

/// How a plan ended. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum Outcome {
    /// All steps were run to their end.
    Complete = 0,
    /// A bound ended it early.
    Bounded = 1,
    /// The host asked to stop.
    Stopped = 2,
    /// The guard tripped.
    Tripped = 3,
}

/// Which reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum Sensor {
    /// Voltage at the sense leads.
    Voltage = 0,
    /// Current through the shunt.
    Current = 1,
    /// Thermometer on the cell.
    CellTemperature = 2,
    /// Thermometer in the air.
    AmbientTemperature = 3,
    /// The charge counter.
    Charge = 4,
}

/// A latched trip: the load is off and stays off until a person acknowledges it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Trip {
    /// Counts up from 1 since power-up.
    pub number: u32,
    /// Why.
    pub cause: TripCause,
    /// The value that broke the limit, in the unit of the cause.
    pub value: i64,
    /// The limit.
    pub limit: i64,
    /// When, on the fixture's clock.
    pub at: Micros,
}

/// Why the guard tripped. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum TripCause {
    /// The cell is connected the wrong way round (value 1, limit 0).
    Polarity = 0,
    /// Before load: voltage below the window (uV).
    VoltageLow = 1,
    /// Voltage above the label's charge limit plus margin (uV).
    VoltageHigh = 2,
    /// Before load: cell colder than the window (mdegC).
    TemperatureLow = 3,
    /// Before load: cell warmer than the window (mdegC).
    TemperatureHigh = 4,
    /// Before load: the sense voltage wanders like an open lead (uV of spread).
    Contact = 5,
    /// Under load: voltage below the floor (uV).
    VoltageFloor = 6,
    /// Current above set point plus margin, or above the ceiling (uA).
    OverCurrent = 7,
    /// Cell too hot (mdegC).
    OverTemperature = 8,
    /// Cell too far above ambient (mdegC).
    TemperatureRise = 9,
    /// Cell warming too fast (mdegC per minute).
    RiseRate = 10,
    /// The sink has taken more heat than it can lose (uJ).
    SinkEnergy = 11,
    /// Under load: the current does not reach its set point (uA).
    ContactLost = 12,
    /// A reading is too old (us of age), or has not changed for so long under load that its converter must stand still.
    StaleReading = 13,
    /// A reading is missing (value: [`Sensor`] number, limit: [`NoData`] number).
    MissingReading = 14,
    /// Current flows though the load is off (uA).
    ConductsWhenOff = 15,
    /// Nothing heard from the host for too long (us).
    HostSilent = 16,
    /// A load was asked for on a cell marked watch only (uA asked).
    Forbidden = 17,
    /// A chip or the set-point converter could not be set up (value: step of the set-up).
    SetUp = 18,
}
