//! A number on its scale: the value with its interval, the limit, the guard band, and where it would pass or fail.
//!
//! Takes what the decision rule said of one number; gives lines of text, readable without colour, or numbers for a
//! drawing. The zones are told by letters: `x` fails, `?` is too close to tell, `=` passes.

use celltriage_verdict::{Conformity, Reason, Value, figure_to, limit_figure};

/// Share of the shown span that is left free on either side.
const MARGIN: f64 = 0.12;

/// What a place on the scale means for a value that is found there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Zone {
    /// It fails.
    Fails,
    /// It is too close to tell.
    Open,
    /// It passes.
    Passes,
}

/// A number with its scale.
#[derive(Clone, Debug)]
pub(super) struct NumberLine<'a> {
    /// The decision's zones.
    pub conformity: &'a Conformity,
    /// The value.
    pub value: f64,
    /// Unit of all.
    pub unit: &'a str,
    /// The limit, where it is one number.
    pub limit: Option<f64>,
    /// Lowest and highest number shown.
    pub range: [f64; 2],
}

impl<'a> NumberLine<'a> {
    /// Makes the line of a reason; nothing where value or zones are no numbers.
    pub(super) fn of(reason: &'a Reason) -> Option<Self> {
        let conformity = reason.conformity.as_ref()?;
        let Some(Value::Number(value)) = reason.value else { return None };
        let limit = match reason.limit {
            Some(Value::Number(limit)) => Some(limit),
            _ => None,
        };
        let bounds = [conformity.accept, conformity.reject].into_iter().flatten().flatten();
        let shown = bounds.chain(conformity.interval).chain(limit).chain([value]);
        let (low, high) =
            shown.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        let margin = match high - low {
            span if span > 0.0 => MARGIN * span,
            _ => value.abs().max(1.0) * MARGIN,
        };
        let unit = reason.unit.as_deref().unwrap_or_default();
        Some(Self { conformity, value, unit, limit, range: [low - margin, high + margin] })
    }

    /// Returns what a value would be at a place on the scale.
    pub(super) fn zone(&self, at: f64) -> Zone {
        let [pass_low, pass_high] = self.conformity.accept;
        let [fail_low, fail_high] = self.conformity.reject;
        if fail_low.is_some_and(|bound| at < bound) || fail_high.is_some_and(|bound| at > bound) {
            Zone::Fails
        } else if pass_low.is_none_or(|bound| at >= bound) && pass_high.is_none_or(|bound| at <= bound) {
            Zone::Passes
        } else {
            Zone::Open
        }
    }

    /// Returns the bounds between zones and the limit, rising.
    pub(super) fn marks(&self) -> Vec<f64> {
        let bounds = [self.conformity.accept, self.conformity.reject].into_iter().flatten().flatten();
        let mut marks: Vec<f64> = bounds.chain(self.limit).collect();
        marks.sort_by(f64::total_cmp);
        marks.dedup();
        marks
    }

    /// Returns where a number lies on the scale, 0 to 1.
    pub(super) fn place(&self, at: f64) -> f64 {
        let [low, high] = self.range;
        ((at - low) / (high - low)).clamp(0.0, 1.0)
    }

    /// Writes a number to the digits that the interval allows.
    pub(super) fn figure(&self, at: f64) -> String {
        let [low, high] = self.conformity.interval;
        figure_to(at, 0.25 * (high - low), self.unit)
    }

    /// Draws the line `width` columns wide: zones, their bounds in numbers, the value with its interval in numbers.
    pub(super) fn drawn(&self, width: usize) -> Vec<String> {
        let [low, high] = self.range;
        let column = |at: f64| (self.place(at) * (width - 1) as f64).round() as usize;
        let mut zones: Vec<char> = (0..width)
            .map(|index| match self.zone(low + (high - low) * index as f64 / (width - 1) as f64) {
                Zone::Fails => 'x',
                Zone::Open => '?',
                Zone::Passes => '=',
            })
            .collect();
        let mut bounds = Labels::new(width);
        // The limit first, so that its number is never crowded out by a bound of its guard band.
        let others = self.marks();
        for mark in self.limit.iter().chain(&others) {
            put(&mut zones, column(*mark), '|');
            bounds.put(column(*mark), &limit_figure(*mark, self.unit));
        }
        let [from, to] = self.conformity.interval.map(column);
        let centre = column(self.value);
        let mut interval = vec![' '; width];
        for index in from..=to {
            put(&mut interval, index, '-');
        }
        put(&mut interval, from, '<');
        put(&mut interval, to, '>');
        put(&mut interval, centre, 'o');
        let mut ends = Labels::new(width);
        ends.put(centre, &self.figure(self.value));
        for (at, index) in self.conformity.interval.into_iter().zip([from, to]) {
            let figure = self.figure(at);
            ends.put(index, figure.split(' ').next().unwrap_or(&figure));
        }
        let text = |row: Vec<char>| row.into_iter().collect::<String>().trim_end().to_owned();
        let rows = [text(bounds.row), text(zones), text(interval), text(ends.row)];
        rows.into_iter().filter(|row| !row.is_empty()).collect()
    }
}

fn put(row: &mut [char], index: usize, mark: char) {
    if let Some(place) = row.get_mut(index) {
        *place = mark;
    }
}

/// A row of labels; one that would touch another is left out.
struct Labels {
    row: Vec<char>,
}

impl Labels {
    fn new(width: usize) -> Self {
        Self { row: vec![' '; width] }
    }

    fn put(&mut self, centre: usize, text: &str) {
        let letters: Vec<char> = text.chars().collect();
        let start =
            centre.saturating_sub(letters.len() / 2).min(self.row.len().saturating_sub(letters.len()));
        let around = start.saturating_sub(2)..(start + letters.len() + 2).min(self.row.len());
        let free = self.row.get(around).is_some_and(|part| part.iter().all(|letter| *letter == ' '));
        if free {
            for (offset, letter) in letters.into_iter().enumerate() {
                put(&mut self.row, start + offset, letter);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn conformity() -> Conformity {
        Conformity {
            probability: 0.93,
            probability_clear: None,
            risk: 0.05,
            coverage_factor: 1.645,
            degrees_of_freedom: None,
            guard_band: 0.01,
            accept: [Some(0.81), None],
            reject: [Some(0.79), None],
            doubtful: None,
            interval: [0.793, 0.817],
        }
    }

    fn line(conformity: &Conformity, value: f64) -> NumberLine<'_> {
        NumberLine { conformity, value, unit: "1", limit: Some(0.8), range: [0.785, 0.822] }
    }

    #[test]
    fn the_zones_are_those_of_the_decision() {
        let conformity = conformity();
        let line = line(&conformity, 0.805);
        let zones = [0.789, 0.79, 0.8, 0.809, 0.81, 0.9].map(|at| line.zone(at));
        use Zone::{Fails, Open, Passes};
        assert_eq!(zones, [Fails, Open, Open, Open, Passes, Passes]);
    }

    #[test]
    fn it_is_drawn_with_letters_only_and_within_its_width() {
        let conformity = conformity();
        let drawn = line(&conformity, 0.805).drawn(60);
        insta::assert_snapshot!("number_line", drawn.join("\n"));
        assert!(drawn.iter().all(|row| row.chars().count() <= 60));
    }

    #[test]
    fn a_guard_band_narrower_than_a_column_still_shows_the_limit() {
        let narrow =
            Conformity { accept: [Some(0.8001), None], reject: [Some(0.7999), None], ..conformity() };
        let drawn = NumberLine { range: [0.0, 1.0], ..line(&narrow, 0.93) }.drawn(40);
        assert!(drawn[0].contains("80 %") && !drawn[0].contains("79.9"), "{drawn:?}");
    }
}
