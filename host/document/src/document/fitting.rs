//! What is laid out in one way where there is room, and in another where there is not.

use super::Block;

/// Blocks for a wide page and the same for a narrow one. Only a terminal is ever narrow.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fitting {
    /// Columns from which on the page is wide.
    pub least: usize,
    /// On a wide page.
    pub wide: Vec<Block>,
    /// On a narrow page.
    pub narrow: Vec<Block>,
}
