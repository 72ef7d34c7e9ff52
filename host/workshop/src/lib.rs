//! Everything a workshop can do, as calls that any face can make: a terminal, a page, a test.
//!
//! Each thing is one call on a [`Workshop`], with data in and data out. Questions are asked before the call; what happens
//! meanwhile is a [`WorkEvent`](event::WorkEvent) for an attendant; what goes wrong is a [`Fault`], which is data; time is a
//! [`Clock`](clock::Clock) that is passed in. Nothing here prints, asks, or reads the time of the computer.
//!
//! | file | calls |
//! |---|---|
//! | [`admission`] | what the book knows of a cell before it is assessed; whether it may be loaded |
//! | [`job`], [`assess`], [`measuring`] | one cell, from the fixture to the decision in the book |
//! | [`trace_file`], [`columns`], [`grade_many`] | the same judgement from recorded traces; [`Workshop::grade`] writes it down |
//! | [`full_run`], [`capacity_run`], [`charge_permit`] | a capacity run over days: charge, rest, discharge |
//! | [`fixture`] | looking at a fixture, calibrating it, its check standard, what the book knows of it |
//! | [`hot_cell`], [`hot_cell_terms`] | the watch over a cell that may become hot; it goes on without a book |
//! | [`history`], [`known_label`], [`model_library`] | what a new decision may use of the book; the label that the book knows; the shop's labels by model |
//! | [`signer`], [`clock_word`] | who signs an event of custody; what a person says of the clock before anything is written |
//! | [`judging`], [`quarantine`], [`danger`] | a cell's legal state; cells under watch; what to do about one that reacts |
//! | [`takers`] | which container takes a cell; what makes a person able to judge, as given last |
//! | [`containers`], [`repacking`], [`shipments`], [`used_records`], [`corrections`] | where cells are, how they leave, what no longer counts |
//! | [`receiving`] | what comes in before anybody has measured it |
//! | [`leaving`] | what leaves without a shipment, what comes back, what follows a hand-over |
//! | [`as_it_was`] | what happened although the rules refuse it, and what put it right |
//! | [`trial`] | where a cell came from; its time in a device, and what happened to it there |
//! | [`copies`], [`blanking`] | backups of the book, what is restored, saved or taken in; names that are blanked |
//! | [`checkpoints`], [`expected`], [`key_file`] | how far the book had come, noted elsewhere, and compared later |
//! | [`entries`], [`origin`], [`decisions`], [`export`], [`models`], [`due`], [`month`] | reading the book: entries, stories, decisions made again, what falls due, a month counted |

mod adapter;
pub mod admission;
pub mod as_it_was;
pub mod assess;
mod attend;
pub mod blanking;
pub mod capacity_run;
pub mod charge_permit;
pub mod checkpoints;
pub mod clock;
pub mod clock_word;
pub mod columns;
pub mod containers;
pub mod copies;
pub mod corrections;
pub mod danger;
pub mod decisions;
pub mod due;
mod due_rules;
pub mod entries;
pub mod event;
pub mod expected;
pub mod export;
pub mod fault;
pub mod findings;
pub mod fixture;
mod foreign_file;
pub mod full_run;
pub mod grade_many;
mod grading;
pub mod history;
pub mod hot_cell;
pub mod hot_cell_figure;
pub mod hot_cell_terms;
pub mod job;
pub mod judging;
mod keeping_fault;
pub mod kept_answers;
mod kept_models;
mod kept_runs;
pub mod key_file;
pub mod known_label;
mod labels;
pub mod leaving;
pub mod measuring;
pub mod model_library;
pub mod models;
pub mod month;
mod newest_labels;
pub mod origin;
pub mod quarantine;
pub mod receiving;
mod recorder;
pub mod repacking;
pub mod report_of;
mod settling;
pub mod shipments;
mod shop;
pub mod signer;
pub mod stands_now;
pub mod takers;
#[cfg(test)]
mod tests;
pub mod trace_file;
pub mod trial;
pub mod used_records;

pub use fault::Fault;
pub use keeping_fault::KeepingFault;
pub use recorder::RunRecorder;
pub use shop::Workshop;
