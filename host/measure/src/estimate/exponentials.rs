//! Fits a sum of exponentials to samples by variable projection.
//!
//! y(t) = sum of a_k f(t / tau_k) + constant, where f decays, exp(-x), or rises, 1 - exp(-x). Amplitudes
//! and constant are linear and solved exactly for every trial of the time constants, which enter by their logarithm, so
//! that none turns negative. A search that ended proves nothing: a result whose time constants ran together or away, or
//! which is not finite, is refused.

use super::line_fit::lag_one_correlation;
use super::variable_projection::{Separable, solve};

/// Which terms the sum has beside its exponentials, and how these look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SumTerms {
    /// Exponentials rise, 1 - exp(-t/tau), instead of decaying.
    pub(super) rises: bool,
    /// There is a constant.
    pub(super) constant: bool,
    /// The search ends with a step that promises to lower the sum of squares by less than this share. With n degrees of
    /// freedom that is a step of about sqrt(n x share) standard deviations.
    pub(super) small_gain: f64,
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
    /// Lag-one autocorrelation of these residuals: what a sum of exponentials cannot follow makes neighbours alike.
    pub(super) correlation: f64,
    /// Samples less parameters.
    pub(super) degrees_of_freedom: usize,
}

/// Time constants closer than this factor are one.
const LEAST_RATIO: f64 = 1.5;

/// Below this many time constants 1 - exp(-x) loses more than two digits.
const HARDLY_BEGUN: f64 = 0.01;
/// A standard uncertainty of a time constant above this many times itself says that the samples do not tell it.
const UNTOLD_SHARE: f64 = 10.0;

/// Fits from starting values of the time constants, which must lie apart; `weights` multiply the residuals.
pub(super) fn fit(
    times: &[f64],
    values: &[f64],
    weights: Option<&[f64]>,
    form: SumTerms,
    starts: &[f64],
) -> Result<Fit, String> {
    let columns = starts.len() + usize::from(form.constant);
    let parameters = columns + starts.len();
    if times.len() <= parameters || times.len() != values.len() {
        return Err(format!("{} samples are too few for {parameters} parameters", times.len()));
    }
    let model = Model { times, weights, form };
    let weighted: Vec<f64> = match weights {
        Some(weights) => values.iter().zip(weights).map(|(value, weight)| value * weight).collect(),
        None => values.to_vec(),
    };
    let logarithms: Vec<f64> = starts.iter().map(|tau| tau.ln()).collect();
    let found =
        solve(&model, &weighted, columns, &logarithms, form.small_gain).ok_or("the fit did not converge")?;
    let degrees_of_freedom = times.len() - parameters;
    let variance = found.square / degrees_of_freedom as f64;
    let deviation = |of_unit: Option<&f64>| (of_unit.copied().unwrap_or(f64::NAN) * variance).sqrt();
    let linear = |index: usize| {
        (found.linear.get(index).copied().unwrap_or(f64::NAN), deviation(found.linear_variances.get(index)))
    };
    let mut terms: Vec<Term> = (found.searched.iter().enumerate())
        .map(|(index, logarithm)| Term {
            amplitude: linear(index).0,
            amplitude_deviation: linear(index).1,
            time_constant: logarithm.exp(),
            time_constant_share: deviation(found.searched_variances.get(index)),
        })
        .collect();
    terms.sort_by(|a, b| a.time_constant.total_cmp(&b.time_constant));
    let numbers =
        terms.iter().flat_map(|term| [term.amplitude, term.time_constant, term.amplitude_deviation]);
    if !numbers.clone().all(f64::is_finite) || terms.iter().any(|term| term.time_constant <= 0.0) {
        return Err("the fit gave no finite numbers".to_owned());
    }
    if terms.iter().any(|term| term.time_constant_share > UNTOLD_SHARE) {
        return Err("the samples do not tell a time constant of the fit".to_owned());
    }
    let apart = |two: &[Term]| matches!(two, [a, b] if b.time_constant > LEAST_RATIO * a.time_constant);
    if !terms.windows(2).all(apart) {
        return Err("two time constants of the fit ran together".to_owned());
    }
    let constant = form.constant.then(|| linear(starts.len()));
    let correlation = lag_one_correlation(&found.residuals);
    Ok(Fit { terms, constant, square: found.square, correlation, degrees_of_freedom })
}

/// The sum as a separable model: exponentials first, then the constant.
struct Model<'a> {
    times: &'a [f64],
    weights: Option<&'a [f64]>,
    form: SumTerms,
}

impl Separable for Model<'_> {
    fn columns(&self, logarithms: &[f64], linear: &mut [Vec<f64>], derivatives: &mut [Vec<f64>]) {
        for ((logarithm, column), derivative) in
            logarithms.iter().zip(linear.iter_mut()).zip(derivatives.iter_mut())
        {
            let rate = (-logarithm).exp();
            for ((value, slope), time) in column.iter_mut().zip(derivative).zip(self.times) {
                let x = time * rate;
                let left = (-x).exp();
                if self.form.rises {
                    // exp_m1 keeps the digits of a rise that has hardly begun.
                    *value = if x < HARDLY_BEGUN { -(-x).exp_m1() } else { 1.0 - left };
                    *slope = -x * left;
                } else {
                    *value = left;
                    *slope = x * left;
                }
            }
        }
        if let Some(constant) = linear.get_mut(logarithms.len()) {
            constant.fill(1.0);
        }
        if let Some(weights) = self.weights {
            for column in linear.iter_mut().chain(derivatives.iter_mut()) {
                column.iter_mut().zip(weights).for_each(|(value, weight)| *value *= weight);
            }
        }
    }
}
