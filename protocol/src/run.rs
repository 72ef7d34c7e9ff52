//! Whose run it is: the token, and what the fixture tells whoever shows it.
//!
//! The host draws a token for each run and gives it with the start. From then on only a keep-alive with this token holds
//! the run up against [`crate::limits::HOST_SILENCE`]; whatever else is said to the fixture, and by whomever, does not. A host
//! whose link broke shows the token to go on. A stop needs none.

use crate::reply::Activity;
use crate::units::Micros;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// What the owner of a run shows. It keeps programs from holding up a run by mistake; it is not a secret against malice:
/// whoever can read the line can read the token, and whoever can write to it can also stop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, MaxSize)]
#[serde(transparent)]
pub struct Token(pub u64);

/// How far a run has come, for the host that owns it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct RunState {
    /// The plan's number.
    pub plan: u32,
    /// Running, or not any more: idle where the run has ended, tripped where the guard has ended it and the trip is latched.
    pub activity: Activity,
    /// The step under way, if any.
    pub step: Option<u8>,
    /// Number of the event that told the start of the run.
    pub first_event: u32,
    /// Number that the next event will get.
    pub next_event: u32,
    /// The fixture's clock.
    pub now: Micros,
}
