//! A cell on the fixture: looked at, tested under the tag that is typed, with what goes wrong meanwhile.

use crate::cells::{Kind, name};
use crate::job::fixture_used;
use crate::life::{Came, Ears, Life};
use crate::mishap::Mishap;
use crate::rig::OFF_WITHIN;
use crate::standard::TOO_FAR;
use crate::step::{Eyes, Tag};
use crate::told::{Held, Lies};
use celltriage_verdict::Fate;
use celltriage_workshop::assess::Assessed;
use jiff::SignedDuration;

/// A test of a cell, as the step says it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tested {
    pub(crate) cell: u8,
    pub(crate) tag: Tag,
    pub(crate) eyes: Eyes,
    pub(crate) full: bool,
    pub(crate) mishap: Option<Mishap>,
}

/// What a test has told of a cell, in the book or not yet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    eyes: Eyes,
    is_finished: bool,
    all_answered_no: bool,
    held: Option<Held>,
}

impl Life<'_> {
    /// Tests a cell under the name that is typed.
    pub(crate) fn tested(&mut self, test: &Tested) -> Came {
        let Some(kind) = self.kinds.get(&test.cell).copied() else { return Ok(()) };
        let typed = match test.tag {
            Tag::Own => name(test.cell),
            Tag::Of(other) => name(other),
            Tag::Small => name(test.cell).to_lowercase(),
        };
        self.touched = Some(typed.clone());
        let job = self.job(&typed, kind, test)?;
        let _of_an_earlier_test = fixture_used();
        let result = self.shop.attend(&job, &mut Ears::default());
        let long = if test.full { SignedDuration::from_hours(6) } else { SignedDuration::from_mins(3) };
        self.clock.pass(long);
        let was_cut_off = self.load_went_off(&typed, test)?;
        let assessed = match result {
            Ok(assessed) => assessed,
            Err(fault) => return self.refused(&fault),
        };
        self.may_be_assessed(&typed)?;
        if was_cut_off && assessed.is_finished() {
            let what = format!("{typed}: {:?}", assessed.assessment.conditions.run);
            return Err(("a run that was cut off is not finished", what));
        }
        self.may_be_graded(&typed, kind, &assessed)?;
        let found = found(kind, test.eyes, &assessed);
        match assessed.entry() {
            Some(entry) => self.was_found(&typed, entry, &found),
            None => return self.not_taken(&typed, &assessed.kept, found),
        }
        Ok(())
    }

    /// No load on a held cell, and none for long after something was wrong or nobody was there any more.
    /// Returns whether the run was cut off.
    fn load_went_off(&mut self, typed: &str, test: &Tested) -> Result<bool, (&'static str, String)> {
        let Some(fixture) = fixture_used() else { return Ok(false) };
        if let Some(held) = self.told.held(typed).first() {
            let what = format!("{typed} was put on the fixture, held for {held:?}");
            return Err(("no load on a held cell", what));
        }
        // The bench away has a book of its own, which does not say so.
        if self.is_stopped && !self.is_away() && fixture.has_run() {
            return Err(("a stopped fixture loads no cell", format!("{typed}, off by {:?}", self.drift)));
        }
        self.tally.on_fixture += 1;
        self.tally.drifted += u64::from(self.drift != (0, 0));
        match test.mishap {
            Some(Mishap::Killed(_)) => self.tally.killed += 1,
            Some(_) => self.tally.mishaps += 1,
            None => {}
        }
        let was_cut_off = fixture.was_cut_off();
        // The bench's time goes on without a host.
        fixture.pass(OFF_WITHIN);
        fixture.no_current("3.1 s after its owner was gone");
        match fixture.breach() {
            Some(breach) => Err(("load off within 3.1 s", breach)),
            None => Ok(was_cut_off),
        }
    }

    pub(crate) fn may_be_assessed(&self, typed: &str) -> Came {
        match self.told.cells.get(typed).map(|cell| &cell.lies) {
            Some(Lies::Gone) => {
                Err(("nothing is recorded of a cell that left", format!("{typed} was assessed")))
            }
            Some(Lies::Fitted) => {
                Err(("a cell in a device is on no fixture", format!("{typed} was assessed")))
            }
            _ => Ok(()),
        }
    }

    /// No reuse while anything stands, from a run that came to no end in order, or of a cell that truly is worn out: that is
    /// promised for a fixture within the drift that stories have (five hundredths of the current, 20 mV). What a fixture that is
    /// further off takes for good, only its check standard tells.
    fn may_be_graded(&mut self, typed: &str, kind: Kind, assessed: &Assessed) -> Came {
        self.tally.kept_off += u64::from(assessed.by_choice);
        self.tally.unfinished += u64::from(!assessed.is_finished());
        if assessed.assessment.verdict.fate != Fate::Reuse {
            return Ok(());
        }
        self.tally.reuse += 1;
        if let Some(held) = self.told.held(typed).first() {
            let what = format!("{typed} is for reuse, held for {held:?}");
            return Err(("no reuse while anything stands", what));
        }
        if assessed.by_choice || !assessed.is_finished() {
            let what = format!("{typed}: {:?}", assessed.assessment.conditions.run);
            return Err(("no reuse from a run that did not end in order", what));
        }
        let worn = matches!(kind, Kind::Faded | Kind::Tired | Kind::Dead | Kind::Reversed);
        if worn && self.drift.0.abs() < TOO_FAR {
            let what = format!("{typed} is {kind}, the fixture off by {:?}", self.drift);
            return Err(("no reuse of a cell that is worn out", what));
        }
        Ok(())
    }

    /// Notes what a test has found, under its entry.
    pub(crate) fn was_found(&mut self, typed: &str, entry: u32, found: &Found) {
        let now = self.clock.true_time.get();
        let told = self.told.about(typed, entry, now);
        if found.eyes == Eyes::Alarmed {
            told.reacted = Some(now);
        }
        if found.is_finished {
            told.screened = Some(now);
            told.looked_at = if found.all_answered_no { Some(now) } else { told.looked_at };
        }
        told.held.extend(found.held.map(|held| (entry, held)));
    }
}

fn found(kind: Kind, eyes: Eyes, assessed: &Assessed) -> Found {
    let said = &assessed.assessment.cell.observations;
    let kept_apart = assessed.assessment.verdict.fate == Fate::Quarantine && !assessed.by_choice;
    let held = match kind {
        _ if said.any_found() => Some(Held::Sign),
        Kind::Warming if kept_apart => Some(Held::KeptApart),
        _ => None,
    };
    Found {
        eyes,
        is_finished: assessed.is_finished() && !assessed.by_choice,
        all_answered_no: said.all_answered_no(),
        held,
    }
}
