//! A heading.

use crate::text::Text;

/// How far down a heading stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Of the whole page, or of a part that begins without a space.
    Title,
    /// Of a section: a blank line stands before it.
    Section,
    /// Of a few lines, as weighty as they are.
    Label,
}

/// A heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heading {
    /// How far down it stands.
    pub level: Level,
    /// Its words.
    pub text: Text,
    /// What stands at the other end of its line, such as a finding.
    pub aside: Option<Text>,
}

impl Heading {
    /// Makes the heading of a page.
    pub fn title(text: impl Into<Text>) -> Self {
        Self { level: Level::Title, text: text.into(), aside: None }
    }

    /// Makes the heading of a section.
    pub fn section(text: impl Into<Text>) -> Self {
        Self { level: Level::Section, ..Self::title(text) }
    }

    /// Makes the heading of a few lines.
    pub fn label(text: impl Into<Text>) -> Self {
        Self { level: Level::Label, ..Self::title(text) }
    }

    /// Adds what stands at the other end of the line.
    #[must_use]
    pub fn aside(self, text: impl Into<Text>) -> Self {
        Self { aside: Some(text.into()), ..self }
    }
}
