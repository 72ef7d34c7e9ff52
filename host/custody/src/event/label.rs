//! A label on a cell: that it was put on, and what it says.

use celltriage_verdict::Fate;
use serde::{Deserialize, Serialize};

/// A label put on a cell; it bears the cell's name, and what was decided by then.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LabelPutOn {
    /// The cell.
    pub cell: String,
    /// The fate that it names; absent: the name alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<Fate>,
}

impl LabelPutOn {
    /// Says it in a few words.
    pub fn words(&self) -> String {
        self.says.map_or_else(|| "name only".to_owned(), |fate| fate.to_string())
    }
}
