//! What the fixture's program is, which limits are compiled in, on what board it runs, and how it came to run.
//!
//! [`crate::reply::Identity`] says what the fixture can do; this says which guard it was that watched over a run, so that a
//! record can name it, and what happened before this start of the program.

use crate::event::Trip;
use heapless::String;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Longest text of a commit: 12 digits of its hash, which git itself takes as unambiguous in the largest histories (from
/// memory), and `+` where the sources differed from it.
pub const COMMIT: usize = 16;
/// Longest text of a board's revision.
pub const REVISION: usize = 8;
/// Longest text of a panic.
pub const PANIC: usize = 48;

/// The answer to [`crate::request::Request::Describe`]. What is not known is `None`, never a guess.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Description {
    /// Oldest and newest wire version it speaks.
    pub versions: (u8, u8),
    /// Rises with each start of the program; 0 where the board cannot count them.
    pub boot: u32,
    /// The last request number taken since then; 0 = none yet.
    pub number: u32,
    /// Commit that the program was built from.
    pub commit: Option<String<COMMIT>>,
    /// Digest of the limits compiled in ([`crate::limits::DIGEST`]).
    pub limits: u64,
    /// Revision of the board, e.g. `A`.
    pub revision: Option<String<REVISION>>,
    /// Why the program started.
    pub reset: Option<ResetCause>,
    /// The last panic that the board remembers.
    pub panic: Option<PastPanic>,
    /// The last trip before this start that the board remembers.
    pub trip: Option<PastTrip>,
    /// What this fixture can do besides what every fixture can.
    pub abilities: Abilities,
}

/// Why the program started. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum ResetCause {
    /// Power came on.
    PowerOn = 0,
    /// The supply dipped.
    BrownOut = 1,
    /// The reset input.
    Pin = 2,
    /// The watchdog: the program did not go round in time.
    Watchdog = 3,
    /// The program itself, on request.
    Request = 4,
    /// The program itself, after a panic or a fault of the processor.
    Panic = 5,
    /// A debugger.
    Debugger = 6,
}

/// A panic before this start.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct PastPanic {
    /// Boot number of the program that panicked.
    pub boot: u32,
    /// Addresses of the calls that were under way, hexadecimal, newest first, as many as fit: the program's debug information
    /// names their lines.
    pub place: String<PANIC>,
}

/// A trip before this start. Where nobody has acknowledged it, it is latched again ([`crate::reply::State::trip`]).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct PastTrip {
    /// Boot number of the program that tripped.
    pub boot: u32,
    /// The trip.
    pub trip: Trip,
}

/// What not every fixture can do; all of it refused with [`crate::reply::RejectCause::NotSupported`] where it is not said here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Abilities {
    /// Goes to its boot loader on request.
    pub boot_loader: bool,
    /// Knows the adapter between it and the cell.
    pub adapter: bool,
    /// How many cells of a pack it has taps for.
    pub taps: u8,
    /// Reads a pack's own gauge.
    pub gauge: bool,
}
