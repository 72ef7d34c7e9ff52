//! Checks of what ends a finding: a look at a temperature, and a person's word.

use super::cells::plausible;
use crate::cell::Cell;
use crate::event::{FindingReleased, TemperatureLook};
use crate::lookup::{not_gone, one_line};
use crate::refusal::Refusal;
use crate::state::State;
use celltriage_verdict::KnownFinding;

pub(super) fn looked(state: &State, event: &TemperatureLook) -> Result<(), Refusal> {
    seen(state, &event.cell)?;
    [event.temperature_c, event.air_c].into_iter().try_for_each(plausible)
}

pub(super) fn released(state: &State, event: &FindingReleased) -> Result<(), Refusal> {
    let cell = seen(state, &event.cell)?;
    one_line("reason", &event.because)?;
    let no = |why: String| Err(Refusal::NotEnded { cell: event.cell.clone(), entry: event.entry, why });
    if state.time.contradicted_by_ms().is_some() {
        return no("the times in the book contradict each other; put the clock right first".to_owned());
    }
    let found: Vec<_> = cell.standing().filter(|found| found.entry == event.entry).collect();
    let ended = |one: &&KnownFinding| cell.grounds.may_end(one).map_err(|why| format!("{}: {why}", one.what));
    let missing: Vec<String> = found.iter().filter_map(|one| ended(one).err()).collect();
    match found.len() {
        0 => no("nothing that it found stands".to_owned()),
        // What else it found stands as it did.
        all if missing.len() < all => Ok(()),
        _ => no(missing.join("; ")),
    }
}

/// Returns a cell that the book has something about and that has not left: an alarm may be all that there is.
fn seen<'a>(state: &'a State, name: &str) -> Result<&'a Cell, Refusal> {
    let cell = state.cells.get(name).ok_or_else(|| Refusal::UnknownCell(name.to_owned()))?;
    not_gone(name, cell).map(|()| cell)
}
