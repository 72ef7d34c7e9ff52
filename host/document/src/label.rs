//! A label as data: what it says and what a scanner reads of it, whatever size and form it takes.

use crate::document::{Document, Heading, Large, Paragraph};
use crate::text::Text;

/// A label of a cell or a container.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Label {
    /// What it is about, for the title of a file.
    pub title: Text,
    /// What a scanner reads: printable ASCII. `None` where there can be no code.
    pub code: Option<String>,
    /// What stands above everything else, such as that a cell is simulated.
    pub notices: Vec<Text>,
    /// The name, to be read from afar and typed.
    pub name: Text,
    /// What becomes of it, or what it holds.
    pub result: Text,
    /// What else it says, one line each.
    pub lines: Vec<Text>,
    /// Words that rules ask for, each with the least height of its letters.
    pub marks: Vec<Large>,
    /// Where those words are printed if the label has no room for them.
    pub marks_elsewhere: Text,
}

/// Returns whether scanners read a text alike: some read letters outside printable ASCII wrongly.
pub fn is_scanned_alike(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| (b' '..=b'~').contains(&byte))
}

impl Label {
    /// Returns what it says as a document, for whoever prints nothing.
    pub fn in_text(&self) -> Document {
        let mut page = Document::page(self.title.clone());
        page.notices = self.notices.clone();
        page.push(Heading::title(self.name.clone()));
        page.push(Paragraph::of(self.result.clone().strong()));
        for line in &self.lines {
            page.push(Paragraph::of(line.clone()));
        }
        for mark in &self.marks {
            page.push(mark.clone());
        }
        page
    }
}
