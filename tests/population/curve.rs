//! A smooth monotone curve through given points: cubic pieces whose slopes are limited so that nothing overshoots.
//!
//! Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238, slopes as harmonic means. The estimators read their tables
//! by straight lines; what the true cells do between the points is therefore not what the estimators assume.

/// The curve.
#[derive(Clone, Debug)]
pub struct Curve {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Curve {
    /// Makes a curve through points of rising `x` and rising `y`.
    pub fn through(x: &[f64], y: &[f64]) -> Self {
        let secant: Vec<f64> =
            x.windows(2).zip(y.windows(2)).map(|(x, y)| (y[1] - y[0]) / (x[1] - x[0])).collect();
        let last = secant.len() - 1;
        let slope = (0..x.len())
            .map(|index| match index {
                0 => secant[0],
                index if index > last => secant[last],
                index => {
                    let (before, after) = (secant[index - 1], secant[index]);
                    if before * after <= 0.0 { 0.0 } else { 2.0 * before * after / (before + after) }
                }
            })
            .collect();
        Self { x: x.to_vec(), y: y.to_vec(), slope }
    }

    /// Returns the height at a place; beyond the ends the curve goes on straight.
    pub fn at(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if x <= self.x[0] {
            return self.y[0] + self.slope[0] * (x - self.x[0]);
        }
        if x >= self.x[last] {
            return self.y[last] + self.slope[last] * (x - self.x[last]);
        }
        let right = self.x.partition_point(|place| *place <= x);
        let (i, j) = (right - 1, right);
        let h = self.x[j] - self.x[i];
        let t = (x - self.x[i]) / h;
        let (t2, t3) = (t * t, t * t * t);
        self.y[i] * (2.0 * t3 - 3.0 * t2 + 1.0)
            + self.slope[i] * h * (t3 - 2.0 * t2 + t)
            + self.y[j] * (3.0 * t2 - 2.0 * t3)
            + self.slope[j] * h * (t3 - t2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_meets_its_points_and_rises_between_them() {
        let (x, y) = ([0.0, 5.0, 10.0, 20.0, 100.0], [3.0, 3.64, 3.68, 3.7, 4.3]);
        let curve = Curve::through(&x, &y);
        for (x, y) in x.iter().zip(y) {
            assert!((curve.at(*x) - y).abs() < 1e-12);
        }
        let heights: Vec<f64> = (0..=1000).map(|i| curve.at(f64::from(i) * 0.1)).collect();
        assert!(heights.windows(2).all(|two| two[1] >= two[0]));
    }
}
