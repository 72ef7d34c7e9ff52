//! A limit, and the guard that a stated risk asks for on either side of it.

use crate::normal::coverage_for_risk;

/// The stated risk of a wrong pass, and of a wrong fail, with the guard that follows from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// One-sided risk.
    pub risk: f64,
    /// Standard uncertainties of guard.
    pub coverage: f64,
}

impl Guard {
    /// Makes the guard for a stated risk.
    pub fn for_risk(risk: f64) -> Self {
        Self { risk, coverage: coverage_for_risk(risk) }
    }
}

/// What a number is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// The value may be at most `limit`; from `doubtful` up to it nothing is said.
    AtMost {
        /// Beyond this it fails.
        limit: f64,
        /// Up to this it passes.
        doubtful: f64,
    },
    /// The value must be at least `limit`; from `doubtful` down to it nothing is said.
    AtLeast {
        /// Below this it fails.
        limit: f64,
        /// From this on it passes.
        doubtful: f64,
    },
    /// The value must lie between both.
    Within {
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
    },
}

impl Limit {
    /// Returns the same limit moved by an amount, for limits relative to the label.
    pub fn shifted(self, by: f64) -> Self {
        // Both are decimal figures of a person: 4.35 and 0.05 make 4.4, not 4.3999999999999995.
        let moved = |figure: f64| ((figure + by) * 1e9).round() / 1e9;
        match self {
            Limit::AtMost { limit, doubtful } => {
                Limit::AtMost { limit: moved(limit), doubtful: moved(doubtful) }
            }
            Limit::AtLeast { limit, doubtful } => {
                Limit::AtLeast { limit: moved(limit), doubtful: moved(doubtful) }
            }
            Limit::Within { low, high } => Limit::Within { low: moved(low), high: moved(high) },
        }
    }
}
