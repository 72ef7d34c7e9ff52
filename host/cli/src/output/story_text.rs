//! The story of a cell as text.

use super::{Style, hanging};
use celltriage_custody::story::{Chapter, Story};

/// Writes a story as text.
pub fn story_text(story: &Story, style: &Style) -> String {
    let width = style.width();
    let mut out = format!("{}\n\n", style.strong(&format!("THE STORY OF CELL {}", story.cell)));
    for chapter in &story.happened {
        out.push_str(&chapter_text(chapter, style));
    }
    if !story.now.is_empty() {
        out.push_str(&format!("\n{}\n", style.strong("NOW")));
    }
    for (name, value) in &story.now {
        out.push_str(&hanging(&format!("  {name:<13}"), 15, value, width));
    }
    out
}

/// Writes a chapter as text.
pub fn chapter_text(chapter: &Chapter, style: &Style) -> String {
    let struck = if chapter.struck { "STRUCK: " } else { "" };
    let head = format!("{:>5}  {}  ", chapter.entry, chapter.on);
    let mut out = hanging(&head, 19, &format!("{struck}{}", chapter.what), style.width());
    for detail in &chapter.details {
        out.push_str(&hanging(&" ".repeat(21), 21, detail, style.width()));
    }
    out
}
