//! Cells under watch: held, looked at, released, and found to be reacting.

use crate::event::Attendant;
use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::{Escalation, Event, Hold, Inspection, Look, Release};
use celltriage_custody::state::State;
use celltriage_custody::{PackRules, Scope};
use jiff::ToSpan;
use jiff::civil::Date;

/// Length of a watch in days if none is given. No authority's number was found; the emergency guide 147 (ERG 2024)
/// tells of cells that flare up again after weeks, so four weeks is our choice, and on the long side.
const USUAL_WATCH_DAYS: i64 = 28;

/// A watch that is to begin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewWatch {
    /// The cell.
    pub cell: String,
    /// Why.
    pub because: String,
    /// Where it lies.
    pub stands: String,
    /// Not released before this day; `None` means 28 days from today.
    pub until: Option<Date>,
    /// Days from one look to the next.
    pub every_days: u32,
}

/// A watch that has begun.
#[derive(Clone, Debug)]
pub struct Held {
    /// The event.
    pub entered: Entered,
    /// Whether entries before it have later times, so that some clock was wrong and its end is in doubt.
    pub end_in_doubt: bool,
}

impl Workshop<'_> {
    /// Puts a cell under watch.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn hold(&mut self, signer: &Signer, rules: &PackRules, watch: NewWatch) -> Result<Held> {
        let NewWatch { cell, because, stands, until, every_days } = watch;
        // From the day on which it is written down, also if it is said to have begun before.
        let until = until.unwrap_or_else(|| self.today().saturating_add(USUAL_WATCH_DAYS.days()));
        let event = Event::Hold(Hold { cell: cell.clone(), because, stands, until, every_days });
        let entered = self.enter_event(signer, rules, &event)?;
        let watch = entered.state.cells.get(&cell).and_then(|held| held.watch.as_ref());
        let end_in_doubt = watch.is_some_and(|watch| watch.ends.is_in_doubt());
        Ok(Held { entered, end_in_doubt })
    }

    /// Writes down a look at a watched cell. If it is reacting, what to do is told before anything else, and the look is
    /// written down as what it is even if no watch has begun.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn inspect(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        inspection: &Inspection,
        attendant: &mut Attendant<'_>,
    ) -> Result<Entered> {
        if inspection.look != Look::Active {
            return self.enter_event(signer, rules, &Event::Inspection(inspection.clone()));
        }
        let cell = &inspection.cell;
        self.alarm_about(cell, rules.packs(), attendant);
        // Whoever sees a cell react has no time to begin a watch first.
        self.enter_at_once(
            signer,
            rules,
            Scope::Names(&[cell]),
            attendant,
            |state: &State, _: &Circumstances<'_>| {
                let watched = state.cells.get(cell).is_some_and(|known| known.watch.is_some());
                Ok(if watched {
                    Event::Inspection(inspection.clone())
                } else {
                    let because =
                        inspection.note.clone().unwrap_or_else(|| "found reacting at a look".to_owned());
                    Event::Escalation(Escalation { cell: cell.clone(), because })
                })
            },
        )
    }

    /// Ends the watch over a cell.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn release(&mut self, signer: &Signer, rules: &PackRules, release: Release) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::Release(release))
    }

    /// Writes down that a cell has become critical, after telling what to do about it.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn escalate(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        escalation: &Escalation,
        attendant: &mut Attendant<'_>,
    ) -> Result<Entered> {
        self.alarm_about(&escalation.cell, rules.packs(), attendant);
        self.enter_at_once(
            signer,
            rules,
            Scope::Names(&[&escalation.cell]),
            attendant,
            |_: &State, _: &Circumstances<'_>| Ok(Event::Escalation(escalation.clone())),
        )
    }
}
