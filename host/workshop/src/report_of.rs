//! What a report on a cell is made from: a decision with its entry, what was found since, and the pulse that was measured.

use crate::decisions::Decision;
use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_assessment::pulse_curve::PulseCurve;
use celltriage_assessment::record::trace_of;
use celltriage_book::Head;
use celltriage_custody::Scope;
use celltriage_custody::state::Struck;

/// A decision with all that a report tells of it.
#[derive(Clone, Debug)]
pub struct ReportOf {
    /// The decision.
    pub decision: Decision,
    /// The head of its entry, whose digest ties a report to the book.
    pub head: Head,
    /// How it was struck, if it was.
    pub struck: Option<Struck>,
    /// The entry of a newer decision on the same cell that counts.
    pub newer: Option<u32>,
    /// The largest pulse, where one was kept.
    pub pulse: Option<PulseCurve>,
}

impl Workshop<'_> {
    /// Returns what a report on a decision is made from.
    ///
    /// # Errors
    /// There is no such entry, it holds no decision, or the book cannot be read.
    pub fn report_of(&self, number: u32) -> Result<ReportOf> {
        let entry = self.entry(number.into())?;
        let decision = self.decision(number)?;
        let name = entry.subject.name.as_str();
        let mut state = self.state(Scope::Names(&[name]))?;
        let counts = state.cells.get(name).and_then(|cell| cell.facts.as_ref()).map(|facts| facts.assessment);
        let trace = trace_of(&self.book, &entry)?;
        let nameplate = &decision.assessment.cell.nameplate;
        Ok(ReportOf {
            pulse: trace.and_then(|trace| PulseCurve::of(&trace, nameplate)),
            struck: state.struck.remove(&number),
            newer: counts.filter(|counts| *counts > number),
            head: entry.head,
            decision,
        })
    }
}
