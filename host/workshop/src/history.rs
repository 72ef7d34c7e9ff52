//! What the book knows of a cell from before, as far as a new decision may use it.
//!
//! Takes the book, the cell's name and the present time; gives plain data. The estimates stay pure: they are handed this
//! and read no book. It is kept with the decision, so that the decision can be recomputed.

use crate::capacity_run;
use crate::kept_models::cells_of;
use celltriage_assessment::health::{Sibling, labels_of};
use celltriage_assessment::history::{History, fixture_name, made};
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_assessment::same_cell::{Earlier, Facts};
use celltriage_book::{Book, Entry, Subject};
use celltriage_custody::cell::{Cell, Whereabouts};
use celltriage_custody::state::State;
use celltriage_custody::{CustodyError, case_file};
use celltriage_measure::estimate::{Estimates, Visit};
use celltriage_verdict::RunOutcome;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use std::collections::{BTreeMap, BTreeSet};

/// Most cells of a model that a decision compares with, the newest ones.
const MOST_SIBLINGS: u32 = 100;
/// Most earlier decisions that one is compared with (our choice: some hundred bytes each).
const MOST_EARLIER: usize = 12;

/// Reads what the book knows of a cell and of its model; `simulated` says whether it is a cell of the simulated bench.
///
/// # Errors
/// A book error.
pub fn read(
    book: &Book,
    cell_id: &str,
    model: Option<&str>,
    simulated: bool,
    now: Timestamp,
    zone: &TimeZone,
) -> Result<History, CustodyError> {
    let entries = book.entries_of(&Subject::cell(cell_id))?;
    let state = State::about(book, &[cell_id])?;
    let case_file = case_file(&state, cell_id);
    let known = case_file.standing.clone();
    let lifetime = state.cells.get(cell_id).map(Cell::lifetime).filter(|lifetime| !lifetime.is_empty());
    let mut visits: Vec<Visit> = entries
        .iter()
        .filter(|entry| entry.kind == ASSESSMENT && !state.struck.contains_key(&entry.number))
        .filter_map(|entry| visit(entry, zone))
        .collect();
    // A recording that was never judged is a test that broke off: what it took out is not known.
    let broken = book.unfinished_recordings_of(cell_id)?;
    visits.extend(
        broken
            .into_iter()
            .map(|one| Visit { taken_ah: None, ..without_measurement(on_the_wall(one.at, zone)) }),
    );
    visits.retain(|visit| visit.at.timestamp() < now);
    // A charge begins a new storage, with nothing known of it yet. What was found in the one before still counts. One that
    // stands in several entries, since its label was written again, is one.
    let charges: BTreeSet<Timestamp> = entries.iter().filter_map(end_of_charge).collect();
    visits.extend(
        charges.into_iter().map(|at| Visit { charged: true, ..without_measurement(on_the_wall(at, zone)) }),
    );
    visits.sort_by_key(|visit| visit.at.timestamp());
    // A cell is compared with cells of its own sort: a real one with real ones. More cells narrow nothing worth keeping with
    // every decision; new ones are references and come first.
    let mut siblings = others(book, cell_id, model, simulated)?;
    let labels_of_model = labels_of(&siblings);
    siblings.truncate(usize::try_from(MOST_SIBLINGS).unwrap_or(usize::MAX));
    siblings.sort_by(|a, b| a.cell.cmp(&b.cell));
    let now = Some(on_the_wall(now, zone));
    let (earlier, lies_since) = (earlier(&entries, &state), lies_since(&state, cell_id));
    let case_file = case_file.without_standing();
    Ok(History { now, visits, siblings, labels_of_model, known, case_file, lifetime, earlier, lies_since })
}

/// The same for a trace from elsewhere, of which nobody knows when it was measured: what it can be compared with.
///
/// # Errors
/// A book error.
pub fn for_a_trace(
    book: &Book,
    cell_id: &str,
    model: Option<&str>,
    simulated: bool,
) -> Result<History, CustodyError> {
    let entries = book.entries_of(&Subject::cell(cell_id))?;
    let state = State::about(book, &[cell_id])?;
    let case_file = case_file(&state, cell_id);
    let (known, earlier) = (case_file.standing.clone(), earlier(&entries, &state));
    let lifetime = state.cells.get(cell_id).map(Cell::lifetime).filter(|lifetime| !lifetime.is_empty());
    let labels_of_model = labels_of(&others(book, cell_id, model, simulated)?);
    let case_file = case_file.without_standing();
    Ok(History { known, case_file, lifetime, earlier, labels_of_model, ..History::default() })
}

/// Reads the other cells of a model, one more than a decision compares with at most.
fn others(
    book: &Book,
    cell_id: &str,
    model: Option<&str>,
    simulated: bool,
) -> Result<Vec<Sibling>, CustodyError> {
    let Some(model) = model else { return Ok(Vec::new()) };
    let mut siblings = cells_of(book, model, simulated, Some(MOST_SIBLINGS + 1))?;
    siblings.retain(|sibling| sibling.cell != cell_id);
    Ok(siblings)
}

/// Reads the decisions that another one is compared with: those that count, from the last one on at which a person said that it
/// is the same cell.
fn earlier(entries: &[Entry], state: &State) -> Vec<Earlier> {
    let mut earlier: Vec<Earlier> = entries
        .iter()
        .filter(|entry| entry.kind == ASSESSMENT && !state.struck.contains_key(&entry.number))
        .filter_map(compared)
        .collect();
    let from = earlier.iter().rposition(|one| one.said_same).unwrap_or(0);
    earlier.drain(..from);
    // The first tells what the cell was, the newest what it has become; what lies between is kept with their decisions.
    if earlier.len() > MOST_EARLIER {
        let newest = earlier.len() + 1 - MOST_EARLIER;
        earlier.drain(1..newest);
    }
    earlier
}

fn compared(entry: &Entry) -> Option<Earlier> {
    let assessment = assessment_of(entry).ok()?;
    let seen = &assessment.cell.observations;
    // What a test that broke off has measured may be the reason why it did.
    let measured = match assessment.conditions.run {
        RunOutcome::Complete | RunOutcome::Recorded => assessment.estimates.clone(),
        _ => BTreeMap::new(),
    };
    let facts = Facts::of(&assessment.cell.nameplate, seen, &measured);
    let said_same = seen.said_to_be_the_same().is_some();
    Some(Earlier { entry: entry.number, on: assessment.conditions.date, facts, said_same })
}

fn lies_since(state: &State, cell: &str) -> Option<Date> {
    match state.cells.get(cell)?.whereabouts {
        Whereabouts::In { since, .. } => Some(since),
        _ => None,
    }
}

/// The cells of a model.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelCells {
    /// The real ones; the simulated ones only where there is no real one.
    pub cells: Vec<Sibling>,
    /// Whether they are simulated.
    pub simulated: bool,
    /// How many simulated ones are left out beside real ones.
    pub left_out: usize,
}

/// Reads all cells of a model, each with the newest value of each number, in the order of their names. Simulated cells are
/// never counted with real ones.
///
/// # Errors
/// A book error.
pub fn siblings_of(book: &Book, model: &str) -> Result<ModelCells, CustodyError> {
    let read = |simulated| {
        let mut cells = cells_of(book, model, simulated, None)?;
        cells.sort_by(|a, b| a.cell.cmp(&b.cell));
        Ok::<_, CustodyError>(cells)
    };
    let (real, simulated) = (read(false)?, read(true)?);
    let only_simulated = |one: &&Sibling| real.iter().all(|cell| cell.cell != one.cell);
    let left_out = simulated.iter().filter(only_simulated).count();
    Ok(match real.is_empty() {
        true => ModelCells { simulated: !simulated.is_empty(), cells: simulated, left_out: 0 },
        false => ModelCells { cells: real, simulated: false, left_out },
    })
}

/// Returns when a cell came off the charger, where the entry says so.
fn end_of_charge(entry: &Entry) -> Option<Timestamp> {
    let step = Some(entry)
        .filter(|entry| entry.kind == capacity_run::KIND)
        .and_then(|one| capacity_run::step_of(one).ok())?;
    (step.stage == capacity_run::Stage::Resting).then(|| step.since(entry.at))
}

/// The time with the offset that holds there and then; the name of the zone is left out, so that it is read anywhere.
fn on_the_wall(at: Timestamp, zone: &TimeZone) -> ZonedDateTime {
    at.to_zoned_datetime(zone.to_offset(at).to_time_zone())
}

/// Makes the visit of an assessment; `None` if none was measured here, or its time is not that of the entry.
fn visit(entry: &Entry, zone: &TimeZone) -> Option<Visit> {
    let assessment = assessment_of(entry).ok()?;
    let conditions = &assessment.conditions;
    let known = match conditions.run {
        RunOutcome::Complete | RunOutcome::Settled | RunOutcome::Tripped { .. } => true,
        RunOutcome::Unfinished { .. } => false,
        RunOutcome::Recorded | RunOutcome::NotMeasured { .. } => return None,
    };
    let estimates = Estimates { measured: assessment.estimates.clone(), ..Estimates::default() };
    let fixture = fixture_name(conditions.fixture.as_deref(), conditions.calibration);
    let rested_h = assessment.cell.observations.rested_h;
    let mut visit = made(on_the_wall(entry.at, zone), &estimates, rested_h, fixture);
    visit.taken_ah = visit.taken_ah.filter(|_| known);
    Some(visit)
}

/// Makes a visit at which nothing was measured and nothing taken out.
fn without_measurement(at: ZonedDateTime) -> Visit {
    Visit { at, rest: None, rested_h: None, taken_ah: Some(0.0), fixture: None, charged: false }
}
