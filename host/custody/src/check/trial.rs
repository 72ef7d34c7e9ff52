//! Checks of what is recorded of a cell's life, and of cells that go into devices and come out again.

use crate::cell::{Cell, Whereabouts};
use crate::event::{Fitted, Incident, LifetimeRecord, ReceivedAs, TakenOutOfDevice};
use crate::lookup::{in_no_device, may_be_new, not_before, not_gone, not_later_than, one_line};
use crate::refusal::Refusal;
use crate::state::State;
use celltriage_rules::LegalState;
use celltriage_verdict::{Fate, LifeEvent};
use jiff::civil::Date;

/// More charge cycles than this are a slip of the pen (our choice: ten a day for a good many years).
const MOST_CYCLES: u32 = 20_000;
/// Health in per cent outside of which a figure is a slip of the pen: gauges show a new cell somewhat above its rating (our
/// choice).
const PLAUSIBLE_HEALTH: std::ops::RangeInclusive<f64> = 0.0..=150.0;

pub(super) fn lifetime(state: &State, event: &LifetimeRecord, on: Date) -> Result<(), Refusal> {
    let cell = may_be_new(state, &event.cell)?;
    for (what, text) in [
        ("device", &event.device),
        ("serial number", &event.serial),
        ("job", &event.job),
        ("model", &event.model),
        ("date on the cell", &event.dated),
        ("note", &event.note),
    ] {
        text.iter().try_for_each(|text| one_line(what, text))?;
    }
    if LifetimeRecord::of(&event.cell, event.from) == (LifetimeRecord { read_on: None, ..event.clone() }) {
        return Err(Refusal::EmptyRecord(event.cell.clone()));
    }
    event.read_on.map_or(Ok(()), |day| not_later_than(day, on, "later than the record"))?;
    if let Some(cycles) = event.cycles.filter(|cycles| *cycles > MOST_CYCLES) {
        return Err(Refusal::BadNumber(format!("{cycles} is no number of charge cycles of a cell")));
    }
    // Not "outside": a figure that is NaN must not pass.
    if let Some(health) = event.health_percent.filter(|health| !PLAUSIBLE_HEALTH.contains(health)) {
        return Err(Refusal::BadNumber(format!("{health} % is no health of a cell")));
    }
    for past in &event.events {
        happened(past.what, past.note.as_deref())?;
    }
    let known = cell.is_some_and(|cell| cell.lifetime().came_from().is_some());
    if event.goes_back == Some(true) && !event.names_a_device() && !known {
        return Err(Refusal::BadText("device or job that it goes back into"));
    }
    Ok(())
}

fn happened(what: LifeEvent, note: Option<&str>) -> Result<(), Refusal> {
    match note {
        Some(note) => one_line("note", note),
        None if what == LifeEvent::Other => Err(Refusal::BadText("note on what happened")),
        None => Ok(()),
    }
}

pub(super) fn fitted(state: &State, event: &Fitted) -> Result<(), Refusal> {
    if event.device.is_none() && event.job.is_none() {
        return Err(Refusal::BadText("device or job"));
    }
    event.device.iter().try_for_each(|text| one_line("device", text))?;
    event.job.iter().try_for_each(|text| one_line("job", text))?;
    let cell = may_be_new(state, &event.cell)?;
    if let Some(cell) = cell {
        let thing = cell.is_as().filter(|is| is.is_device() || *is == ReceivedAs::Lot);
        if let Some(is) = thing {
            let why = format!("it is {}; what comes out of it has a name of its own", is.words());
            return Err(Refusal::NotToBeFitted { cell: event.cell.clone(), why });
        }
        in_no_device(&event.cell, cell)?;
        if let Some(container) = cell.container() {
            let container = container.to_owned();
            return Err(Refusal::ElsewhereAlready { cell: event.cell.clone(), container });
        }
        nothing_against(&event.cell, cell)?;
    }
    match Cell::unproven(cell) {
        Some(why) if event.stays => Err(Refusal::NotProven { cell: event.cell.clone(), why }),
        _ => Ok(()),
    }
}

/// Says what stands against a cell that is to go into a device. What is only not known stands against nothing: the trial is
/// made in any case, and the book has to know where the cell is.
fn nothing_against(name: &str, cell: &Cell) -> Result<(), Refusal> {
    if cell.legal() == LegalState::Critical {
        return Err(Refusal::Critical(name.to_owned()));
    }
    if let Some(watch) = &cell.watch {
        let (since, because) = (watch.since, watch.hold.because.clone());
        return Err(Refusal::UnderWatch { cell: name.to_owned(), since, because });
    }
    let known = cell.standing().next().map(|found| format!("known before: {}", found.words()));
    let graded = cell.facts.as_ref().filter(|facts| facts.fate == Fate::Quarantine);
    let graded = graded.map(|facts| format!("it was graded quarantine (entry {})", facts.assessment));
    let discarded = cell.discarded_on().map(|day| format!("it was decided on {day} to discard it"));
    match known.or_else(|| cell.judged_against()).or(graded).or(discarded) {
        Some(why) => Err(Refusal::NotToBeFitted { cell: name.to_owned(), why }),
        None => Ok(()),
    }
}

pub(super) fn taken_out(state: &State, event: &TakenOutOfDevice, on: Date) -> Result<(), Refusal> {
    let not_fitted = || Refusal::NotFitted(event.cell.clone());
    let cell = state.cells.get(&event.cell).ok_or_else(not_fitted)?;
    not_gone(&event.cell, cell)?;
    event.because.iter().try_for_each(|text| one_line("reason", text))?;
    let Whereabouts::Fitted { since, .. } = &cell.whereabouts else { return Err(not_fitted()) };
    not_before(on, *since, "it was fitted")?;
    if cell.legal() == LegalState::Critical { Err(Refusal::Critical(event.cell.clone())) } else { Ok(()) }
}

pub(super) fn incident(state: &State, event: &Incident) -> Result<(), Refusal> {
    // Whatever cell it was, and wherever it is: that it happened is written down.
    may_be_new(state, &event.cell)?;
    happened(event.happened, event.note.as_deref())
}
