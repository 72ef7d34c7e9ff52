//! Why something is not written down as an irregularity, or as what put one right.

/// Why an irregularity or a remedy is not written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RefusalOfIrregular {
    /// The rules allow it.
    #[error("no rule refuses it, so there is nothing irregular about it")]
    Regular,
    /// It is not something that moves or leaves.
    #[error("a {0} is not written down as an irregularity")]
    NotSo(&'static str),
    /// Simulated.
    #[error("cell {0} is simulated: nothing has happened to it")]
    Simulated(String),
    /// Other cells have left than those on the papers.
    #[error(
        "container {container} does not hold what the draft of shipment {shipment} names, so it was not handed over with it"
    )]
    OtherCells {
        /// The shipment.
        shipment: String,
        /// The container.
        container: String,
    },
    /// What is there has changed.
    #[error("what is in or known of {0} has changed meanwhile")]
    Outdated(String),
    /// There is no such irregularity.
    #[error("entry {0} is no irregularity")]
    NoIrregularity(u32),
    /// It is put right already.
    #[error("the irregularity of entry {entry} is put right already, by entry {by}")]
    PutRight {
        /// The irregularity.
        entry: u32,
        /// The remedy.
        by: u32,
    },
}
