//! What is to be told of a book while it takes what is measured, or does not.

/// What is to be told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// Nothing is kept at present; this is why.
    NotKept(String),
    /// All that waited is on the disk.
    KeptAgain {
        /// Frames that are nowhere.
        lost_frames: u64,
    },
    /// Memory is full: frames are lost from now on.
    Losing,
}
