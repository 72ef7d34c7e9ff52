//! A drawing as an SVG: black, grey and white only, so that any printer and any eye tells what it shows.
//!
//! Where it passes is white, where nothing is decided grey, where it fails hatched.

use super::{Axis, Figure, Layout, Limit, LimitKind, Mark, Panel, Zone};
use crate::plain::plain;
use crate::wrap::wrapped;
use maud::{Markup, html};

/// Sizes in units of the picture; our choice: a panel is read at arm's length on half a page.
const WIDTH: f64 = 760.0;
const SIDE: f64 = 24.0;
const LINE: f64 = 16.0;
const TITLE_LINE: f64 = 24.0;
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
/// A letter of the labels is about this wide.
const LETTER: f64 = 6.4;

/// Draws a figure; `standalone` as a file, else inside a page that has `before` drawings already.
pub(super) fn drawn(figure: &Figure, standalone: bool, before: usize) -> Markup {
    let title = plain(&figure.title.said());
    // A name may be longer than the picture is wide: what does not fit goes into another line.
    let titles = if title.is_empty() { Vec::new() } else { wrapped(&title, TITLE) };
    let hatch = format!("fails-{before}");
    // The same legend is said once for all panels.
    let mut legends: Vec<String> = Vec::new();
    for words in figure.panels.iter().flat_map(|panel| &panel.drawn_legend) {
        let words = plain(&words.said());
        if !legends.contains(&words) {
            legends.push(words);
        }
    }
    let head = 8.0 + TITLE_LINE * titles.len() as f64 + LINE * legends.len() as f64;
    let mut top = head;
    let mut panels = Vec::new();
    for panel in &figure.panels {
        let (drawn, height) = one(panel, top, &hatch);
        panels.push(drawn);
        top += height;
    }
    let height = number(top + 8.0);
    html! {
        svg xmlns=[standalone.then_some("http://www.w3.org/2000/svg")] viewBox={ "0 0 " (WIDTH) " " (height) }
            role="img" font-family="sans-serif" font-size="12" {
            title { (title) }
            defs {
                pattern id=(hatch) width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    path d="M0 0V6" stroke="#000" stroke-width="1.6" {}
                }
            }
            rect class="ground" width=(WIDTH) height=(height) fill="#fff" {}
            @for (index, words) in titles.iter().enumerate() {
                (text(SIDE, TITLE_LINE * (index + 1) as f64, "start", 15.0, words))
            }
            @for (index, words) in legends.iter().enumerate() {
                (text(SIDE, head - LINE * (legends.len() - index) as f64 + 10.0, "start", 11.0, words))
            }
            @for panel in &panels { (panel) }
        }
    }
}

/// Draws a panel from `top` on; returns it with its height.
fn one(panel: &Panel, top: f64, hatch: &str) -> (Markup, f64) {
    let (heading, finding) = (plain(&panel.heading.said()), plain(&panel.finding.said()));
    let head = if heading.is_empty() { 8.0 } else { 26.0 };
    let (drawn, height) = match panel.layout {
        Layout::Scale => (scale(panel, top + head, hatch), SCALE),
        Layout::Course => (course(panel, top + head), COURSE + LABELS),
    };
    let markup = html! {
        (text(SIDE, top + 18.0, "start", 13.0, &heading))
        (text(WIDTH - SIDE, top + 18.0, "end", 13.0, &finding))
        (drawn)
    };
    (markup, head + height)
}

/// One value on its scale: zones, limits, the value with its interval, numbers.
fn scale(panel: &Panel, top: f64, hatch: &str) -> Markup {
    let x = |at: f64| SIDE + panel.axis.place(at) * (WIDTH - 2.0 * SIDE);
    let Axis { low, high } = panel.axis;
    let mut edges = vec![low];
    edges.extend(panel.zones.iter().flat_map(|zones| zones.bounds()));
    edges.push(high);
    let mut taken = Vec::new();
    let middle = top + BAR + 26.0;
    html! {
        @if let Some(zones) = &panel.zones {
            @for two in edges.windows(2) {
                @if let [from, to] = two {
                    @let fill = match zones.at(0.5 * (from + to)) {
                        Zone::Fails => format!("url(#{hatch})"),
                        Zone::Open => "#ccc".to_owned(),
                        Zone::Passes => "#fff".to_owned(),
                    };
                    rect class="zone" x=(number(x(*from))) y=(number(top)) width=(number(x(*to) - x(*from)))
                        height=(BAR) fill=(fill) stroke="#000" stroke-width="0.7" {}
                }
            }
        }
        @for limit in &panel.limits {
            @if limit.kind != LimitKind::Bound {
                (stroke([x(limit.at), top - 4.0], [x(limit.at), top + BAR + 4.0], 2.4, "none"))
            }
            (label(&mut taken, x(limit.at), top + BAR + 15.0, &limit.label.said()))
        }
        @for mark in &panel.marks {
            @if let Some(interval) = &mark.interval {
                @let [from, to] = interval.ends.map(x);
                (stroke([from, middle], [to, middle], 1.6, "none"))
                (stroke([from, middle - 4.0], [from, middle + 4.0], 1.6, "none"))
                (stroke([to, middle - 4.0], [to, middle + 4.0], 1.6, "none"))
            }
            (point(mark, x(mark.value), middle, "#000"))
            (label(&mut Vec::new(), x(mark.value), middle + 17.0, &mark.figure))
        }
    }
}

/// Values in their order, to the right.
fn course(panel: &Panel, top: f64) -> Markup {
    let count = panel.marks.len().max(2);
    let right = WIDTH - WORDS;
    let x = |index: usize| SIDE + 14.0 + (right - SIDE - 28.0) * index as f64 / (count - 1) as f64;
    let y = |value: f64| top + COURSE - 16.0 - (COURSE - 24.0) * panel.axis.place(value);
    // Lines that lie close together would have their words over each other: the words move apart, the lines stay.
    let mut limits: Vec<&Limit> = panel.limits.iter().collect();
    limits.sort_by(|one, other| other.at.total_cmp(&one.at));
    let mut last = f64::MIN;
    let words: Vec<f64> = limits
        .iter()
        .map(|limit| {
            last = (y(limit.at) + 4.0).max(last + 14.0);
            last
        })
        .collect();
    let trend = panel.marks.iter().enumerate().filter_map(|(index, mark)| Some((x(index), y(mark.trend?))));
    let trend: Vec<String> = trend.map(|(x, y)| format!("{},{}", number(x), number(y))).collect();
    let every = count.div_ceil(MOST_LABELS);
    html! {
        @for (limit, words_at) in limits.iter().zip(&words) {
            (stroke([SIDE, y(limit.at)], [right, y(limit.at)], 1.0, dashes(limit.kind)))
            (text(right + 6.0, *words_at, "start", 12.0, &plain(&limit.label.said())))
        }
        polyline points=(trend.join(" ")) fill="none" stroke="#000" stroke-width="2.5" opacity="0.45" {}
        @for (index, mark) in panel.marks.iter().enumerate() {
            (point(mark, x(index), y(mark.value), "#fff"))
            @if index.is_multiple_of(every) {
                (text(x(index), top + COURSE + 12.0, "middle", 10.0, &plain(&mark.label)))
            }
        }
    }
}

const fn dashes(kind: LimitKind) -> &'static str {
    match kind {
        LimitKind::Stated => "2 5",
        LimitKind::Lower | LimitKind::Upper => "7 4",
        LimitKind::Limit | LimitKind::Bound | LimitKind::Centre => "none",
    }
}

/// A value: a circle, or a filled square where it is out; its label and figure show where a pointer rests.
fn point(mark: &Mark, x: f64, y: f64, fill: &str) -> Markup {
    let told = plain(format!("{} {}", mark.label, mark.figure).trim());
    html! {
        @if mark.is_out() {
            g class="mark out" {
                title { (told) }
                rect x=(number(x - 5.0)) y=(number(y - 5.0)) width="10" height="10" {}
            }
        } @else {
            g class="mark" {
                title { (told) }
                circle cx=(number(x)) cy=(number(y)) r="4" fill=(fill) stroke="#000" {}
            }
        }
    }
}

/// Writes a number under the scale, unless it would lie over another.
fn label(taken: &mut Vec<(f64, f64)>, at: f64, y: f64, words: &str) -> Markup {
    let words = plain(words);
    let half = 0.5 * LETTER * words.chars().count() as f64 + 3.0;
    // A label wider than the picture stays at its left.
    let at = at.min(WIDTH - SIDE - half + 3.0).max(SIDE + half - 3.0);
    if taken.iter().any(|(from, to)| at + half >= *from && at - half <= *to) {
        return html! {};
    }
    taken.push((at - half, at + half));
    text(at, y, "middle", 11.0, &words)
}

fn stroke([x1, y1]: [f64; 2], [x2, y2]: [f64; 2], width: f64, dashes: &str) -> Markup {
    html! {
        line x1=(number(x1)) y1=(number(y1)) x2=(number(x2)) y2=(number(y2)) stroke="#000" stroke-width=(width)
            stroke-dasharray=(dashes) {}
    }
}

fn text(x: f64, y: f64, anchor: &str, size: f64, words: &str) -> Markup {
    html! {
        @if !words.is_empty() {
            text x=(number(x)) y=(number(y)) text-anchor=(anchor) font-size=(size) { (words) }
        }
    }
}

fn number(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests;
