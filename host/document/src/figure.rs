//! A drawing as data: scales with zones, limits and marks; its forms are a strip of text, and shapes for whatever draws (SVG, PDF).
//!
//! All forms are drawn from the same places and read without colour. A value that is out is an `X` in the text and a filled
//! square where it is drawn.

mod axis;
mod control_chart;
mod curve;
mod drawn_curve;
mod laid_out;
mod measured_curve;
mod number_line;
mod panel;
pub mod shape;
mod strip;
mod strokes;
mod svg;
mod zones;

pub use axis::Axis;
pub use control_chart::{Baseline, ControlChart};
pub use curve::Curve;
pub use measured_curve::{Reading, curve_panel};
pub use number_line::NumberLine;
pub use panel::{Interval, Layout, Limit, LimitKind, Mark, Panel};
pub use zones::{Zone, Zones};

use crate::plain::plain;
use crate::text::Text;
use crate::wrap::{fitted, wrapped};
use maud::Markup;
use shape::Drawing;

/// A drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// What it shows; may be empty where the page says it.
    pub title: Text,
    /// Its scales, one below the other.
    pub panels: Vec<Panel>,
    /// Columns of a terminal left free before it, beside the two that always are.
    pub further: usize,
}

/// Columns of a terminal that are always left free before a drawing.
const INDENT: usize = 2;

impl Figure {
    /// Makes a drawing of one scale.
    pub fn of(panel: Panel) -> Self {
        Self { panels: vec![panel], ..Self::default() }
    }

    /// Moves it further in on a terminal.
    #[must_use]
    pub fn further(self, further: usize) -> Self {
        Self { further, ..self }
    }

    /// Returns the columns left free before it.
    pub(crate) const fn indent(&self) -> usize {
        INDENT + self.further
    }

    /// Gives it a title.
    #[must_use]
    pub fn titled(self, title: impl Into<Text>) -> Self {
        Self { title: title.into(), ..self }
    }

    /// Draws it as lines of text, at most `width` columns wide.
    pub fn text(&self, width: usize) -> Vec<String> {
        let mut lines = Vec::new();
        if !self.title.is_empty() {
            lines.extend(wrapped(&self.title.said(), width));
        }
        for (number, panel) in self.panels.iter().enumerate() {
            if number > 0 {
                lines.push(String::new());
            }
            lines.extend(strip::drawn(panel, width));
            let legend = panel.legend.said();
            if !legend.is_empty() {
                lines.extend(fitted(&plain(&legend), width).lines().map(str::to_owned));
            }
        }
        lines
    }

    /// Says what it shows, for whoever does not see it.
    pub fn in_words(&self) -> Text {
        let panels = self.panels.iter().map(|panel| panel.in_words().said());
        let parts = std::iter::once(self.title.said()).chain(panels).filter(|part| !part.trim().is_empty());
        parts.collect::<Vec<_>>().join("; ").into()
    }

    /// Lays it out as shapes, for a form that draws.
    pub fn laid_out(&self) -> Drawing {
        laid_out::drawing(self)
    }

    /// Draws it as an SVG file of its own.
    pub fn svg(&self) -> String {
        svg::written(&self.laid_out(), true, 0).into_string() + "\n"
    }

    /// Draws it as an SVG inside a page that has `before` drawings before it.
    pub(crate) fn inside(&self, before: usize) -> Markup {
        svg::written(&self.laid_out(), false, before)
    }
}
