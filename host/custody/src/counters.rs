//! What is counted against the limits: for a container, and for the site.
//!
//! Takes the state, limits and the day; gives [`Counter`]s. Only cells that are there are counted, each once; a cell
//! whose mass is not known counts with the worst case, and the counter says so. A simulated cell is never counted.

use crate::cell::{Cell, Whereabouts};
use crate::circumstances::Circumstances;
use crate::clock::{days_left, end_of, in_words};
use crate::event::RestsOn;
use crate::limits::{Amount, Counted, CounterLimit};
use crate::state::State;
use crate::units::{Milligrams, Millilitres, MilliwattHours};
use celltriage_rules::{LegalState, PlaceCode};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// A limit with what is counted against it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Counter {
    /// The limit.
    #[serde(flatten)]
    pub limit: CounterLimit,
    /// What is counted, in words with its unit; `None` if it cannot be counted.
    pub counted: Option<String>,
    /// Last day, where time is counted.
    pub until: Option<Date>,
    /// Days left, where time is counted; negative: overdue.
    pub days_left: Option<i64>,
    /// Whether the limit is passed; `None` if it cannot be told.
    pub passed: Option<bool>,
    /// What is to be known of the count.
    pub notes: Vec<String>,
}

/// Returns the counters of a container.
pub fn of_container(state: &State, name: &str, circumstances: &Circumstances<'_>) -> Vec<Counter> {
    let Some(container) = state.containers.get(name) else { return Vec::new() };
    let place = &container.opened.place;
    let cells: Vec<(&String, &Cell)> =
        state.cells_in(name).filter(|(_, cell)| !cell.is_simulated()).collect();
    circumstances
        .rules
        .limits(place, circumstances.today, container.opened.kind.counted_as())
        .into_iter()
        .map(|limit| match limit.what {
            Counted::TimeSinceDecision => time(
                limit,
                cells.iter().filter_map(|(_, cell)| cell.discarded_on()).min(),
                circumstances.today,
            ),
            Counted::SiteMass => mass(limit, Milligrams::default(), site_cells(state, place)),
            Counted::TransportUnitMass => mass(limit, Milligrams::default(), cells.iter().copied()),
            Counted::PackageGross => gross(limit, container.opened.tare, &cells),
            Counted::CellMass => {
                let heaviest = cells.iter().copied().max_by_key(|(_, cell)| cell.heaviest());
                heaviest_cell(limit, heaviest)
            }
            Counted::CellEnergy => {
                let largest = cells.iter().map(|(_, cell)| cell.largest()).max().unwrap_or_default();
                let rests_on = |cell: &Cell| cell.stated_energy().map(|energy| energy.rests_on);
                Counter {
                    notes: estimated("energy", &cells, rests_on).into_iter().collect(),
                    ..energy(limit, largest)
                }
            }
            Counted::StoredVolume => volume(limit, standing_at(state, place)),
            Counted::GroupVolume => volume(limit, std::iter::once((name, container.opened.volume))),
        })
        .collect()
}

/// Returns the counters that hold for all waste on the sites of a country.
pub fn of_site(state: &State, place: &PlaceCode, circumstances: &Circumstances<'_>) -> Vec<Counter> {
    circumstances
        .rules
        .limits(place, circumstances.today, LegalState::IntactWaste)
        .into_iter()
        .filter_map(|limit| match limit.what {
            Counted::SiteMass => Some(mass(limit, Milligrams::default(), site_cells(state, place))),
            Counted::StoredVolume => Some(volume(limit, standing_at(state, place))),
            _ => None,
        })
        .collect()
}

/// Returns the containers that stand in a place, with their volumes.
fn standing_at<'a>(
    state: &'a State,
    place: &'a PlaceCode,
) -> impl Iterator<Item = (&'a str, Option<Millilitres>)> {
    let standing = state.containers.iter().filter(|(_, container)| container.is_here());
    standing
        .filter(move |(name, container)| container.opened.place == *place && !state.holds_simulated(name))
        .map(|(name, container)| (name.as_str(), container.opened.volume))
}

/// Returns the waste on the site: cells that were decided to be discarded, or that stand in a container of the country,
/// and that have not left.
fn site_cells<'a>(state: &'a State, place: &'a PlaceCode) -> impl Iterator<Item = (&'a String, &'a Cell)> {
    let real = state.cells.iter().filter(|(_, cell)| !cell.is_simulated());
    real.filter(move |(_, cell)| match &cell.whereabouts {
        Whereabouts::HandedOver { .. } | Whereabouts::Left { .. } => false,
        Whereabouts::Loose | Whereabouts::Fitted { .. } => cell.discarded_on().is_some(),
        Whereabouts::In { container, .. } => state
            .containers
            .get(container)
            .is_some_and(|container| container.opened.place.country() == place.country()),
    })
}

fn counter(limit: CounterLimit) -> Counter {
    Counter { limit, counted: None, until: None, days_left: None, passed: None, notes: Vec::new() }
}

fn time(limit: CounterLimit, begin: Option<Date>, today: Date) -> Counter {
    let Some(begin) = begin else {
        return Counter {
            passed: Some(false),
            notes: vec!["no clock is running".to_owned()],
            ..counter(limit)
        };
    };
    let Some(until) = end_of(begin, limit.limit) else { return counter(limit) };
    let left = days_left(today, until);
    Counter {
        counted: Some(format!("since {begin}: {}", in_words(left))),
        until: Some(until),
        days_left: Some(left),
        passed: Some(left < 0),
        ..counter(limit)
    }
}

/// Mass of cells on top of what is there besides them.
fn mass<'a>(
    limit: CounterLimit,
    besides: Milligrams,
    cells: impl Iterator<Item = (&'a String, &'a Cell)>,
) -> Counter {
    let Amount::Mass(most) = limit.limit else { return counter(limit) };
    let cells: Vec<(&String, &Cell)> = cells.collect();
    let sum = besides.plus(cells.iter().map(|(_, cell)| cell.mass()).sum());
    Counter {
        counted: Some(sum.to_string()),
        passed: Some(limit.is_passed_by(&sum, &most)),
        notes: notes_on_mass(&cells),
        ..counter(limit)
    }
}

/// Says of which the mass is not known, as the worst case that is counted for each, and of which it is only estimated.
fn notes_on_mass(cells: &[(&String, &Cell)]) -> Vec<String> {
    let mut unknown: BTreeMap<Milligrams, Vec<&str>> = BTreeMap::new();
    for (name, cell) in cells.iter().filter(|(_, cell)| cell.stated_mass().is_none()) {
        unknown.entry(cell.mass()).or_default().push(name);
    }
    let unknown = unknown
        .into_iter()
        .map(|(mass, names)| format!("not weighed, counted as {mass} each: {}", names.join(", ")));
    let rests_on = |cell: &Cell| cell.stated_mass().map(|mass| mass.rests_on);
    unknown.chain(estimated("mass", cells, rests_on)).collect()
}

fn estimated(
    what: &str,
    cells: &[(&String, &Cell)],
    rests_on: impl Fn(&Cell) -> Option<RestsOn>,
) -> Option<String> {
    let guessed = cells.iter().filter(|(_, cell)| rests_on(cell) == Some(RestsOn::Estimated));
    let names: Vec<&str> = guessed.map(|(name, _)| name.as_str()).collect();
    (!names.is_empty()).then(|| format!("{what} estimated: {}", names.join(", ")))
}

fn heaviest_cell(limit: CounterLimit, heaviest: Option<(&String, &Cell)>) -> Counter {
    let Amount::Mass(most) = limit.limit else { return counter(limit) };
    let mass = heaviest.map(|(_, cell)| cell.heaviest()).unwrap_or_default();
    Counter {
        counted: Some(mass.to_string()),
        passed: Some(limit.is_passed_by(&mass, &most)),
        notes: notes_on_mass(heaviest.as_slice()),
        ..counter(limit)
    }
}

fn gross(limit: CounterLimit, tare: Option<Milligrams>, cells: &[(&String, &Cell)]) -> Counter {
    match tare {
        Some(tare) => mass(limit, tare, cells.iter().copied()),
        None => Counter {
            notes: vec!["the empty container was not weighed: weigh the whole package".to_owned()],
            ..counter(limit)
        },
    }
}

fn energy(limit: CounterLimit, largest: MilliwattHours) -> Counter {
    let Amount::Energy(most) = limit.limit else { return counter(limit) };
    Counter {
        counted: Some(largest.to_string()),
        passed: Some(limit.is_passed_by(&largest, &most)),
        ..counter(limit)
    }
}

/// The volume of a container counts whole, however much is in it: the worst case.
fn volume<'a>(
    limit: CounterLimit,
    containers: impl Iterator<Item = (&'a str, Option<Millilitres>)>,
) -> Counter {
    let Amount::Volume(most) = limit.limit else { return counter(limit) };
    let (known, unknown): (Vec<_>, Vec<_>) = containers.partition(|(_, volume)| volume.is_some());
    let sum: Millilitres = known.into_iter().filter_map(|(_, volume)| volume).sum();
    let passed = limit.is_passed_by(&sum, &most);
    if unknown.is_empty() {
        return Counter { counted: Some(sum.to_string()), passed: Some(passed), ..counter(limit) };
    }
    let names: Vec<&str> = unknown.into_iter().map(|(name, _)| name).collect();
    Counter {
        counted: Some(format!("{sum} and more")),
        // What is not known may be enough to pass it.
        passed: passed.then_some(true),
        notes: vec![format!("opened without its volume: {}", names.join(", "))],
        ..counter(limit)
    }
}
