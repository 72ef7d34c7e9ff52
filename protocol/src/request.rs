//! What the host may ask of the fixture; each request gets exactly one [`crate::reply::Reply`].

use crate::calibration::Calibration;
use crate::fitted::Adapter;
use crate::label::CellPlan;
use crate::plan::Plan;
use crate::run::Token;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// A request. Variants are only ever added at the end.
///
/// A request that acts must carry an [`Address`](crate::address::Address): the boot number of the program it is meant for,
/// and a request number above the last one taken. A question or a stop may carry one; a question with another boot number is
/// refused, a stop is always obeyed.
///
/// A plan is run once: its end, whatever it is, a trip and a stop make the fixture forget it, and so does a start that
/// comes later than [`crate::limits::PLAN_KEPT`] after its loading.
///
/// | request | answered with | allowed | address |
/// |---|---|---|---|
/// | `Identify` | `Identity` | always | not needed |
/// | `Stop` | `Done` | always; the load is off when the answer is sent | not needed |
/// | `AcknowledgeTrip` | `Done` or `Rejected` | with that trip latched and its cause gone | needed |
/// | `ReadState` | `State` | always | not needed |
/// | `Calibrate` | `Done` or `Rejected` | while no plan runs | needed |
/// | `ReadCalibration` | `Calibration` | always | not needed |
/// | `ResendFrom` | `Resending` or `Rejected` | always | not needed |
/// | `Describe` | `Description` | always | not needed |
/// | `Load` | `Loaded` or `Rejected` | while no plan runs and no trip is latched | needed |
/// | `StartRun` | `Done` or `Rejected` | with that plan of that loading, not run since, none running, no trip latched; said again by the owner of the run under way | needed |
/// | `KeepRunning` | `Done` or `Rejected` | with the token of the run under way; nothing but this, the start and `Resume` counts as a word of the owner | needed |
/// | `Resume` | `Run` or `Rejected` | with the token of the run under way, or of the last one | needed |
/// | `EnterBootLoader` | `Done` or `Rejected` | while no plan is loaded or runs and no trip is latched | needed |
/// | `FitAdapter` | `Done` or `Rejected` | while no plan runs; a plan that was loaded is forgotten | needed |
/// | `ReadAdapter` | `Adapter` | always | not needed |
/// | `ReadTaps`, `ReadGauge` | `Taps`, `Gauge` or `Rejected` | reserved | not needed |
/// | `LoadPlan`, `Start`, `KeepAlive` | `Rejected` | of version 1: a run without an owner; no fixture of version 2 takes them | - |
// Plans are large and rare; a heap to box them does not exist on the fixture.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Request {
    /// Who are you and what can you do?
    Identify,
    /// Of version 1: replace the loaded plan.
    LoadPlan(Plan),
    /// Of version 1: run the loaded plan, if it has this number.
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
    /// Of version 1: whoever started the plan is still there and watches.
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
    /// Version 2. Which program and limits do you have, and how did you come to run? The answer tells the boot number.
    Describe,
    /// Version 2. Replace the loaded plan, and the label of the cell that it is for.
    Load(CellPlan),
    /// Version 2. Run the loaded plan, for the owner of this token. It can be run once; another run needs another loading.
    StartRun {
        /// The plan's own number.
        plan: u32,
        /// The number that the fixture has given the loading.
        loading: u32,
        /// Drawn by the host for this run.
        token: Token,
    },
    /// Version 2. Whoever owns the run is still there and watches. Said by the loop that watches over the run, by nothing else.
    KeepRunning {
        /// The run's.
        token: Token,
    },
    /// Version 2. The owner is back after its link broke, and goes on with the run. How far has it come?
    Resume {
        /// The run's.
        token: Token,
    },
    /// Version 2. Leave the program for the boot loader, so that another one can be written.
    EnterBootLoader,
    /// Version 2. This adapter was put on by a person; number 0: it was taken off.
    FitAdapter(Adapter),
    /// Version 2. Which adapter is on, as told last?
    ReadAdapter,
    /// Version 2, reserved. Tell the voltages of the cells of a pack.
    ReadTaps,
    /// Version 2, reserved. Ask the pack's own gauge.
    ReadGauge,
}

/// What kind of request it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Changes nothing: needs no address.
    Question,
    /// Puts the load off: needs no address, and is obeyed under any.
    Stop,
    /// Changes something: needs an address with a request number above the last one taken.
    Act,
    /// Of version 1: would make or hold up a run without an owner.
    Unowned,
}

impl Request {
    /// Returns of what kind the request is.
    pub const fn kind(&self) -> Kind {
        match self {
            Request::Identify
            | Request::ReadState
            | Request::ReadCalibration
            | Request::ResendFrom { .. }
            | Request::Describe
            | Request::ReadAdapter
            | Request::ReadTaps
            | Request::ReadGauge => Kind::Question,
            Request::Stop => Kind::Stop,
            Request::AcknowledgeTrip { .. }
            | Request::Calibrate(_)
            | Request::Load(_)
            | Request::StartRun { .. }
            | Request::KeepRunning { .. }
            | Request::Resume { .. }
            | Request::EnterBootLoader
            | Request::FitAdapter(_) => Kind::Act,
            Request::LoadPlan(_) | Request::Start { .. } | Request::KeepAlive => Kind::Unowned,
        }
    }
}
