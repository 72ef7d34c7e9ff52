//! A curve drawn: its axes, the curve, and the instants at which it was read.

use super::Panel;
use super::shape::{Anchor, Shape};
use super::strokes::{SIDE, WIDTH, label, point, stroke, text};
use crate::plain::plain;

/// Height of the curve and of what stands below it, in units of the picture.
const HEIGHT: f64 = 150.0;
const BELOW: f64 = 38.0;
/// Room for the numbers at the left.
const NUMBERS: f64 = 58.0;

/// Draws a panel with a curve from `top` on; returns its height.
pub(super) fn drawn(shapes: &mut Vec<Shape>, panel: &Panel, top: f64) -> f64 {
    let Some(curve) = &panel.curve else { return 0.0 };
    let left = SIDE + NUMBERS;
    let x = |at: f64| left + curve.across.place(at) * (WIDTH - SIDE - left);
    let y = |at: f64| top + HEIGHT - panel.axis.place(at) * HEIGHT;
    for (at, words) in &curve.rungs {
        stroke(shapes, [left - 4.0, y(*at)], [left, y(*at)], 0.8, None);
        text(shapes, [left - 8.0, y(*at) + 4.0], Anchor::End, 11.0, &plain(words));
    }
    stroke(shapes, [left, top], [left, top + HEIGHT], 0.8, None);
    stroke(shapes, [left, top + HEIGHT], [WIDTH - SIDE, top + HEIGHT], 0.8, None);
    shapes.push(Shape::Course {
        points: curve.points.iter().map(|[across, up]| [x(*across), y(*up)]).collect(),
        width: 1.2,
        dark: 1.0,
    });
    let mut named = Vec::new();
    for (mark, at) in panel.marks.iter().zip(&curve.instants) {
        stroke(shapes, [x(*at), y(mark.value)], [x(*at), top + HEIGHT], 0.6, Some([3.0, 3.0]));
        point(shapes, mark, [x(*at), y(mark.value)], false);
        label(shapes, &mut named, [x(*at), y(mark.value) - 9.0], &mark.label);
    }
    let mut taken = Vec::new();
    for (at, words) in &curve.ticks {
        stroke(shapes, [x(*at), top + HEIGHT], [x(*at), top + HEIGHT + 4.0], 0.8, None);
        label(shapes, &mut taken, [x(*at), top + HEIGHT + 16.0], words);
    }
    text(shapes, [WIDTH - SIDE, top + HEIGHT + 32.0], Anchor::End, 11.0, &plain(&curve.across_label));
    HEIGHT + BELOW
}
