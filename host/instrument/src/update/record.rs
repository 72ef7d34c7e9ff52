//! Another program for a fixture, as the book keeps it.

use super::image::ProgramName;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Kind of the entry.
pub const PROGRAM: &str = "fixture-program";
/// Number of the stored form.
pub const SCHEMA: u32 = 1;

/// A fixture that got another program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProgramRecord {
    /// Number of the stored form.
    pub schema: u32,
    /// Which fixture.
    pub fixture: String,
    /// Who did it.
    pub by: String,
    /// On what day.
    pub on: Date,
    /// What ran before; `None` where the fixture was met in its boot program.
    pub from: Option<ProgramName>,
    /// What runs now, as the fixture has said afterwards.
    pub to: ProgramName,
    /// SHA-256 of the flash that the image wrote, in hexadecimal digits.
    pub image_sha256: String,
}

impl ProgramRecord {
    /// Says it in one line.
    pub fn summary(&self) -> String {
        let before = self.from.as_ref().map_or("its boot program", ProgramName::commit_or_unknown);
        format!(
            "{}: program {} instead of {before}, by {}",
            self.fixture,
            self.to.commit_or_unknown(),
            self.by
        )
    }

    /// Returns whether the limits compiled in are other ones than before, where that is known.
    pub fn has_other_limits(&self) -> Option<bool> {
        self.from.as_ref().map(|from| from.limits != self.to.limits)
    }
}
