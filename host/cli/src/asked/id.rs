//! A cell's id as a scanner or a hand types it: a name, a tag with its check character, or a link of another maker.
//!
//! A scanner is a keyboard that ends with Enter. A link is taken as what it is: its last part is offered as the id, and the person
//! takes it or writes the shop's own.

use super::ask;
use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;
use celltriage_custody::cell_name::link::foreign_link;
use celltriage_custody::cell_name::typed::NotUnderstood;

/// An id that was scanned or typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AskedId {
    /// The name of the cell.
    pub name: String,
    /// The link it was taken from.
    pub link: Option<String>,
}

/// Asks for the id of a cell until one is understood; `read` says which names there may be.
///
/// # Errors
/// The input has ended.
pub fn ask_id(read: fn(&str) -> Result<String, NotUnderstood>, io: &mut Io<'_>) -> Result<AskedId, Error> {
    let mut offered: Option<(String, String)> = None;
    loop {
        let question = match &offered {
            Some((name, _)) => format!("Id of the cell [Enter {name}]: "),
            None => "Id of the cell, scanned or typed: ".to_owned(),
        };
        let text = match (ask(&question, io)?, offered.take()) {
            (Reply::Empty, Some((name, link))) => return Ok(AskedId { name, link: Some(link) }),
            (Reply::Empty, None) => String::new(),
            // A cell may be called so.
            (Reply::Back, _) => "b".to_owned(),
            (Reply::Text(text), _) => text,
        };
        if let Some(found) = foreign_link(&text) {
            io.note(&format!("  a link of another maker was scanned: {}", found.link));
            offered = found.offered.map(|name| (name, found.link));
            if offered.is_none() {
                io.note("  nothing in it can be an id: scan the shop's own tag, or type the id");
            }
            continue;
        }
        match read(&text) {
            Ok(name) => return Ok(AskedId { name, link: None }),
            Err(why) => io.note(&format!("  {why}")),
        }
    }
}
