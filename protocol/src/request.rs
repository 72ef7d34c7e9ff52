//! What the host may ask of the fixture; each request gets exactly one [`crate::reply::Reply`].

use crate::calibration::Calibration;
use crate::plan::Plan;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// A request. Variants are only ever added at the end.
///
/// The table's last column: whether the request tells the fixture that whoever runs the plan is still there (see
/// [`crate::limits::HOST_SILENCE`]). A plan is run once: its end, whatever it is, a trip and a stop make the fixture
/// forget it, and so does a start that comes later than [`crate::limits::PLAN_KEPT`] after its loading.
///
/// | request | answered with | allowed | counts as a word of the host |
/// |---|---|---|---|
/// | `Identify` | `Identity` | always | no |
/// | `LoadPlan` | `Done` or `Rejected` | while no plan runs and no trip is latched | no |
/// | `Start` | `Done` or `Rejected` | with that plan loaded and not run since, none running, no trip latched | where it is accepted |
/// | `Stop` | `Done` | always; the load is off when the answer is sent | no |
/// | `AcknowledgeTrip` | `Done` or `Rejected` | with that trip latched and its cause gone | no |
/// | `KeepAlive` | `Done` | always | yes |
/// | `ReadState` | `State` | always | no |
/// | `Calibrate` | `Done` or `Rejected` | while no plan runs | no |
/// | `ReadCalibration` | `Calibration` | always | no |
/// | `ResendFrom` | `Resending` or `Rejected` | always | no |
// Plans are large and rare; a heap to box them does not exist on the fixture.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Request {
    /// Who are you and what can you do?
    Identify,
    /// Replace the loaded plan.
    LoadPlan(Plan),
    /// Run the loaded plan, if it has this number. It can be run once; another run needs another loading.
    Start {
        /// The plan's own number.
        plan: u32,
    },
    /// Load off now, end the plan and forget it.
    Stop,
    /// A person has seen this trip; forget it if its cause is gone.
    AcknowledgeTrip {
        /// The trip's own number.
        trip: u32,
    },
    /// Whoever started the plan is still there and watches.
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
