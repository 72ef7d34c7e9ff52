//! One scale of a drawing with all that is marked on it.

use super::Zones;
use crate::text::Text;

/// The numbers that a scale shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Axis {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

/// How a panel is laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Layout {
    /// The scale across, one value on it.
    #[default]
    Scale,
    /// Values in their order: down in the text, to the right in the SVG.
    Course,
}

/// What a limit is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitKind {
    /// The limit itself.
    Limit,
    /// A bound between zones.
    Bound,
    /// What something is stated to be.
    Stated,
    /// The centre of earlier values.
    Centre,
    /// The lower limit of what is usual.
    Lower,
    /// The upper limit of what is usual.
    Upper,
}

/// A line on the scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Where it lies.
    pub at: f64,
    /// What it is.
    pub kind: LimitKind,
    /// What is written beside it.
    pub label: Text,
}

/// What a value may be: both ends, each with its figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Interval {
    /// Lower and upper end.
    pub ends: [f64; 2],
    /// Their figures.
    pub figures: [String; 2],
}

/// A value on the scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mark {
    /// What it is of, such as a day.
    pub label: String,
    /// The value.
    pub value: f64,
    /// Its figure.
    pub figure: String,
    /// What it may be.
    pub interval: Option<Interval>,
    /// Where the mean of the values so far lies.
    pub trend: Option<f64>,
    /// Whether it is out of its limits.
    pub out: bool,
}

/// A scale with all that is marked on it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Panel {
    /// What is measured; empty where the page says it.
    pub heading: Text,
    /// What came out.
    pub finding: Text,
    /// How it is laid out.
    pub layout: Layout,
    /// The numbers that it shows.
    pub axis: Axis,
    /// What its places mean.
    pub zones: Option<Zones>,
    /// Its limits; the first has the first right to its label.
    pub limits: Vec<Limit>,
    /// Its values, oldest first.
    pub marks: Vec<Mark>,
    /// What the signs of the text mean.
    pub legend: Text,
    /// What the signs of the SVG mean, line by line.
    pub drawn_legend: Vec<Text>,
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

impl Mark {
    /// Returns whether it is out; a value that is no number is.
    pub fn is_out(&self) -> bool {
        self.out || !self.value.is_finite()
    }
}

impl LimitKind {
    /// Returns the letter of a strip of text.
    pub(super) const fn sign(self) -> char {
        match self {
            LimitKind::Limit | LimitKind::Bound | LimitKind::Centre => '|',
            LimitKind::Stated => '=',
            LimitKind::Lower => '(',
            LimitKind::Upper => ')',
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_has_room_on_either_side_and_places_within_it() {
        let axis = Axis::around([0.0, 4.0, f64::NAN], 0.25, 0.0);
        assert_eq!(axis, Axis { low: -1.0, high: 5.0 });
        assert_eq!([-3.0, 2.0, 9.0, f64::NAN].map(|at| axis.place(at)), [0.0, 0.5, 1.0, 0.0]);
        for axis in [Axis::around([], 0.1, 0.0), Axis::around([2.0], 0.1, 0.0), Axis::default()] {
            assert!(axis.place(2.0).is_finite(), "{axis:?}");
        }
        assert!(Mark { value: f64::NAN, ..Mark::default() }.is_out(), "missing data is the worst case");
    }
}
