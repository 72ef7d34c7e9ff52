//! A scale as lines of text: letters at their places, numbers where they have room.

use super::{Axis, Layout, LimitKind, Mark, Panel};
use crate::plain::plain;
use crate::wrap::wrapped;
use textwrap::core::display_width;

/// Columns of the strip on which values are marked in their order.
const COURSE: usize = 51;
/// Most columns of a scale in one line: longer ones say no more (our choice).
const LINE: usize = 60;
/// Fewest columns of such a strip.
const SHORTEST: usize = 20;
/// Columns of a figure before its strip.
const FIGURE: usize = 9;
/// Fewest columns of the labels.
const LABEL: usize = 4;

/// Draws a panel.
pub(super) fn drawn(panel: &Panel, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let (heading, finding) = (plain(&panel.heading.said()), plain(&panel.finding.said()));
    if display_width(&heading) + display_width(&finding) >= width {
        lines.extend(wrapped(&format!("{heading} {finding}"), width));
    } else if !heading.is_empty() {
        let room = width.saturating_sub(display_width(&heading));
        lines.push(format!("{heading}{finding:>room$}"));
    }
    lines.extend(match panel.layout {
        Layout::Scale => scale(panel, width.max(2)),
        Layout::Line => line(panel, width),
        Layout::Course => course(panel, width),
        Layout::Curve => read_at(panel, width),
    });
    lines
}

/// A row of letters.
#[derive(Clone)]
struct Strip {
    row: Vec<char>,
    axis: Axis,
}

impl Strip {
    fn new(width: usize, axis: Axis) -> Self {
        Self { row: vec![' '; width], axis }
    }

    fn column(&self, at: f64) -> usize {
        (self.axis.place(at) * self.row.len().saturating_sub(1) as f64).round() as usize
    }

    fn put(&mut self, at: f64, letter: char) {
        let column = self.column(at);
        self.put_in(column, letter);
    }

    fn put_in(&mut self, column: usize, letter: char) {
        if let Some(place) = self.row.get_mut(column) {
            *place = letter;
        }
    }

    /// Marks what each place means.
    fn zones(&mut self, panel: &Panel) {
        let Some(found) = &panel.zones else { return };
        let Axis { low, high } = panel.axis;
        let last = self.row.len().saturating_sub(1).max(1);
        for column in 0..self.row.len() {
            let at = low + (high - low) * column as f64 / last as f64;
            self.put_in(column, found.at(at).sign());
        }
    }

    /// Draws a value with its interval.
    fn bar(&mut self, mark: &Mark) {
        if let Some(interval) = &mark.interval {
            let [from, to] = interval.ends.map(|at| self.column(at));
            (from..=to).for_each(|column| self.put_in(column, '-'));
            self.put_in(from, '<');
            self.put_in(to, '>');
        }
        self.put(mark.value, 'o');
    }

    /// Writes words around a place, unless they would touch others.
    fn write(&mut self, at: f64, words: &str) {
        let letters: Vec<char> = plain(words).chars().collect();
        let furthest = self.row.len().saturating_sub(letters.len());
        let start = self.column(at).saturating_sub(letters.len() / 2).min(furthest);
        let around = start.saturating_sub(2)..(start + letters.len() + 2).min(self.row.len());
        if self.row.get(around).is_some_and(|part| part.iter().all(|letter| *letter == ' ')) {
            for (offset, letter) in letters.into_iter().enumerate() {
                self.put_in(start + offset, letter);
            }
        }
    }

    fn text(self) -> String {
        self.row.into_iter().collect::<String>().trim_end().to_owned()
    }
}

/// One value on its scale: bounds in numbers, zones, the value with its interval, its numbers.
fn scale(panel: &Panel, width: usize) -> Vec<String> {
    let blank = Strip::new(width, panel.axis);
    let (mut bounds, mut zones) = (blank.clone(), blank.clone());
    zones.zones(panel);
    for limit in &panel.limits {
        zones.put(limit.at, limit.kind.sign());
        bounds.write(limit.at, &limit.label.said());
    }
    let mut rows = vec![bounds, zones];
    for mark in &panel.marks {
        rows.extend(value(mark, &blank));
    }
    rows.into_iter().map(Strip::text).filter(|row| !row.is_empty()).collect()
}

/// The same in one line: zones, the value with its interval over them, the limit over all; what the ends mean stands beside them.
fn line(panel: &Panel, width: usize) -> Vec<String> {
    let Axis { low, high } = panel.axis;
    let word = |at: f64| panel.zones.map_or(String::new(), |zones| zones.at(at).word().english().to_owned());
    let (from, to) = (word(low), word(high));
    let taken = display_width(&from) + display_width(&to) + 2;
    let mut strip = Strip::new(width.saturating_sub(taken).clamp(SHORTEST, LINE), panel.axis);
    strip.zones(panel);
    panel.marks.iter().for_each(|mark| strip.bar(mark));
    for limit in panel.limits.iter().filter(|limit| limit.kind != LimitKind::Bound) {
        strip.put(limit.at, limit.kind.sign());
    }
    // The value itself is hidden by nothing.
    panel.marks.iter().for_each(|mark| strip.put(mark.value, 'o'));
    vec![format!("{from} {} {to}", strip.text()).trim().to_owned()]
}

fn value(mark: &Mark, blank: &Strip) -> [Strip; 2] {
    let (mut bar, mut numbers) = (blank.clone(), blank.clone());
    numbers.write(mark.value, &mark.figure);
    if let Some(interval) = &mark.interval {
        for (at, figure) in interval.ends.into_iter().zip(&interval.figures) {
            numbers.write(at, figure);
        }
    }
    bar.bar(mark);
    [bar, numbers]
}

/// What was read of a curve, one line for each instant.
fn read_at(panel: &Panel, width: usize) -> Vec<String> {
    panel.marks.iter().flat_map(|mark| wrapped(&format!("{}  {}", mark.label, mark.figure), width)).collect()
}

/// Values in their order, one line for each.
fn course(panel: &Panel, width: usize) -> Vec<String> {
    let labels: Vec<String> = panel.marks.iter().map(|mark| plain(&mark.label)).collect();
    let widest = labels.iter().map(|label| display_width(label)).max().unwrap_or(0).max(LABEL);
    let room = width.saturating_sub(widest + FIGURE + 2).clamp(SHORTEST, COURSE);
    let mut empty = Strip::new(room, panel.axis);
    for limit in &panel.limits {
        empty.put(limit.at, limit.kind.sign());
    }
    let line = |(mark, label): (&Mark, &String)| {
        let mut strip = empty.clone();
        if let Some(trend) = mark.trend {
            strip.put(trend, 'w');
        }
        strip.put(mark.value, if mark.is_out() { 'X' } else { 'o' });
        let space = " ".repeat(widest.saturating_sub(display_width(label)));
        format!("{label}{space} {:>FIGURE$} {}", plain(&mark.figure), strip.text()).trim_end().to_owned()
    };
    panel.marks.iter().zip(&labels).map(line).collect()
}
