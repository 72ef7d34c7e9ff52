//! A document: what a page or a paper says, block by block, whatever form it takes.

mod banner;
mod block;
mod heading;
mod large;
mod list;
mod paragraph;
mod picture;
mod table;

pub use banner::{Banner, Emergency};
pub use block::{Block, Fitting, Verbatim};
pub use heading::{Heading, Level};
pub use large::{Large, Shown};
pub use list::{Bullet, Bullets, Facts, Point, Points};
pub use paragraph::Paragraph;
pub use picture::{Packing, Picture};
pub use table::{Column, Table};

use crate::text::Text;

/// What kind of document it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A page to be read at the bench. Its title names the window of a browser; notices stand first, once.
    Page,
    /// A page that is seen whole: its lines are as wide as the terminal, its blocks are chosen for the room there is.
    Screen,
    /// A paper to be printed and signed. Its notices stand at head and foot, its title below the head.
    Paper,
}

/// What a page or a paper says.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// What kind it is.
    pub kind: Kind,
    /// What it is about.
    pub title: Text,
    /// What stands above everything else, such as that a cell is simulated.
    pub notices: Vec<Text>,
    /// What it says, in order.
    pub blocks: Vec<Block>,
}

impl Document {
    /// Begins a page.
    pub fn page(title: impl Into<Text>) -> Self {
        Self { kind: Kind::Page, title: title.into(), notices: Vec::new(), blocks: Vec::new() }
    }

    /// Begins a page that is seen whole.
    pub fn screen(title: impl Into<Text>) -> Self {
        Self { kind: Kind::Screen, ..Self::page(title) }
    }

    /// Begins a paper.
    pub fn paper(title: impl Into<Text>) -> Self {
        Self { kind: Kind::Paper, ..Self::page(title) }
    }

    /// Adds what stands above everything else.
    pub fn notice(&mut self, text: impl Into<Text>) -> &mut Self {
        self.notices.push(text.into());
        self
    }

    /// Adds a block.
    pub fn push(&mut self, block: impl Into<Block>) -> &mut Self {
        self.blocks.push(block.into());
        self
    }

    /// Adds a section; one that says nothing is left out with its heading.
    pub fn section(
        &mut self,
        heading: impl Into<Text>,
        blocks: impl IntoIterator<Item = Block>,
    ) -> &mut Self {
        let blocks: Vec<Block> = blocks.into_iter().filter(|block| !block.is_empty()).collect();
        if !blocks.is_empty() {
            self.push(Heading::section(heading));
            self.blocks.extend(blocks);
        }
        self
    }

    /// Returns whether it is nothing but words to be stuck on; they carry the notices then, and no title goes with them.
    pub(crate) fn is_label(&self) -> bool {
        !self.blocks.is_empty() && self.blocks.iter().all(|block| matches!(block, Block::Large(_)))
    }

    /// Returns the notices of a paper in one sentence.
    pub fn notices_in_one(&self) -> Text {
        let mut all = Text::default();
        for (number, notice) in self.notices.iter().enumerate() {
            let between = if number == 0 { "" } else { "; " };
            all = all.and(between).and(notice.clone());
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::phrase::Phrase;

    #[test]
    fn a_section_that_says_nothing_is_left_out_with_its_heading() {
        let mut page = Document::page("cell PE-1");
        page.section(Phrase::Health, [Bullets::of(Vec::<String>::new()).into()]);
        assert!(page.blocks.is_empty(), "{page:?}");
        page.section(Phrase::Health, [Bullets::of(["as its siblings"]).into()]);
        assert_eq!(page.blocks.len(), 2);
    }

    #[test]
    fn notices_of_a_paper_are_one_sentence() {
        let mut paper = Document::paper("shipment S-1");
        paper.notice("withdrawn").notice(Phrase::Draft);
        assert_eq!(paper.notices_in_one().said(), "withdrawn; draft, to be checked by a trained person");
    }
}
