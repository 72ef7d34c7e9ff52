//! What people read: the page for the bench, the table of estimates, cautions, one line for a list.
//!
//! Everything here reads an [`Assessment`](celltriage_assessment::Assessment) and returns text; nothing decides.

mod explanation;
mod number_line;
mod sections;
pub mod story_text;
mod style;
mod table;
mod text;

pub use explanation::explanation_page;
pub use sections::{cautions_text, estimates_text, reasons_text};
pub use style::Style;
pub(crate) use style::hanging;
pub(crate) use table::table;
pub use text::{decision_page, decision_page_below};

#[cfg(test)]
mod tests;
