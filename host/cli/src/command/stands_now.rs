//! What the book has of a cell now, shown above an entry that is no decision.

use crate::io::Io;
use celltriage_report::known_page::known_page;
use celltriage_workshop::stands_now::StandsNow;

/// Shows how the cell of an entry stands now.
pub(super) fn say(now: &StandsNow, cell: &str, io: &mut Io<'_>) {
    if now.simulated || !now.known.is_empty() {
        io.show(&known_page(now.simulated, cell, &now.known));
    }
}
