//! `settings`: each setting of this computer, its value, and who set it.

use super::say_json;
use crate::arguments::BookPath;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::settings::{SetBy, SetValue, Settings};
use clap::Args;
use serde_json::{Map, Value, json};

/// Columns for the name of a setting.
const NAME: usize = 17;

/// Options of `settings`.
#[derive(Debug, Args)]
pub struct ShowSettings {
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// Runs `settings`.
///
/// # Errors
/// An error where they cannot be written as JSON.
pub fn run(arguments: &ShowSettings, settings: &Settings, io: &mut Io<'_>) -> Result<u8, Error> {
    if arguments.json {
        say_json(&as_json(settings), io)?;
        return Ok(EXIT_DONE);
    }
    if let Some(file) = &settings.file {
        let there = if file.is_there { "" } else { " (there is none)" };
        say("settings file", &format!("{}{there}", file.path.display()), &file.set_by, io);
    }
    for SetValue { name, value, set_by } in &settings.values {
        let value = value.as_ref().map_or("not set".to_owned(), |value| value.display().to_string());
        say(name, &value, set_by, io);
    }
    Ok(EXIT_DONE)
}

fn say(name: &str, value: &str, set_by: &SetBy, io: &mut Io<'_>) {
    io.say(&format!("{name:<NAME$}{value}\n{:<NAME$}from: {set_by}", ""));
}

fn as_json(settings: &Settings) -> Value {
    let values: Map<String, Value> = (settings.values.iter())
        .map(|SetValue { name, value, set_by }| {
            let mut one = of(set_by);
            let text = value.as_ref().map(|value| value.to_string_lossy());
            one.insert("value".to_owned(), json!(text));
            ((*name).to_owned(), one.into())
        })
        .collect();
    let file = settings.file.as_ref().map(|file| {
        let mut one = of(&file.set_by);
        one.insert("path".to_owned(), json!(file.path.to_string_lossy()));
        one.insert("there".to_owned(), file.is_there.into());
        one
    });
    json!({ "schema": "celltriage.settings/1", "settings_file": file, "settings": values })
}

fn of(set_by: &SetBy) -> Map<String, Value> {
    let (from, more) = match set_by {
        SetBy::Option(name) => ("option", vec![("name", json!(name))]),
        SetBy::Variable(name) => ("variable", vec![("name", json!(name))]),
        SetBy::File { path, line } => {
            ("settings_file", vec![("path", json!(path.to_string_lossy())), ("line", json!(line))])
        }
        SetBy::Default => ("default", Vec::new()),
    };
    let members = std::iter::once(("from", json!(from))).chain(more);
    members.map(|(name, value)| (name.to_owned(), value)).collect()
}
