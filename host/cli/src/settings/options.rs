//! Settings and the options of the command line: what was typed, and the settings laid under what was not.

use super::Settings;
use super::key::{KEYS, KeyRow};
use clap::parser::ValueSource;
use clap::{Arg, ArgMatches, Command};
use std::collections::{BTreeMap, BTreeSet};
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
    /// The settings that it takes so.
    pub takes: BTreeSet<&'static str>,
    /// Those of them that it cannot do without.
    pub needs: BTreeSet<&'static str>,
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
                for argument in command.get_arguments().filter(|argument| argument.get_id() == id.as_str()) {
                    given.takes_one = true;
                    given.takes.insert(row.name);
                    if argument.is_required_set() {
                        given.needs.insert(row.name);
                    }
                }
                // What an option holds by default was not typed.
                if let Ok(Some(mut values)) = typed.try_get_raw(&id)
                    && typed.value_source(&id) == Some(ValueSource::CommandLine)
                    && let Some(value) = values.next_back()
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

impl Given {
    /// Returns whether the command is one that takes settings, and not this one.
    pub fn leaves_out(&self, name: &str) -> bool {
        self.takes_one && !self.takes.contains(name)
    }

    /// Returns what the command cannot do without and nobody has set.
    pub fn missing<'s>(&'s self, settings: &'s Settings) -> impl Iterator<Item = &'static KeyRow> + 's {
        KEYS.iter().filter(|row| self.needs.contains(row.name) && settings.value(row.name).is_none())
    }
}

/// Returns the command with every option that holds a setting left free: whether it is set shows later.
pub fn left_free(command: Command) -> Command {
    let command = command.mut_args(|argument| match row_of(&argument) {
        Some(_) => argument.required(false),
        None => argument,
    });
    command.mut_subcommands(left_free)
}

/// Returns the setting that an option holds.
fn row_of(argument: &Arg) -> Option<&'static KeyRow> {
    KEYS.iter().find(|row| argument.get_id() == row.id().as_str())
}

/// Lays the settings under the options that hold them: what is not typed is as it is set.
pub fn laid_under(command: Command, settings: &Settings) -> Command {
    let command =
        command.mut_args(|argument| match row_of(&argument).and_then(|row| settings.value(row.name)) {
            Some(value) => argument.required(false).default_value(value.to_owned()),
            None => argument,
        });
    command.mut_subcommands(|inner| laid_under(inner, settings))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command_line::Arguments;
    use crate::settings::key::BOOK;
    use crate::settings::{SetBy, SetValue};
    use clap::CommandFactory;

    fn with_book(command: &Command, path: &str, found: &mut Vec<(String, Option<OsString>)>) {
        let path = format!("{path} {}", command.get_name());
        for argument in command.get_arguments().filter(|argument| argument.get_long() == Some("book")) {
            let default = argument.get_default_values().first().map(|value| value.to_os_string());
            found.push((path.clone(), default.filter(|_| argument.get_id() == "setting_book")));
        }
        command.get_subcommands().for_each(|inner| with_book(inner, &path, found));
    }

    #[test]
    fn every_command_with_a_book_gets_the_settled_one_but_grade() {
        let book = SetValue { name: BOOK, value: Some("set.sqlite".into()), set_by: SetBy::Default };
        let settings = Settings { file: None, values: vec![book] };
        let mut found = Vec::new();
        with_book(&laid_under(Arguments::command(), &settings), "", &mut found);
        assert!(found.len() >= 20, "{found:?}");
        for (command, default) in found {
            // Without a book a trace is only judged, and nothing is written.
            let want = (command != " celltriage grade").then(|| OsString::from("set.sqlite"));
            assert_eq!(default, want, "{command}");
        }
    }

    /// Each option of a setting, with its command, its name and what it has by default.
    fn of_settings(command: &Command, path: &str, found: &mut Vec<(String, String, Option<OsString>)>) {
        let path = format!("{path} {}", command.get_name());
        for argument in command.get_arguments() {
            if let Some(row) = row_of(argument) {
                let long = argument.get_long().map(|long| format!("--{long}"));
                assert_eq!(long.as_deref(), row.option, "{path}: {}", row.name);
                let default = argument.get_default_values().first().map(|value| value.to_os_string());
                found.push((path.clone(), row.name.to_owned(), default));
            }
        }
        command.get_subcommands().for_each(|inner| of_settings(inner, &path, found));
    }

    #[test]
    fn an_option_has_the_default_of_its_setting_and_takes_what_is_set() {
        use crate::settings::key::Otherwise;
        let mut found = Vec::new();
        of_settings(&Arguments::command(), "", &mut found);
        assert!(found.len() > 60, "{}", found.len());
        for (command, name, default) in &found {
            let row = KEYS.iter().find(|row| row.name == *name).unwrap();
            if let (Otherwise::Text(text), Some(default)) = (row.otherwise, default) {
                assert_eq!(default.to_str(), Some(text), "{command} {name}");
            }
        }
        for row in KEYS.iter().filter(|row| row.option.is_some()) {
            assert!(found.iter().any(|(_, name, _)| name == row.name), "no command takes {}", row.name);
        }
        // What is needed and set is no longer asked for; what is needed and not set is an error of the command line.
        let known = Arguments::command();
        let line = ["celltriage", "container", "weigh", "PE-1", "--mass-g", "4", "--book", "b"];
        let matches = left_free(known.clone()).try_get_matches_from(line).unwrap();
        let given = Given::of(&known, &matches);
        let person = |value: Option<&str>| {
            let value = value.map(OsString::from);
            Settings { file: None, values: vec![SetValue { name: "person", value, set_by: SetBy::Default }] }
        };
        let missing = |settings: &Settings| given.missing(settings).map(|row| row.name).collect::<Vec<_>>();
        assert_eq!(missing(&person(None)), ["person"]);
        assert!(missing(&person(Some("Ada"))).is_empty());
        assert!(laid_under(known.clone(), &person(None)).try_get_matches_from(line).is_err());
        assert!(laid_under(known, &person(Some("Ada"))).try_get_matches_from(line).is_ok());
    }

    #[test]
    fn what_was_typed_is_found_before_and_behind_the_action() {
        for (line, book, takes_one) in [
            ("book --book b list", Some("b"), true),
            ("book list --book b", Some("b"), true),
            ("book list", None, true),
            ("fixture check-standard chart --book=b", Some("b"), true),
            ("fixture list", None, false),
            ("rules list", None, false),
            // By default a label has a size: that is not typed.
            ("label PE-1 --book b", Some("b"), true),
            // Not that of the settings: without one a trace is only judged. It takes the place.
            ("grade t.csv --book b", None, true),
        ] {
            for file in [false, true] {
                let more: &[&str] = if file { &["--settings", "s.toml"] } else { &[] };
                let known = Arguments::command();
                let typed = ["celltriage"].into_iter().chain(more.iter().copied()).chain(line.split(' '));
                let given = Given::of(&known, &known.clone().try_get_matches_from(typed).unwrap());
                assert_eq!(given.options.get(BOOK).and_then(|book| book.to_str()), book, "{line}");
                assert_eq!(given.takes_one, takes_one, "{line}");
                assert!(given.options.keys().all(|name| *name == BOOK), "{line}: {:?}", given.options);
                assert_eq!(given.settings_file, file.then(|| PathBuf::from("s.toml")), "{line}");
            }
        }
    }
}
