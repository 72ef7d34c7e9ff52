//! What a place on a scale means for a value that is found there.

use crate::phrase::Phrase;

/// What a place on a scale means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// A value there fails.
    Fails,
    /// A value there is too close to tell.
    Open,
    /// A value there passes.
    Passes,
}

/// The zones of a scale: where a value passes and beyond what it fails; a bound that is absent leaves that side free.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Zones {
    /// Lowest and highest value that passes.
    pub passes: [Option<f64>; 2],
    /// Below the first and above the second a value fails.
    pub fails: [Option<f64>; 2],
}

impl Zones {
    /// Returns what a value would be at a place on the scale.
    pub fn at(&self, at: f64) -> Zone {
        let [pass_low, pass_high] = self.passes;
        let [fail_low, fail_high] = self.fails;
        if fail_low.is_some_and(|bound| at < bound) || fail_high.is_some_and(|bound| at > bound) {
            Zone::Fails
        } else if pass_low.is_none_or(|bound| at >= bound) && pass_high.is_none_or(|bound| at <= bound) {
            Zone::Passes
        } else {
            Zone::Open
        }
    }

    /// Returns the bounds between zones, rising.
    pub fn bounds(&self) -> Vec<f64> {
        let mut bounds: Vec<f64> = [self.passes, self.fails].into_iter().flatten().flatten().collect();
        bounds.sort_by(f64::total_cmp);
        bounds.dedup();
        bounds
    }
}

impl Zone {
    /// Returns the letter of a strip of text.
    pub const fn sign(self) -> char {
        match self {
            Zone::Fails => 'x',
            Zone::Open => '?',
            Zone::Passes => '=',
        }
    }

    /// Returns its word.
    pub(super) const fn word(self) -> Phrase {
        match self {
            Zone::Fails => Phrase::Fails,
            Zone::Open => Phrase::NotClear,
            Zone::Passes => Phrase::Passes,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bounds_belong_to_the_milder_side_as_in_the_decision() {
        let zones = Zones { passes: [Some(0.81), None], fails: [Some(0.79), None] };
        let found = [0.789, 0.79, 0.8, 0.809, 0.81, 0.9].map(|at| zones.at(at));
        use Zone::{Fails, Open, Passes};
        assert_eq!(found, [Fails, Open, Open, Open, Passes, Passes]);
        assert_eq!(zones.bounds(), [0.79, 0.81]);
    }
}
