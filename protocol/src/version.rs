//! Versions of the wire format, and in which of them a message was added.
//!
//! A frame is marked with the version its message was added in, not with the newest that its sender knows. So a receiver
//! that knows only version 1 reads everything that is not new, and what is new it reports as "newer than I am".

use crate::event::{Event, Trip, TripCause};
use crate::reply::{Reject, RejectCause, Reply, State};
use crate::request::Request;
use crate::units::{NoData, Reading};

/// Oldest version this build still reads.
pub const MIN: u8 = 1;
/// Newest version this build reads and writes.
pub const CURRENT: u8 = 2;
/// From this version on a run has an owner: requests carry an address, the keep-alive carries the run's token.
pub const OWNERSHIP: u8 = 2;

/// In which version a message was added.
pub trait Since {
    /// Returns the oldest version whose receivers can read this.
    fn since(&self) -> u8;
}

impl Since for Request {
    fn since(&self) -> u8 {
        match self {
            Request::Identify
            | Request::LoadPlan(_)
            | Request::Start { .. }
            | Request::Stop
            | Request::AcknowledgeTrip { .. }
            | Request::KeepAlive
            | Request::ReadState
            | Request::Calibrate(_)
            | Request::ReadCalibration
            | Request::ResendFrom { .. } => 1,
            Request::Describe
            | Request::Load(_)
            | Request::StartRun { .. }
            | Request::KeepRunning { .. }
            | Request::Resume { .. }
            | Request::EnterBootLoader
            | Request::FitAdapter(_)
            | Request::ReadAdapter
            | Request::ReadTaps
            | Request::ReadGauge => 2,
        }
    }
}

impl Since for Reply {
    fn since(&self) -> u8 {
        match self {
            Reply::Identity(_) | Reply::Done | Reply::Calibration(_) | Reply::Resending { .. } => 1,
            Reply::State(state) => state.since(),
            Reply::Rejected(reject) => reject.since(),
            Reply::Description(_)
            | Reply::Loaded { .. }
            | Reply::Run(_)
            | Reply::Adapter(_)
            | Reply::Taps(_)
            | Reply::Gauge(_) => 2,
        }
    }
}

impl Since for Event {
    fn since(&self) -> u8 {
        match self {
            Event::PlanStarted { .. } | Event::StepStarted { .. } | Event::PlanEnded { .. } => 1,
            Event::Samples(block) => {
                let (cell, ambient) = (block.cell_temperature.since(), block.ambient_temperature.since());
                cell.max(ambient).max(block.charge.since())
            }
            Event::StepEnded { charge, .. } => charge.since(),
            Event::Missing { cause, .. } => cause.since(),
            Event::Tripped(trip) => trip.since(),
            Event::Taps(_) => 2,
        }
    }
}

impl Since for State {
    fn since(&self) -> u8 {
        let readings = [
            self.voltage.since(),
            self.current.since(),
            self.cell_temperature.since(),
            self.ambient_temperature.since(),
            self.charge.since(),
            self.trip.map_or(1, |trip| trip.since()),
        ];
        readings.into_iter().fold(1, u8::max)
    }
}

impl Since for NoData {
    fn since(&self) -> u8 {
        if *self as u8 <= NoData::Stale as u8 { 1 } else { 2 }
    }
}

impl<T> Since for Reading<T> {
    fn since(&self) -> u8 {
        self.as_ref().err().map_or(1, Since::since)
    }
}

impl Since for Trip {
    fn since(&self) -> u8 {
        if self.cause as u8 <= TripCause::SetUp as u8 { 1 } else { 2 }
    }
}

impl Since for Reject {
    fn since(&self) -> u8 {
        if self.cause as u8 <= RejectCause::Unreadable as u8 { 1 } else { 2 }
    }
}
