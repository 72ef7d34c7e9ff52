//! Why a container is not moved, merged, split, emptied or sent with others.

/// Why something is not done with a container as a whole.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RefusalOnContainer {
    /// Nothing changes.
    #[error("container {0} stands there already")]
    StandsThere(String),
    /// From one into the same.
    #[error("container {0} is one container: nothing goes from it into itself")]
    ItIsTheSame(String),
    /// The cell lies elsewhere.
    #[error("cell {cell} does not lie in container {container}")]
    NotInside {
        /// The cell.
        cell: String,
        /// The container.
        container: String,
    },
    /// What is there has changed.
    #[error("what is in container {0} has changed meanwhile")]
    Outdated(String),
    /// Two containers that no one paper is for.
    #[error(
        "containers {first} and {second} go in one shipment only from one place and for one kind of cells: {why}"
    )]
    NotTogether {
        /// The first.
        first: String,
        /// The second.
        second: String,
        /// What is different.
        why: String,
    },
}
