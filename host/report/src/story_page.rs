//! The story of a cell: everything that happened to it, and how it stands now.

use celltriage_custody::story::{Chapter, Story};
use celltriage_document::document::{Block, Document, Facts, Heading, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;

/// Columns of the text of a chapter, and of its details.
const TEXT: usize = 19;
const DETAIL: usize = 21;
/// Column of the values of how it stands now.
const NOW: usize = 15;

/// Puts a story together.
pub fn story_page(story: &Story) -> Document {
    let title = say!(StoryOf, cell = story.cell);
    let mut page = Document::page(title.clone());
    page.push(Heading::title(title)).push(Block::Space);
    page.blocks.extend(story.happened.iter().flat_map(chapter));
    let now = story.now.iter().map(|(name, value)| (name.as_str(), value.as_str()));
    page.section(Phrase::Now, [Facts::of(now).at(NOW).into()]);
    page
}

/// Puts one entry of a story on a page of its own.
pub fn entry_page(told: &Chapter) -> Document {
    let mut page = Document::page(told.kind.as_str());
    page.blocks.extend(chapter(told));
    page
}

/// Lays out a chapter: entry, day, what happened, what else was written down.
fn chapter(chapter: &Chapter) -> Vec<Block> {
    let what = Text::from(chapter.what.as_str());
    let what = if chapter.struck { Text::from(Phrase::Struck).and(" ").and(what) } else { what };
    let head = Paragraph::of(what).after(0, format!("{:>5}  {}", chapter.entry, chapter.on), TEXT);
    let details = chapter.details.iter().map(|detail| Paragraph::of(detail).indented(DETAIL));
    std::iter::once(head).chain(details).map(Block::from).collect()
}
