//! What is not measured on a real cell: how the simulated bench is recognised, and the mark that it carries everywhere.

use crate::connected::name_of;
use celltriage_link::SIMULATED_SERIAL;

/// The word beside everything that is not of a real cell.
pub const SIMULATED: &str = "SIMULATED";
/// The word as the first line of a page or a paper.
pub const FIRST_LINE: &str = "SIMULATED: not a real cell, nothing to act on";
/// What the board of the simulated bench calls itself, also behind a serial port.
pub const BOARD: &str = "simulated";
/// How every link to the simulated bench of this program begins to describe itself.
const BENCH: &str = "simulated bench";
/// Source of a decision on a cell of the simulated bench that was kept off it.
pub const KEPT_OFF: &str = "simulated bench; no measurement";

/// Returns whether a measurement is of the simulated bench: its link says so, or the board that measured.
pub fn is_simulated_source(source: &str, fixture: Option<&str>) -> bool {
    source.starts_with(BENCH) || fixture.is_some_and(is_board)
}

/// Returns whether a fixture, as a recording describes it, is a simulated board.
pub fn is_board(fixture: &str) -> bool {
    fixture.split_whitespace().next() == Some(BOARD)
}

/// Returns whether a fixture of the book, by its name there, is the simulated one.
pub fn is_simulated_fixture(name: &str) -> bool {
    name == name_of(SIMULATED_SERIAL)
}

/// Returns the line of a list with the word, unless it has it already.
pub fn marked(line: &str, simulated: bool) -> String {
    if simulated && !line.contains(SIMULATED) { format!("{line} [{SIMULATED}]") } else { line.to_owned() }
}
