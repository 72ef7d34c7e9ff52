//! What other cells of a model lead one to expect: the population of their own parts, with what their readings share beside it.
//!
//! A shared error moves all readings together: it is no spread between cells, and averaging does not narrow it. From several
//! instruments it averages as far as they differ.

use super::reading::{Reading, shared_by_mean};
use celltriage_measure::estimate::SharedErrors;
use celltriage_measure::normal_model::{Known, Population};

/// A population of readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Expectation {
    own: Population,
    shared: SharedErrors,
}

impl Expectation {
    /// Finds it; `None` if there are too few sound readings.
    pub fn of(readings: &[Reading]) -> Option<Self> {
        let sound: Vec<&Reading> = readings.iter().filter(|one| one.own().is_sound()).collect();
        let parts: Vec<Known> = sound.iter().map(|one| one.own()).collect();
        let own = Population::of(&parts)?;
        let shared = shared_by_mean(&sound, &own.weights(&parts));
        Some(Self { own, shared })
    }

    /// Returns the mean of the model.
    pub fn mean(&self) -> Reading {
        Reading::with(self.own.mean, self.shared.clone())
    }

    /// Returns what is expected of a cell that was not measured.
    pub fn expected(&self) -> Reading {
        Reading::with(self.own.expected, self.shared.clone())
    }

    /// Returns the population with what its readings share in its uncertainties and not in its spread.
    pub fn population(&self) -> Population {
        Population { mean: self.mean().known, expected: self.expected().known, ..self.own }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(instruments: &[&str]) -> Vec<Reading> {
        let reading = |instrument: &&str| {
            let known = Known { value: 0.0734, standard_uncertainty: 1.0e-3 };
            Reading::with(known, [(format!("voltage gain, {instrument}"), 1.5e-3)].into())
        };
        instruments.iter().map(reading).collect()
    }

    #[test]
    fn the_mean_of_one_instruments_readings_keeps_its_error_and_that_of_several_less() {
        let one = Expectation::of(&cells(&["first"; 6])).unwrap().mean().known.standard_uncertainty;
        approx::assert_relative_eq!(one, (1.0e-3 / 6f64.sqrt()).hypot(1.5e-3), max_relative = 1e-9);
        let two = cells(&["first", "first", "first", "second", "second", "second"]);
        let two = Expectation::of(&two).unwrap().mean().known.standard_uncertainty;
        let averaged = 1.5e-3 / 2f64.sqrt();
        approx::assert_relative_eq!(two, (1.0e-3 / 6f64.sqrt()).hypot(averaged), max_relative = 1e-9);
    }
}
