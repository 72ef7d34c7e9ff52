//! Cells in devices: fitted for a trial, taken out, shaken there; until they are screened they are no stock.

use crate::life::{Came, Life};
use crate::told::Lies;
use celltriage_custody::event::{Incident, TakenOutOfDevice};
use celltriage_verdict::LifeEvent;
use celltriage_workshop::trial::ToFit;

impl Life<'_> {
    /// A cell goes into a device for a trial.
    pub(crate) fn fitted(&mut self, cell: &str) -> Came {
        let fit = ToFit { cell: cell.to_owned(), device: None, job: Some("118".to_owned()), stays: false };
        let signer = self.signer();
        let done = self.shop.fit(&signer, &self.rules, &fit).map(|done| done.entry);
        let Some(entry) = self.noted(cell, done)? else { return Ok(()) };
        self.tally.fitted += 1;
        let now = self.clock.true_time.get();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        told.fitted_by = Some(entry);
        let before = std::mem::replace(&mut told.lies, Lies::Fitted);
        let was_shaken = told.is_shaken();
        told.used = Some(now);
        if before != Lies::Loose {
            return Err(("a cell is in one place", format!("{cell} was {before:?} and is fitted")));
        }
        if let Some(held) = told.held.first() {
            return Err(("nothing is fitted that something stands against", format!("{cell}: {held:?}")));
        }
        if was_shaken {
            return Err(("nothing is fitted that something stands against", format!("{cell} was shaken")));
        }
        Ok(())
    }

    /// A cell is taken out of its device.
    pub(crate) fn unfitted(&mut self, cell: &str) -> Came {
        let taken = TakenOutOfDevice { cell: cell.to_owned(), because: None };
        let signer = self.signer();
        let done = self.shop.take_out_of_device(&signer, &self.rules, taken).map(|done| done.entry);
        if self.noted(cell, done)?.is_none() {
            return Ok(());
        }
        let now = self.clock.true_time.get();
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        let before = std::mem::replace(&mut told.lies, Lies::Loose);
        told.fitted_by = None;
        told.used = Some(now);
        match before {
            Lies::Fitted => Ok(()),
            _ => Err(("only a fitted cell is taken out of a device", format!("{cell} was {before:?}"))),
        }
    }

    /// A short, or a fall.
    pub(crate) fn shaken(&mut self, cell: &str, short: bool) -> Came {
        let happened = if short { LifeEvent::ShortCircuit } else { LifeEvent::Dropped };
        let incident = Incident { cell: cell.to_owned(), happened, note: None };
        let signer = self.signer();
        let done = self.shop.record_incident(&signer, &self.rules, incident).map(|done| done.entry);
        if self.noted(cell, done)?.is_some() {
            let now = self.clock.true_time.get();
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            told.used = Some(now);
            told.shorted = if short { Some(now) } else { told.shorted };
        }
        Ok(())
    }

    /// What is not screened since is no stock.
    pub(crate) fn is_stock(&self, cell: &str) -> Came {
        match self.told.cells.get(cell) {
            Some(told) if told.is_unscreened() || told.is_shaken() => {
                Err(("no stock before it is screened again", format!("{cell} counts as fit to serve")))
            }
            _ => Ok(()),
        }
    }
}
