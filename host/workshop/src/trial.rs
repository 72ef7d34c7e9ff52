//! Where a cell came from, and its time in a device: recorded, fitted, taken out, and what happened to it there.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::cell::{Cell, Whereabouts};
use celltriage_custody::event::{Event, Fitted, Incident, LifetimeRecord, TakenOutOfDevice};
use celltriage_custody::state::State;
use celltriage_custody::{PackRules, Refusal, Scope};
use celltriage_verdict::Lifetime;

/// A cell that is to go into a device; at least one of device and job is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToFit {
    /// The cell.
    pub cell: String,
    /// The device: what it is, or its number.
    pub device: Option<String>,
    /// The job.
    pub job: Option<String>,
    /// Whether it is to stay; else it is for a trial.
    pub stays: bool,
}

/// A cell in a device, or one that came out of it and was not screened since.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InService {
    /// The cell.
    pub cell: String,
    /// Where it is.
    pub place: String,
    /// What it must be screened again for; `None` while it is in the device.
    pub to_screen: Option<String>,
}

/// Returns the event of a cell that goes into a device, with what is not known of it.
pub(crate) fn fitted(state: &State, new: &ToFit) -> Event {
    Event::Fitted(Fitted {
        cell: new.cell.clone(),
        device: new.device.clone(),
        job: new.job.clone(),
        stays: new.stays,
        unproven: Cell::unproven(state.cells.get(&new.cell)),
    })
}

impl Workshop<'_> {
    /// Writes down what is known of a cell's life; the book may not know the cell yet.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn record_lifetime(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        record: LifetimeRecord,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::LifetimeRecord(Box::new(record)))
    }

    /// Returns what is recorded of a cell's life.
    ///
    /// # Errors
    /// The book does not know the cell, or cannot be read.
    pub fn lifetime_of(&self, cell: &str) -> Result<Lifetime> {
        let state = self.state_about(&[cell])?;
        let found = state.cells.get(cell).ok_or_else(|| Refusal::UnknownCell(cell.to_owned()))?;
        Ok(found.lifetime())
    }

    /// Writes down that a cell was fitted into a device. For a trial it need not be proven that it may serve again: the trial is
    /// made in any case, and the entry says what is not known.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn fit(&mut self, signer: &Signer, rules: &PackRules, new: &ToFit) -> Result<Entered> {
        self.enter(signer, rules, Scope::Names(&[&new.cell]), |state, _| Ok(fitted(state, new)))
    }

    /// Writes down that a cell was taken out of its device; it is screened again before it counts as stock.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn take_out_of_device(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        taken: TakenOutOfDevice,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::TakenOutOfDevice(taken))
    }

    /// Writes down that something happened to a cell, or to the device that it is in.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn record_incident(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        incident: Incident,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::Incident(incident))
    }

    /// Returns the cells that are in a device, and those that came out of one and were not screened since.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn in_service(&self) -> Result<Vec<InService>> {
        let state = self.state(Scope::Shop)?;
        let found = state.cells.iter().filter_map(|(name, cell)| {
            let fitted = matches!(cell.whereabouts, Whereabouts::Fitted { .. });
            let gone = cell.whereabouts.is_gone();
            let to_screen = cell.to_screen().filter(|_| !fitted && !gone);
            (fitted || to_screen.is_some()).then(|| InService {
                cell: name.clone(),
                place: cell.whereabouts.words(),
                to_screen: to_screen.map(|screening| screening.because.clone()),
            })
        });
        Ok(found.collect())
    }
}
