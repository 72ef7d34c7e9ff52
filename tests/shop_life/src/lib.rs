//! A shop that never sleeps: weeks of work drawn from a seed, played by the real workshop, the real firmware and a real book, and
//! what must hold after every step.
//!
//! ```text
//! draw.rs     seed -> a story: a list of steps, plain data
//! stories.rs  stories by hand: what once broke a promise, or is drawn too seldom
//! life.rs     plays a step: bench.rs (a cell on the fixture), hot_watch.rs, desk.rs, boxes.rs (everything after it)
//! graded.rs   a good trace from a file under the name of any cell
//! mishap.rs   what goes wrong at the fixture and on the line; rig.rs, fixture.rs let it happen
//! at_once.rs  two programs that write at the same moment
//! away.rs     other benches: at the same book, and with a book of their own that is merged
//! standard.rs the check standard, which stops a fixture that is off too far
//! disk.rs     the book's disk, which may be full; room.rs gives it a file system of its own
//! told.rs     what people have told the book, kept apart from the book: by it the promises are judged
//! promises.rs what must hold after every step
//! shrink.rs   a story that breaks a promise -> a shorter one that breaks the same
//! ```
//! Time is virtual. The oracle shares no code with what it judges: it only notes what was said and accepted.

pub mod cells;
pub mod draw;
pub mod life;
pub mod mishap;
pub mod room;
pub mod shrink;
pub mod step;
pub mod stories;
pub mod tally;

mod at_once;
mod away;
mod bench;
mod boxes;
mod clock;
mod cooling;
mod desk;
mod disk;
mod fixture;
mod graded;
mod hot_watch;
mod job;
mod meanwhile;
mod promises;
mod rig;
mod routines;
mod settled;
mod standard;
#[cfg(test)]
mod stories_tests;
#[cfg(test)]
mod tests;
mod told;
mod trial;
mod words;
