//! Words in large letters, to be cut out and stuck on; the printer gives each a page of its own.

use crate::text::Text;

/// Where large words are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shown {
    /// By the printer only: the paper says them in its text too.
    #[default]
    Printer,
    /// By every form.
    Everywhere,
}

/// Words in large letters.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Large {
    /// The words, letter by letter.
    pub words: Text,
    /// Lines under them, such as a date.
    pub below: Vec<Text>,
    /// Least height of every letter in mm, where one is known.
    pub letter_mm: Option<u32>,
    /// Where they belong.
    pub on: Text,
    /// Where they are shown.
    pub shown: Shown,
}
