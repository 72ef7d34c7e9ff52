//! What comes over the line and what happens at the bench, drawn from bytes; a broken promise is a panic.
//!
//! | target | what it does | what must hold |
//! |---|---|---|
//! | [`frames`] | bytes, frames of any body, damaged ones | no panic; what is read, written and read again is the same |
//! | [`mod@bench`] | a host, strangers, faults, other cells and power failures at a whole fixture | no panic; see [`watch::Watch`] |
//!
//! The same bytes give the same story, so a finding is its bytes. They come from a seed (`src/main.rs`, and a short run in
//! `src/tests.rs`) or from a fuzzer that is led by coverage (`guided/`).
#![forbid(unsafe_code)]

pub mod bench;
pub mod frames;
pub mod owner;
pub mod plans;
#[cfg(test)]
mod tests;
pub mod watch;
