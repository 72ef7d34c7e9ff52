//! Who signs an event of custody, and how it gets into the book.

use crate::clock_word::ClockWord;
use crate::event::{Attendant, WorkEvent};
use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_book::{Entry, NewAttachment};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::Event;
use celltriage_custody::ledger::Signature;
use celltriage_custody::{PackRules, Refusal, Scope, State};
use jiff::civil::Date;
use std::sync::Arc;

/// The person who did it and answers for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signer {
    /// Name.
    pub by: String,
    /// Day on which it happened; `None` means today.
    pub on: Option<Date>,
    /// What was said of the clock.
    pub clock: ClockWord,
}

/// An event that is in the book.
#[derive(Clone, Debug)]
pub struct Entered {
    /// Its entry.
    pub entry: Entry,
    /// How what it is about stands after it.
    pub state: Arc<State>,
}

impl Workshop<'_> {
    /// Returns the day on which it happened, by the person who signs.
    pub fn day_of(&self, signer: &Signer) -> Date {
        signer.on.unwrap_or_else(|| self.today())
    }

    /// Returns the day and rules under which events are checked.
    pub fn circumstances<'r>(&self, rules: &'r PackRules) -> Circumstances<'r> {
        Circumstances { today: self.today(), rules }
    }

    /// Makes an event from the present state, checks it and writes it.
    ///
    /// # Errors
    /// The clock is in doubt, the event is refused, or the book does not take it; nothing is written then.
    pub fn enter(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        scope: Scope<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<Entered> {
        self.clock_reading()?.allows(signer.clock)?;
        self.write_signed(signer, rules, scope, make)
    }

    /// Writes an event that does not depend on the state.
    pub(crate) fn enter_event(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        event: &Event,
    ) -> Result<Entered> {
        let names = event.names();
        self.enter(signer, rules, Scope::Names(&names), |_, _| Ok(event.clone()))
    }

    /// The same as [`Self::enter`] about a cell that is reacting now: a clock in doubt is told to the attendant and holds
    /// nothing up.
    pub(crate) fn enter_at_once(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        scope: Scope<'_>,
        attendant: &mut Attendant<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<Entered> {
        self.warn_of_clock(signer, attendant)?;
        self.write_signed(signer, rules, scope, make)
    }

    /// Tells the attendant of a clock in doubt.
    pub(crate) fn warn_of_clock(&self, signer: &Signer, attendant: &mut Attendant<'_>) -> Result<()> {
        if let Some(doubt) = self.clock_reading()?.warning(signer.clock) {
            attendant.sees(&WorkEvent::ClockInDoubt(doubt));
        }
        Ok(())
    }

    fn write_signed(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        scope: Scope<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<Entered> {
        self.write_signed_with(signer, rules, scope, &[], make)
    }

    /// Writes an event with the files that are kept with it; the clock was looked at before.
    pub(crate) fn write_signed_with(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        scope: Scope<'_>,
        files: &[NewAttachment],
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<Entered> {
        let signature = Signature { by: signer.by.clone(), on: self.day_of(signer), at: self.now() };
        let circumstances = self.circumstances(rules);
        self.keep_up_before_an_event()?;
        let Self { book, ledger, .. } = self;
        let made = |state: &State| make(state, &circumstances);
        let (entry, state) = ledger.record_with(book, &signature, &circumstances, &scope, files, made)?;
        Ok(Entered { entry, state })
    }
}
