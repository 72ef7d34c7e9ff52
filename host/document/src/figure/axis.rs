//! The numbers that a scale shows, and where on it a number lies.

/// The numbers that a scale shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Axis {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

impl Axis {
    /// Takes all numbers that must be seen, and leaves room on either side: a share of the span, at least `least`.
    pub fn around(numbers: impl IntoIterator<Item = f64>, share: f64, least: f64) -> Self {
        let finite = numbers.into_iter().filter(|number| number.is_finite());
        let (low, high) =
            finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        if low > high {
            return Self { low: 0.0, high: 1.0 };
        }
        let room = (share * (high - low)).max(least).max(f64::MIN_POSITIVE);
        Self { low: low - room, high: high + room }
    }

    /// Returns where a number lies on the scale, 0 to 1; at the low end what is no number.
    pub fn place(&self, at: f64) -> f64 {
        let share = (at - self.low) / (self.high - self.low);
        if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) }
    }
}
