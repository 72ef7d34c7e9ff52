//! The executable, called by a person whose home is a folder of the test: nothing of whoever runs the tests is read.

use std::path::Path;
use std::process::Command;

/// Variables that say where something lies, or what holds by default.
const VARIABLES: [&str; 17] = [
    "CELLTRIAGE_BOOK",
    "CELLTRIAGE_LABEL_CODE",
    "CELLTRIAGE_LABEL_DPI",
    "CELLTRIAGE_LABEL_FOLDER",
    "CELLTRIAGE_LABEL_HEIGHT_MM",
    "CELLTRIAGE_LABEL_WIDTH_MM",
    "CELLTRIAGE_MODELS",
    "CELLTRIAGE_PERSON",
    "CELLTRIAGE_PLACE",
    "CELLTRIAGE_POLICY",
    "CELLTRIAGE_QUALIFICATION",
    "CELLTRIAGE_RULES",
    "CELLTRIAGE_SETTINGS",
    "XDG_CACHE_HOME",
    "XDG_CONFIG_HOME",
    "XDG_DATA_HOME",
    "XDG_STATE_HOME",
];

/// The executable at this home, called from there.
pub fn at_home(home: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_celltriage"));
    for variable in VARIABLES {
        command.env_remove(variable);
    }
    command.current_dir(home).env("HOME", home);
    // The folders of Windows.
    command.env("USERPROFILE", home).env("APPDATA", home.join("data")).env("LOCALAPPDATA", home.join("data"));
    command
}
