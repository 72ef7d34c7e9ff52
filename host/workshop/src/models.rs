//! What the book knows of a model of cells, the source of every comparison with siblings.

use crate::fault::{Fault, Result};
use crate::history::{ModelCells, siblings_of};
use crate::kept_models::counts;
use crate::shop::Workshop;
use celltriage_assessment::health::{Expectation, Reading, Sibling, has_protection};
use celltriage_measure::normal_model::Population;
use std::collections::BTreeMap;

impl Workshop<'_> {
    /// Returns the models that the book knows, each with how many cells.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn models(&self) -> Result<BTreeMap<String, usize>> {
        Ok(counts(&self.book)?)
    }

    /// Returns the cells of a model.
    ///
    /// # Errors
    /// [`Fault::NoSuchModel`], or the book cannot be read.
    pub fn model(&self, name: &str) -> Result<ModelCells> {
        let found = siblings_of(&self.book, name)?;
        if found.cells.is_empty() {
            let book = self.book.path().to_owned();
            return Err(Fault::NoSuchModel { book, model: name.to_owned() });
        }
        Ok(found)
    }
}

impl ModelCells {
    /// Returns the spread of the used cells' capacity, over the rated one; `None` if too few were measured.
    pub fn capacity_fraction(&self) -> Option<Population> {
        self.population(|cell| cell.capacity_fraction.as_ref())
    }

    /// Returns the spread of the used cells' resistance at 25 °C in ohm, either of those with the protection in the path or of
    /// those without; `None` if too few were measured.
    pub fn resistance_25c(&self) -> Option<Population> {
        // Never of both kinds; the larger one tells more, and as many bare cells are preferred.
        let behind = self.count(|cell| has_protection(cell.sensed_at));
        match behind > self.count(|cell| !has_protection(cell.sensed_at)) {
            true => self
                .population(|cell| cell.resistance_25c.as_ref().filter(|_| has_protection(cell.sensed_at))),
            false => self
                .population(|cell| cell.resistance_25c.as_ref().filter(|_| !has_protection(cell.sensed_at))),
        }
    }

    fn count(&self, is_wanted: fn(&Sibling) -> bool) -> usize {
        let measured = self.cells.iter().filter(|cell| !cell.new && cell.resistance_25c.is_some());
        measured.filter(|cell| is_wanted(cell)).count()
    }

    fn population(&self, pick: fn(&Sibling) -> Option<&Reading>) -> Option<Population> {
        let used = self.cells.iter().filter(|cell| !cell.new);
        let used: Vec<Reading> = used.filter_map(pick).cloned().collect();
        Expectation::of(&used).map(|found| found.population())
    }
}
