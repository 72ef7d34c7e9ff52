//! What the host may ask of the fixture; each request gets exactly one [`crate::reply::Reply`].

use crate::calibration::Calibration;
use crate::plan::Plan;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// A request. Variants are only ever added at the end.
///
/// | request | answered with | allowed |
/// |---|---|---|
/// | `Identify` | `Identity` | always |
/// | `LoadPlan` | `Done` or `Rejected` | while no plan runs and no trip is latched |
/// | `Start` | `Done` or `Rejected` | with that plan loaded, no trip latched |
/// | `Stop` | `Done` | always; the load is off when the answer is sent |
/// | `AcknowledgeTrip` | `Done` or `Rejected` | with that trip latched and its cause gone |
/// | `KeepAlive` | `Done` | always |
/// | `ReadState` | `State` | always |
/// | `Calibrate` | `Done` or `Rejected` | while no plan runs |
/// | `ReadCalibration` | `Calibration` | always |
/// | `ResendFrom` | `Resending` or `Rejected` | always |
// Plans are large and rare; a heap to box them does not exist on the fixture.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Request {
    /// Who are you and what can you do?
    Identify,
    /// Replace the loaded plan.
    LoadPlan(Plan),
    /// Run the loaded plan, if it has this number.
    Start {
        /// The plan's own number.
        plan: u32,
    },
    /// Load off now, end the plan.
    Stop,
    /// A person has seen this trip; forget it if its cause is gone.
    AcknowledgeTrip {
        /// The trip's own number.
        trip: u32,
    },
    /// The host is still there.
    KeepAlive,
    /// Tell the present state and the newest readings.
    ReadState,
    /// Replace the calibration, also in the fixture's permanent store.
    Calibrate(Calibration),
    /// Tell the calibration in use.
    ReadCalibration,
    /// Send the events from this sequence number on once more.
    ResendFrom {
        /// Sequence number of the first event wanted.
        sequence: u32,
    },
}
