//! A drawing as data: scales with zones, limits and marks; its forms are a strip of text and an SVG.
//!
//! Both forms are drawn from the same places and read without colour. A value that is out is an `X` in the text and a filled
//! square in the SVG.

mod control_chart;
mod number_line;
mod panel;
mod strip;
mod svg;
mod zones;

pub use control_chart::{Baseline, ControlChart};
pub use number_line::NumberLine;
pub use panel::{Axis, Interval, Layout, Limit, LimitKind, Mark, Panel};
pub use zones::{Zone, Zones};

use crate::plain::plain;
use crate::text::Text;
use crate::wrap::{fitted, wrapped};
use maud::Markup;

/// A drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// What it shows; may be empty where the page says it.
    pub title: Text,
    /// Its scales, one below the other.
    pub panels: Vec<Panel>,
}

impl Figure {
    /// Makes a drawing of one scale.
    pub fn of(panel: Panel) -> Self {
        Self { title: Text::default(), panels: vec![panel] }
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

    /// Draws it as an SVG file of its own.
    pub fn svg(&self) -> String {
        svg::drawn(self, true, 0).into_string() + "\n"
    }

    /// Draws it as an SVG inside a page that has `before` drawings before it.
    pub(crate) fn inside(&self, before: usize) -> Markup {
        svg::drawn(self, false, before)
    }
}
