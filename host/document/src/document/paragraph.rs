//! A paragraph, with a beginning that hangs out of it where it has one.

use crate::text::Text;

/// A paragraph.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Paragraph {
    /// Columns left free before its first line.
    pub indent: usize,
    /// What stands at its beginning, beside its lines, such as a day or a signal word.
    pub beginning: Text,
    /// Column at which its words begin beside the beginning, and in all lines but the first.
    pub hang: usize,
    /// Its words.
    pub text: Text,
}

impl Paragraph {
    /// Makes a paragraph without indent.
    pub fn of(text: impl Into<Text>) -> Self {
        Self { text: text.into(), ..Self::default() }
    }

    /// Moves all its lines in.
    #[must_use]
    pub fn indented(self, columns: usize) -> Self {
        Self { indent: columns, hang: columns, ..self }
    }

    /// Moves all lines but the first in.
    #[must_use]
    pub fn hanging(self, column: usize) -> Self {
        Self { hang: column, ..self }
    }

    /// Puts a beginning before it, `indent` columns in, with the text from `column` on.
    #[must_use]
    pub fn after(self, indent: usize, beginning: impl Into<Text>, column: usize) -> Self {
        Self { indent, beginning: beginning.into(), hang: column, ..self }
    }
}
