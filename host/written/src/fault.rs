//! What is wrong with a file, with places, all of it at once.

use crate::place::Place;
use std::fmt;

/// One fault of a file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {what}")]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// What is wrong and what to write instead.
    pub what: String,
}

/// All faults of one or more files; there is at least one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

impl Faults {
    /// A fault of a file as a whole.
    pub fn of_whole(file: &str, what: impl Into<String>) -> Self {
        Self(vec![Fault { place: Place::whole(file), what: what.into() }])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl std::error::Error for Faults {}
