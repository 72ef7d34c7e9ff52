//! What people read: every page and paper, put together from the data of the floors below as one
//! [`Document`](celltriage_document::document::Document).
//!
//! One file for each page. Nothing here decides, measures or prints: the forms of `celltriage-document` make text or HTML of it.

/// Says a phrase with its blanks filled: `say!(DayBy, day = on, by = person)`.
macro_rules! say {
    ($phrase:ident $(, $name:ident = $value:expr)* $(,)?) => {
        celltriage_document::text::Text::phrase(
            celltriage_document::phrase::Phrase::$phrase,
            [$((stringify!($name), $value.to_string())),*],
        )
    };
}

pub mod check_chart;
pub mod container_label;
pub mod draft_paper;
pub mod drawing;
mod point;
pub mod quantity_words;
pub mod used_paper;
