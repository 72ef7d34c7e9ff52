//! One block of a document: whatever stands on its own between what is above and what is below.

use super::{Banner, Bullets, Emergency, Facts, Heading, Large, Paragraph, Picture, Points, Table};
use crate::figure::Figure;
use crate::text::Text;

/// A block of a document.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// The result in large letters.
    Banner(Banner),
    /// What to do at once.
    Emergency(Emergency),
    /// A heading.
    Heading(Heading),
    /// A paragraph.
    Paragraph(Paragraph),
    /// Names with values.
    Facts(Facts),
    /// A list with bullets.
    Bullets(Bullets),
    /// A list of points with their sources.
    Points(Points),
    /// A table.
    Table(Table),
    /// Lines to be filled in by hand.
    FillIn(Vec<Text>),
    /// Words in large letters.
    Large(Large),
    /// A drawing.
    Figure(Figure),
    /// A photograph.
    Picture(Picture),
    /// Lines that are shown as they are written.
    Verbatim(Verbatim),
    /// One layout or another, by the room there is.
    Fitting(Fitting),
    /// A line across the page.
    Rule,
    /// A blank line.
    Space,
}

/// Lines that are shown as they are written, such as a command to be typed or an entry of the book.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verbatim {
    /// Columns left free before each line.
    pub indent: usize,
    /// The lines.
    pub text: Text,
}

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

impl Block {
    /// Returns whether it says nothing.
    pub fn is_empty(&self) -> bool {
        match self {
            Block::Emergency(emergency) => emergency.texts.is_empty(),
            Block::Paragraph(paragraph) => paragraph.text.is_empty() && paragraph.beginning.is_empty(),
            Block::Facts(facts) => facts.rows.is_empty(),
            Block::Bullets(bullets) => bullets.items.is_empty(),
            Block::Points(points) => points.points.is_empty(),
            Block::Table(table) => table.rows.is_empty(),
            Block::FillIn(lines) => lines.is_empty(),
            Block::Figure(figure) => figure.panels.is_empty(),
            Block::Verbatim(verbatim) => verbatim.text.is_empty(),
            Block::Fitting(fitting) => fitting.wide.iter().all(Block::is_empty),
            Block::Rule | Block::Space => true,
            Block::Banner(_) | Block::Heading(_) | Block::Large(_) | Block::Picture(_) => false,
        }
    }
}

macro_rules! blocks {
    ($($kind:ident)*) => {
        $(impl From<$kind> for Block {
            fn from(block: $kind) -> Self {
                Block::$kind(block)
            }
        })*
    };
}

blocks! { Banner Emergency Fitting Heading Paragraph Facts Bullets Points Table Large Figure Picture Verbatim }
