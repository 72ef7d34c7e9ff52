//! What happens to a container as a whole while it is here: it is moved, its place is corrected, its cells go into another or out.

use super::departure::Inside;
use celltriage_rules::PlaceCode;
use serde::{Deserialize, Serialize};

/// A container that stands elsewhere from now on, or of which it was written down wrongly where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ContainerMoved {
    /// The container.
    pub container: String,
    /// Place whose rules apply.
    pub place: PlaceCode,
    /// Where in the shop it stands.
    pub stands: String,
    /// Nothing was moved: what was written down before was wrong.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub corrected: bool,
    /// Why.
    pub because: String,
}

/// Cells that go from one container into another, or out of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ContainerRepacked {
    /// The container that they lay in.
    pub container: String,
    /// The container that they lie in from now on; `None`: in none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub into: Option<String>,
    /// The cells, each with its inner packing.
    pub cells: Vec<Inside>,
    /// Whether nothing is left in the first one.
    pub all: bool,
    /// Why.
    pub because: String,
}
