//! `tag`: the text to be printed on the tags of cells, each with its check character; and that a label is on the cell now.

use super::say_json;
use crate::desk::{Desk, DeskArguments, Who};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::cell_name::tag::tag_of;
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_workshop::clock::HeldClock;
use clap::Args;
use jiff::civil::Date;
use serde_json::json;

/// Options of `tag`.
#[derive(Debug, Args)]
pub struct TagArguments {
    /// The names of the cells; a tag as scanned is checked and printed again.
    #[arg(value_name = "CELL", required = true, value_parser = known_cell)]
    pub cells: Vec<String>,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
    /// The label is on the cell now, with what was decided so far: written into the book, so that `due` tells of it when another
    /// fate is decided.
    #[arg(long, requires = "by")]
    pub put_on: bool,
    /// With --put-on: name of the person who put it on.
    #[arg(long, value_name = "NAME", env = "CELLTRIAGE_PERSON")]
    pub by: Option<String>,
    /// With --put-on: the day, as 2026-11-25; by default today.
    #[arg(long, value_name = "DATE", requires = "put_on")]
    pub on: Option<Date>,
    /// Which book.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `tag`; a book is opened only to write that labels were put on.
///
/// # Errors
/// An input error where there is no check character for a name: then no tag is printed at all, and nothing is written. Book errors.
pub fn run(arguments: &TagArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut tags = Vec::new();
    for cell in &arguments.cells {
        tags.push((cell, tag_of(cell).map_err(|why| Error::input(why.to_string()))?));
    }
    if let (true, Some(by)) = (arguments.put_on, &arguments.by) {
        put_on(arguments, &Who { by: by.clone(), on: arguments.on }, io)?;
    } else if arguments.json {
        let rows: Vec<_> = tags.iter().map(|(cell, tag)| json!({ "cell": cell, "tag": tag })).collect();
        say_json(&json!({ "schema": "celltriage.tags/1", "tags": rows }), io)?;
    } else {
        tags.iter().for_each(|(_, tag)| io.say(tag));
    }
    Ok(EXIT_DONE)
}

/// Writes down that the labels were put on.
fn put_on(arguments: &TagArguments, who: &Who, io: &mut Io<'_>) -> Result<(), Error> {
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::begin(&arguments.desk, &clock, io)?;
    let signer = desk.signer(who, io)?;
    for cell in &arguments.cells {
        let entered = desk.shop.put_label_on(&signer, &desk.rules, cell)?;
        desk.tell(&entered, io);
    }
    Ok(())
}
