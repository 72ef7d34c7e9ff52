//! The health of a cell against its label, against a new cell of its model, and among its siblings in the book.
//!
//! Takes what was measured of the cell and what the book knows of its model; gives shares with their uncertainty, always
//! with what came from the cell and what from its siblings. Nothing here takes part in the decision: `reuse` rests on the
//! cell's own counted capacity alone, and what siblings lead one to expect is no measurement.

mod expectation;
mod reading;
mod words;

pub use expectation::Expectation;
pub use reading::Reading;

use celltriage_measure::estimate::{Estimates, Quantity};
use celltriage_measure::normal_model::{FEWEST_CELLS, Known};
use celltriage_measure::observation::SensedAt;
use celltriage_verdict::LabelOfModel;
use reading::shared_by_mean;
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
    pub capacity_fraction: Option<Reading>,
    /// Resistance at 25 degC in ohm.
    pub resistance_25c: Option<Reading>,
    /// Where the voltage of that resistance was picked up, where somebody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sensed_at: Option<SensedAt>,
    /// Rated capacity on its label in Ah.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_ah: Option<f64>,
    /// Whether a second look at the label read the same.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub read_again: bool,
}

/// Returns what stands on the labels of some cells, by rated capacity.
pub fn labels_of(siblings: &[Sibling]) -> Vec<LabelOfModel> {
    let mut found: Vec<LabelOfModel> = Vec::new();
    for sibling in siblings {
        let Some(rated_ah) = sibling.rated_ah else { continue };
        let read_again = u32::from(sibling.read_again);
        match found.iter_mut().find(|group| group.rated_ah == rated_ah) {
            Some(group) => (group.cells, group.read_again) = (group.cells + 1, group.read_again + read_again),
            None => found.push(LabelOfModel { rated_ah, cells: 1, read_again }),
        }
    }
    found
}

/// Returns whether a resistance has the protection in its path; where nobody said it, it is taken not to.
pub fn has_protection(sensed_at: Option<SensedAt>) -> bool {
    sensed_at.is_some_and(SensedAt::has_protection_in_path)
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
    /// What its siblings lead one to expect, and both together.
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
    /// This cell's count joined with the expectation; `None` if it was not counted, or both contradict each other.
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

/// A cell this far from its siblings, in standard deviations, is out of the ordinary: 1 of 370 by chance. What contradicts is
/// not joined.
const OUT_OF_THE_ORDINARY: f64 = 3.0;

/// Spread between new cells of a maker, as a share (common practice). It counts as much as [`FEWEST_CELLS`] counted cells,
/// and until there are as many it is never less.
const SPREAD_OF_NEW: f64 = 0.02;

/// Makes the statement; `instrument` names what measured this cell, with its calibration. Nothing where neither capacity nor
/// model is known.
pub fn health(
    model: Option<&str>,
    estimates: &Estimates,
    instrument: Option<&str>,
    siblings: &[Sibling],
) -> Option<Health> {
    // What is not known to be the same instrument shares nothing with the others.
    let reading = |quantity| Reading::of(estimates, quantity, instrument.unwrap_or("this measurement"));
    let own = reading(Quantity::CapacityFraction);
    if own.is_none() && model.is_none() {
        return None;
    }
    let capacities = |new: bool| -> Vec<Reading> {
        siblings.iter().filter(|one| one.new == new).filter_map(|one| one.capacity_fraction.clone()).collect()
    };
    let mut health = Health {
        model: model.map(str::to_owned),
        of_rated: own.as_ref().map(|own| own.known),
        of_new: own.as_ref().and_then(|own| of_new(own, &capacities(true))),
        siblings: among(own.as_ref(), &capacities(false)),
        resistance: reading(Quantity::Resistance25Celsius)
            .and_then(|own| resistance_among(&own, sensed_at(estimates), siblings)),
        statement: Vec::new(),
    };
    health.statement = words::statement(&health);
    Some(health)
}

/// Compares a count with those of new cells.
fn of_new(own: &Reading, new: &[Reading]) -> Option<OfNew> {
    let new: Vec<&Reading> = new.iter().filter(|one| one.own().is_sound()).collect();
    if new.is_empty() {
        return None;
    }
    let count = new.len() as f64;
    let mean = new.iter().map(|one| one.known.value).sum::<f64>() / count;
    let squares: f64 = new.iter().map(|one| (one.known.value - mean).powi(2)).sum();
    // Pooled with what is known of new cells in general, and widened for the few degrees of freedom (variance of Student's t).
    let usual = SPREAD_OF_NEW * mean;
    let beforehand = (FEWEST_CELLS - 1) as f64;
    let degrees = beforehand + count - 1.0;
    let pooled = ((beforehand * usual.powi(2) + squares) / degrees).sqrt();
    let spread = if new.len() < FEWEST_CELLS { pooled.max(usual) } else { pooled };
    let spread = spread * (degrees / (degrees - 2.0)).sqrt();
    let measuring = new.iter().map(|one| one.own().standard_uncertainty.powi(2)).sum::<f64>().sqrt();
    let doubt = (spread / count.sqrt()).hypot(measuring / count);
    let shared = shared_by_mean(&new, &vec![1.0 / count; new.len()]);
    let reference = Reading::with(Known { value: mean, standard_uncertainty: doubt }, shared);
    Some(OfNew { share: own.over(&reference)?, cells: new.len(), new_of_rated: mean })
}

fn among(own: Option<&Reading>, others: &[Reading]) -> Option<Siblings> {
    let found = Expectation::of(others)?;
    let expected = found.expected();
    let distance = own.map(|own| own.distance(&expected));
    let contradicts = distance.is_some_and(|distance| distance.abs() > OUT_OF_THE_ORDINARY);
    let joined = own.filter(|_| !contradicts).map(|own| own.joined(&expected));
    let population = found.population();
    Some(Siblings {
        cells: population.cells,
        spread: population.spread,
        expected: population.expected,
        joined: joined.map(|(joined, _)| joined),
        weight_of_cell: joined.map(|(_, weight)| weight),
        distance,
    })
}

/// Returns where the resistance at 25 degC was picked up, where somebody said it.
pub fn sensed_at(estimates: &Estimates) -> Option<SensedAt> {
    estimates.get(Quantity::Resistance25Celsius)?.conditions.sensed_at
}

/// Compares with those alone that have as much in the path.
fn resistance_among(own: &Reading, place: Option<SensedAt>, siblings: &[Sibling]) -> Option<AmongSiblings> {
    let alike = siblings.iter().filter(|one| has_protection(one.sensed_at) == has_protection(place));
    let others: Vec<Reading> = alike.filter_map(|one| one.resistance_25c.clone()).collect();
    let found = Expectation::of(&others)?;
    Some(AmongSiblings {
        cells: found.population().cells,
        ratio: own.known.value / found.mean().known.value,
        distance: own.distance(&found.expected()),
    })
}

#[cfg(test)]
mod tests;
