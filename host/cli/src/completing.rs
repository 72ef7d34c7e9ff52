//! Answers a shell that asks what may follow what was typed so far: commands, options, and the names that the book knows.
//!
//! The engine is that of `clap_complete`, whose interface for completing at run time is marked unstable: it may change with a new
//! version of the crate (the lock file holds ours), and a shell has to read the registration again after that. Nothing is written: a
//! book is opened to read only, and one that cannot be read offers nothing.

use crate::command_line::Arguments;
use crate::settings::Settings;
use crate::settings::file::SettingsFile;
use crate::settings::key::{BOOK, KEYS};
use crate::settings::options::Given;
use crate::settings::surroundings::Surroundings;
use celltriage_book::{Book, SubjectKind};
use clap::{Arg, Command, CommandFactory};
use clap_complete::CompleteEnv;
use clap_complete::engine::{ArgValueCompleter, CompletionCandidate};
use std::ffi::{OsStr, OsString};
use std::path::PathBuf;

/// The variable by which the shell says that it asks.
pub const VARIABLE: &str = "COMPLETE";
/// Most names that are offered (our choice: more are not read).
const MOST_OFFERED: usize = 200;

/// Answers where the shell asks; returns whether it did.
pub fn answered() -> bool {
    let here = std::env::current_dir().ok();
    CompleteEnv::with_factory(command)
        .var(VARIABLE)
        .try_complete(std::env::args_os(), here.as_deref())
        // What cannot be completed offers nothing: a message would stand in the middle of what is being typed.
        .unwrap_or(true)
}

/// Returns the command line with the names that may stand for values.
fn command() -> Command {
    with_names(Arguments::command(), "")
}

fn with_names(command: Command, below: &str) -> Command {
    let name = command.get_name().to_owned();
    let command = command.mut_args(|argument| match named(&argument, &name, below) {
        Some(kind) => argument.add(ArgValueCompleter::new(move |begun: &OsStr| names(kind, begun))),
        None => argument,
    });
    command.mut_subcommands(|inner| with_names(inner, &name))
}

/// Returns of what kind the names are that an argument takes.
fn named(argument: &Arg, command: &str, below: &str) -> Option<SubjectKind> {
    match (argument.get_id().as_str(), command, below) {
        ("cell" | "cells" | "what", ..) | ("id", "assess" | "guided" | "hot-cell-watch", _) => {
            Some(SubjectKind::Cell)
        }
        ("container", ..) | ("name", "place" | "show" | "label" | "sheet", "container") => {
            Some(SubjectKind::Container)
        }
        ("name", _, "shipment") => Some(SubjectKind::Shipment),
        _ => None,
    }
}

/// Returns the names in the book that begin as typed.
fn names(kind: SubjectKind, begun: &OsStr) -> Vec<CompletionCandidate> {
    let begun = begun.to_string_lossy().into_owned();
    let typed: Vec<OsString> = std::env::args_os().collect();
    let known = book(&typed, &Surroundings::of_this_process())
        .and_then(|path| Book::open_read_only(path).ok())
        .and_then(|book| book.names(kind).ok())
        .unwrap_or_default();
    known
        .into_iter()
        .filter(|name| name.starts_with(&begun))
        .take(MOST_OFFERED)
        .map(CompletionCandidate::new)
        .collect()
}

/// Returns the book that is meant by what was typed, else by the settings.
fn book(typed: &[OsString], around: &Surroundings) -> Option<PathBuf> {
    let option = typed.iter().enumerate().find_map(|(place, word)| match word.to_str()? {
        "--book" => typed.get(place + 1).map(PathBuf::from),
        word => word.strip_prefix("--book=").map(PathBuf::from),
    });
    option.or_else(|| {
        let given = Given::default();
        let file = SettingsFile::read(KEYS, &given, around).ok();
        let settings = Settings::resolve(KEYS, &given, around, file).ok()?;
        settings.value(BOOK).map(PathBuf::from)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All words that are offered after a line.
    fn offered(line: &[&str], home: &std::path::Path) -> Vec<String> {
        let words: Vec<OsString> = line.iter().map(OsString::from).collect();
        let last = words.len() - 1;
        let mut command = command();
        let found = clap_complete::engine::complete(&mut command, words, last, Some(home)).unwrap();
        found.iter().map(|one| one.get_value().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn commands_options_and_values_are_offered() {
        let folder = tempfile::tempdir().unwrap();
        let commands = offered(&["celltriage", "ass"], folder.path());
        assert_eq!(commands, ["assess"]);
        assert!(offered(&["celltriage", "assess", "--ext"], folder.path()).contains(&"--extent".to_owned()));
        assert!(
            offered(&["celltriage", "assess", "--extent", ""], folder.path()).contains(&"proof".to_owned())
        );
    }

    #[test]
    fn every_command_that_takes_a_cell_offers_those_of_the_book() {
        let mut found = Vec::new();
        gather(&Arguments::command(), "", &mut found);
        for wanted in
            ["judge cell", "label cell", "assess id", "place cell", "place name", "weigh cell", "tag cells"]
        {
            assert!(found.iter().any(|one| one == wanted), "{wanted} is missing in {found:?}");
        }
    }

    fn gather(command: &Command, below: &str, found: &mut Vec<String>) {
        for argument in command.get_arguments() {
            if named(argument, command.get_name(), below).is_some() {
                found.push(format!("{} {}", command.get_name(), argument.get_id()));
            }
        }
        command.get_subcommands().for_each(|inner| gather(inner, command.get_name(), found));
    }

    #[test]
    fn the_book_is_that_of_the_line_before_that_of_the_settings() {
        let folder = tempfile::tempdir().unwrap();
        let around = Surroundings::at_home(folder.path());
        let typed = |words: &[&str]| words.iter().map(OsString::from).collect::<Vec<_>>();
        assert_eq!(book(&typed(&["x", "--book", "a"]), &around), Some("a".into()));
        assert_eq!(book(&typed(&["x", "--book=b"]), &around), Some("b".into()));
        let own = folder.path().join("data/celltriage/book.sqlite");
        assert_eq!(book(&typed(&["x"]), &around), Some(own));
        assert_eq!(book(&typed(&["x"]), &Surroundings::nowhere(folder.path())), None);
    }
}
