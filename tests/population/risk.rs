//! Counts how often decisions are wrong: reuse for cells below a limit, no reuse for cells that meet every limit.

use crate::trial::Decision;
use celltriage_verdict::Fate;
use std::collections::BTreeMap;

/// Capacity fractions for which the share of reuse is counted apart.
const BINS: usize = 46;
const FIRST_BIN: f64 = 0.60;
const BIN_WIDTH: f64 = 0.01;

/// Cells, and how many of them were decided wrongly.
#[derive(Clone, Copy, Debug, Default)]
pub struct Share {
    /// Cells.
    pub all: u64,
    /// Of them.
    pub wrong: u64,
}

impl Share {
    fn count(&mut self, is_wrong: bool) {
        self.all += 1;
        self.wrong += u64::from(is_wrong);
    }

    fn add(&mut self, other: Self) {
        self.all += other.all;
        self.wrong += other.wrong;
    }

    /// Returns the share in per cent.
    pub fn percent(&self) -> f64 {
        100.0 * self.wrong as f64 / self.all.max(1) as f64
    }
}

/// How the decisions of one kind of trial came out.
#[derive(Clone, Debug, Default)]
pub struct Risk {
    /// Reuse for cells below a limit that the trial can look at.
    pub consumer: Share,
    /// Of these the ones whose capacity lies closest below the limit, where the guard band is put to the proof.
    pub closest: Share,
    /// Reuse for cells that only lose more in storage than the policy allows.
    pub leaking: Share,
    /// No reuse for cells that meet every limit.
    pub producer: Share,
    /// Reuse whose decision says that the loss in storage is not proven, and of these the cells that lose more than allowed.
    pub storage_open: Share,
    /// What kept cells that meet every limit from reuse, and how often.
    pub kept_from_reuse: BTreeMap<String, u64>,
    /// Cells by capacity fraction, and how many of them were to be used again.
    pub bins: BTreeMap<usize, Share>,
}

impl Risk {
    /// Counts a decision.
    pub fn count(&mut self, decision: &Decision) {
        let reuse = decision.fate == Fate::Reuse;
        if reuse && decision.storage_is_open {
            self.storage_open.count(!decision.keeps_charge);
        }
        if !decision.is_fit {
            self.consumer.count(reuse);
            if (0.78..0.80).contains(&decision.capacity_fraction) {
                self.closest.count(reuse);
            }
        } else if !decision.keeps_charge {
            self.leaking.count(reuse);
        } else {
            self.producer.count(!reuse);
            for criterion in decision.open.iter().filter(|_| !reuse) {
                *self.kept_from_reuse.entry(criterion.clone()).or_default() += 1;
            }
        }
        let bin = ((decision.capacity_fraction - FIRST_BIN) / BIN_WIDTH).floor();
        self.bins.entry(bin.clamp(0.0, BINS as f64 - 1.0) as usize).or_default().count(reuse);
    }

    /// Adds another thread's counts.
    pub fn add(&mut self, other: Self) {
        self.consumer.add(other.consumer);
        self.closest.add(other.closest);
        self.leaking.add(other.leaking);
        self.producer.add(other.producer);
        self.storage_open.add(other.storage_open);
        for (criterion, more) in other.kept_from_reuse {
            *self.kept_from_reuse.entry(criterion).or_default() += more;
        }
        for (bin, more) in other.bins {
            self.bins.entry(bin).or_default().add(more);
        }
    }

    /// Returns the middle of a bin.
    pub fn middle(bin: usize) -> f64 {
        FIRST_BIN + (bin as f64 + 0.5) * BIN_WIDTH
    }
}
