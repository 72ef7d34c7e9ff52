//! `tag`: the text to be printed on the tags of cells, each with its check character.

use super::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::cell_name::tag::tag_of;
use celltriage_custody::cell_name::typed::known_cell;
use clap::Args;
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
}

/// Runs `tag`; no book is asked.
///
/// # Errors
/// An input error where there is no check character for a name: then no tag is printed at all.
pub fn run(arguments: &TagArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut tags = Vec::new();
    for cell in &arguments.cells {
        tags.push((cell, tag_of(cell).map_err(|why| Error::input(why.to_string()))?));
    }
    if arguments.json {
        let rows: Vec<_> = tags.iter().map(|(cell, tag)| json!({ "cell": cell, "tag": tag })).collect();
        say_json(&json!({ "schema": "celltriage.tags/1", "tags": rows }), io)?;
    } else {
        tags.iter().for_each(|(_, tag)| io.say(tag));
    }
    Ok(EXIT_DONE)
}
