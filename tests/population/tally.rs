//! Counts how often intervals hold the truth.

use crate::risk::Risk;
use crate::trial::{Kind, Trial};
use celltriage_measure::estimate::{Estimate, Quantity};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use std::collections::BTreeMap;

/// The nominal probability of the intervals.
const NOMINAL: f64 = 0.95;
/// Share of intervals that must hold the truth.
pub const WANTED: [f64; 2] = [0.93, 0.97];
/// From here on the t distribution is the normal one.
const MANY: f64 = 1e5;

/// How one estimate did.
#[derive(Clone, Debug, Default)]
pub struct Coverage {
    /// Runs with a value.
    pub cells: u64,
    /// Runs for which the program gave none.
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
        let [low, high] = interval(estimate);
        self.cells += 1;
        self.below += u64::from(truth < low);
        self.above += u64::from(truth > high);
        self.held += u64::from((low..=high).contains(&truth));
        let ratio = (estimate.value - truth) / estimate.standard_uncertainty;
        self.squares += ratio * ratio;
        self.ratios += ratio;
    }

    /// Adds other counts.
    pub fn add(&mut self, more: &Self) {
        self.cells += more.cells;
        self.refused += more.refused;
        self.held += more.held;
        self.below += more.below;
        self.above += more.above;
        self.squares += more.squares;
        self.ratios += more.ratios;
        for (why, count) in &more.reasons {
            *self.reasons.entry(why.clone()).or_default() += count;
        }
    }

    /// Returns the share of intervals that hold the truth.
    pub fn share(&self) -> f64 {
        self.held as f64 / self.cells.max(1) as f64
    }

    /// Returns the share of runs without a value.
    pub fn refused_share(&self) -> f64 {
        self.refused as f64 / (self.cells + self.refused).max(1) as f64
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

/// Returns the interval that an estimate brings, or the one that follows from its uncertainty and degrees of freedom.
fn interval(estimate: &Estimate) -> [f64; 2] {
    let quantile = 0.5 + NOMINAL / 2.0;
    let factor = match estimate.degrees_of_freedom {
        Some(degrees) if degrees < MANY => {
            StudentsT::new(0.0, 1.0, degrees.max(1.0)).expect("degrees of freedom").inverse_cdf(quantile)
        }
        _ => Normal::standard().inverse_cdf(quantile),
    };
    let half = factor * estimate.standard_uncertainty;
    estimate.interval.unwrap_or([estimate.value - half, estimate.value + half])
}

/// All counts.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Of each estimate that has a truth, by kind of trial.
    pub by_kind: BTreeMap<(Quantity, Kind), Coverage>,
    /// Of decisions.
    pub risk: BTreeMap<Kind, Risk>,
}

impl Tally {
    /// Counts a trial.
    pub fn count(&mut self, kind: Kind, trial: &Trial) {
        for (quantity, truth) in &trial.truth {
            let (estimate, why_not) = (trial.estimates.get(*quantity), trial.estimates.missing.get(quantity));
            self.by_kind.entry((*quantity, kind)).or_default().count(estimate, why_not, *truth);
        }
        if let Some(decision) = &trial.decision {
            self.risk.entry(kind).or_default().count(decision);
        }
    }

    /// Adds another thread's counts.
    pub fn add(&mut self, other: Self) {
        for (key, more) in &other.by_kind {
            self.by_kind.entry(*key).or_default().add(more);
        }
        for (kind, more) in other.risk {
            self.risk.entry(kind).or_default().add(more);
        }
    }

    /// Returns the counts of an estimate over all kinds of trial.
    pub fn coverage(&self, quantity: Quantity) -> Coverage {
        let mut sum = Coverage::default();
        self.by_kind.iter().filter(|((one, _), _)| *one == quantity).for_each(|(_, more)| sum.add(more));
        sum
    }
}
