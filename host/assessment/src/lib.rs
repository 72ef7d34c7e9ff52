//! One cell judged: the case, its assessment with health and explanation, and how both are kept in the book.
//!
//! | file | what |
//! |---|---|
//! | [`case`] | a cell with label, looks, setting and history, and where its measurement came from |
//! | [`recorded`] | frames of a fixture become a trace and the outcome of the run |
//! | [`history`] | what is known from earlier visits, as plain data |
//! | `assessment` | the record: estimates, verdict, health, cautions; JSON as in `host/JSON.md` |
//! | [`health`] | how the cell compares with a new one and with its model; decides nothing |
//! | [`explain`] | every criterion with its figures, so that a person can follow the decision |
//! | [`pulse_curve`] | the largest pulse as it is drawn |
//! | [`record`] | an assessment as an entry of the book, and judged again from that entry |
//! | [`comparison`] | what differs between a stored decision and the same decision made again |
//!
//! [`case::Case::judge`] is the one way from a trace to an [`Assessment`]; it reads no file, no clock and no book.

pub mod adapter;
mod assessment;
pub mod case;
pub mod case_file;
#[cfg(test)]
mod charge_tests;
pub mod comparison;
pub mod explain;
pub mod guard;
pub mod health;
pub mod history;
pub mod pulse_curve;
pub mod record;
pub mod recorded;
pub mod same_cell;
#[cfg(any(test, feature = "test-support"))]
pub mod test_support;

pub use assessment::{Assessment, Cell, Circumstances, FROM_FILE, SCHEMA, Subject};
pub use case_file::CaseFile;
