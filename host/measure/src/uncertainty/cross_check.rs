//! For tests: every budget that a piece of work makes, beside Monte Carlo over the same inputs and function.
//!
//! Estimators hand on budgets, not the functions behind them; so the check stands where a budget is made. While
//! [`watch`] runs, each first-order propagation of this thread is drawn as well. What is asked is whether the function is
//! straight enough; so every uncertainty is taken as known (Supplement 1 draws few readings from a t distribution, which
//! is wider than the interval after Welch and Satterthwaite whatever the function; how often that one holds the truth is
//! counted over a population elsewhere).

use super::{Budget, Input, Measurand, Trials, Validation, validate};
use std::cell::RefCell;

/// A budget and what Monte Carlo says of it.
#[derive(Clone, Debug)]
pub struct Crossed {
    /// By first order.
    pub budget: Budget,
    /// Standard deviation of what was drawn.
    pub drawn_uncertainty: f64,
    /// How far the ends of the 95 % intervals differ, and may differ (JCGM 101, clause 8, one digit).
    pub validation: Validation,
}

thread_local! {
    static WATCHED: RefCell<Option<Vec<Crossed>>> = const { RefCell::new(None) };
}

/// Enough that the ends of an interval are known to 1 % of a standard uncertainty.
const TRIALS: Trials = Trials { seed: 7, probability: 0.95, digits: 1, block: 20_000, most_blocks: 4 };

/// Does some work and returns every budget that it made, crossed.
pub fn watch(work: impl FnOnce()) -> Vec<Crossed> {
    WATCHED.with_borrow_mut(|watched| *watched = Some(Vec::new()));
    work();
    WATCHED.take().unwrap_or_default()
}

/// Crosses one budget, if somebody watches.
pub fn look_at<const N: usize, F: Fn([f64; N]) -> f64>(measurand: &Measurand<N, F>, budget: &Budget) {
    let is_watched = WATCHED.with_borrow(Option::is_some);
    if !is_watched || budget.standard_uncertainty == 0.0 {
        return;
    }
    let known = |input: &Input| Input { degrees_of_freedom: f64::INFINITY, ..input.clone() };
    let measurand = Measurand {
        inputs: measurand.inputs.each_ref().map(known),
        correlation: measurand.correlation,
        function: &measurand.function,
    };
    let drawn = measurand.monte_carlo(&TRIALS).expect("inputs that can be drawn");
    let budget = Budget { degrees_of_freedom: f64::INFINITY, ..budget.clone() };
    let crossed = Crossed {
        drawn_uncertainty: drawn.standard_uncertainty,
        validation: validate(&budget, &drawn, TRIALS.probability, TRIALS.digits),
        budget,
    };
    WATCHED.with_borrow_mut(|watched| watched.iter_mut().for_each(|all| all.push(crossed.clone())));
}
