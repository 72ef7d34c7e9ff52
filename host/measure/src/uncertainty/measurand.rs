//! A quantity as a function of others, and its propagation to first order (GUM 5.1 and 5.2).

use super::budget::{Budget, Contribution};
use super::coverage::effective_degrees_of_freedom;
use super::input::Input;
use nalgebra::SMatrix;

/// A function of `N` input quantities.
#[derive(Clone, Debug)]
pub struct Measurand<const N: usize, F> {
    pub(super) inputs: [Input; N],
    pub(super) correlation: SMatrix<f64, N, N>,
    pub(super) function: F,
}

impl<const N: usize, F: Fn([f64; N]) -> f64> Measurand<N, F> {
    /// Makes a measurand of independent inputs; the function takes their values in the same order.
    pub fn new(inputs: [Input; N], function: F) -> Self {
        Self { inputs, correlation: SMatrix::identity(), function }
    }

    /// States the correlation coefficient of two inputs, -1 to 1.
    #[must_use]
    pub fn correlated(mut self, first: usize, second: usize, coefficient: f64) -> Self {
        if first < N && second < N && first != second {
            self.correlation[(first, second)] = coefficient.clamp(-1.0, 1.0);
            self.correlation[(second, first)] = coefficient.clamp(-1.0, 1.0);
        }
        self
    }

    /// Returns the correlation coefficient of two inputs.
    pub fn correlation(&self, first: usize, second: usize) -> f64 {
        self.correlation.get((first, second)).copied().unwrap_or(0.0)
    }

    /// Returns the value of the function at the best values.
    pub fn value(&self) -> f64 {
        (self.function)(std::array::from_fn(|index| self.best(index)))
    }

    /// Propagates to first order, with sensitivities found numerically.
    ///
    /// A sensitivity is the secant over one standard uncertainty to either side, as GUM 5.1.3 (note 2) proposes: it is
    /// exact for what is linear in that input and shares out curvature of odd order.
    pub fn budget(&self) -> Budget {
        let budget = self.budget_with(std::array::from_fn(|index| self.sensitivity(index)));
        #[cfg(test)]
        super::cross_check::look_at(self, &budget);
        budget
    }

    /// Propagates to first order with given sensitivities.
    pub fn budget_with(&self, sensitivities: [f64; N]) -> Budget {
        let amounts: [f64; N] =
            std::array::from_fn(|index| sensitivities.get(index).unwrap_or(&0.0) * self.deviation(index));
        let of_variance: [f64; N] = std::array::from_fn(|row| {
            let with = |column: usize| self.correlation(row, column) * amounts.get(column).unwrap_or(&0.0);
            amounts.get(row).unwrap_or(&0.0) * (0..N).map(with).sum::<f64>()
        });
        let variance: f64 = of_variance.iter().sum();
        // Where an infinite doubt makes no number of it, nothing is known; that is not the same as certain.
        let variance = if variance.is_nan() { f64::INFINITY } else { variance.max(0.0) };
        let combined = variance.sqrt();
        let degrees = self.inputs.iter().map(|input| input.degrees_of_freedom);
        let parts = amounts.iter().map(|amount| amount.abs()).zip(degrees);
        let lines = self.inputs.iter().zip(sensitivities).zip(of_variance);
        let contributions = lines.map(|((input, sensitivity), part)| Contribution {
            input: input.name.clone(),
            unit: input.unit.into(),
            value: input.value,
            standard_uncertainty: input.standard_uncertainty,
            degrees_of_freedom: Some(input.degrees_of_freedom).filter(|degrees| degrees.is_finite()),
            sensitivity,
            share: if variance > 0.0 && variance.is_finite() { part / variance } else { 0.0 },
        });
        Budget {
            value: self.value(),
            standard_uncertainty: combined,
            degrees_of_freedom: effective_degrees_of_freedom(combined, parts),
            contributions: contributions.collect(),
        }
    }

    fn best(&self, index: usize) -> f64 {
        self.inputs.get(index).map_or(0.0, |input| input.value)
    }

    fn deviation(&self, index: usize) -> f64 {
        self.inputs.get(index).map_or(0.0, |input| input.standard_uncertainty)
    }

    fn sensitivity(&self, moved: usize) -> f64 {
        let step = self.deviation(moved);
        if step == 0.0 {
            return 0.0; // what is certain adds nothing, however much the result depends on it
        }
        let at = |step: f64| {
            let value = |index: usize| self.best(index) + if index == moved { step } else { 0.0 };
            (self.function)(std::array::from_fn(value))
        };
        (at(step) - at(-step)) / (2.0 * step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_infinitely_doubtful_never_comes_out_as_certain() {
        for doubt in [f64::INFINITY, f64::NAN] {
            let inputs = [Input::new("known", "1", 2.0, 0.1), Input::new("unknown", "1", 1.0, doubt)];
            let functions: [fn([f64; 2]) -> f64; 3] = [|[a, b]| a * b, |[a, b]| a / b, |[a, b]| a + 0.0 * b];
            for function in functions {
                let budget = Measurand::new(inputs.clone(), function).budget();
                assert_eq!(budget.standard_uncertainty, f64::INFINITY, "{budget:?}");
                assert!(budget.contributions.iter().all(|line| line.share.is_finite()));
            }
        }
    }
}
