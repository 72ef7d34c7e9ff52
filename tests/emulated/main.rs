//! The fixture's firmware as Arm machine code under an emulator, with the host on its serial port.
//!
//! Needs the emulator and the board's program: `tests/emulator/setup`, then
//! `cargo test -p celltriage-tests --features emulated --test emulated`. Without them every test fails and says so.
//!
//! | file | what it tests |
//! |---|---|
//! | `assessments` | the cells of the demo are decided as on the simulated fixture |
//! | `causes` | every cause of a trip, and the time until the load is off |
//! | `chips` | chips that are not what they should be |
//! | `steps` | every end of a step |
//! | `ownership` | what comes late, twice, from another owner, or from a host of version 1 |
//! | `orphan` | a load whose owner is gone, a plan that has run |
//! | `link` | silence, kills, rubbish, floods, a plug pulled |
//! | `failures` | watchdog, panic, stack |
//! | `refusals` | every refusal, rubbish on the line |
//! | `store` | the calibration over power failures |
//! | `discharge` | ten hours |
//! | `memory` | starts, failures and trips over resets and power failures |
//! | `flood` | the most expensive requests at 1 kHz |
//! | `budget` | instructions, stack, bytes |
//!
//! The rest plays the other side: `machine` the emulator with its `program` and the `trace` of what ran, `player` the
//! bench, `pace` its time, `host` a host, `log` what the
//! program logs.

#[path = "../../firmware/boards/emulated/src/words.rs"]
mod words;

#[path = "../../firmware/src/test_owner.rs"]
mod test_owner;

mod assessments;
mod budget;
mod causes;
mod chips;
mod discharge;
mod failures;
mod flood;
mod host;
mod link;
mod log;
mod machine;
mod memory;
mod orphan;
mod ownership;
mod pace;
mod player;
mod program;
mod refusals;
mod steps;
mod store;
mod trace;
mod transaction;
