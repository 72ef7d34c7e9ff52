//! Local rules as data, and the cautions that follow from them.
//!
//! Takes rule packs (see `host/rules/packs/`, and `host/RULES.md` for their form), a verdict, a place and a date; gives
//! [`Caution`]s, hazard first, a [`Proposal`] of the legal state, and for containers and shipments what is counted,
//! written, enclosed and forbidden. A pack holds one fact per rule, with its source, how that source was seen and
//! until when it was checked. Nothing here says that a thing is allowed: it warns, counts, words a label, or sends to
//! the authority.

mod action;
mod caution;
mod certainty;
mod conflict;
mod conflict_fault;
mod counter;
mod figure;
mod goods;
mod kind;
mod legal_state;
mod library;
mod lookup;
mod matrix;
mod names;
mod pack;
mod pack_file;
mod place;
mod promise;
mod proposal;
mod query;
mod rule;
mod rule_file;
mod wording;

pub use action::Action;
pub use caution::{Caution, Situation, cautions, emergency_texts, gives_way};
pub use certainty::{Confidence, Seen};
pub use conflict::Conflict;
pub use counter::{Bound, Counted, Counter, Unit};
pub use figure::{Blocked, Carriage, Label, LightPackage, MarkOn, Paper, Purpose, Section, WasteCode};
pub use goods::Goods;
pub use kind::{Kind, Severity};
pub use legal_state::LegalState;
pub use library::Packs;
pub use matrix::{Presents, cautions_for};
pub use pack::{Pack, PackOrigin};
pub use place::{PlaceCode, PlaceCodeError};
pub use promise::promise_in;
pub use proposal::{Proposal, propose, propose_as_seen};
pub use query::{Fact, FromRule};
pub use rule::Rule;
pub use rule_file::KEYS as RULE_KEYS;

#[cfg(any(test, feature = "test-support"))]
pub mod test_support;
#[cfg(test)]
mod tests;
