//! What the cross-crate checks share: a workshop, a bench one can look into, links that fail, a terminal held still.

mod at_terminal;
mod bad_line;
mod bench;
mod breaking;
mod calls;
mod far_end;
mod foreign;
mod losing;
mod lossy_run;
mod night;
mod real_day;
mod shop;
mod short_plan;
mod snapshot;
mod stop_at;
mod stopping;
mod stranger;

pub use at_terminal::{Evening, Key, at_terminal};
pub use bad_line::{BadLine, Line};
pub use bench::{Collector, SharedBench};
pub use breaking::{Break, BreakingLink};
pub use calls::{Call, call, call_around, call_at, call_in, call_on_screen, call_unstated};
pub use far_end::{FarEnd, PATIENCE};
pub use foreign::foreign_frame;
pub use losing::{LosingLink, Passing, at_random};
pub use lossy_run::LossyRun;
pub use night::{Ears, connected, keeper, watch_terms};
pub use real_day::real_day;
pub use shop::{ABLE, BY, CHARGE, EVENING, FIXTURE, FRIDAY, MONDAY, NOON, REASON, Shop, YEAR_BACK};
pub use short_plan::{long_hold, samples, short_plan};
pub use stop_at::{MID_HOLD, StopAt};
pub use stopping::call_stopped_at;
pub use stranger::Stranger;

/// Returns the text of a file of the project, named from its top folder.
pub fn read_of_project(path: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Returns how often something is to be tried: as usual, or as CELLTRIAGE_TEST_ROUNDS says for once.
///
/// # Panics
/// If that variable is no number.
pub fn rounds(usual: u64) -> u64 {
    std::env::var("CELLTRIAGE_TEST_ROUNDS")
        .map_or(usual, |rounds| rounds.parse().expect("a number of rounds"))
}
