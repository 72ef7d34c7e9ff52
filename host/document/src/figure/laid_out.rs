//! A figure laid out as shapes: titles, legends, and its panels one below the other.

use super::shape::{Anchor, Drawing, Shape};
use super::strokes::{SIDE, WIDTH, label, point, stroke, text};
use super::{Axis, Figure, Layout, Limit, LimitKind, Panel, drawn_curve};
use crate::plain::plain;
use crate::wrap::wrapped;

/// Sizes in units of the picture; our choice.
const LINE: f64 = 16.0;
pub(super) const TITLE_LINE: f64 = 24.0;
/// Letters of a title that fit into a line: of 15 units they are at most 10 wide on average (DejaVu Sans, from memory).
const TITLE: usize = 70;
const BAR: f64 = 18.0;
const SCALE: f64 = 76.0;
const COURSE: f64 = 300.0;
/// Room for the words of limits beside a course, and for labels below it.
const WORDS: f64 = 150.0;
const LABELS: f64 = 24.0;
/// Most labels below a course: more would lie over each other.
const MOST_LABELS: usize = 8;

/// Lays a figure out.
pub(super) fn drawing(figure: &Figure) -> Drawing {
    let title = plain(&figure.title.said());
    // A name may be longer than the picture is wide: what does not fit goes into another line.
    let titles = if title.is_empty() { Vec::new() } else { wrapped(&title, TITLE) };
    // The same legend is said once for all panels.
    let mut legends: Vec<String> = Vec::new();
    for words in figure.panels.iter().flat_map(|panel| &panel.drawn_legend) {
        let words = plain(&words.said());
        if !legends.contains(&words) {
            legends.push(words);
        }
    }
    let head = 8.0 + TITLE_LINE * titles.len() as f64 + LINE * legends.len() as f64;
    let mut shapes = Vec::new();
    for (index, words) in titles.iter().enumerate() {
        text(&mut shapes, [SIDE, TITLE_LINE * (index + 1) as f64], Anchor::Start, 15.0, words);
    }
    for (index, words) in legends.iter().enumerate() {
        let y = head - LINE * (legends.len() - index) as f64 + 10.0;
        text(&mut shapes, [SIDE, y], Anchor::Start, 11.0, words);
    }
    let mut top = head;
    for panel in &figure.panels {
        top += one(&mut shapes, panel, top);
    }
    Drawing { width: WIDTH, height: top + 8.0, title, shapes }
}

/// Draws a panel from `top` on; returns its height.
fn one(shapes: &mut Vec<Shape>, panel: &Panel, top: f64) -> f64 {
    let (heading, finding) = (plain(&panel.heading.said()), plain(&panel.finding.said()));
    let head = if heading.is_empty() { 8.0 } else { 26.0 };
    text(shapes, [SIDE, top + 18.0], Anchor::Start, 13.0, &heading);
    text(shapes, [WIDTH - SIDE, top + 18.0], Anchor::End, 13.0, &finding);
    let height = match panel.layout {
        Layout::Scale | Layout::Line => {
            scale(shapes, panel, top + head);
            SCALE
        }
        Layout::Course => {
            course(shapes, panel, top + head);
            COURSE + LABELS
        }
        Layout::Curve => drawn_curve::drawn(shapes, panel, top + head),
    };
    head + height
}

/// One value on its scale: zones, limits, the value with its interval, numbers.
fn scale(shapes: &mut Vec<Shape>, panel: &Panel, top: f64) {
    let x = |at: f64| SIDE + panel.axis.place(at) * (WIDTH - 2.0 * SIDE);
    let Axis { low, high } = panel.axis;
    let mut edges = vec![low];
    edges.extend(panel.zones.iter().flat_map(|zones| zones.bounds()));
    edges.push(high);
    let middle = top + BAR + 26.0;
    if let Some(zones) = &panel.zones {
        for two in edges.windows(2) {
            if let [from, to] = two {
                let zone = zones.at(0.5 * (from + to));
                shapes.push(Shape::Zone { at: [x(*from), top], size: [x(*to) - x(*from), BAR], zone });
            }
        }
    }
    let mut taken = Vec::new();
    for limit in &panel.limits {
        if limit.kind != LimitKind::Bound {
            stroke(shapes, [x(limit.at), top - 4.0], [x(limit.at), top + BAR + 4.0], 2.4, None);
        }
        label(shapes, &mut taken, [x(limit.at), top + BAR + 15.0], &limit.label.said());
    }
    for mark in &panel.marks {
        if let Some(interval) = &mark.interval {
            let [from, to] = interval.ends.map(x);
            stroke(shapes, [from, middle], [to, middle], 1.6, None);
            stroke(shapes, [from, middle - 4.0], [from, middle + 4.0], 1.6, None);
            stroke(shapes, [to, middle - 4.0], [to, middle + 4.0], 1.6, None);
        }
        point(shapes, mark, [x(mark.value), middle], true);
        label(shapes, &mut Vec::new(), [x(mark.value), middle + 17.0], &mark.figure);
    }
}

/// Values in their order, to the right.
fn course(shapes: &mut Vec<Shape>, panel: &Panel, top: f64) {
    let count = panel.marks.len().max(2);
    let right = WIDTH - WORDS;
    let x = |index: usize| SIDE + 14.0 + (right - SIDE - 28.0) * index as f64 / (count - 1) as f64;
    let y = |value: f64| top + COURSE - 16.0 - (COURSE - 24.0) * panel.axis.place(value);
    // Lines that lie close together would have their words over each other: the words move apart, the lines stay.
    let mut limits: Vec<&Limit> = panel.limits.iter().collect();
    limits.sort_by(|one, other| other.at.total_cmp(&one.at));
    let mut last = f64::MIN;
    for limit in limits {
        last = (y(limit.at) + 4.0).max(last + 14.0);
        stroke(shapes, [SIDE, y(limit.at)], [right, y(limit.at)], 1.0, dashes(limit.kind));
        text(shapes, [right + 6.0, last], Anchor::Start, 12.0, &plain(&limit.label.said()));
    }
    let trend = panel.marks.iter().enumerate().filter_map(|(index, mark)| Some([x(index), y(mark.trend?)]));
    shapes.push(Shape::Course { points: trend.collect(), width: 2.5, dark: 0.45 });
    let every = count.div_ceil(MOST_LABELS);
    for (index, mark) in panel.marks.iter().enumerate() {
        point(shapes, mark, [x(index), y(mark.value)], false);
        if index.is_multiple_of(every) {
            text(shapes, [x(index), top + COURSE + 12.0], Anchor::Middle, 10.0, &plain(&mark.label));
        }
    }
}

const fn dashes(kind: LimitKind) -> Option<[f64; 2]> {
    match kind {
        LimitKind::Stated => Some([2.0, 5.0]),
        LimitKind::Lower | LimitKind::Upper => Some([7.0, 4.0]),
        LimitKind::Limit | LimitKind::Bound | LimitKind::Centre => None,
    }
}
