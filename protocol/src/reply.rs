//! What the fixture answers; each reply carries the sequence number of the request it answers.

use crate::calibration::Calibration;
use crate::description::Description;
use crate::event::Trip;
use crate::fitted::{Adapter, Gauge, Taps};
use crate::run::RunState;
use crate::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius, Reading};
use heapless::String;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// A reply. Variants are only ever added at the end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum Reply {
    /// Who answers, and what it can do.
    Identity(Identity),
    /// Carried out.
    Done,
    /// The present state.
    State(State),
    /// Not carried out; nothing has changed.
    Rejected(Reject),
    /// The calibration in use.
    Calibration(Calibration),
    /// The events from this sequence number on follow once more.
    Resending {
        /// Number of the first event that follows.
        from: u32,
        /// Number of the last event that the fixture has.
        through: u32,
    },
    /// Version 2: which program and limits the fixture has, and how it came to run.
    Description(Description),
    /// Version 2: the plan is loaded.
    Loaded {
        /// Number of this loading, which its start must repeat: a start that comes late never starts another loading.
        loading: u32,
        /// Number that the next event will get: what was told before is not of the run to come.
        next_event: u32,
    },
    /// Version 2: how far the run with the token shown has come.
    Run(RunState),
    /// Version 2, reserved: the adapter.
    Adapter(Adapter),
    /// Version 2, reserved: voltages of the cells of a pack.
    Taps(Taps),
    /// Version 2, reserved: what the pack's gauge says.
    Gauge(Gauge),
}

/// Longest name or version text.
pub const TEXT: usize = 24;

/// Who the fixture is and what it can do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Identity {
    /// The board, e.g. `simulated`.
    pub board: String<TEXT>,
    /// Version of the firmware library.
    pub firmware: String<TEXT>,
    /// Serial number of this fixture.
    pub serial: u64,
    /// Oldest and newest wire version it speaks.
    pub versions: (u8, u8),
    /// Number of the calibration in use; 0 = never calibrated.
    pub calibration: u32,
    /// Largest current of a short pulse.
    pub largest_pulse: MicroAmps,
    /// Largest current that may be held for long.
    pub largest_steady: MicroAmps,
    /// Shortest sample period in microseconds.
    pub shortest_period_us: u32,
}

/// What the fixture is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum Activity {
    /// Nothing; load off.
    #[default]
    Idle = 0,
    /// A plan is running.
    Running = 1,
    /// A trip is latched; load off until it is acknowledged.
    Tripped = 2,
}

/// The newest readings and what is going on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct State {
    /// The fixture's clock.
    pub now: Micros,
    /// What it is doing.
    pub activity: Activity,
    /// Whether the load is enabled at this moment.
    pub load_on: bool,
    /// Step under way, if any.
    pub step: Option<u8>,
    /// Voltage at the sense leads.
    pub voltage: Reading<MicroVolts>,
    /// Current through the shunt.
    pub current: Reading<MicroAmps>,
    /// Cell temperature.
    pub cell_temperature: Reading<MilliCelsius>,
    /// Air temperature.
    pub ambient_temperature: Reading<MilliCelsius>,
    /// Charge counted since the plan started.
    pub charge: Reading<MicroCoulombs>,
    /// The latched trip, if any.
    pub trip: Option<Trip>,
    /// Sequence number that the next event will get.
    pub next_event: u32,
}

/// A refusal: what was asked for and the limit it met, in the unit of the cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Reject {
    /// Why.
    pub cause: RejectCause,
    /// The figure asked for.
    pub asked: i64,
    /// The limit it met.
    pub limit: i64,
}

/// Why a request was refused. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum RejectCause {
    /// Not while a plan runs (asked: request, limit: running step).
    Busy = 0,
    /// Not while a trip is latched (limit: the trip's number).
    Tripped = 1,
    /// No plan loaded, or another number (asked, limit: loaded number).
    WrongPlan = 2,
    /// The plan has no steps.
    EmptyPlan = 3,
    /// A current is zero, negative or above the limit (uA).
    Current = 4,
    /// A duration is zero or above the limit (us).
    Duration = 5,
    /// A sample period is outside the limits (us).
    SamplePeriod = 6,
    /// `report_every` is zero, or so large that the host hears nothing for too long (count).
    ReportEvery = 7,
    /// A discharge floor or lowest voltage is below the limit (uV).
    LowestVoltage = 8,
    /// The charge limit is outside what a lithium-ion cell can have (uV).
    ChargeLimit = 9,
    /// A temperature bound is above the guard's own limit (mdegC).
    Temperature = 10,
    /// The plan loads a cell that is marked watch only.
    WatchOnly = 11,
    /// The trip asked for is not the latched one (asked, limit: latched number; 0 = none).
    WrongTrip = 12,
    /// The cause of the trip is still there (asked: value, limit).
    CauseRemains = 13,
    /// The calibration is outside what is believed (asked: ppm or offset, limit).
    Calibration = 14,
    /// The permanent store failed.
    Store = 15,
    /// The events asked for are not kept any more (asked, limit: oldest kept).
    Gone = 16,
    /// The request could not be read, though its frame is intact.
    Unreadable = 17,
    /// Version 2. The request would act, but does not say for whom: no boot number and no request number, or a load, start or
    /// keep-alive of version 1, whose run would have no owner. The host's program is older than the fixture.
    NoOwner = 18,
    /// The request is addressed to another start of the fixture's program (asked: its boot number, limit: the fixture's).
    OtherBoot = 19,
    /// The request number is not above the last one taken: it came late or twice (asked, limit: the last one).
    NotAbove = 20,
    /// The token is not that of the run (no figures: a token is not told).
    OtherToken = 21,
    /// No run with this token is under way (limit: the last plan's number).
    NoRun = 22,
    /// The plan to start is not of this loading (asked, limit: the last loading).
    OtherLoading = 23,
    /// This fixture cannot do that (asked: place of the request in the list).
    NotSupported = 24,
    /// The label's end-of-discharge voltage is not plausible (uV).
    EndOfDischarge = 25,
}
