//! The contract between the fixture and its host: units, limits, plans, messages and frames.
//!
//! Nothing in here allocates, uses floating point or knows either side. A reader finds
//!
//! | file | noun |
//! |---|---|
//! | [`units`] | integer quantities with checked arithmetic; the sign rule |
//! | [`limits`] | ceilings and time-outs both sides must agree on, each with its source |
//! | [`plan`] | what the fixture shall do by itself: up to 16 steps |
//! | [`request`] | host to fixture |
//! | [`reply`] | the one answer to each request |
//! | [`event`] | what the fixture tells unasked: sample blocks, step changes, trips |
//! | [`block`] | many samples in few bytes |
//! | [`frame`] | bytes on the wire: header, body, CRC, byte stuffing |
//! | [`splitter`] | finds frames in a stream of bytes, also a damaged one |
//! | [`usb`] | how a port says that a fixture is on it |
//!
//! # Versions
//! Every frame starts with the version it was written in. [`version::CURRENT`] rises whenever a message or a
//! variant is *added*; nothing is ever changed, reordered or removed, so [`version::MIN`] stays. Enums only grow
//! at their end. A receiver reads the header first: a version below `MIN` is refused as too old; a body that
//! cannot be read under a version above `CURRENT` is reported as "newer than I am", not as damage.
#![no_std]

pub mod block;
pub mod calibration;
pub mod event;
pub mod frame;
pub mod limits;
pub mod plan;
pub mod reply;
pub mod request;
pub mod splitter;
pub mod units;
pub mod usb;

/// Versions of the wire format this build speaks.
pub mod version {
    /// Oldest version this build still reads.
    pub const MIN: u8 = 1;
    /// Version this build writes.
    pub const CURRENT: u8 = 1;
}
