//! Uncertainty of a number computed from others, as the GUM asks (JCGM 100:2008) and as its Supplement 1 checks
//! (JCGM 101:2008).
//!
//! A [`Measurand`] is a function of a few [`Input`] quantities, each with its best value, standard uncertainty and
//! degrees of freedom, and of their correlations. [`Measurand::budget`] propagates to first order and gives a
//! [`Budget`] that can be shown line by line; [`Measurand::monte_carlo`] propagates whole distributions; [`validate()`]
//! says whether the first agrees with the second. Nothing here knows of cells.

mod budget;
mod coverage;
mod input;
mod measurand;
mod monte_carlo;
mod tolerance;
mod validate;

#[cfg(test)]
pub mod cross_check;
#[cfg(test)]
mod tests;

pub use budget::{Budget, Contribution};
pub use coverage::{AS_TWO, PRACTICALLY_NORMAL, coverage_factor, effective_degrees_of_freedom};
pub use input::{Input, Shape, Text};
pub use measurand::Measurand;
pub use monte_carlo::{DrawError, Propagated, Trials};
pub use validate::{Validation, validate};
