//! A drawing as shapes at their places: what every form that draws (SVG, PDF) writes in its own way.
//!
//! Black, grey and white only, so that any printer and any eye tells what it shows: where a value passes is white, where nothing is
//! decided grey, where it fails hatched.

use super::Zone;

/// Where words stand from their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// They begin there.
    Start,
    /// They lie around it.
    Middle,
    /// They end there.
    End,
}

/// One shape; places and sizes are units of the drawing, heights count down.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Words on a line.
    Words {
        /// Where.
        at: [f64; 2],
        /// How they stand there.
        anchor: Anchor,
        /// Size of the letters.
        size: f64,
        /// The words.
        words: String,
    },
    /// A part of a scale.
    Zone {
        /// Its corner at the left and top.
        at: [f64; 2],
        /// Width and height.
        size: [f64; 2],
        /// What it means.
        zone: Zone,
    },
    /// A straight line.
    Line {
        /// Where it begins.
        from: [f64; 2],
        /// Where it ends.
        to: [f64; 2],
        /// How thick it is.
        width: f64,
        /// Lengths of dash and gap; none for a whole line.
        dashes: Option<[f64; 2]>,
    },
    /// A broken line through points.
    Course {
        /// The points.
        points: Vec<[f64; 2]>,
        /// How thick it is.
        width: f64,
        /// How dark it is, 0 to 1.
        dark: f64,
    },
    /// A value: a circle, or a filled square where it is out.
    Value {
        /// Where.
        at: [f64; 2],
        /// Whether it is out of its limits.
        out: bool,
        /// Whether the circle is filled.
        filled: bool,
        /// Its label and figure.
        told: String,
    },
}

/// A drawing laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Its width.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// What it shows, in words.
    pub title: String,
    /// Its shapes, from the ground up.
    pub shapes: Vec<Shape>,
}
