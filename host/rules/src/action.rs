//! What a person wants to do with a cell: rules name it, and the table of cautions is asked by it.

use serde::{Deserialize, Serialize};

/// What one wants to do with a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Take it in the hand.
    Touch,
    /// Carry it to another place.
    Move,
    /// Keep it.
    Store,
    /// Pack it and send it away.
    Ship,
    /// Charge it.
    Charge,
    /// Discharge it.
    Discharge,
}

impl Action {
    /// All actions.
    pub const ALL: [Action; 6] =
        [Action::Touch, Action::Move, Action::Store, Action::Ship, Action::Charge, Action::Discharge];

    /// Returns the word for the page.
    pub const fn word(self) -> &'static str {
        match self {
            Action::Touch => "touch",
            Action::Move => "move",
            Action::Store => "store",
            Action::Ship => "ship",
            Action::Charge => "charge",
            Action::Discharge => "discharge",
        }
    }
}
