//! What people read: the page for the bench, the table of estimates, cautions, one line for a list.
//!
//! Everything here reads an [`Assessment`](celltriage_assessment::Assessment) and returns text; nothing decides.

pub mod chart_picture;
pub mod draft_sheet;
mod explanation;
mod number_line;
mod number_line_svg;
mod sections;
pub mod sheet;
pub mod story_text;
mod style;
mod table;
mod text;
pub mod used_sheet;

pub use explanation::explanation_page;
pub(crate) use number_line_svg::escaped;
pub use number_line_svg::number_lines_svg;
pub(crate) use sections::quantity_words;
pub use sections::{cautions_text, estimates_text, reasons_text};
pub use style::Style;
pub(crate) use style::hanging;
pub(crate) use table::table;
pub use text::{decision_page, decision_page_below};

#[cfg(test)]
mod tests;
