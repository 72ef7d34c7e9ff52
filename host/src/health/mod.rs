//! The health of a cell against its label, against a new cell of its model, and among its siblings in the book.
//!
//! Takes what was measured of the cell and what the book knows of its model; gives shares with their uncertainty, always
//! with what came from the cell and what from its siblings. Nothing here takes part in the decision: `reuse` rests on the
//! cell's own counted capacity alone, and what siblings let expect is no measurement.

mod normal_model;
mod words;

pub use normal_model::{FEWEST_CELLS, Known, Population};

use crate::estimate::{Estimates, FrontEnd, Quantity};
use serde::{Deserialize, Serialize};

/// Another cell of the same model, as the book last knew it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sibling {
    /// Its name in the shop.
    pub cell: String,
    /// The entry of the book.
    pub entry: u32,
    /// Whether it was new and unused.
    pub new: bool,
    /// Counted capacity over rated capacity.
    pub capacity_fraction: Option<Known>,
    /// Resistance at 25 degC in ohm.
    pub resistance_25c: Option<Known>,
}

/// What can be said of a cell's health.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Health {
    /// Name of the model, as the shop writes it.
    pub model: Option<String>,
    /// Counted capacity of this cell over its rated capacity.
    pub of_rated: Option<Known>,
    /// The same over the mean of new cells of this model.
    pub of_new: Option<OfNew>,
    /// What its siblings let expect, and both together.
    pub siblings: Option<Siblings>,
    /// Resistance at 25 degC over the mean of its siblings.
    pub resistance: Option<AmongSiblings>,
    /// The same in sentences.
    pub statement: Vec<String>,
}

/// Against new cells of the same model.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OfNew {
    /// Share of a new cell's capacity.
    pub share: Known,
    /// How many new cells were counted.
    pub cells: usize,
    /// Their capacity over the rated one.
    pub new_of_rated: f64,
}

/// What siblings add: an expectation, and the joined value with the weights of both.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Siblings {
    /// How many cells.
    pub cells: usize,
    /// Standard deviation between them.
    pub spread: f64,
    /// What is expected of a cell of this model that nobody counted.
    pub expected: Known,
    /// This cell's count joined with the expectation; nothing where it was not counted.
    pub joined: Option<Known>,
    /// Weight of this cell's own count in it, 0 to 1; the rest comes from its siblings.
    pub weight_of_cell: Option<f64>,
    /// Standard deviations that this cell lies from what is expected.
    pub distance: Option<f64>,
}

/// A number of the cell among those of its siblings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AmongSiblings {
    /// How many siblings.
    pub cells: usize,
    /// This cell over their mean.
    pub ratio: f64,
    /// Standard deviations from what is expected.
    pub distance: f64,
}

/// Makes the statement; nothing where neither capacity nor model is known.
pub fn health(model: Option<&str>, estimates: &Estimates, siblings: &[Sibling]) -> Option<Health> {
    let of_rated = estimates.get(Quantity::CapacityFraction).map(Known::from);
    let resistance = estimates.get(Quantity::Resistance25Celsius).map(Known::from);
    let shared = estimates.gain_of_count().unwrap_or_else(budgeted_gain);
    if of_rated.is_none() && model.is_none() {
        return None;
    }
    let capacities = |new: bool| -> Vec<Known> {
        siblings.iter().filter(|one| one.new == new).filter_map(|one| one.capacity_fraction).collect()
    };
    let mut health = Health {
        model: model.map(str::to_owned),
        of_rated,
        of_new: of_rated.and_then(|own| of_new(own, &capacities(true), shared)),
        siblings: among(of_rated, &capacities(false), shared),
        resistance: resistance.and_then(|own| resistance_among(own, siblings)),
        statement: Vec::new(),
    };
    health.statement = words::statement(&health);
    Some(health)
}

/// What counts of one bench share, as a share of the value, where no count says it: the gain of the current channel as
/// budgeted. Averaging does not narrow it, and a ratio of two counts does not have it.
pub fn budgeted_gain() -> f64 {
    FrontEnd::fixture().current_gain
}

/// Takes what is shared out of an uncertainty; at least a tenth of it stays.
fn without_shared(one: Known, shared: f64) -> Known {
    let own = (one.standard_uncertainty.powi(2) - (shared * one.value).powi(2)).max(0.0).sqrt();
    Known { standard_uncertainty: own.max(0.1 * one.standard_uncertainty), ..one }
}

fn with_shared(one: Known, shared: f64) -> Known {
    Known { standard_uncertainty: one.standard_uncertainty.hypot(shared * one.value), ..one }
}

fn of_new(own: Known, new: &[Known], shared: f64) -> Option<OfNew> {
    if new.is_empty() {
        return None;
    }
    let count = new.len() as f64;
    let mean = new.iter().map(|one| one.value).sum::<f64>() / count;
    // One new cell stands for all with the spread between new cells of a maker, about 2 % (common practice); more cells
    // tell it themselves.
    let spread = match new.len() {
        1 => 0.02 * mean,
        _ => (new.iter().map(|one| (one.value - mean).powi(2)).sum::<f64>() / (count - 1.0))
            .sqrt()
            .max(0.01 * mean),
    };
    let own = without_shared(own, shared);
    let share = own.value / mean;
    let doubt = share * (own.standard_uncertainty / own.value).hypot(spread / count.sqrt() / mean);
    let share = Known { value: share, standard_uncertainty: doubt };
    (mean > 0.0 && doubt.is_finite()).then_some(OfNew { share, cells: new.len(), new_of_rated: mean })
}

/// Finds the population of counted capacities; what all counts share is in its uncertainties and not in its spread.
pub fn capacity_population(others: &[Known], shared: f64) -> Option<Population> {
    let others: Vec<Known> = others.iter().map(|one| without_shared(*one, shared)).collect();
    let found = Population::of(&others)?;
    let with = |one| with_shared(one, shared);
    Some(Population { mean: with(found.mean), expected: with(found.expected), ..found })
}

fn among(own: Option<Known>, others: &[Known], shared: f64) -> Option<Siblings> {
    let others: Vec<Known> = others.iter().map(|one| without_shared(*one, shared)).collect();
    let found = Population::of(&others)?;
    let own = own.map(|own| without_shared(own, shared));
    let joined = own.map(|own| found.joined(own));
    Some(Siblings {
        cells: found.cells,
        spread: found.spread,
        expected: with_shared(found.expected, shared),
        joined: joined.map(|(joined, _)| with_shared(joined, shared)),
        weight_of_cell: joined.map(|(_, weight)| weight),
        distance: own.map(|own| found.distance(own)),
    })
}

fn resistance_among(own: Known, siblings: &[Sibling]) -> Option<AmongSiblings> {
    let others: Vec<Known> = siblings.iter().filter_map(|one| one.resistance_25c).collect();
    let found = Population::of(&others)?;
    Some(AmongSiblings {
        cells: found.cells,
        ratio: own.value / found.mean.value,
        distance: found.distance(own),
    })
}

#[cfg(test)]
mod tests;
