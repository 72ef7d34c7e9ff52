//! The status lamp: shows what the fixture is doing to somebody who stands before it.
//!
//! | it is | the fixture |
//! |---|---|
//! | lit for a moment every two seconds | waits for a plan |
//! | half on, half off, once a second | runs a plan |
//! | flickering | has tripped and holds the load off |
//! | dark or lit for good | has no program that runs |

use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::Micros;

/// Returns whether the lamp is lit at a time.
pub const fn is_lit(activity: Activity, now: Micros) -> bool {
    let milliseconds = now.get() / 1_000;
    match activity {
        Activity::Idle => milliseconds % 2_000 < 100,
        Activity::Running => milliseconds % 1_000 < 500,
        Activity::Tripped => milliseconds % 200 < 100,
    }
}
