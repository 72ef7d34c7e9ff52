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
mod tests;
