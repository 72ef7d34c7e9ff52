//! Simulated and real entries of one cell are not mixed.

use crate::error::Error;

/// Says that a run would mix what is simulated with what is real under one name.
pub fn mixed(cell: &str, simulated_run: bool) -> Error {
    let (run, there) = if simulated_run { ("simulated", "real") } else { ("real", "simulated") };
    let what = format!("the book has {there} entries of cell {cell}; a {run} run is not written beside them");
    Error::input(format!("{what}; nothing was measured"))
        .hint("take another name with --id, or another book with --book")
        .hint("where an earlier entry is wrong, a person strikes it: celltriage container correct ENTRY --strike")
}
