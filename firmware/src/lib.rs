//! The fixture's logic, the same on every board: no operating system, no heap, no floating point.
//!
//! A board implements [`board::Board`], makes a [`fixture::Fixture`] and calls [`fixture::Fixture::serve`] again and
//! again. Data goes one way:
//!
//! ```text
//! code ─ drivers ─▶ convert ─▶ readings ─┬─▶ guard ─▶ load-enable pin, set point
//!                                        ├─▶ recorder ─▶ history ─▶ link ─▶ host
//! host ─▶ link ─▶ plan_check ─▶ sequencer ┘
//! ```
//!
//! | file | noun |
//! |---|---|
//! | [`board`] | what differs from board to board |
//! | [`bus`] | a transfer that is tried once more, lines that are freed |
//! | [`drivers`] | registers of the four chips |
//! | [`convert`] | codes to units, with the calibration |
//! | [`second_look`] | the controller's own converter: codes to units |
//! | [`readings`] | the newest reading of each sensor, with its age |
//! | [`instruments`] | the four chips together: set-up, turns |
//! | [`guard`] | whether the load may be on; latched trips |
//! | [`ownership`] | who may act, and whose run it is |
//! | [`plan_check`] | whether a plan may be loaded |
//! | [`sequencer`] | which step runs, when samples are due |
//! | [`recorder`] | samples to blocks |
//! | [`history`] | recent events as bytes: queue and store |
//! | [`link`] | bytes to requests, replies to bytes |
//! | [`fixture`] | one pass over all of it |
//! | [`roll_call`] | which parts of the program are alive |
#![no_std]
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod board;
pub mod bus;
pub mod convert;
pub mod drivers;
pub mod fixture;
pub mod guard;
pub mod history;
pub mod instruments;
pub mod link;
mod log;
pub mod ownership;
pub mod plan_check;
pub mod readings;
pub mod recorder;
pub mod roll_call;
pub mod second_look;
pub mod sequencer;
#[cfg(test)]
mod test_board;
#[cfg(test)]
mod test_bus;
#[cfg(test)]
mod test_owner;
#[cfg(test)]
mod test_plans;
#[cfg(test)]
mod test_rig;
