//! Forms on paper: a [`Label`](celltriage_document::label::Label) in whole printer dots as PNG and PDF, a
//! [`Document`](celltriage_document::document::Document) as pages of a PDF.
//!
//! | file | what |
//! |---|---|
//! | [`paper`] | size and fineness of what is printed on, in whole dots |
//! | [`code`] | what a scanner reads, as a square of modules |
//! | [`label`] | a label laid out: what fits, and what size would do |
//! | [`png_file`], [`pdf_file`] | the same layout as a picture in one colour, and as a PDF |
//! | [`page`] | a document on A4, tagged |
//! | `font`, `fitted_text`, `bitmap` | letters, lines that break at spaces, slashes and hyphens only, dots |
//!
//! Same data, same bytes: nothing here reads a clock, a font of the computer or a setting. The font lies in `font/`.

mod bitmap;
pub mod code;
mod fitted_text;
mod font;
pub mod label;
pub mod page;
pub mod paper;
pub mod pdf_file;
pub mod png_file;
