//! What the book knows of a cell from before, as far as a new decision may use it.
//!
//! Takes the book, the cell's name and the present time; gives plain data. The estimates stay pure: they are handed this
//! and read no book. It is kept with the decision, so that the decision can be recomputed.

use crate::capacity_run;
use celltriage_assessment::health::{Reading, Sibling};
use celltriage_assessment::history::{History, fixture_name, made};
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_book::{Book, Entry, Filter};
use celltriage_custody::CustodyError;
use celltriage_custody::cell::Cell;
use celltriage_custody::state::State;
use celltriage_measure::estimate::{Estimates, Quantity, Visit};
use celltriage_verdict::RunOutcome;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use std::collections::{BTreeMap, BTreeSet};

/// Most cells of a model that a decision compares with, the newest ones.
const MOST_SIBLINGS: usize = 100;

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
    let filter = Filter { cell_id: Some(cell_id.to_owned()), ..Filter::default() };
    let entries = book.entries(&filter)?;
    let state = State::read(book)?;
    let known = state.cells.get(cell_id).map_or_else(Vec::new, Cell::known);
    let mut visits: Vec<Visit> = entries
        .iter()
        .filter(|entry| entry.kind == ASSESSMENT && !state.struck.contains_key(&entry.number))
        .filter_map(|entry| visit(entry, zone))
        .collect();
    // A recording that was never judged is a test that broke off: what it took out is not known.
    let broken = book.unfinished_recordings()?;
    visits.extend(
        broken
            .into_iter()
            .filter(|one| one.cell_id == cell_id)
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
    // A cell is compared with cells of its own sort: a real one with real ones.
    let mut siblings = match model {
        Some(model) => siblings_of(book, model)?.of_sort(simulated),
        None => Vec::new(),
    };
    siblings.retain(|sibling| sibling.cell != cell_id);
    // More cells narrow nothing worth keeping with every decision; new ones are references and always stay.
    siblings.sort_by_key(|sibling| std::cmp::Reverse((sibling.new, sibling.entry)));
    siblings.truncate(MOST_SIBLINGS);
    siblings.sort_by(|a, b| a.cell.cmp(&b.cell));
    Ok(History { now: Some(on_the_wall(now, zone)), visits, siblings, known })
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

impl ModelCells {
    /// Returns the cells, if they are of the sort asked for.
    fn of_sort(self, simulated: bool) -> Vec<Sibling> {
        if self.simulated == simulated { self.cells } else { Vec::new() }
    }
}

/// Reads all cells of a model, each with the newest value of each number, in the order of their names. Simulated cells are
/// never counted with real ones.
///
/// # Errors
/// A book error.
pub fn siblings_of(book: &Book, model: &str) -> Result<ModelCells, CustodyError> {
    let (mut real, mut simulated) = (BTreeMap::new(), BTreeMap::new());
    // Newest first: what is there already is newer.
    for entry in book.find(model)? {
        let Some(assessment) =
            Some(&entry).filter(|one| one.kind == ASSESSMENT).and_then(|one| assessment_of(one).ok())
        else {
            continue;
        };
        if assessment.cell.nameplate.model.as_deref() != Some(model) {
            continue;
        }
        let conditions = &assessment.conditions;
        let instrument = fixture_name(conditions.fixture.as_deref(), conditions.calibration);
        let instrument = instrument.as_deref().unwrap_or("an unknown instrument");
        let estimates = Estimates { measured: assessment.estimates, ..Estimates::default() };
        let known = |quantity| Reading::of(&estimates, quantity, instrument);
        let found = if assessment.conditions.is_simulated() { &mut simulated } else { &mut real };
        let sibling: &mut Sibling = found.entry(entry.cell_id.clone()).or_insert_with(|| Sibling {
            cell: entry.cell_id.clone(),
            entry: entry.number,
            new: false,
            capacity_fraction: None,
            resistance_25c: None,
        });
        sibling.new |= assessment.cell.observations.new_cell;
        if sibling.capacity_fraction.is_none() {
            sibling.capacity_fraction = known(Quantity::CapacityFraction);
        }
        if sibling.resistance_25c.is_none() {
            sibling.resistance_25c = known(Quantity::Resistance25Celsius);
        }
    }
    let left_out = simulated.keys().filter(|name| !real.contains_key(*name)).count();
    Ok(match real.is_empty() {
        true => {
            let simulated_only = !simulated.is_empty();
            ModelCells { cells: simulated.into_values().collect(), simulated: simulated_only, left_out: 0 }
        }
        false => ModelCells { cells: real.into_values().collect(), simulated: false, left_out },
    })
}

/// Reads the models that the book knows, each with how many cells.
///
/// # Errors
/// A book error.
pub fn models(book: &Book) -> Result<BTreeMap<String, usize>, CustodyError> {
    let mut cells: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for entry in book.entries(&Filter::default())? {
        let model = entry.inputs.pointer("/nameplate/model").and_then(|model| model.as_str());
        if let Some(model) = model.filter(|_| entry.kind == ASSESSMENT) {
            cells.entry(model.to_owned()).or_default().insert(entry.cell_id);
        }
    }
    Ok(cells.into_iter().map(|(model, cells)| (model, cells.len())).collect())
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
        RunOutcome::Complete | RunOutcome::Tripped { .. } => true,
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
