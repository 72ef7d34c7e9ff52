//! What the book has of a cell now, shown above an entry that is no decision.

use crate::io::Io;
use crate::output::{Style, hanging};
use celltriage_custody::known;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_workshop::stands_now::StandsNow;

/// Shows how the cell of an entry stands now.
pub(super) fn say(now: &StandsNow, cell: &str, io: &mut Io<'_>) {
    if now.simulated {
        io.say(FIRST_LINE);
    }
    let width = Style::new(io.width, io.colour).width();
    for found in &now.known {
        io.say(&hanging("", 2, &known::line(known::OF, cell, found), width));
    }
}
