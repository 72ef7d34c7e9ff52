//! Which entries of the book are about simulated cells.

use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::Head;
use celltriage_instrument::hot_cell::record::{ALARM, WATCH};

/// Returns whether an entry is about a simulated cell; `None` if it says neither that nor the contrary. Only what measured says it;
/// an event of custody is about whatever its cell is.
pub fn of_entry(entry: &Head) -> Option<bool> {
    entry.simulated.filter(|_| [ASSESSMENT, ALARM, WATCH].contains(&entry.kind.as_str()))
}
