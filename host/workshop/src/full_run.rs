//! A capacity run stage by stage: before the charge, off the charger, and the check and discharge at its end.

use crate::admission::{looked_at, looked_for};
use crate::assess::{Assessed, Judged, tell_if_not_in_book};
use crate::capacity_run::{self, Run, Stage, Step};
use crate::charge_permit::{ChargePermit, against, permit};
use crate::event::{Attendant, WorkEvent};
use crate::fault::{Fault, Result};
use crate::job::Job;
use crate::kept_runs;
use crate::measuring::Overrides;
use crate::shop::Workshop;
use celltriage_assessment::case::Case;
use celltriage_book::{Entry, Kept, NewEntry, PATIENCE, RecordingNumber, Rest, aside};
use celltriage_custody::State;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::Extent;
use celltriage_verdict::RunOutcome;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// What came of the last stage.
#[derive(Debug)]
pub enum Checked {
    /// A decision, written down.
    Decided(Box<Assessed>),
    /// The rest brought no voltage; nothing was decided of the cell, and its run goes on where it was.
    NoRestVoltage(Box<Judged>),
}

impl Checked {
    /// Takes the decision; a person at the bench puts the clips right and calls again.
    ///
    /// # Errors
    /// [`Fault::NoRestVoltage`].
    pub fn decided(self, case: &Case) -> Result<Assessed> {
        match self {
            Self::Decided(assessed) => Ok(*assessed),
            Self::NoRestVoltage(rest) => {
                let missing = &rest.assessment.conditions.not_estimated;
                let why = missing.get(&Quantity::RestVoltage).map_or("nothing was recorded", String::as_str);
                Err(Fault::NoRestVoltage { cell: case.id.clone(), why: why.to_owned() })
            }
        }
    }
}

impl Workshop<'_> {
    /// Returns the capacity run of a cell, also one that has ended, or all that are under way.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn capacity_runs(&self, cell: Option<&str>) -> Result<BTreeMap<String, Run>> {
        match cell {
            Some(cell) => Ok(capacity_run::runs(&self.book, cell)?),
            None => Ok(kept_runs::open(&self.book)?),
        }
    }

    /// Writes the stage that a cell is at.
    ///
    /// # Errors
    /// The book does not take it.
    pub fn write_stage(
        &mut self,
        cell: &str,
        step: &Step,
        recordings: Vec<RecordingNumber>,
    ) -> Result<Entry> {
        let now = self.now();
        Ok(capacity_run::write(&mut self.book, cell, step, recordings, now)?)
    }

    /// Writes a label that has changed beside the stage the cell is at; `None` if nothing had to be written.
    ///
    /// # Errors
    /// The book does not take it.
    pub fn relabel_run(&mut self, cell: &str, run: &Run, label: &Nameplate) -> Result<Option<Entry>> {
        let stage = &run.step.stage;
        let figures = |label: &Nameplate| Nameplate { warnings: Vec::new(), ..label.clone() };
        let same = figures(&run.step.nameplate) == figures(label);
        if same || !matches!(stage, Stage::ToCharge { .. } | Stage::Resting) {
            return Ok(None);
        }
        let step = Step { since: Some(run.since), ..Step::new(stage.clone(), label.clone()) };
        self.write_stage(cell, &step, Vec::new()).map(Some)
    }

    /// Returns what the book says of charging a cell under this label.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn charge_permit(&self, cell: &str, label: &Nameplate) -> Result<ChargePermit> {
        Ok(permit(&self.book, &State::about(&self.book, &[cell])?, cell, label, self.now())?)
    }

    /// Takes a cell's rest voltage without a load, before it is charged; a cell that must not be loaded is judged by its
    /// looks.
    ///
    /// # Errors
    /// Nobody has looked at it, or the measurement could not begin.
    pub fn look_before_charge(
        &mut self,
        case: &Case,
        (choice, simulated): (&FixtureChoice, bool),
        overrides: &Overrides,
        attendant: &mut Attendant<'_>,
    ) -> Result<Assessed> {
        let case = &match self.admitted(case, simulated)? {
            ControlFlow::Continue(case) => case,
            ControlFlow::Break(kept_off) => return Ok(kept_off),
        };
        looked_for(&Sign::ALL, &format!("nobody is told to charge {}", case.id), &case.observations)?;
        let link = choice.link(Some(&self.book))?;
        self.assess_known(case, link, Extent::Rest, overrides, attendant)
    }

    /// Checks that a cell is really full, then screens and discharges it; every stage goes into the book. A cell whose rest
    /// already shows that it must not be charged is judged by that rest, and its run ends there. A simulated
    /// cell comes charged.
    ///
    /// # Errors
    /// It is not full, or the run could not begin or be kept.
    pub fn check_and_discharge(&mut self, job: &Job, attendant: &mut Attendant<'_>) -> Result<Checked> {
        let Job { case, simulated, extent, overrides, .. } = job;
        let (choice, simulated) = (job.choice.clone().charged(), *simulated);
        let case = &match self.admitted(case, simulated)? {
            ControlFlow::Continue(case) => case,
            ControlFlow::Break(kept_off) => return self.closed(kept_off, case),
        };
        looked_at(&case.observations)?;
        let link = choice.link(Some(&self.book))?;
        let rest = self.judge_run(case, link, Extent::Rest, overrides, attendant)?;
        let tripped = matches!(rest.assessment.conditions.run, RunOutcome::Tripped { .. });
        let speaks_against = against(&rest.assessment, &case.nameplate);
        if let Some(why) = speaks_against.filter(|_| tripped || rest_v(&rest).is_some()) {
            attendant.sees(&WorkEvent::NotDischarged { cell: case.id.clone(), why });
            let assessed = self.write_judged(rest, case, attendant)?;
            return self.closed(assessed, case);
        }
        let Some(volts) = rest_v(&rest) else { return Ok(Checked::NoRestVoltage(Box::new(rest))) };
        match capacity_run::ready(&case.nameplate, volts, case.observations.charger_ended) {
            Ok(note) => attendant.sees(&WorkEvent::Full { cell: case.id.clone(), rest_v: volts, note }),
            Err(why) => return Err(self.send_back_to_charge(case, rest, why, attendant)?),
        }
        let step = Step::new(Stage::Discharging, case.nameplate.clone());
        let entry = self.stage_entry(&case.id, &step, simulated)?;
        // A book that does not take it ends no run: the discharge decides, and what is beside is taken in later.
        tell_if_not_in_book(&case.id, &rest.writer.finish(entry, PATIENCE), attendant);
        let link = choice.link(Some(&self.book))?;
        let assessed = self.assess_known(case, link, *extent, &overrides.for_the_next_run(), attendant)?;
        self.closed(assessed, case)
    }

    /// Ends the run of a cell with a decision; one that lies beside the book is followed there by the end of the run.
    ///
    /// # Errors
    /// The book does not take it.
    pub fn end_run(&mut self, cell: &str, label: &Nameplate, decided: &Assessed) -> Result<()> {
        let step = |decision| Step::new(Stage::Done { decision }, label.clone());
        match &decided.kept {
            Kept::InBook(entry) => self.write_stage(cell, &step(entry.number), Vec::new()).map(drop),
            Kept::Beside { why, .. } => {
                let simulated = decided.assessment.conditions.is_simulated();
                let entry = self.stage_entry(cell, &step(0), simulated)?;
                let rest = Rest::entry(self.book.path().to_owned(), why.clone(), entry);
                // Where this is lost, the run is shown as not ended, and the cell is charged again: told with the decision.
                let _told_with_the_decision = aside::keep(rest, PATIENCE);
                Ok(())
            }
            Kept::Nowhere { .. } => Ok(()),
        }
    }

    fn stage_entry(&self, cell: &str, step: &Step, simulated: bool) -> Result<NewEntry> {
        let entry = capacity_run::entry(cell, step, simulated, self.now());
        Ok(entry.map_err(|error| self.book.not_storable("capacity run", error))?)
    }

    fn closed(&mut self, assessed: Assessed, case: &Case) -> Result<Checked> {
        self.end_run(&case.id, &case.nameplate, &assessed)?;
        Ok(Checked::Decided(Box::new(assessed)))
    }

    /// Writes down the rest of a cell that is not full and returns what to report: it is charged again only if the book,
    /// which now has that rest, permits it.
    fn send_back_to_charge(
        &mut self,
        case: &Case,
        rest: Judged,
        why: String,
        attendant: &mut Attendant<'_>,
    ) -> Result<Fault> {
        let written = self.write_judged(rest, case, attendant)?;
        if written.entry().is_none() {
            let again = ChargePermit::Open { why: "its rest voltage is not in the book yet".to_owned() };
            return Ok(Fault::NotFull { cell: case.id.clone(), why, again });
        }
        let again = self.charge_permit(&case.id, &case.nameplate)?;
        let step = Step::new(Stage::ToCharge { why: Some(why.clone()) }, case.nameplate.clone());
        self.write_stage(&case.id, &step, Vec::new())?;
        Ok(Fault::NotFull { cell: case.id.clone(), why, again })
    }
}

fn rest_v(rest: &Judged) -> Option<f64> {
    rest.assessment.estimates.get(&Quantity::RestVoltage).map(|rest| rest.value)
}
