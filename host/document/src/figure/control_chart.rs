//! A control chart: values in their order between the limits that the first of them set.

use super::{Axis, Figure, Layout, Limit, LimitKind, Mark, Panel};
use crate::phrase::Phrase;
use crate::text::Text;

/// Shares of the span, and of what is bearable, that are left free on either side.
const ROOM: f64 = 0.06;
const ROOM_OF_BEARABLE: f64 = 0.02;

/// What the first values set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Baseline {
    /// Their centre.
    pub centre: f64,
    /// Lower and upper limit.
    pub limits: [f64; 2],
    /// How many they are.
    pub count: usize,
}

/// A control chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ControlChart {
    /// Heading.
    pub title: String,
    /// Unit of the values.
    pub unit: String,
    /// Each value with its label, and whether it is out.
    pub values: Vec<(String, f64, bool)>,
    /// The weighted mean at each value, where there is one.
    pub weighted: Vec<Option<f64>>,
    /// Weight of the newest value in that mean.
    pub weight: f64,
    /// What the first values set, once they are enough.
    pub baseline: Option<Baseline>,
    /// What the standard is stated to be, and the most by which a value may differ.
    pub stated: (f64, f64),
}

impl ControlChart {
    /// Lays it out.
    pub fn figure(&self) -> Figure {
        let (stated, bearable) = self.stated;
        let line = |at: f64, kind, phrase| Limit {
            at,
            kind,
            label: Text::phrase(phrase, [("value", format!("{at:.3}"))]),
        };
        let mut limits = vec![line(stated, LimitKind::Stated, Phrase::Stated)];
        if let Some(Baseline { centre, limits: [lower, upper], .. }) = self.baseline {
            limits.push(line(centre, LimitKind::Centre, Phrase::Centre));
            limits.push(line(lower, LimitKind::Lower, Phrase::LowerLimit));
            limits.push(line(upper, LimitKind::Upper, Phrase::UpperLimit));
        }
        let marks = self.values.iter().enumerate().map(|(at, (label, value, out))| Mark {
            label: label.clone(),
            value: *value,
            figure: format!("{value:.4}"),
            interval: None,
            trend: self.weighted.get(at).copied().flatten(),
            out: *out,
        });
        let seen = self.values.iter().map(|(_, value, _)| *value);
        let seen = seen.chain([stated]).chain(self.baseline.iter().flat_map(|baseline| baseline.limits));
        let panel = Panel {
            layout: Layout::Course,
            axis: Axis::around(seen, ROOM, bearable * ROOM_OF_BEARABLE),
            limits,
            marks: marks.collect(),
            legend: Text::from(Phrase::ChartMarks).and(match &self.baseline {
                Some(baseline) => Text::phrase(
                    Phrase::ChartLimits,
                    [("count", baseline.count.to_string()), ("weight", self.weight.to_string())],
                ),
                None => Phrase::ChartNoLimits.into(),
            }),
            drawn_legend: vec![Phrase::ChartDrawn.into()],
            ..Panel::default()
        };
        Figure::of(panel).titled(format!("{}, {}", self.title, self.unit))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The values of a real chart of the simulated bench, with limits of its first twelve.
    fn chart() -> ControlChart {
        let values = [
            50.0994, 49.8713, 49.9794, 50.1216, 49.9157, 49.8434, 49.8556, 49.5952, 49.8837, 50.1168,
            49.7522, 50.2358, 48.9139,
        ];
        let mut weighted = vec![None; 12];
        weighted.push(Some(49.73412));
        ControlChart {
            title: "check standard R1".to_owned(),
            unit: "mOhm".to_owned(),
            values: values.iter().map(|value| ("2026-11-25".to_owned(), *value, *value < 49.0)).collect(),
            weighted,
            weight: 0.2,
            baseline: Some(Baseline { centre: 49.939175, limits: [49.359146, 50.519204], count: 12 }),
            stated: (50.0, 1.083),
        }
    }

    /// Lines as the command has always printed them, for the same values.
    #[test]
    fn the_text_marks_each_value_between_the_limits() {
        let expected = "\
check standard R1, mOhm
2026-11-25   50.0994                (               | =  o          )
2026-11-25   49.8713                (             o | =             )
2026-11-25   49.9794                (               |o=             )
2026-11-25   50.1216                (               | =  o          )
2026-11-25   49.9157                (               o =             )
2026-11-25   49.8434                (             o | =             )
2026-11-25   49.8556                (             o | =             )
2026-11-25   49.5952                (      o        | =             )
2026-11-25   49.8837                (              o| =             )
2026-11-25   50.1168                (               | =  o          )
2026-11-25   49.7522                (          o    | =             )
2026-11-25   50.2358                (               | =     o       )
2026-11-25   48.9139    X           (         w     | =             )
o value, X out, = stated value; ( | ) limits and centre of the first 12, w weighted mean (0.2 for the newest)";
        assert_eq!(chart().figure().text(200).join("\n"), expected);
        let narrow = chart().figure().text(60);
        assert!(narrow.iter().all(|line| line.chars().count() <= 60), "{narrow:?}");
    }

    #[test]
    fn a_value_that_is_out_is_a_square_and_the_words_of_lines_do_not_lie_over_each_other() {
        let svg = chart().figure().svg();
        assert_eq!(svg.matches("<circle").count(), 12);
        assert_eq!(svg.matches("class=\"mark out\"").count(), 1);
        for words in ["stated 50.000", "centre 49.939", "upper limit 50.519", "lower limit 49.359"] {
            assert!(svg.contains(words), "{words}: {svg}");
        }
    }

    proptest! {
        #[test]
        fn text_and_svg_agree_on_what_is_out(
            found in proptest::collection::vec((proptest::num::f64::ANY, any::<bool>()), 0..30),
        ) {
            let values = found.iter().map(|(value, out)| ("day".to_owned(), *value, *out)).collect();
            let figure = ControlChart { values, stated: (1.0, 0.1), ..chart() }.figure();
            let wanted = found.iter().filter(|(value, out)| *out || !value.is_finite()).count();
            let text = figure.text(100);
            let rows = text.iter().filter(|line| line.starts_with("day"));
            prop_assert_eq!(rows.filter(|line| line.contains('X')).count(), wanted);
            let svg = figure.svg();
            prop_assert_eq!(svg.matches("class=\"mark out\"").count(), wanted);
            prop_assert_eq!(svg.matches("class=\"mark\"").count(), found.len() - wanted);
            prop_assert!(!svg.contains("NaN\"") && !svg.contains("=\"inf"), "{}", svg);
        }
    }
}
