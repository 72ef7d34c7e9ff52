//! What a person must see first: the fate from across the bench, and what to do about a cell that is reacting.

use crate::text::Text;
use celltriage_rules::Severity;

/// The result of a page in large letters on the ground of its signal colour, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Banner {
    /// How grave it is.
    pub severity: Severity,
    /// The result in a word; the forms write it in capitals, spaced.
    pub result: Text,
    /// Why, in a sentence.
    pub statement: Text,
    /// What it is about.
    pub about: Text,
}

/// What to do at once, framed so that it is seen before everything else.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Emergency {
    /// Each text with its severity.
    pub texts: Vec<(Severity, Text)>,
}

impl Emergency {
    /// Frames texts that tell of danger.
    pub fn danger<T: Into<Text>>(texts: impl IntoIterator<Item = T>) -> Self {
        Self { texts: texts.into_iter().map(|text| (Severity::Danger, text.into())).collect() }
    }
}
