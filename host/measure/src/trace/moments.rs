//! Times and voltages of rows as the few sums that give their straight line, and what the rows leave off it.
//!
//! All sums count from the rows' own means, so that a trace of days loses no digits in them; two neighbouring ranges
//! add up exactly (Chan, Golub and LeVeque, The American Statistician 37 (1983) 242). Sums over differences of
//! neighbours tell how alike neighbouring residuals are, without anyone reading the rows again.

use super::Point;

/// Moments of rows; steps run from each row's predecessor to the row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// Number of rows.
    pub count: f64,
    /// Mean of the times, s.
    pub time: f64,
    /// Mean of the values, V.
    pub value: f64,
    /// Sum of the squared distances of the times from their mean, s^2.
    pub time_square: f64,
    /// Sum of the products of both distances, V s.
    pub product: f64,
    /// Sum of the squared distances of the values from their mean, V^2.
    pub value_square: f64,
    /// Sum of the squared steps in time, s^2.
    pub step_square: f64,
    /// Sum of the products of the steps in time and value, V s.
    pub step_product: f64,
    /// Sum of the squared steps in value, V^2.
    pub rise_square: f64,
}

impl Moments {
    /// Of samples of time and value; `before` is the one before the first, where its step counts.
    pub fn of_samples(before: Option<(f64, f64)>, samples: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let Some(origin) = samples.clone().next() else { return Self::NONE };
        let mut sum = Self::NONE;
        let mut last = before.unwrap_or(origin);
        for (time, value) in samples {
            sum.add_step(last, (time, value));
            last = (time, value);
            let (time, value) = (time - origin.0, value - origin.1);
            sum.count += 1.0;
            sum.time += time;
            sum.value += value;
            sum.time_square += time * time;
            sum.product += time * value;
            sum.value_square += value * value;
        }
        let mean = (sum.time / sum.count, sum.value / sum.count);
        sum.time_square = (sum.time_square - mean.0 * sum.time).max(0.0);
        sum.product -= mean.0 * sum.value;
        sum.value_square = (sum.value_square - mean.1 * sum.value).max(0.0);
        (sum.time, sum.value) = (origin.0 + mean.0, origin.1 + mean.1);
        sum
    }

    /// Adds the step between two samples, as from one range to the next.
    pub fn add_step(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (step, rise) = (to.0 - from.0, to.1 - from.1);
        self.step_square += step * step;
        self.step_product += step * rise;
        self.rise_square += rise * rise;
    }

    /// Returns the slope of the straight line of least squares; zero of rows of one time.
    pub fn slope(&self) -> f64 {
        if self.time_square > 0.0 { self.product / self.time_square } else { 0.0 }
    }
}

impl Moments {
    /// Of no rows.
    pub(super) const NONE: Self = Self {
        count: 0.0,
        time: 0.0,
        value: 0.0,
        time_square: 0.0,
        product: 0.0,
        value_square: 0.0,
        step_square: 0.0,
        step_product: 0.0,
        rise_square: 0.0,
    };

    pub(super) fn of_rows(before: Option<&Point>, rows: &[Point]) -> Self {
        let sample = |point: &Point| (point.time.0, point.voltage.0);
        Self::of_samples(before.map(sample), rows.iter().map(sample))
    }

    /// Adds what follows.
    pub(super) fn add(&mut self, next: &Self) {
        if next.count == 0.0 {
            return;
        }
        let count = self.count + next.count;
        let (time, value) = (next.time - self.time, next.value - self.value);
        let share = next.count / count;
        let both = self.count * share;
        *self = Self {
            count,
            time: self.time + time * share,
            value: self.value + value * share,
            time_square: self.time_square + next.time_square + time * time * both,
            product: self.product + next.product + time * value * both,
            value_square: self.value_square + next.value_square + value * value * both,
            step_square: self.step_square + next.step_square,
            step_product: self.step_product + next.step_product,
            rise_square: self.rise_square + next.rise_square,
        };
    }
}
