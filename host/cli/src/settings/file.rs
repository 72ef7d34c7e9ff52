//! The settings file: which one is read, and what it says, each value with its line.

use super::key::{KeyRow, ValueKind};
use super::surroundings::Surroundings;
use super::{Given, SetBy};
use crate::error::Error;
use celltriage_document::plain::is_hidden;
use celltriage_written::{Found, Reading};
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use toml::Value;

/// The variable that names another settings file.
pub const VARIABLE: &str = "CELLTRIAGE_SETTINGS";
/// The option that does.
pub const OPTION: &str = "--settings";
/// Its name in the folder of the person's settings.
const NAME: &str = "settings.toml";
/// Most bytes of a settings file (our choice: one has some hundred).
const MOST_BYTES: u64 = 1 << 20;
/// A label's side in mm that is believed (our choice: narrower holds no code, and wider is no label).
const MILLIMETRES: std::ops::RangeInclusive<f64> = 5.0..=500.0;
/// Most letters of a line of text (our choice: it stands in a column beside others).
const MOST_LETTERS: usize = 64;

/// A settings file that was looked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingsFile {
    /// Where.
    pub path: PathBuf,
    /// Who named it.
    pub set_by: SetBy,
    /// Whether there is one.
    pub is_there: bool,
    values: BTreeMap<&'static str, (OsString, usize)>,
}

impl SettingsFile {
    /// Finds and reads it. The one in the person's folder may be missing; one that was named may not.
    ///
    /// # Errors
    /// An input error: it is not known where it lies, it cannot be read, or it has faults (all of them, with places).
    pub fn read(rows: &'static [KeyRow], given: &Given, around: &Surroundings) -> Result<Self, Error> {
        let (path, set_by) = chosen(given, around)?;
        let mut file = Self { path, set_by, is_there: false, values: BTreeMap::new() };
        let text = match text_of(&file.path) {
            Ok(text) => text,
            Err(error) if file.set_by == SetBy::Default && is_missing(&error, &file.path) => return Ok(file),
            Err(error) => {
                let what = format!("cannot read the settings file {}: {error}", file.path.display());
                let named = match file.set_by {
                    SetBy::Default => String::new(),
                    ref other => format!(" (named by the {other})"),
                };
                return Err(Error::input(what + &named)
                    .hint("check path and permissions, or name another one with --settings"));
            }
        };
        file.is_there = true;
        file.values = values(rows, &file.path, &text, around.home())?;
        Ok(file)
    }

    /// Returns what it says of a setting, and in which line.
    pub fn value(&self, name: &str) -> Option<(OsString, SetBy)> {
        let (value, line) = self.values.get(name)?.clone();
        Some((value, SetBy::File { path: self.path.clone(), line }))
    }
}

/// Returns whether it is known where the settings file lies, if there is one.
pub(super) fn has_a_place(given: &Given, around: &Surroundings) -> Result<(), String> {
    match given.settings_file.is_some() || around.variable(VARIABLE).is_some() {
        true => Ok(()),
        false => around.settings_folder().map(|_| ()).map_err(str::to_owned),
    }
}

/// Returns which file, and who named it.
fn chosen(given: &Given, around: &Surroundings) -> Result<(PathBuf, SetBy), Error> {
    if let Some(path) = &given.settings_file {
        return Ok((whole(path), SetBy::Option(OPTION)));
    }
    if let Some(path) = around.variable(VARIABLE) {
        if path.is_empty() {
            return Err(Error::input(format!("the variable {VARIABLE} is empty"))
                .hint("unset it, or set it to the path of a settings file"));
        }
        return Ok((whole(Path::new(path)), SetBy::Variable(VARIABLE)));
    }
    match around.settings_folder() {
        Ok(folder) => Ok((folder.join(NAME), SetBy::Default)),
        Err(why) => Err(Error::input(format!("it is not known where the settings file lies: {why}"))
            .hint("correct that, or name the book with --book, or the settings file with --settings")),
    }
}

/// Reads a file, and nothing else: a pipe would keep waiting whoever calls, also beside a hot cell.
fn text_of(path: &Path) -> std::io::Result<String> {
    let about = std::fs::metadata(path)?;
    if !about.is_file() {
        return Err(std::io::Error::other("it is not a file"));
    }
    if about.len() > MOST_BYTES {
        return Err(std::io::Error::other(format!("it has more than {MOST_BYTES} bytes")));
    }
    std::fs::read_to_string(path)
}

/// Returns whether there is none; a link that leads nowhere was meant for one.
fn is_missing(error: &std::io::Error, path: &Path) -> bool {
    error.kind() == ErrorKind::NotFound && path.symlink_metadata().is_err()
}

/// Returns the whole path: what is beside the settings file must not depend on the folder of the call.
pub(super) fn whole(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
}

/// Reads its text.
fn values(
    rows: &'static [KeyRow],
    path: &Path,
    text: &str,
    home: Result<&Path, &str>,
) -> Result<BTreeMap<&'static str, (OsString, usize)>, Error> {
    let name = path.display().to_string();
    let (mut reading, mut fields) = Reading::begin(&name, text);
    let mut values = BTreeMap::new();
    for row in rows {
        // A number may be written as one.
        let is_text = matches!(row.kind, ValueKind::Path | ValueKind::Line);
        let found = match is_text {
            true => fields.take::<String>(row.name, &mut reading),
            false => fields.take::<Value>(row.name, &mut reading).map(|found| {
                let value = found.value.as_str().map_or_else(|| found.value.to_string(), str::to_owned);
                Found { value, span: found.span }
            }),
        };
        let Some(Found { value, span }) = found else { continue };
        let checked = match row.kind {
            ValueKind::Path => beside(path, &value, home),
            kind => checked(kind, &value).map(OsString::from),
        };
        match checked {
            Ok(value) => drop(values.insert(row.name, (value, reading.line_of(span)))),
            Err(why) => reading.add(span, format!("`{}` {why}", row.name)),
        }
    }
    let known: Vec<&str> = rows.iter().map(|row| row.name).collect();
    fields.finish(&known, &mut reading);
    reading.end(Some(values)).map_err(|faults| {
        Error::from(faults).hint("correct the settings file, or name another one with --settings")
    })
}

/// Returns the path that the settings file names: `~/` is the home folder, and what is not an absolute path lies beside the file.
fn beside(file: &Path, written: &str, home: Result<&Path, &str>) -> Result<OsString, String> {
    if written.trim().is_empty() {
        return Err("is empty: write a path, or leave the line out".to_owned());
    }
    let path = match (written.strip_prefix("~/"), home) {
        (Some(below), Ok(home)) => home.join(below),
        (Some(_), Err(why)) => return Err(format!("begins with ~/, and {why}: write the whole path")),
        (None, _) if written.starts_with('~') => {
            return Err("begins with ~: only ~/ is known, for your own home; write the whole path".to_owned());
        }
        (None, _) => file.parent().unwrap_or(Path::new("")).join(written),
    };
    Ok(path.into_os_string())
}

/// Checks a value that is no path.
///
/// # Errors
/// What is wrong with it, and what to write.
pub(super) fn checked(kind: ValueKind, text: &str) -> Result<&str, String> {
    match kind {
        ValueKind::Path => Ok(text),
        ValueKind::Line => one_line(text),
        ValueKind::Millimetres => match text.parse::<f64>() {
            Ok(length) if MILLIMETRES.contains(&length) => Ok(text),
            _ => Err(format!(
                "is {text}: write a length of {} to {} mm",
                MILLIMETRES.start(),
                MILLIMETRES.end()
            )),
        },
        ValueKind::OneOf(words) if words.contains(&text) => Ok(text),
        ValueKind::OneOf(words) => Err(format!("is {text}: write {}", words.join(" or "))),
    }
}

/// Checks one line of text.
///
/// # Errors
/// What is wrong with it, and what to write.
fn one_line(text: &str) -> Result<&str, String> {
    let letters = text.chars().count();
    if text.trim().is_empty() {
        return Err("is empty: write one line of text, or leave the line out".to_owned());
    }
    if text.trim() != text {
        return Err("has a blank at its ends: leave it out".to_owned());
    }
    if text.chars().any(is_hidden) {
        return Err("has a character that is not visible: write one line of text".to_owned());
    }
    if letters > MOST_LETTERS {
        return Err(format!("has {letters} letters: at most {MOST_LETTERS}"));
    }
    Ok(text)
}
