//! Fits a sum of exponentials to samples by variable projection.
//!
//! y(t) = sum of a_k f(t / tau_k) + constant, where f decays, exp(-x), or rises, 1 - exp(-x). Amplitudes
//! and constant are linear and solved exactly for every trial of the time constants (Golub and Pereyra), which
//! enter by their logarithm, so that none turns negative. A solver's "converged" is no proof: a result whose time
//! constants ran together or away, or which is not finite, is refused.

use nalgebra::{DMatrix, DVector};
use std::convert::Infallible;
use varpro::model::SeparableNonlinearModel;
use varpro::problem::SeparableProblemBuilder;
use varpro::solvers::levmar::LevMarSolver;
use varpro::statistics::FitStatistics;

/// Which terms the sum has beside its exponentials, and how these look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Form {
    /// Exponentials rise, 1 - exp(-t/tau), instead of decaying.
    pub(super) rises: bool,
    /// There is a constant.
    pub(super) constant: bool,
}

/// One exponential of a fit, each number with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Term {
    pub(super) amplitude: f64,
    pub(super) amplitude_deviation: f64,
    pub(super) time_constant: f64,
    /// As a share of the time constant.
    pub(super) time_constant_share: f64,
}

/// A fit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fit {
    /// Exponentials, fastest first.
    pub(super) terms: Vec<Term>,
    /// Constant with its standard uncertainty, if asked for.
    pub(super) constant: Option<(f64, f64)>,
    /// Sum of the squared, weighted residuals.
    pub(super) square: f64,
    /// Samples less parameters.
    pub(super) degrees_of_freedom: usize,
}

/// Time constants closer than this factor are one.
const LEAST_RATIO: f64 = 1.5;

/// Fits from starting values of the time constants, which must lie apart; `weights` multiply the residuals.
pub(super) fn fit(
    times: &[f64],
    values: &[f64],
    weights: Option<&[f64]>,
    form: Form,
    starts: &[f64],
) -> Result<Fit, String> {
    let model = Model {
        times: DVector::from_column_slice(times),
        logarithms: DVector::from_iterator(starts.len(), starts.iter().map(|tau| tau.ln())),
        form,
    };
    let columns = model.base_function_count();
    let parameters = columns + starts.len();
    if times.len() <= parameters || times.len() != values.len() {
        return Err(format!("{} samples are too few for {parameters} parameters", times.len()));
    }
    let mut problem = SeparableProblemBuilder::new(model).observations(DVector::from_column_slice(values));
    if let Some(weights) = weights {
        problem = problem.weights(DVector::from_column_slice(weights));
    }
    let problem = problem.build().map_err(|error| error.to_string())?;
    let found = LevMarSolver::default().solve(problem).map_err(|_| "the fit did not converge".to_owned())?;
    let statistics = FitStatistics::try_from(&found).map_err(|error| error.to_string())?;
    let logarithms = found.nonlinear_parameters();
    let linear = found.linear_coefficients().ok_or("the fit gave no amplitudes")?;
    let (of_nonlinear, of_linear) =
        (statistics.nonlinear_parameters_variance(), statistics.linear_coefficients_variance());

    let at = |vector: &DVector<f64>, index: usize| vector.get(index).copied().unwrap_or(f64::NAN);
    let pair = |index: usize| {
        (linear.get(index).copied().unwrap_or(f64::NAN), at(&of_linear, index).max(0.0).sqrt())
    };
    let mut terms: Vec<Term> = (0..starts.len())
        .map(|index| Term {
            amplitude: pair(index).0,
            amplitude_deviation: pair(index).1,
            time_constant: at(&logarithms, index).exp(),
            time_constant_share: at(&of_nonlinear, index).max(0.0).sqrt(),
        })
        .collect();
    terms.sort_by(|a, b| a.time_constant.total_cmp(&b.time_constant));
    let numbers =
        terms.iter().flat_map(|term| [term.amplitude, term.time_constant, term.amplitude_deviation]);
    if !numbers.clone().all(f64::is_finite) || terms.iter().any(|term| term.time_constant <= 0.0) {
        return Err("the fit gave no finite numbers".to_owned());
    }
    let apart = |two: &[Term]| matches!(two, [a, b] if b.time_constant > LEAST_RATIO * a.time_constant);
    if !terms.windows(2).all(apart) {
        return Err("two time constants of the fit ran together".to_owned());
    }
    Ok(Fit {
        terms,
        constant: form.constant.then(|| pair(starts.len())),
        square: statistics.weighted_residuals().norm_squared(),
        degrees_of_freedom: times.len() - parameters,
    })
}

/// The sum as a separable model: exponentials first, then the constant.
#[derive(Clone, Debug)]
struct Model {
    times: DVector<f64>,
    logarithms: DVector<f64>,
    form: Form,
}

impl Model {
    fn time_constant(&self, index: usize) -> f64 {
        self.logarithms.get(index).map_or(f64::NAN, |logarithm| logarithm.exp())
    }
}

impl SeparableNonlinearModel for Model {
    type ScalarType = f64;
    type Error = Infallible;

    fn parameter_count(&self) -> usize {
        self.logarithms.len()
    }

    fn base_function_count(&self) -> usize {
        self.logarithms.len() + usize::from(self.form.constant)
    }

    fn output_len(&self) -> usize {
        self.times.len()
    }

    fn set_params(&mut self, parameters: DVector<f64>) -> Result<(), Infallible> {
        self.logarithms = parameters;
        Ok(())
    }

    fn params(&self) -> DVector<f64> {
        self.logarithms.clone()
    }

    fn eval(&self) -> Result<DMatrix<f64>, Infallible> {
        let exponentials = self.logarithms.len();
        let mut matrix = DMatrix::zeros(self.times.len(), self.base_function_count());
        for (index, mut column) in matrix.column_iter_mut().enumerate() {
            let tau = self.time_constant(index);
            for (value, time) in column.iter_mut().zip(self.times.iter()) {
                *value = if index < exponentials {
                    // exp_m1 keeps the digits of a rise that has hardly begun.
                    if self.form.rises { -(-time / tau).exp_m1() } else { (-time / tau).exp() }
                } else {
                    1.0
                };
            }
        }
        Ok(matrix)
    }

    fn eval_partial_deriv(&self, index: usize) -> Result<DMatrix<f64>, Infallible> {
        let mut matrix = DMatrix::zeros(self.times.len(), self.base_function_count());
        let tau = self.time_constant(index);
        let sign = if self.form.rises { -1.0 } else { 1.0 };
        for (value, time) in matrix.column_mut(index).iter_mut().zip(self.times.iter()) {
            *value = sign * time / tau * (-time / tau).exp();
        }
        Ok(matrix)
    }
}
