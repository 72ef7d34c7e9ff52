//! One document model for whatever is shown or printed, and its forms.
//!
//! A page or a paper is put together once, as a [`Document`](document::Document). Each form is one file: [`form::terminal`]
//! writes text, [`form::html`] writes a self-contained page for a browser or a printer. Drawings are data too: a
//! [`Figure`](figure::Figure) becomes a strip of text or an SVG. What people typed reaches every form through [`plain`],
//! so it never acts on a terminal and never hides letters on a page.
//!
//! ```
//! use celltriage_document::document::{Bullets, Document};
//! use celltriage_document::form::{html, terminal::Terminal};
//! use celltriage_document::phrase::Phrase;
//!
//! let mut page = Document::page("cell PE-0412");
//! page.section(Phrase::NextSteps, [Bullets::of(["Rest it 1 h."]).into()]);
//! assert_eq!(Terminal::new(80).text(&page), "\nWHAT TO DO NEXT\n  - Rest it 1 h.\n");
//! assert!(html::page(&page).contains("<h2>WHAT TO DO NEXT</h2>"));
//! ```

pub mod document;
pub mod figure;
pub mod form;
mod in_words;
pub mod label;
pub mod phrase;
pub mod plain;
pub mod text;
pub mod wrap;

#[cfg(test)]
mod properties;
