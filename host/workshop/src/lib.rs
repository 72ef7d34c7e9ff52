//! Everything a workshop can do, as calls that any face can make: a terminal, a page, a test.
//!
//! Each thing is one call on a [`Workshop`], with data in and data out. Questions are asked before the call; what happens
//! meanwhile is a [`WorkEvent`](event::WorkEvent) for an attendant; what goes wrong is a [`Fault`], which is data; time is a
//! [`Clock`](clock::Clock) that is passed in. Nothing here prints, asks, or reads the time of the computer.
//!
//! | file | calls |
//! |---|---|
//! | [`admission`] | what the book knows of a cell before it is assessed; whether it may be loaded |
//! | [`assess`], [`measuring`] | one cell, from the fixture to the decision in the book |
//! | [`full_run`], [`capacity_run`], [`charge_permit`] | a capacity run over days: charge, rest, discharge |
//! | [`fixture`] | looking at a fixture, calibrating it, its check standard, what the book knows of it |
//! | [`hot_cell`], [`hot_cell_terms`] | the watch over a cell that may become hot; it goes on without a book |
//! | [`history`], [`known_label`] | what a new decision may use of the book; the label that the book knows |

pub mod admission;
pub mod assess;
pub mod capacity_run;
pub mod charge_permit;
pub mod clock;
pub mod event;
pub mod fault;
pub mod fixture;
pub mod full_run;
pub mod history;
pub mod hot_cell;
pub mod hot_cell_terms;
pub mod known_label;
pub mod measuring;
mod recorder;
mod shop;

pub use fault::Fault;
pub use recorder::RunRecorder;
pub use shop::Workshop;
