//! Settings and the options of the command line: what was typed, and the settings laid under what was not.

use super::Settings;
use super::key::KEYS;
use clap::{ArgMatches, Command};
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::PathBuf;

/// Name under which the command line holds the option that names the settings file.
pub const FILE_ID: &str = "settings_file";

/// What was typed of the settings.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// The settings file.
    pub settings_file: Option<PathBuf>,
    /// Values of options, by the key of the setting.
    pub options: BTreeMap<&'static str, OsString>,
    /// Whether the command takes a setting as an option, typed or not.
    pub takes_one: bool,
}

impl Given {
    /// Reads what was typed, from the command down to the innermost one.
    pub fn of(mut command: &Command, mut typed: &ArgMatches) -> Self {
        let mut given = Self::default();
        loop {
            if let Ok(Some(path)) = typed.try_get_one::<PathBuf>(FILE_ID) {
                given.settings_file = Some(path.clone());
            }
            for row in KEYS {
                let id = row.id();
                given.takes_one |= command.get_arguments().any(|argument| argument.get_id() == id.as_str());
                if let Ok(Some(values)) = typed.try_get_raw(&id)
                    && let Some(value) = values.last()
                {
                    given.options.insert(row.name, value.to_owned());
                }
            }
            let inner = typed.subcommand();
            let Some((inner, below)) =
                inner.and_then(|(name, below)| Some((command.find_subcommand(name)?, below)))
            else {
                return given;
            };
            (command, typed) = (inner, below);
        }
    }
}

/// Lays the settings under the options that hold them: what is not typed is as it is set.
pub fn laid_under(command: Command, settings: &Settings) -> Command {
    let command = command.mut_args(|argument| {
        let row = KEYS.iter().find(|row| argument.get_id() == row.id().as_str());
        match row.and_then(|row| settings.value(row.name)) {
            Some(value) => argument.default_value(value.to_owned()),
            None => argument,
        }
    });
    command.mut_subcommands(|inner| laid_under(inner, settings))
}
