//! What stands on its own and stays on one page: its lines, its drawing, and what it is.

use super::styled::Run;
use celltriage_document::figure::shape::Drawing;
use krilla::image::Image;

/// A part of a piece, at its place from the piece's left and top.
#[derive(Clone, Debug)]
pub(super) enum Content {
    /// A line of words at a baseline.
    Line { runs: Vec<Run>, at: [f64; 2], size: f64 },
    /// A drawing, with the points that its unit takes.
    Drawing { drawing: Drawing, unit: f64, at: [f64; 2] },
    /// A photograph in a size.
    Image { image: Image, at: [f64; 2], size: [f64; 2] },
}

/// What says nothing by itself: a line across, a frame, a box to tick.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    /// Left, top, width, height.
    pub(super) place: [f64; 4],
    /// Whether it is filled.
    pub(super) filled: bool,
}

/// A part of a piece that is read as one: a cell of a table, the text of a paragraph.
#[derive(Clone, Debug, Default)]
pub(super) struct Part {
    pub(super) content: Vec<Content>,
    /// Whether it is the head of a row or a column.
    pub(super) head: bool,
}

/// What a piece is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// The heading of a level.
    Heading(u16),
    /// A paragraph.
    Paragraph,
    /// An item of the list with a number: its sign, then its text.
    Item(usize),
    /// A row of the table with a number; of its head where all parts are.
    Row(usize),
    /// A drawing or photograph, with what it shows.
    Figure(String),
    /// Nothing that is read.
    Nothing,
}

/// A piece.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) role: Role,
    /// What is left free above it.
    pub(super) above: f64,
    pub(super) height: f64,
    pub(super) parts: Vec<Part>,
    pub(super) frames: Vec<Frame>,
    /// Whether it stays with what follows.
    pub(super) with_next: bool,
}

impl Piece {
    pub(super) const fn new(role: Role, above: f64, height: f64) -> Self {
        Self { role, above, height, parts: Vec::new(), frames: Vec::new(), with_next: false }
    }
}
