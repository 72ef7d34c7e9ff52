//! Drawings, shape by shape: black, grey and white only.

use super::shade;
use crate::font::Weight;
use crate::pdf_file::Fonts;
use celltriage_document::figure::Zone;
use celltriage_document::figure::shape::{Anchor, Drawing, Shape};
use krilla::geom::{Path, PathBuilder, Rect};
use krilla::num::NormalizedF32;
use krilla::paint::{Stroke, StrokeDash};
use krilla::surface::Surface;

/// Between the lines that hatch a zone, and half the side of a value, in units of the drawing.
const HATCH: f64 = 6.0;
const VALUE: f64 = 4.0;

/// Draws a drawing at a place, its unit as many points as said.
pub(super) fn draw(
    drawing: &Drawing,
    unit: f64,
    [left, top]: [f64; 2],
    fonts: &Fonts,
    surface: &mut Surface<'_>,
) {
    let place = |[x, y]: [f64; 2]| [left + x * unit, top + y * unit];
    for shape in &drawing.shapes {
        match shape {
            Shape::Words { at, anchor, size, words } => {
                let Some(face) = Weight::Regular.face() else { continue };
                let words = face.spelt(words);
                let size = size * unit;
                let wide = face.width(&words) * size;
                let back = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => 0.5 * wide,
                    Anchor::End => wide,
                };
                let [x, y] = place(*at);
                surface.set_fill(Some(shade(0)));
                fonts.write(surface, &words, Weight::Regular, size, [x - back, y]);
            }
            Shape::Zone { at, size: [width, height], zone } => {
                let fill = if *zone == Zone::Open { 0xcc } else { 0xff };
                let box_path = rectangle(place(*at), [width * unit, height * unit]);
                paint(surface, box_path, Some(fill), Some(pen(0.7 * unit, 1.0, None)));
                if *zone == Zone::Fails {
                    hatch(*at, [*width, *height], &place, unit, surface);
                }
            }
            Shape::Line { from, to, width, dashes } => {
                let dashes = dashes.map(|both| both.map(|length| length * unit));
                paint(
                    surface,
                    broken(&[place(*from), place(*to)]),
                    None,
                    Some(pen(width * unit, 1.0, dashes)),
                );
            }
            Shape::Course { points, width, dark } => {
                let points: Vec<_> = points.iter().map(|point| place(*point)).collect();
                paint(surface, broken(&points), None, Some(pen(width * unit, *dark, None)));
            }
            Shape::Value { at: [x, y], out, filled, .. } => {
                let side = 2.0 * VALUE * unit;
                let corner = place([x - VALUE, y - VALUE]);
                let path = if *out {
                    rectangle(corner, [side, side])
                } else {
                    circle(place([*x, *y]), VALUE * unit)
                };
                let fill = if *out || *filled { 0 } else { 0xff };
                paint(surface, path, Some(fill), Some(pen(unit, 1.0, None)));
            }
        }
    }
    surface.set_fill(None);
    surface.set_stroke(None);
}

fn pen(width: f64, dark: f64, dashes: Option<[f64; 2]>) -> Stroke {
    let dash =
        dashes.map(|both| StrokeDash { array: both.map(|length| length as f32).to_vec(), offset: 0.0 });
    // A grey in place of something seen through: papers are printed.
    let grey = ((1.0 - dark.clamp(0.0, 1.0)) * 255.0).round() as u8;
    Stroke {
        paint: shade(grey).paint,
        width: width as f32,
        dash,
        opacity: NormalizedF32::ONE,
        ..Stroke::default()
    }
}

fn paint(surface: &mut Surface<'_>, path: Option<Path>, fill: Option<u8>, stroke: Option<Stroke>) {
    let Some(path) = path else { return };
    surface.set_fill(fill.map(shade));
    surface.set_stroke(stroke);
    surface.draw_path(&path);
    surface.set_stroke(None);
}

fn rectangle([x, y]: [f64; 2], [width, height]: [f64; 2]) -> Option<Path> {
    let mut path = PathBuilder::new();
    path.push_rect(Rect::from_xywh(x as f32, y as f32, width as f32, height as f32)?);
    path.finish()
}

fn broken(points: &[[f64; 2]]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (number, [x, y]) in points.iter().map(|point| point.map(|at| at as f32)).enumerate() {
        if number == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
    }
    path.finish()
}

/// A circle of four curves; 0.5523 of the radius is where their control points lie (textbook value).
fn circle([x, y]: [f64; 2], radius: f64) -> Option<Path> {
    let [x, y, r] = [x, y, radius].map(|at| at as f32);
    let k = 0.5523 * r;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + k, x + k, y + r, x, y + r);
    path.cubic_to(x - k, y + r, x - r, y + k, x - r, y);
    path.cubic_to(x - r, y - k, x - k, y - r, x, y - r);
    path.cubic_to(x + k, y - r, x + r, y - k, x + r, y);
    path.close();
    path.finish()
}

/// Lines that rise to the right over a rectangle, ended at its edges.
fn hatch(
    [x, y]: [f64; 2],
    [width, height]: [f64; 2],
    place: &impl Fn([f64; 2]) -> [f64; 2],
    unit: f64,
    surface: &mut Surface<'_>,
) {
    let step = HATCH * std::f64::consts::SQRT_2;
    let mut across = step;
    while across < width + height {
        let low = [x + across.min(width), y + (across - width).max(0.0)];
        let high = [x + (across - height).max(0.0), y + across.min(height)];
        paint(surface, broken(&[place(high), place(low)]), None, Some(pen(1.2 * unit, 1.0, None)));
        across += step;
    }
}
