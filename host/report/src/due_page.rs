//! What falls due, the most urgent first, then what is counted for the whole site.

use crate::counter::{counter_line, verify};
use celltriage_custody::counters::Counter;
use celltriage_custody::due::Due;
use celltriage_document::document::{Document, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;

/// Column of the words beside day, urgency and subject.
const COLUMN: usize = 50;

/// Puts the page together.
pub fn due_page(items: &[Due], site: &[Counter]) -> Document {
    let mut page = Document::page(Phrase::DueTitle);
    for item in items {
        let head = format!("{}  {:<22} {}", item.on, item.when(), item.subject);
        let column = COLUMN.max(head.chars().count() + 1);
        let text = Text::from(format!("{} [{}]", item.what, item.source));
        page.push(Paragraph::of(text.and(verify(item.verify, &item.verify_with))).after(0, head, column));
    }
    for counter in site {
        page.push(Paragraph::of(counter_line(counter)));
    }
    page
}
