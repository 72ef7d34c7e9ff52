//! From the decision to the hand-over: who judged a cell, where it stands, what is counted, with what it left.
//!
//! Data goes one way here too:
//!
//! ```text
//! command -> event -> check (against the state) -> entry of the book
//! entries of the book -> state -> counters, due list, draft papers, story
//! ```
//!
//! Everything is an event in the book; nothing is changed, a correction is another event. The state is folded from the
//! events and from nothing else. Local rules come in through [`LocalRules`]; nothing here says that anything may be
//! sent: drafts are checked by a trained person, and what is forbidden gets no draft at all.

pub mod about;
pub mod book_time;
mod case_file;
pub mod cell;
pub mod cell_name;
pub mod check;
pub mod checklist;
pub mod circumstances;
pub mod clock;
pub mod clock_doubt;
mod container;
pub mod contents;
pub mod counters;
pub mod draft;
pub mod due;
pub mod error;
pub mod event;
pub mod event_in_book;
pub mod facts;
pub mod fit;
mod intake;
mod irregular;
mod irregular_state;
pub mod kept_keys;
pub mod kept_state;
pub mod known;
mod known_on_receipt;
mod label_on;
pub mod leaving;
pub mod ledger;
pub mod limits;
pub mod loading;
pub mod local_rules;
pub mod lookup;
pub mod mailing;
pub mod mode;
pub mod need;
mod other_bench;
pub mod papers;
mod receipt;
pub mod refusal;
pub mod refusal_of_irregular;
pub mod refusal_on_container;
pub mod refusal_on_leaving;
pub mod release;
pub mod repacking;
mod rule;
mod service;
mod shipment;
pub mod simulated;
pub mod state;
pub mod story;
mod struck;
pub mod summary;
#[cfg(any(test, feature = "test-support"))]
pub mod test_support;
#[cfg(test)]
mod tests;
pub mod units;
pub mod used;
pub mod waste_code;
pub mod watch_end;
mod whereabouts;

pub use case_file::case_file;
pub use celltriage_rules::LegalState;
pub use error::CustodyError;
pub use kept_state::Scope;
pub use local_rules::{LocalRules, PackRules};
pub use receipt::{Intake, Receipt};
pub use refusal::Refusal;
pub use state::State;
pub use story::{Story, story};
