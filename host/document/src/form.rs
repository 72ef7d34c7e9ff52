//! The forms of a document: one file each.

pub mod html;
pub mod terminal;
