//! Why a label is not made, and what to do.

use crate::code::BadCode;

/// Why a label is not made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LabelFault {
    /// Nobody prints such a label.
    #[error("a label of {width_mm} x {height_mm} mm is not printed here: each side is {} to {} mm", sides[0], sides[1])]
    Size {
        /// Across.
        width_mm: f64,
        /// Down.
        height_mm: f64,
        /// Smallest and largest side.
        sides: [f64; 2],
    },
    /// There is no room.
    #[error("what the label must say does not fit on {width_mm} x {height_mm} mm{}", told(instead))]
    NoRoom {
        /// Across.
        width_mm: f64,
        /// Down.
        height_mm: f64,
        /// Sizes that would do, in mm.
        instead: Vec<[f64; 2]>,
    },
    /// The font has not all letters.
    #[error("the font of labels has no letter for: {0}; it has Latin, Greek and Cyrillic letters")]
    Letters(String),
    /// The code cannot be made.
    #[error(transparent)]
    Code(#[from] BadCode),
    /// The font that is compiled in cannot be read.
    #[error("the font that is compiled in cannot be read")]
    NoFont,
}

fn told(instead: &[[f64; 2]]) -> String {
    let sizes: Vec<String> = instead.iter().map(|[width, height]| format!("{width} x {height} mm")).collect();
    match sizes.as_slice() {
        [] => ", nor on any size that is printed here".to_owned(),
        sizes => format!("; it would on {}", sizes.join(", or on ")),
    }
}
