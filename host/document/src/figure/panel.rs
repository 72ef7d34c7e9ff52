//! One scale of a drawing with all that is marked on it.

use super::{Axis, Curve, Zones};
use crate::phrase::Phrase;
use crate::text::Text;

/// How a panel is laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Layout {
    /// The scale across, one value on it.
    #[default]
    Scale,
    /// The same in one line of text, with what its ends mean in words.
    Line,
    /// Values in their order: down in the text, to the right where it is drawn.
    Course,
    /// A curve over time with the instants at which it was read; a line for each instant in the text.
    Curve,
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
    /// The curve on which they lie, where there is one.
    pub curve: Option<Curve>,
    /// What the signs of the text mean.
    pub legend: Text,
    /// What the signs of the drawing mean, line by line.
    pub drawn_legend: Vec<Text>,
}

impl Panel {
    /// Says where its values lie, for whoever sees no drawing.
    pub(crate) fn in_words(&self) -> Text {
        let mut parts: Vec<Text> = [&self.heading, &self.finding].into_iter().cloned().collect();
        for mark in &self.marks {
            let label = if mark.label.is_empty() { String::new() } else { format!("{} ", mark.label) };
            let value = format!("{label}{}", mark.figure);
            parts.push(match &mark.interval {
                Some(Interval { figures: [low, high], .. }) => {
                    let blanks = [("value", value), ("low", low.clone()), ("high", high.clone())];
                    Text::phrase(Phrase::FigureValue, blanks)
                }
                None => value.into(),
            });
        }
        let limits = self.limits.iter().filter(|limit| limit.kind != LimitKind::Bound);
        parts.extend(limits.map(|limit| Text::phrase(Phrase::FigureLimit, [("limit", limit.label.said())])));
        let parts = parts.iter().map(Text::said).filter(|part| !part.trim().is_empty());
        parts.collect::<Vec<_>>().join("; ").into()
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
