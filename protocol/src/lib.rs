//! The contract between the fixture and its host: units, limits, plans, messages and frames.
//!
//! Nothing in here allocates, uses floating point or knows either side. A reader finds
//!
//! | file | noun |
//! |---|---|
//! | [`units`] | integer quantities with checked arithmetic; the sign rule |
//! | [`limits`] | ceilings and time-outs both sides must agree on, each with its source |
//! | [`plan`] | what the fixture shall do by itself: up to 16 steps |
//! | [`label`] | what the label says of the cell that a plan is for |
//! | [`floors`] | how low that cell may be discharged |
//! | [`request`] | host to fixture |
//! | [`address`] | to which start of the fixture's program a request goes, and its number |
//! | [`run`] | the token of a run's owner, and how far the run has come |
//! | [`reply`] | the one answer to each request |
//! | [`description`] | which program and limits the fixture has, and how it came to run |
//! | [`image_marker`] | what an image says of itself before it runs |
//! | [`fitted`] | the adapter between fixture and cell; reserved: taps, gauges |
//! | [`event`] | what the fixture tells unasked: sample blocks, step changes, trips |
//! | [`block`] | many samples in few bytes |
//! | [`frame`] | bytes on the wire: header, body, CRC, byte stuffing |
//! | [`splitter`] | finds frames in a stream of bytes, also a damaged one |
//! | [`usb`] | how a port says that a fixture is on it |
//!
//! # Versions
//! Every frame starts with the version that its message was added in ([`version::Since`]). [`version::CURRENT`] rises whenever
//! a message or a variant is *added*; nothing is ever changed, reordered or removed, so [`version::MIN`] stays. Enums only grow
//! at their end. A receiver reads the header first: a version below `MIN` is refused as too old; a body that
//! cannot be read under a version above `CURRENT` is reported as "newer than I am", not as damage.
//!
//! # Version 2: a run has an owner
//! | host | fixture | what happens |
//! |---|---|---|
//! | 2 | 2 | requests that act carry boot number, request number and, for a run, its token |
//! | 2 | 1 | the host looks and stops, and refuses to run a plan: such a fixture keeps the load on for whoever says "keep alive" |
//! | 1 | 2 | the host looks and stops; load, start and keep-alive are refused with a cause it cannot read, so it says that the fixture is newer than itself |
#![no_std]

pub mod address;
pub mod block;
pub mod calibration;
pub mod description;
pub mod event;
pub mod fitted;
pub mod floors;
pub mod frame;
pub mod image_marker;
pub mod label;
pub mod limits;
pub mod plan;
pub mod reply;
pub mod request;
pub mod run;
pub mod splitter;
pub mod units;
pub mod usb;
pub mod version;
