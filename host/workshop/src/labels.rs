//! Labels on cells: noted with what was decided by then.

use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::{Event, LabelPutOn};
use celltriage_custody::{PackRules, Scope, State};

impl Workshop<'_> {
    /// Writes down that a label was put on a cell: with its name, and the fate that was decided last. Where another is decided
    /// later, the label is due to be changed.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn put_label_on(&mut self, signer: &Signer, rules: &PackRules, cell: &str) -> Result<Entered> {
        let make = |state: &State, _: &Circumstances<'_>| {
            let says = state.cells.get(cell).and_then(|cell| cell.facts.as_ref()).map(|facts| facts.fate);
            Ok(Event::LabelPutOn(LabelPutOn { cell: cell.to_owned(), says }))
        };
        self.enter(signer, rules, Scope::Names(&[cell]), make)
    }
}
