//! What a call finds around it: the person's variables and folders, and the folder it was called in.
//!
//! The folders of the platform come from a crate, which silently passes over a variable that is empty or no whole path; here
//! that is told, because the book would lie elsewhere than the person thinks.

use etcetera::BaseStrategy;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Variables by name.
type Variables = BTreeMap<String, OsString>;

/// The program's own folder in those of the person.
const OWN_FOLDER: &str = "celltriage";

/// What a call finds around it. A folder that is not known comes with the reason.
#[derive(Clone, Debug)]
pub struct Surroundings {
    variables: Variables,
    home: Result<PathBuf, String>,
    settings: Result<PathBuf, String>,
    data: Result<PathBuf, String>,
    here: PathBuf,
}

impl Surroundings {
    /// Those of this process.
    pub fn of_this_process() -> Self {
        let variables: Variables = std::env::vars_os()
            .filter_map(|(name, value)| name.into_string().ok().map(|name| (name, value)))
            .collect();
        // XDG on every Unix, as programs of the command line have it there; the known folders of Windows.
        let folders = etcetera::choose_base_strategy().map_err(|error| error.to_string());
        let known = |variable, folder: &dyn Fn(&dyn BaseStrategy) -> PathBuf| {
            if cfg!(unix) {
                usable(&variables, variable)?;
            }
            folders.as_ref().map(|folders| folder(folders)).map_err(Clone::clone)
        };
        Self {
            home: known("HOME", &|folders| folders.home_dir().to_owned()),
            settings: known("XDG_CONFIG_HOME", &|folders| folders.config_dir().join(OWN_FOLDER)),
            data: known("XDG_DATA_HOME", &|folders| folders.data_dir().join(OWN_FOLDER)),
            here: std::env::current_dir().unwrap_or_default(),
            variables,
        }
    }

    /// None at all, called in a folder: whoever calls so has to name each file.
    pub fn nowhere(here: &Path) -> Self {
        let unknown = || Err("this call has no folders of a person".to_owned());
        Self {
            variables: Variables::new(),
            home: unknown(),
            settings: unknown(),
            data: unknown(),
            here: here.to_owned(),
        }
    }

    /// A person whose home is this folder, called in it.
    pub fn at_home(home: &Path) -> Self {
        Self {
            home: Ok(home.to_owned()),
            settings: Ok(home.join("config").join(OWN_FOLDER)),
            data: Ok(home.join("data").join(OWN_FOLDER)),
            ..Self::nowhere(home)
        }
    }

    /// None but that of the settings file.
    pub fn with_settings_in(folder: &Path) -> Self {
        Self { settings: Ok(folder.to_owned()), ..Self::nowhere(folder) }
    }

    /// The same with a variable.
    #[must_use]
    pub fn with(mut self, variable: &str, value: impl Into<OsString>) -> Self {
        self.variables.insert(variable.to_owned(), value.into());
        self
    }

    /// Returns a variable.
    pub fn variable(&self, name: &str) -> Option<&OsString> {
        self.variables.get(name)
    }

    /// Returns the home folder.
    ///
    /// # Errors
    /// Why it is not known.
    pub fn home(&self) -> Result<&Path, &str> {
        self.home.as_deref().map_err(String::as_str)
    }

    /// Returns the folder of the settings file.
    ///
    /// # Errors
    /// Why it is not known.
    pub fn settings_folder(&self) -> Result<&Path, &str> {
        self.settings.as_deref().map_err(String::as_str)
    }

    /// Returns the folder of the book.
    ///
    /// # Errors
    /// Why it is not known.
    pub fn data_folder(&self) -> Result<&Path, &str> {
        self.data.as_deref().map_err(String::as_str)
    }

    /// Returns the folder in which the program was called.
    pub fn here(&self) -> &Path {
        &self.here
    }
}

/// Checks a variable that names a folder, and where it is not set the one of the home folder, which counts then.
fn usable(variables: &Variables, name: &str) -> Result<(), String> {
    match variables.get(name) {
        Some(value) if value.is_empty() => Err(format!("the variable {name} is empty")),
        Some(value) if !Path::new(value).is_absolute() => {
            Err(format!("the variable {name} is not an absolute path: {}", value.display()))
        }
        Some(_) => Ok(()),
        None if name == "HOME" => Err("the variable HOME is not set".to_owned()),
        None => usable(variables, "HOME").map_err(|why| format!("{why}, nor is {name} set")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_s_variable_is_whole_or_told() {
        let told = |set: &[(&str, &str)]| {
            let set = set.iter().map(|(name, value)| ((*name).to_owned(), OsString::from(value))).collect();
            usable(&set, "XDG_DATA_HOME").err().unwrap_or_default()
        };
        let whole = if cfg!(windows) { "C:\\data" } else { "/data" };
        for (set, want) in [
            (&[("XDG_DATA_HOME", whole)][..], ""),
            (&[("HOME", whole)], ""),
            (&[("XDG_DATA_HOME", whole), ("HOME", "")], ""),
            (&[("XDG_DATA_HOME", ""), ("HOME", whole)], "the variable XDG_DATA_HOME is empty"),
            (&[("XDG_DATA_HOME", "data")], "the variable XDG_DATA_HOME is not an absolute path: data"),
            (&[("XDG_DATA_HOME", "~/data")], "the variable XDG_DATA_HOME is not an absolute path: ~/data"),
            (&[("HOME", "")], "the variable HOME is empty, nor is XDG_DATA_HOME set"),
            (
                &[("HOME", "home")],
                "the variable HOME is not an absolute path: home, nor is XDG_DATA_HOME set",
            ),
            (&[], "the variable HOME is not set, nor is XDG_DATA_HOME set"),
        ] {
            assert_eq!(told(set), want, "{set:?}");
        }
    }
}
