//! Assesses one cell: measures it, judges it, and writes that into the book.

use crate::admission::must_not_be_loaded;
use crate::danger::emergency_at;
use crate::event::{Attendant, WorkEvent};
use crate::fault::Result;
use crate::history;
use crate::measuring::Overrides;
use crate::shop::Workshop;
use celltriage_assessment::Assessment;
use celltriage_assessment::case::{Case, Origin};
use celltriage_assessment::history::History;
use celltriage_assessment::record::{self, Evidence};
use celltriage_book::{Kept, PATIENCE, Writer};
use celltriage_instrument::simulated::KEPT_OFF;
use celltriage_link::Link;
use celltriage_measure::plan::{Extent, plan_through};
use celltriage_verdict::{CellState, label_confirmed};
use std::ops::ControlFlow;

/// So many entries are left to be folded by questions before a decision brings what is kept forward: a decision is some forty
/// kilobytes to read, where an event is a few hundred bytes (our choice).
const MOST_UNFOLDED: u32 = 8;

/// A decision that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Assessed {
    /// Where it is kept.
    pub kept: Kept,
    /// The decision.
    pub assessment: Assessment,
    /// Whether the cell was kept off the fixture on purpose.
    pub by_choice: bool,
}

impl Assessed {
    /// Returns the number of the entry, if the decision is in the book.
    pub fn entry(&self) -> Option<u32> {
        self.kept.entry()
    }

    /// Returns whether the test ran to its end, or was not wanted.
    pub fn is_finished(&self) -> bool {
        self.by_choice || self.assessment.conditions.run.is_finished()
    }
}

/// A cell that was measured and judged, before that is written down.
#[derive(Debug)]
pub struct Judged {
    /// The decision.
    pub assessment: Assessment,
    /// Who has the frames of its run.
    pub(crate) writer: Writer,
    notes: Vec<String>,
}

impl Workshop<'_> {
    /// Reads what a new decision on a cell may use of the book; `simulated` says whether it is of the simulated bench.
    pub(crate) fn history(&self, cell: &str, model: Option<&str>, simulated: bool) -> Result<History> {
        Ok(history::read(&self.book, cell, model, simulated, self.now(), self.zone())?)
    }

    /// Measures, judges and records one cell over a link that is there already; one against which something stands is kept off it.
    ///
    /// # Errors
    /// As [`Workshop::attend`].
    pub fn assess(
        &mut self,
        case: &Case,
        link: impl Link,
        extent: Extent,
        overrides: &Overrides,
        attendant: &mut Attendant<'_>,
    ) -> Result<Assessed> {
        // Whether the fixture is a simulated one shows when it says its name; the run is refused then.
        match self.admitted(case, false)? {
            ControlFlow::Continue(case) => self.assess_known(&case, link, extent, overrides, attendant),
            ControlFlow::Break(kept_off) => Ok(kept_off),
        }
    }

    /// Returns the case with what is known, of a cell that may be put on the fixture; breaks off with the decision on one that is kept
    /// off it.
    ///
    /// # Errors
    /// As [`Workshop::known_before`], and the book does not take the decision.
    pub(crate) fn admitted(&mut self, case: &Case, simulated: bool) -> Result<ControlFlow<Assessed, Case>> {
        let (case, simulated) = self.with_what_is_known(case, simulated)?;
        match must_not_be_loaded(&case) {
            Some(why) => Ok(ControlFlow::Break(self.keep_off(&case, &why, simulated)?)),
            None => Ok(ControlFlow::Continue(case)),
        }
    }

    /// The same for a case that holds what is known.
    ///
    /// # Errors
    /// The run could not begin. A book that does not take it is no error: [`Assessed::kept`] says where it is.
    pub(crate) fn assess_known(
        &mut self,
        case: &Case,
        link: impl Link,
        extent: Extent,
        overrides: &Overrides,
        attendant: &mut Attendant<'_>,
    ) -> Result<Assessed> {
        let judged = self.judge_run(case, link, extent, overrides, attendant)?;
        self.write_judged(judged, case, attendant)
    }

    /// Measures and judges one cell; the decision is not written down yet.
    ///
    /// # Errors
    /// As [`Self::assess_known`].
    pub(crate) fn judge_run(
        &mut self,
        case: &Case,
        link: impl Link,
        extent: Extent,
        overrides: &Overrides,
        attendant: &mut Attendant<'_>,
    ) -> Result<Judged> {
        // The plan's number only has to differ from the one before it.
        let number = u32::try_from(self.now().as_second().rem_euclid(1_000_000)).unwrap_or(1);
        let planned = plan_through(case.observations.fitted(), &case.nameplate, extent, number)?;
        if extent == Extent::Proof && !is_label_confirmed(case) {
            let (rated_ah, expected) = (case.nameplate.rated_capacity_ah, planned.expected);
            attendant.sees(&WorkEvent::LabelReadOnce { rated_ah, expected });
        }
        let measured = self.measure(
            link,
            &planned,
            overrides,
            &case.id,
            (extent == Extent::Proof).then_some(case),
            attendant,
        )?;
        let used = measured.calibration_used;
        let mut notes = planned.deviations.clone();
        notes.extend(measured.remarks);
        let despite = used.iter().filter_map(|used| used.despite_stop.as_ref());
        notes.extend(despite.map(|why| format!("the fixture was used despite its stop: {why}")));
        let origin = Origin::of(measured.source.clone(), &measured.recorded, &notes).calibrated(used);
        let assessment = case.judge(measured.recorded.trace.as_ref(), origin);
        if assessment.verdict.condition == CellState::Critical {
            // The fixture has seen what the person may not have.
            let texts = emergency_at(case.setting.place.as_ref(), &case.setting.packs);
            attendant.sees(&WorkEvent::Emergency(texts));
        }
        Ok(Judged { assessment, writer: measured.writer, notes })
    }

    /// Writes down what was measured and judged: into the book, or beside it where the book does not take it.
    ///
    /// # Errors
    /// It cannot be written as JSON.
    pub(crate) fn write_judged(
        &mut self,
        judged: Judged,
        case: &Case,
        attendant: &mut Attendant<'_>,
    ) -> Result<Assessed> {
        let Judged { assessment, writer, notes } = judged;
        // The recording is added by the writer, which knows its number.
        let entry = record::entry(case, &assessment, Evidence::Nothing, &notes, self.now())
            .map_err(|error| self.book.not_storable("assessment", error))?;
        let kept = writer.finish(entry, PATIENCE);
        let _made_again_at_the_next_question = self.keep_up_if_behind(MOST_UNFOLDED);
        tell_if_not_in_book(&case.id, &kept, attendant);
        Ok(Assessed { kept, assessment, by_choice: false })
    }

    /// Judges and records a cell that is kept off the fixture; `simulated` says whether it is of the simulated bench.
    ///
    /// # Errors
    /// The book does not take it.
    pub fn keep_off(&mut self, case: &Case, why: &str, simulated: bool) -> Result<Assessed> {
        let mut origin = Origin::none(why);
        if simulated {
            KEPT_OFF.clone_into(&mut origin.source);
        }
        let assessment = case.judge(None, origin);
        self.write(case, assessment, Evidence::Nothing, &[], true)
    }

    /// Writes down a decision that was made from a file.
    ///
    /// # Errors
    /// The book does not take it.
    pub(crate) fn write_graded(
        &mut self,
        case: &Case,
        assessment: Assessment,
        evidence: Evidence,
    ) -> Result<Assessed> {
        self.write(case, assessment, evidence, &[], false)
    }

    fn write(
        &mut self,
        case: &Case,
        assessment: Assessment,
        evidence: Evidence,
        notes: &[String],
        by_choice: bool,
    ) -> Result<Assessed> {
        let now = self.now();
        let entry = record::write(&mut self.book, case, &assessment, evidence, notes, now)?;
        // What is drawn from the entry can be drawn again: the decision is written, whatever becomes of this.
        let _made_again_at_the_next_question = self.keep_up_if_behind(MOST_UNFOLDED);
        Ok(Assessed { kept: Kept::InBook(Box::new(entry)), assessment, by_choice })
    }
}

/// Returns whether the label of a case was read twice, or another of its model.
fn is_label_confirmed(case: &Case) -> bool {
    let rated = case.nameplate.rated_capacity_ah;
    label_confirmed(rated, &case.observations, &case.history.labels_of_model).is_some()
}

/// Tells at once where something is that the book did not take.
pub(crate) fn tell_if_not_in_book(cell: &str, kept: &Kept, attendant: &mut Attendant<'_>) {
    if kept.entry().is_none() {
        attendant.sees(&WorkEvent::NotInBook { cell: cell.to_owned(), kept: kept.clone() });
    }
}
