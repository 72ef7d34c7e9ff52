//! What drawings are made of: lines, words, values, and numbers that do not lie over each other.

use super::Mark;
use super::shape::{Anchor, Shape};
use crate::plain::plain;

/// Sizes in units of the picture; our choice: a panel is read at arm's length on half a page.
pub(super) const WIDTH: f64 = 760.0;
pub(super) const SIDE: f64 = 24.0;
/// A letter of the labels is about this wide.
const LETTER: f64 = 6.4;

/// A value; its label and figure go with it.
pub(super) fn point(shapes: &mut Vec<Shape>, mark: &Mark, at: [f64; 2], filled: bool) {
    let told = plain(format!("{} {}", mark.label, mark.figure).trim());
    shapes.push(Shape::Value { at, out: mark.is_out(), filled, told });
}

/// Writes a number under the scale, unless it would lie over another.
pub(super) fn label(shapes: &mut Vec<Shape>, taken: &mut Vec<(f64, f64)>, [at, y]: [f64; 2], words: &str) {
    let words = plain(words);
    let half = 0.5 * LETTER * words.chars().count() as f64 + 3.0;
    // A label wider than the picture stays at its left.
    let at = at.min(WIDTH - SIDE - half + 3.0).max(SIDE + half - 3.0);
    if taken.iter().any(|(from, to)| at + half >= *from && at - half <= *to) {
        return;
    }
    taken.push((at - half, at + half));
    text(shapes, [at, y], Anchor::Middle, 11.0, &words);
}

pub(super) fn stroke(
    shapes: &mut Vec<Shape>,
    from: [f64; 2],
    to: [f64; 2],
    width: f64,
    dashes: Option<[f64; 2]>,
) {
    shapes.push(Shape::Line { from, to, width, dashes });
}

pub(super) fn text(shapes: &mut Vec<Shape>, at: [f64; 2], anchor: Anchor, size: f64, words: &str) {
    if !words.is_empty() {
        shapes.push(Shape::Words { at, anchor, size, words: words.to_owned() });
    }
}
