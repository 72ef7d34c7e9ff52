//! One cell, judged from a trace that was recorded elsewhere or before.

use crate::admission::not_mixed_in;
use crate::assess::Assessed;
use crate::danger::emergency_at;
use crate::event::{Attendant, WorkEvent};
use crate::fault::Result;
use crate::history::for_a_trace;
use crate::known_label::contradiction;
use crate::shop::Workshop;
use crate::trace_file::GivenTrace;
use celltriage_assessment::case::Case;
use celltriage_assessment::record::Evidence;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::CellState;

impl Workshop<'_> {
    /// Judges a cell from a trace and records that. What the book knows of the cell is read here, whatever a face has handed over: a
    /// good trace under the name of a held cell makes no good cell of it.
    ///
    /// # Errors
    /// As [`Workshop::known_before`], and where the book does not take it.
    pub fn grade(
        &mut self,
        case: &Case,
        given: GivenTrace,
        attendant: &mut Attendant<'_>,
    ) -> Result<Assessed> {
        let simulated = given.is_simulated();
        self.known_before(&case.id, simulated)?;
        not_mixed_in(&self.book, &case.id, simulated)?;
        let mut case = Case {
            history: for_a_trace(&self.book, &case.id, case.nameplate.model.as_deref(), simulated)?,
            ..case.clone()
        };
        case.nameplate.warnings.extend(contradiction(&self.book, &case.id, &case.nameplate)?);
        let assessment = case.judge(given.trace.as_ref(), given.origin);
        let reacts = case.observations.answer(Sign::ActiveNow) == Answer::Yes;
        if reacts || assessment.verdict.condition == CellState::Critical {
            // The trace may show what nobody has seen.
            let texts = emergency_at(case.setting.place.as_ref(), &case.setting.packs);
            attendant.sees(&WorkEvent::Emergency(texts));
        }
        self.write_graded(&case, assessment, Evidence::Files(given.evidence))
    }
}
