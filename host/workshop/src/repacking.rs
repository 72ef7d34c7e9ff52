//! A container as a whole while it is here: moved, its place corrected, merged into another, split, emptied.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::event::{ContainerMoved, ContainerRepacked, Event};
use celltriage_custody::lookup::standing_container;
use celltriage_custody::repacking::repacked;
use celltriage_custody::{PackRules, Refusal, Scope, State};
use celltriage_rules::PlaceCode;

/// Where a container stands from now on, or has stood all along.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewPlace {
    /// The container.
    pub container: String,
    /// Place whose rules apply; `None`: as before.
    pub place: Option<PlaceCode>,
    /// Where in the shop it stands; `None`: as before.
    pub stands: Option<String>,
    /// Nothing was moved: what was written down before was wrong.
    pub corrected: bool,
    /// Why.
    pub because: String,
}

/// Cells that go from one container into another, or out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repack {
    /// The container in which they lie.
    pub container: String,
    /// The container into which they go; `None`: out, into none.
    pub into: Option<String>,
    /// The cells; none named: all that lie in it.
    pub cells: Vec<String>,
    /// Why.
    pub because: String,
}

impl NewPlace {
    pub(crate) fn event(&self, state: &State) -> Result<Event, Refusal> {
        let found = &standing_container(state, &self.container)?.opened;
        Ok(Event::ContainerMoved(ContainerMoved {
            container: self.container.clone(),
            place: self.place.clone().unwrap_or_else(|| found.place.clone()),
            stands: self.stands.clone().unwrap_or_else(|| found.stands.clone()),
            corrected: self.corrected,
            because: self.because.clone(),
        }))
    }
}

impl Repack {
    pub(crate) fn names(&self) -> Vec<&str> {
        let names = std::iter::once(&self.container).chain(&self.into).chain(&self.cells);
        names.map(String::as_str).collect()
    }

    pub(crate) fn event(&self, state: &State) -> Event {
        let cells = repacked(state, &self.container, &self.cells);
        Event::ContainerRepacked(ContainerRepacked {
            container: self.container.clone(),
            into: self.into.clone(),
            all: cells.len() == state.cells_in(&self.container).count(),
            cells,
            because: self.because.clone(),
        })
    }
}

impl Workshop<'_> {
    /// Writes down where a container stands. A critical cell is not moved, also not with its container.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn move_container(&mut self, signer: &Signer, rules: &PackRules, new: &NewPlace) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&[&new.container]), |state, _| new.event(state))
    }

    /// Writes down that cells went from one container into another, or out of it. Each is held against every rule of taking it out and
    /// putting it in; where one is refused, none has gone.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn repack(&mut self, signer: &Signer, rules: &PackRules, new: &Repack) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&new.names()), |state, _| Ok(new.event(state)))
    }
}
