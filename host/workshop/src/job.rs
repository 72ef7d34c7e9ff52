//! One job for one fixture: a case, the fixture, how much is measured, and what the operator answers for.

use crate::measuring::Overrides;
use celltriage_assessment::case::Case;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::plan::Extent;

/// A job.
#[derive(Clone)]
pub struct Job {
    /// The cell, its looks and its setting.
    pub case: Case,
    /// Where it is measured.
    pub choice: FixtureChoice,
    /// Whether it is a cell of the simulated bench, by this run or by the book.
    pub simulated: bool,
    /// How much is measured.
    pub extent: Extent,
    /// What the operator answers for.
    pub overrides: Overrides,
}
