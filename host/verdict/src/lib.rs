//! From evidence to a fate: a policy as data, a decision rule, reasons.
//!
//! Input: the label, what was seen, what was measured and how the test went ([`Evidence`]) and a [`Policy`]; output: a
//! [`Verdict`]. Nothing here measures, prints or knows local law.

mod against_charge;
mod answer;
mod bound;
pub mod charge_temperature;
mod conformity;
mod consequence_file;
mod contradiction;
mod criterion;
mod criterion_file;
mod decide;
mod device;
mod evidence;
mod figure;
mod flat;
mod forbidden;
mod hidden;
mod judge;
mod judged;
mod known_before;
mod known_finding;
mod known_kind;
mod label;
mod label_of_model;
mod label_terms;
mod lifetime;
mod limit;
mod measurand;
mod measured;
mod needed;
mod normal;
mod not_counted;
mod policy;
mod policy_file;
mod reason;
mod same_cell;
mod settle;
mod several_cells;
mod step;
mod traceability;
mod types;
mod words;

pub use against_charge::against_charge;
pub use answer::Answer;
pub use conformity::Conformity;
pub use contradiction::{Contradicted, Contradiction};
pub use criterion::{Class, Consequence, Criterion, LabelVoltage, NumberLimit, Subject};
pub use decide::decide;
pub use device::{DeviceAnswer, Explains, answer_device};
pub use evidence::{Evidence, RunOutcome, TRIP, TRIP_CAUSES, trip_key};
pub use figure::{
    bare_figure, figure, figure_to, figure_with_doubt, figure_with_few, hours_and_minutes, limit_figure,
    probability_figure,
};
pub use forbidden::Forbidden;
pub use hidden::take_out_what_is_hidden;
pub use judge::judge;
pub use known_before::{KNOWN_BEFORE, UNDER_LOAD};
pub use known_finding::{KnownFinding, Told};
pub use known_kind::{Barred, KNOWN_TABLE, KnownKind, KnownRow, Release};
pub use label::{LABEL, confirmed as label_confirmed};
pub use label_of_model::LabelOfModel;
pub use label_terms::LabelTerms;
pub use lifetime::{CameAs, LifeEvent, Lifetime, Noted, PastEvent, Source};
pub use limit::{Guard, Limit};
pub use measurand::{LookedUp, Measurand};
pub use measured::Measured;
pub use needed::{Needed, needed};
pub use policy::{ALWAYS_MANDATORY, DEFAULT_POLICY, POLICY_2, Policy};
pub use reason::{Finding, PolicyMark, Reason, Relation, Value, Verdict};
pub use same_cell::SAME_CELL;
pub use step::{Act, Step};
pub use traceability::{LIFETIME_RECORD, Traceability, Unrecorded, Wanted};
pub use types::{CellState, Fate, Hazard};

#[cfg(test)]
mod hidden_tests;
#[cfg(test)]
mod jcgm_106;
#[cfg(test)]
mod properties;
#[cfg(test)]
pub(crate) mod tests;
