//! A number on its scale: the value with its interval, the limit, the guard band, and where it would pass or fail.

use super::{Axis, Interval, Limit, LimitKind, Mark, Panel, Zones};
use crate::phrase::Phrase;
use crate::text::Text;

/// Share of the shown span that is left free on either side.
const MARGIN: f64 = 0.12;

/// What a decision said of one number.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NumberLine {
    /// The value.
    pub value: f64,
    /// Where its true value lies with about 95 %.
    pub interval: [f64; 2],
    /// The limit, where it is one number.
    pub limit: Option<f64>,
    /// Where it passes and fails.
    pub zones: Zones,
}

impl NumberLine {
    /// Lays it out. `limit_figure` writes limits and bounds, `figure` writes the value and its interval, both with the unit
    /// behind a space.
    pub fn panel(&self, limit_figure: impl Fn(f64) -> String, figure: impl Fn(f64) -> String) -> Panel {
        let bounds = self.zones.bounds();
        let shown = bounds.iter().copied().chain(self.interval).chain(self.limit).chain([self.value]);
        let all: Vec<f64> = shown.collect();
        let one = all.iter().all(|at| *at == self.value);
        let least = if one { self.value.abs().max(1.0) * MARGIN } else { 0.0 };
        let line = |at: f64, kind| Limit { at, kind, label: limit_figure(at).into() };
        // The limit first, so that its number is never crowded out by a bound of its guard band.
        let limit = self.limit.map(|at| line(at, LimitKind::Limit));
        let bounds = bounds.into_iter().map(|at| line(at, LimitKind::Bound));
        let number = |at: f64| {
            let figure = figure(at);
            figure.split(' ').next().unwrap_or(&figure).to_owned()
        };
        Panel {
            axis: Axis::around(all, MARGIN, least),
            zones: Some(self.zones),
            limits: limit.into_iter().chain(bounds).collect(),
            marks: vec![Mark {
                value: self.value,
                figure: figure(self.value),
                interval: Some(Interval { ends: self.interval, figures: self.interval.map(number) }),
                ..Mark::default()
            }],
            drawn_legend: [Phrase::ScaleMarks, Phrase::ScaleZones].map(Text::from).to_vec(),
            ..Panel::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Figure, Layout};

    fn close_call() -> NumberLine {
        NumberLine {
            value: 0.805,
            interval: [0.793, 0.817],
            limit: Some(0.8),
            zones: Zones { passes: [Some(0.81), None], fails: [Some(0.79), None] },
        }
    }

    fn drawn(line: &NumberLine, axis: Option<Axis>, width: usize) -> Vec<String> {
        let percent = |at: f64| {
            let digits = format!("{:.2}", at * 100.0);
            format!("{} %", digits.trim_end_matches('0').trim_end_matches('.'))
        };
        let panel = line.panel(percent, |at| format!("{:.1} %", at * 100.0));
        Figure::of(Panel { axis: axis.unwrap_or(panel.axis), ..panel }).text(width)
    }

    /// The very lines that the explanation has always shown.
    #[test]
    fn it_is_drawn_with_letters_only_and_within_its_width() {
        let lines = drawn(&close_call(), Some(Axis { low: 0.785, high: 0.822 }), 60);
        let expected = "      79 %            80 %            81 %\n\
                        xxxxxxxx|???????????????|???????????????|===================\n\
                        \x20            <------------------o------------------>\n\
                        \x20          79.3              80.5 %              81.7";
        assert_eq!(lines.join("\n"), expected);
    }

    #[test]
    fn in_one_line_value_interval_and_limit_lie_over_the_zones() {
        let panel = close_call().panel(|at| at.to_string(), |at| at.to_string());
        let panel = Panel { layout: Layout::Line, axis: Axis { low: 0.785, high: 0.822 }, ..panel };
        let lines = |panel: &Panel, width| Figure::of(panel.clone()).text(width);
        assert_eq!(lines(&panel, 53), ["fails xxxxxx??<-------|----o------------>===== passes"]);
        // Nothing lies outside its line, however narrow; a scale without zones has no words at its ends.
        assert!(lines(&panel, 30).iter().all(|line| line.len() <= 36), "{:?}", lines(&panel, 30));
        let bare = Panel { zones: None, ..panel };
        assert!(lines(&bare, 53)[0].starts_with('<'), "{:?}", lines(&bare, 53));
    }

    #[test]
    fn a_guard_band_narrower_than_a_column_still_shows_the_limit() {
        let zones = Zones { passes: [Some(0.8001), None], fails: [Some(0.7999), None] };
        let narrow = NumberLine { zones, value: 0.93, interval: [0.92, 0.94], ..close_call() };
        let lines = drawn(&narrow, Some(Axis { low: 0.0, high: 1.0 }), 40);
        assert!(lines[0].contains("80 %") && !lines[0].contains("79.9"), "{lines:?}");
    }

    #[test]
    fn a_number_without_any_doubt_has_a_scale_too() {
        let exact = NumberLine { value: 2.0, interval: [2.0, 2.0], ..NumberLine::default() };
        let panel = exact.panel(|at| at.to_string(), |at| at.to_string());
        assert!(panel.axis.low < 2.0 && panel.axis.high > 2.0, "{panel:?}");
    }
}
