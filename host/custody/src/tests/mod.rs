//! Checks of custody as a whole: a small world in which events are tried, and what must hold in it.

mod alarms;
mod balance;
mod damaged;
mod dates;
mod findings;
mod irregular;
mod kept;
mod labels;
mod leaving;
mod ledger;
mod mixing;
mod other_bench;
mod papers;
mod properties;
mod receiving;
mod refusals;
mod shipping;
mod trial;
mod watch;
mod wrong_clock;

use crate::check::check;
use crate::checklist::Criterion;
use crate::circumstances::Circumstances;
use crate::draft::{self, Request};
use crate::event::*;
use crate::local_rules::PackRules;
use crate::refusal::Refusal;
use crate::state::State;
use crate::test_support::*;
use crate::units::{Milligrams, MilliwattHours};
use celltriage_measure::nameplate::Chemistry;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_rules::Packs;
use celltriage_verdict::{CellState, Fate, LifeEvent};
use jiff::civil::{Date, date};
