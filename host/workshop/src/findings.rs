//! What is known against a cell: shown, looked at again, ended by its rule, struck as a mistake.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_assessment::CaseFile;
use celltriage_custody::event::{Event, FindingReleased, TemperatureLook};
use celltriage_custody::{PackRules, Refusal, Scope};

/// A look at a cell's temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct NewLook {
    /// The cell.
    pub cell: String,
    /// Temperature of its surface in degC.
    pub temperature_c: f64,
    /// Temperature of the air in degC.
    pub air_c: f64,
}

impl Workshop<'_> {
    /// Returns what is known of a cell; nothing stands in it of a cell that the book has never seen.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn case_file(&self, cell: &str) -> Result<CaseFile> {
        Ok(celltriage_custody::case_file(&self.state_about(&[cell])?, cell))
    }

    /// Writes down a look at a cell's temperature.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn look_at_temperature(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        new: &NewLook,
    ) -> Result<Entered> {
        let NewLook { cell, temperature_c, air_c } = new.clone();
        let look = TemperatureLook { cell, at: self.now(), temperature_c, air_c };
        self.enter_event(signer, rules, &Event::TemperatureLook(look))
    }

    /// Ends what an entry found, where the rule of its kind allows it.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn end_finding(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        entry: u32,
        because: &str,
    ) -> Result<Entered> {
        self.to_correct(entry)?;
        self.enter(signer, rules, Scope::Entry(entry), |state, _| {
            let about = state.entries.get(&entry).map(|(_, subject)| subject.clone());
            let cell = about.ok_or_else(|| Refusal::NotCorrectable {
                entry,
                why: "it is no event of a cell's custody".to_owned(),
            })?;
            Ok(Event::FindingReleased(FindingReleased { cell, entry, because: because.to_owned() }))
        })
    }
}
