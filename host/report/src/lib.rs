//! One document model for whatever is shown or printed, and its forms.
//!
//! A page or a paper is put together once, as a [`Document`](document::Document). Each form is one file: [`form::terminal`]
//! writes text, [`form::html`] writes a self-contained page for a browser or a printer. Drawings are data too: a
//! [`Figure`](figure::Figure) becomes a strip of text or an SVG. What people typed reaches every form through [`plain`],
//! so it never acts on a terminal and never hides letters on a page.

pub mod document;
pub mod figure;
pub mod form;
pub mod phrase;
pub mod plain;

#[cfg(test)]
mod properties;
