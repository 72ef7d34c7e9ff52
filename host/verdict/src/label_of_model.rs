//! What stands on the labels of other cells of a model, as the book knows them: plain data.

use serde::{Deserialize, Serialize};

/// Other cells of the model that have one and the same rated capacity on their label.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LabelOfModel {
    /// The rated capacity in Ah.
    pub rated_ah: f64,
    /// How many cells.
    pub cells: u32,
    /// How many of them had their label read a second time.
    pub read_again: u32,
}
