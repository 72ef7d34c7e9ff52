//! Containers: opened, filled, emptied, and what is counted for each.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::counters::{Counter, of_container};
use celltriage_custody::event::{CellPlaced, CellTakenOut, CellWeighed, ContainerOpened, Event};
use celltriage_custody::limits::CounterLimit;
use celltriage_custody::local_rules::LocalRules;
use celltriage_custody::papers::Mark;
use celltriage_custody::state::Container;
use celltriage_custody::units::Milligrams;
use celltriage_custody::{PackRules, Refusal, Scope, State};
use jiff::civil::Date;

/// A cell that was put into a container.
#[derive(Clone, Debug)]
pub struct Placed {
    /// The event.
    pub entered: Entered,
    /// The mass that the cell is counted with, if its own is not known.
    pub counted_as: Option<Milligrams>,
    /// The limits of the container that are passed now.
    pub passed: Vec<Counter>,
}

/// A container with what is counted and written on it.
#[derive(Clone, Debug)]
pub struct ContainerView {
    /// How everything stands.
    pub state: State,
    /// The container.
    pub container: Container,
    /// The earliest day on which one of its cells was discarded.
    pub earliest: Option<Date>,
    /// What is counted against limits.
    pub counters: Vec<Counter>,
    /// The words to be written on it or its cells.
    pub words: Vec<Mark>,
    /// The limits of its place that this book cannot count, each in a few words with its source.
    pub uncounted: Vec<String>,
}

impl Workshop<'_> {
    /// Opens a container.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn open_container(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        opened: ContainerOpened,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::ContainerOpened(opened))
    }

    /// Puts a cell into a container.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn place(&mut self, signer: &Signer, rules: &PackRules, placed: CellPlaced) -> Result<Placed> {
        let (cell, container) = (placed.cell.clone(), placed.container.clone());
        let entered = self.enter_event(signer, rules, &Event::CellPlaced(placed))?;
        let held = entered.state.cells.get(&cell).filter(|held| held.known_mass().is_none());
        let counted_as = held.map(|held| held.mass());
        let state = self.with_the_site(&container)?;
        let mut passed = of_container(&state, &container, &self.circumstances(rules));
        passed.retain(|counter| counter.passed == Some(true));
        Ok(Placed { entered, counted_as, passed })
    }

    /// Returns whether the mass of a cell that the book knows is neither on its label nor weighed.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn mass_is_missing(&self, cell: &str) -> Result<bool> {
        Ok(self.state_about(&[cell])?.cells.get(cell).is_some_and(|found| found.known_mass().is_none()))
    }

    /// Takes a cell out of its container.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn take_out(&mut self, signer: &Signer, rules: &PackRules, taken: CellTakenOut) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::CellTakenOut(taken))
    }

    /// Writes down what a cell weighs.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn weigh(&mut self, signer: &Signer, rules: &PackRules, weighed: CellWeighed) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::CellWeighed(weighed))
    }

    /// Returns a container with what is counted and written on it.
    ///
    /// # Errors
    /// There is none of that name, or the book cannot be read.
    pub fn container(&self, name: &str, rules: &PackRules) -> Result<ContainerView> {
        let state = self.with_the_site(name)?;
        let unknown = || Fault::Unknown(Refusal::UnknownContainer(name.to_owned()));
        let container = state.containers.get(name).cloned().ok_or_else(unknown)?;
        let circumstances = self.circumstances(rules);
        let opened = &container.opened;
        let words = rules.words_on_container(&opened.place, circumstances.today, opened.kind.counted_as());
        Ok(ContainerView {
            earliest: state.cells_in(name).filter_map(|(_, cell)| cell.discarded_on()).min(),
            counters: of_container(&state, name, &circumstances),
            words,
            uncounted: self.uncounted(&container, rules),
            container,
            state,
        })
    }

    /// A container is counted with all that stands in the shop.
    fn with_the_site(&self, name: &str) -> Result<State> {
        let mut state = self.state(Scope::Shop)?;
        if !state.containers.contains_key(name) {
            // It left; what left with it is not counted.
            state.containers.extend(self.state_about(&[name])?.containers);
        }
        Ok(state)
    }

    fn uncounted(&self, container: &Container, rules: &PackRules) -> Vec<String> {
        let opened = &container.opened;
        let told = rules.packs().counters(Some(&opened.place), self.today(), opened.kind.counted_as());
        told.into_iter()
            .filter(|told| CounterLimit::of(told.clone()).is_none())
            .map(|told| {
                let verify = if told.fact.verify { ", to be verified" } else { "" };
                let count = told.what;
                let of = if count.of.is_of_batteries() { ", of several cells," } else { "" };
                format!(
                    "{}{of} {} {} {} [{}{verify}]",
                    count.of.words(),
                    count.bound.words(),
                    count.limit,
                    count.unit.symbol(),
                    told.fact.source
                )
            })
            .collect()
    }
}
