//! From a trace of voltage, current and temperature to estimates of a lithium-ion cell, each with its budget.
//!
//! ```text
//! CSV file or frames -> trace/ -> segment.rs -> estimate/ -> Estimates
//!                                               uncertainty/: what each number is made of
//! ```
//! No input or output beyond the text and bytes that are handed in. Voltages are in V, currents in A (positive
//! discharges the cell), times in s, charges in Ah, temperatures in degC.

pub mod bdf;
pub mod estimate;
pub mod mapping;
pub mod nameplate;
pub mod nameplate_file;
pub mod normal_model;
pub mod observation;
pub mod plan;
pub mod segment;
pub mod si;
#[cfg(any(test, feature = "test-support"))]
pub mod test_support;
pub mod trace;
pub mod uncertainty;
