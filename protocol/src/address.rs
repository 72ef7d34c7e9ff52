//! To whom a request is addressed: one start of the fixture's program; and where it stands among those that act.
//!
//! A fixture that was restarted has forgotten what the host knows of it, and a frame that was held up somewhere on the
//! way may come minutes late or twice. So whatever changes something carries the boot number, which rises with each start
//! of the program, and a request number, which rises with each such request. The fixture refuses another boot number, and
//! a number that is not above the last one it has taken. Its answer carries its boot number too.

use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// The address of a request.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Address {
    /// The boot number, as the fixture has told it ([`crate::description::Description::boot`]).
    pub boot: u32,
    /// The request number: for a request that acts, above the last one that the fixture has taken; else not looked at.
    pub number: u32,
}
