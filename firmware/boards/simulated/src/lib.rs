//! The fixture's firmware on simulated chips and a simulated cell, in virtual time.
//!
//! The firmware is the very library that runs on the real boards; only what lies beyond its bus and pins is made up.
//! The same seed and the same requests give the same bytes. From the host inwards:
//!
//! | file | noun |
//! |---|---|
//! | [`fixture`] | the whole fixture: bytes in, bytes out, time passes while the host waits |
//! | [`board`] | what the firmware asks of a board |
//! | [`boot_program`], [`image`] | the chip's boot program, and what it takes and starts |
//! | [`bench`](mod@bench) | the bus, its timing, the pins |
//! | `world` | everything behind the bus, from one instant to the next |
//! | [`chips`] | power monitor, thermometers, set-point converter: registers, noise, codes |
//! | [`controller_adc`] | the controller's own converter: the second look |
//! | [`circuit`] | cell, leads and sink together |
//! | `sense_path` | between cell and monitor |
//! | [`cell`], [`sink`] | one each |
//! | [`parameters`], [`library`] | what a cell is made of; ready cells |
//! | [`fault`] | what can go wrong, and when |
//! | [`options`] | what can be chosen |
//!
//! ```
//! use celltriage_protocol::units::Micros;
//! use celltriage_simulated_board::{fixture::SimulatedFixture, library};
//!
//! let cell = library::sound();
//! let options = cell.options(7);
//! let mut fixture = SimulatedFixture::new(cell.parameters, options);
//! let mut bytes = Vec::new();
//! fixture.receive(Micros::from_millis(100), &mut bytes);
//! assert!(!fixture.load_is_on());
//! ```
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod bench;
#[cfg(test)]
mod bench_tests;
pub mod board;
pub mod boot_program;
#[cfg(test)]
mod boot_program_tests;
pub mod cell;
pub mod chips;
pub mod circuit;
pub mod controller_adc;
pub mod fault;
#[cfg(test)]
mod fault_tests;
pub mod fixture;
#[cfg(test)]
mod fixture_tests;
#[cfg(test)]
mod held_fault_tests;
pub mod image;
pub mod library;
pub mod options;
pub mod parameters;
mod sense_path;
pub mod sink;
#[cfg(test)]
mod still_tests;
mod table;
#[cfg(test)]
mod test_host;
#[cfg(test)]
#[path = "../../../src/test_owner.rs"]
mod test_owner;
mod world;
