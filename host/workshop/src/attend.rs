//! Attends to one job: with a person at the bench, and alone.

use crate::admission::{looked_at, must_not_be_loaded};
use crate::assess::Assessed;
use crate::event::Attendant;
use crate::fault::Result;
use crate::full_run::Checked;
use crate::job::Job;
use crate::shop::Workshop;
use std::ops::ControlFlow;

impl Workshop<'_> {
    /// Assesses a cell with a person at the bench. One that must not be loaded is judged by what is known of it.
    ///
    /// # Errors
    /// Nobody has looked at it, its label is another than in the book and nobody says why, the run could not begin, or it could
    /// not be kept.
    pub fn attend(&mut self, job: &Job, attendant: &mut Attendant<'_>) -> Result<Assessed> {
        let case = match self.admitted(&job.case, job.simulated)? {
            ControlFlow::Continue(case) => case,
            ControlFlow::Break(kept_off) => return Ok(kept_off),
        };
        self.label_answered_for(&case)?;
        looked_at(&case.observations)?;
        let choice = job.choice.clone();
        // The shop's charger charges a real cell; a simulated one comes charged to a full test.
        let choice = if job.extent.discharges() { choice.charged() } else { choice };
        let link = choice.link(Some(&self.book))?;
        self.assess_known(&case, link, job.extent, &job.overrides, attendant)
    }

    /// Assesses a cell with nobody at the bench: a full test begins with a check that the cell is full, and a rest that was
    /// cut short is recorded, since nobody is there to repeat it.
    ///
    /// # Errors
    /// As [`Self::attend`], and the cell is not full.
    pub fn attend_alone(&mut self, job: &Job, attendant: &mut Attendant<'_>) -> Result<Assessed> {
        if !job.extent.discharges() {
            return self.attend(job, attendant);
        }
        if must_not_be_loaded(&self.with_what_is_known(&job.case, job.simulated)?.0).is_none() {
            self.label_answered_for(&job.case)?;
        }
        match self.check_and_discharge(job, attendant)? {
            Checked::NoRestVoltage(rest) if !rest.assessment.conditions.run.is_finished() => {
                self.write_judged(*rest, &job.case, attendant)
            }
            checked => checked.decided(&job.case),
        }
    }
}
