//! What this computer is set to, above all where the book lies: resolved once in a call, before the command runs.
//!
//! ```text
//! option  >  variable  >  settings file  >  default (the book: the person's folder for data)
//! ```
//! | file | what |
//! |---|---|
//! | [`key`] | all settings, one row each |
//! | [`surroundings`] | the person's variables and folders |
//! | [`mod@file`] | the settings file |
//! | [`options`] | what was typed, and the settings laid under it |
//! | [`for_call`] | which settings a call has, and what holds up neither a watch nor a report of a reacting cell |

pub mod file;
pub mod for_call;
pub mod key;
pub mod options;
pub mod surroundings;

use crate::error::Error;
use celltriage_book::files::folder_of;
use file::{SettingsFile, checked, whole};
use key::{KeyRow, Otherwise, ValueKind};
use options::Given;
use std::ffi::{OsStr, OsString};
use std::fmt;
use std::path::{Path, PathBuf};
use surroundings::Surroundings;

/// Who set a value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SetBy {
    /// This option.
    Option(&'static str),
    /// This variable.
    Variable(&'static str),
    /// The settings file.
    File {
        /// Its path.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
    },
    /// Nobody.
    Default,
}

impl fmt::Display for SetBy {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Option(name) => write!(out, "option {name}"),
            Self::Variable(name) => write!(out, "variable {name}"),
            Self::File { path, line } => write!(out, "settings file {}, line {line}", path.display()),
            Self::Default => out.write_str("default"),
        }
    }
}

/// One setting with its value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetValue {
    /// Its key.
    pub name: &'static str,
    /// Its value, where it has one.
    pub value: Option<OsString>,
    /// Who set it.
    pub set_by: SetBy,
}

/// All settings of a call.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// The settings file that was looked for.
    pub file: Option<SettingsFile>,
    /// Every setting, in the order of the table.
    pub values: Vec<SetValue>,
}

impl SetValue {
    const fn unset(name: &'static str) -> Self {
        Self { name, value: None, set_by: SetBy::Default }
    }
}

impl Settings {
    /// Resolves every setting.
    ///
    /// # Errors
    /// An input error: a variable that cannot be used, or a default whose folder is not known.
    pub fn resolve(
        rows: &'static [KeyRow],
        given: &Given,
        around: &Surroundings,
        file: Option<SettingsFile>,
    ) -> Result<Self, Error> {
        let mut values: Vec<SetValue> = Vec::new();
        for row in rows {
            let book = values.iter().find(|one| one.name == key::BOOK).and_then(|one| one.value.clone());
            let found = match (row.otherwise, value(row, given, around, file.as_ref())) {
                // Whoever does not ask for it is not held up by its folder.
                (Otherwise::InDataFolder(_), Err(_)) if given.leaves_out(row.name) => {
                    SetValue::unset(row.name)
                }
                (Otherwise::BesideBook(name), Ok(found)) if found.value.is_none() => {
                    let folder = book.as_deref().map(|book| folder_of(Path::new(book)));
                    SetValue { value: folder.map(|folder| folder.join(name).into()), ..found }
                }
                (_, found) => found?,
            };
            values.push(found);
        }
        Ok(Self { file, values })
    }

    /// Sets a value that a person has just given.
    pub fn answer(&mut self, row: &KeyRow, answer: &str) {
        let given = row.option.unwrap_or("an answer");
        for one in self.values.iter_mut().filter(|one| one.name == row.name) {
            (one.value, one.set_by) = (Some(answer.into()), SetBy::Option(given));
        }
    }

    /// Returns a value.
    pub fn value(&self, name: &str) -> Option<&OsStr> {
        self.values.iter().find(|one| one.name == name)?.value.as_deref()
    }

    /// Returns the book, where nobody has said where it lies.
    pub fn default_book(&self) -> Option<&Path> {
        let book = self.values.iter().find(|one| one.name == key::BOOK && one.set_by == SetBy::Default)?;
        book.value.as_deref().map(Path::new)
    }
}

fn value(
    row: &KeyRow,
    given: &Given,
    around: &Surroundings,
    file: Option<&SettingsFile>,
) -> Result<SetValue, Error> {
    let set = |value, set_by| Ok(SetValue { name: row.name, value: Some(value), set_by });
    if let (Some(value), Some(option)) = (given.options.get(row.name), row.option) {
        return set(value.clone(), SetBy::Option(option));
    }
    let variable = row.variable.and_then(|name| Some((name, around.variable(name)?)));
    let sets_none = |value: &OsStr| row.kind == ValueKind::Line && value.is_empty();
    if let Some((name, value)) = variable.filter(|(_, value)| !sets_none(value)) {
        let value = of_variable(row.kind, value).map_err(|why| {
            Error::input(format!("the variable {name} {why}"))
                .hint(format!("unset {name}, or set it to another value"))
        })?;
        return set(value, SetBy::Variable(name));
    }
    if let Some((value, set_by)) = file.and_then(|file| file.value(row.name)) {
        return set(value, set_by);
    }
    match row.otherwise {
        Otherwise::Text(text) => set(text.into(), SetBy::Default),
        Otherwise::Unset | Otherwise::BesideBook(_) => Ok(SetValue::unset(row.name)),
        Otherwise::InDataFolder(file) => match around.data_folder() {
            Ok(folder) => set(folder.join(file).into(), SetBy::Default),
            Err(why) => Err(Error::input(format!("it is not known where the {} lies: {why}", row.name))
                .hint("correct that, or name the book with --book or CELLTRIAGE_BOOK")),
        },
    }
}

/// A path of a variable is made whole, so that what is printed of it says where it is.
fn of_variable(kind: ValueKind, value: &OsStr) -> Result<OsString, String> {
    match kind {
        _ if value.is_empty() => Err("is empty".to_owned()),
        ValueKind::Path => Ok(whole(Path::new(value)).into()),
        kind => match value.to_str() {
            Some(text) => checked(kind, text).map(OsString::from),
            None => Err("is not valid text".to_owned()),
        },
    }
}

#[cfg(test)]
mod tests;
