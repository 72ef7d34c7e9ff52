//! Counts how often intervals hold the truth, and how often decisions are wrong.

use crate::trial::Trial;
use celltriage_host::estimate::{Estimate, Quantity};
use celltriage_host::uncertainty::coverage_factor;
use celltriage_host::verdict::Fate;
use std::collections::BTreeMap;

/// Probability of the interval.
const PROBABILITY: f64 = 0.95;
/// Share of intervals that must hold the truth.
pub const WANTED: [f64; 2] = [0.93, 0.97];
/// Capacity fractions for which the share of reuse is counted apart.
pub const BINS: usize = 46;
const FIRST_BIN: f64 = 0.60;
const BIN_WIDTH: f64 = 0.01;

/// How one estimate did.
#[derive(Clone, Debug, Default)]
pub struct Coverage {
    /// Cells with a value.
    pub cells: u64,
    /// Cells for which the program gave none.
    pub refused: u64,
    /// Intervals that hold the truth.
    pub held: u64,
    /// Truths below the interval.
    pub below: u64,
    /// Truths above.
    pub above: u64,
    /// Why there was no value, without its figures, and how often.
    pub reasons: BTreeMap<String, u64>,
    squares: f64,
    ratios: f64,
}

impl Coverage {
    fn count(&mut self, estimate: Option<&Estimate>, why_not: Option<&String>, truth: f64) {
        let Some(estimate) = estimate else {
            self.refused += 1;
            let why: String =
                why_not.map_or("", String::as_str).chars().filter(|c| !c.is_ascii_digit()).take(90).collect();
            *self.reasons.entry(why).or_default() += 1;
            return;
        };
        let degrees = estimate.degrees_of_freedom.unwrap_or(f64::INFINITY);
        let half = coverage_factor(PROBABILITY, degrees) * estimate.standard_uncertainty;
        let [low, high] = estimate.interval.unwrap_or([estimate.value - half, estimate.value + half]);
        self.cells += 1;
        self.below += u64::from(truth < low);
        self.above += u64::from(truth > high);
        self.held += u64::from((low..=high).contains(&truth));
        let ratio = (estimate.value - truth) / estimate.standard_uncertainty;
        self.squares += ratio * ratio;
        self.ratios += ratio;
    }

    /// Returns the share of intervals that hold the truth.
    pub fn share(&self) -> f64 {
        self.held as f64 / self.cells.max(1) as f64
    }

    /// Returns the standard deviation of that share.
    pub fn share_deviation(&self) -> f64 {
        let share = self.share();
        (share * (1.0 - share) / self.cells.max(1) as f64).sqrt()
    }

    /// Returns mean and root mean square of error over standard uncertainty.
    pub fn ratio(&self) -> [f64; 2] {
        let cells = self.cells.max(1) as f64;
        [self.ratios / cells, (self.squares / cells).sqrt()]
    }
}

/// How decisions came out.
#[derive(Clone, Debug, Default)]
pub struct Risk {
    /// Cells below a limit, and how many of them were to be used again.
    pub unfit: [u64; 2],
    /// Cells that meet every limit, and how many of them were not to be used again.
    pub fit: [u64; 2],
    /// What kept cells that meet every limit from reuse, and how often.
    pub kept_from_reuse: BTreeMap<String, u64>,
    /// Cells by capacity fraction, and how many of them were to be used again.
    pub bins: BTreeMap<usize, [u64; 2]>,
}

impl Risk {
    fn count(&mut self, trial: &Trial) {
        let reuse = trial.fate == Fate::Reuse;
        if trial.is_fit {
            self.fit[0] += 1;
            self.fit[1] += u64::from(!reuse);
            for criterion in trial.open.iter().filter(|_| !reuse) {
                *self.kept_from_reuse.entry(criterion.clone()).or_default() += 1;
            }
        } else {
            self.unfit[0] += 1;
            self.unfit[1] += u64::from(reuse);
        }
        if let Some(fraction) = trial.truth.get(&Quantity::CapacityFraction) {
            let bin = ((fraction - FIRST_BIN) / BIN_WIDTH).floor().clamp(0.0, BINS as f64 - 1.0) as usize;
            let entry = self.bins.entry(bin).or_default();
            entry[0] += 1;
            entry[1] += u64::from(reuse);
        }
    }

    /// Returns the middle of a bin.
    pub fn middle(bin: usize) -> f64 {
        FIRST_BIN + (bin as f64 + 0.5) * BIN_WIDTH
    }
}

/// All counts.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Of each estimate that has a truth.
    pub coverage: BTreeMap<Quantity, Coverage>,
    /// Estimates the program gave and nobody knows the truth of.
    pub without_truth: BTreeMap<Quantity, u64>,
    /// Of decisions on full runs.
    pub risk: Risk,
}

impl Tally {
    /// Counts a trial; decisions only where they may rest on a counted capacity.
    pub fn count(&mut self, trial: &Trial) {
        for (quantity, truth) in &trial.truth {
            let (estimate, why_not) = (trial.estimates.get(*quantity), trial.estimates.missing.get(quantity));
            self.coverage.entry(*quantity).or_default().count(estimate, why_not, *truth);
        }
        for quantity in trial.estimates.measured.keys().filter(|quantity| !trial.truth.contains_key(quantity))
        {
            *self.without_truth.entry(*quantity).or_default() += 1;
        }
        if trial.truth.contains_key(&Quantity::Capacity) {
            self.risk.count(trial);
        }
    }

    /// Adds another thread's counts.
    pub fn add(&mut self, other: Self) {
        for (quantity, more) in other.coverage {
            let sum = self.coverage.entry(quantity).or_default();
            sum.cells += more.cells;
            sum.refused += more.refused;
            sum.held += more.held;
            sum.below += more.below;
            sum.above += more.above;
            sum.squares += more.squares;
            sum.ratios += more.ratios;
            for (why, count) in more.reasons {
                *sum.reasons.entry(why).or_default() += count;
            }
        }
        for (quantity, more) in other.without_truth {
            *self.without_truth.entry(quantity).or_default() += more;
        }
        for index in 0..2 {
            self.risk.fit[index] += other.risk.fit[index];
            self.risk.unfit[index] += other.risk.unfit[index];
        }
        for (criterion, more) in other.risk.kept_from_reuse {
            *self.risk.kept_from_reuse.entry(criterion).or_default() += more;
        }
        for (bin, more) in other.risk.bins {
            let entry = self.risk.bins.entry(bin).or_default();
            entry[0] += more[0];
            entry[1] += more[1];
        }
    }
}
