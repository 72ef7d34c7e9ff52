//! `manual`: a page for `man` of the program and of each command.

use crate::command_line::Arguments;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use clap::{Args, CommandFactory};
use std::path::{Path, PathBuf};

/// Options of `manual`.
#[derive(Debug, Args)]
pub struct ManualArguments {
    /// Folder for the pages; made if missing.
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// Runs `manual`.
///
/// # Errors
/// An input error where the folder cannot be made or a page not be written.
pub fn run(arguments: &ManualArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let out = &arguments.out;
    let pages =
        written(out).map_err(|error| Error::input(format!("cannot write {}: {error}", out.display())))?;
    io.note(&format!(
        "written to {}: {pages} pages; read one: man {}/celltriage.1",
        out.display(),
        out.display()
    ));
    Ok(EXIT_DONE)
}

fn written(out: &Path) -> std::io::Result<usize> {
    std::fs::create_dir_all(out)?;
    clap_mangen::generate_to(Arguments::command(), out)?;
    let pages = std::fs::read_dir(out)?.filter_map(Result::ok);
    Ok(pages.filter(|page| page.path().extension().is_some_and(|ending| ending == "1")).count())
}
