//! Why something is not written down as having left, come back or been followed up.

use jiff::civil::Date;

/// Why a departure, a return or what follows a shipment is not written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RefusalOnLeaving {
    /// The cell has left.
    #[error("cell {cell} has left: {how}; nothing about it is changed any more until it is back")]
    CellLeft {
        /// The cell.
        cell: String,
        /// How, to whom, when.
        how: String,
    },
    /// The container has left.
    #[error("container {container} has left on {on}: {how}; nothing goes in or out until it is back")]
    ContainerLeft {
        /// The container.
        container: String,
        /// How and to whom.
        how: String,
        /// On what day.
        on: Date,
    },
    /// A simulated cell is nowhere.
    #[error("cell {0} is simulated: there is nothing that could leave")]
    NothingThere(String),
    /// What stands against the cell speaks against this way.
    #[error("cell {cell} is not {way}: {why}")]
    NotThisWay {
        /// The cell.
        cell: String,
        /// The way, in words.
        way: &'static str,
        /// What stands against it.
        why: String,
    },
    /// Whoever takes the cell has to be told.
    #[error(
        "cell {cell} is {way} with this against it, and nothing says what was told to whoever takes it: {against}"
    )]
    NotTold {
        /// The cell.
        cell: String,
        /// The way, in words.
        way: &'static str,
        /// What stands against it.
        against: String,
    },
    /// Without a shipment there are no papers.
    #[error(
        "cell {cell} is {state}: only waste without damage, judged by a person, goes to a recycler without a shipment"
    )]
    OnlyWithPapers {
        /// The cell.
        cell: String,
        /// Its state.
        state: String,
    },
    /// It is here.
    #[error("{0} has not left, so it cannot come back")]
    IsHere(String),
    /// Nothing of it is left.
    #[error("{name} was {how}: nothing of it can come back")]
    Destroyed {
        /// Cell or container.
        name: String,
        /// How.
        how: &'static str,
    },
    /// What is there has changed.
    #[error("what is in or known of {0} has changed meanwhile")]
    Outdated(String),
    /// The shipment has not left.
    #[error("shipment {0} was not handed over, so nothing can follow")]
    NotHandedOver(String),
    /// The cell is not at the receiver with this shipment.
    #[error("cell {cell} is not at the receiver with shipment {shipment}, or was refused before")]
    NotAtReceiver {
        /// The cell.
        cell: String,
        /// The shipment.
        shipment: String,
    },
    /// Nothing was refused.
    #[error("nothing of shipment {0} is refused and still away")]
    NothingRefused(String),
}
