//! A paper to be printed, signed or stuck on: what it is about, what is needed with source and doubt, words in large letters.
//!
//! Takes what a [`Sheet`] holds; gives plain text, or a page for the printer (see [`html`](Sheet::html)). Both say
//! the same but for the words in large letters, which only the page has; both open and end with the sheet's notice.

mod html;

use crate::output::style::{Style, hanging};
use crate::output::table::table;

/// A paper.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sheet {
    /// What it is.
    pub title: String,
    /// What stands at its head and foot.
    pub notice: String,
    /// Names with values.
    pub head: Vec<(String, String)>,
    /// A list of things, with its heading.
    pub list: Option<List>,
    /// What is needed, part by part.
    pub parts: Vec<Part>,
    /// Words to be cut out and stuck on, each on a page of its own for the printer.
    pub words: Vec<Words>,
    /// What is filled in by hand.
    pub to_fill_in: Vec<String>,
}

/// A list of things.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct List {
    /// Its heading.
    pub heading: String,
    /// Names of its columns.
    pub columns: Vec<&'static str>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
}

/// A part of a paper.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Part {
    /// Its heading.
    pub heading: String,
    /// Its points.
    pub points: Vec<Point>,
}

/// A point with its source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Point {
    /// What is needed.
    pub text: String,
    /// Where it comes from.
    pub source: String,
    /// Whom to verify it with, where it must be.
    pub verify_with: Option<String>,
    /// What is doubtful about it.
    pub doubt: Option<String>,
}

/// Words in large letters.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Words {
    /// The words, letter by letter.
    pub words: String,
    /// Lines under them, such as a date.
    pub below: Vec<String>,
    /// Least height of every letter in mm, where one is known.
    pub letter_mm: Option<u32>,
    /// Where they belong.
    pub on: String,
}

impl Point {
    /// Returns the source as it is printed: in brackets, with whom to ask where that is needed.
    fn origin(&self) -> String {
        match &self.verify_with {
            Some(whom) => format!("[{}] verify with {whom}", self.source),
            None => format!("[{}]", self.source),
        }
    }
}

impl Sheet {
    /// Writes it as plain text.
    pub fn text(&self, style: &Style) -> String {
        let width = style.width();
        let mut out =
            format!("{}\n\n{}\n", style.strong(&self.notice.to_uppercase()), style.strong(&self.title));
        let widest = self.head.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0) + 4;
        for (name, value) in &self.head {
            out.push_str(&hanging(&format!("{:<widest$}", format!("  {name}")), widest, value, width));
        }
        if let Some(list) = &self.list {
            out.push_str(&format!("\n{}\n", style.strong(&list.heading)));
            out.push_str(&table(&list.columns, &list.rows, &[20, 20, 12, 24, 12], 2, width));
        }
        for part in self.parts.iter().filter(|part| !part.points.is_empty()) {
            out.push_str(&format!("\n{}\n", style.strong(&part.heading)));
            for point in &part.points {
                out.push_str(&hanging("  - ", 4, &point.text, width));
                out.push_str(&hanging("    ", 4, &point.origin(), width));
                if let Some(doubt) = &point.doubt {
                    out.push_str(&hanging("    ", 4, &format!("In doubt: {doubt}."), width));
                }
            }
        }
        out.push('\n');
        for line in &self.to_fill_in {
            out.push_str(&format!("{line:<width$}\n", width = 40));
        }
        out + &style.strong(&self.notice) + "\n"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Sheet {
        Sheet {
            title: "shipment S-1".to_owned(),
            notice: "draft, to be checked".to_owned(),
            head: vec![("to".to_owned(), "Gull Point <Recycling>".to_owned())],
            list: Some(List {
                heading: "contents".to_owned(),
                columns: vec!["cell", "mass"],
                rows: vec![vec!["PE-1".to_owned(), "45 g".to_owned()]],
            }),
            parts: vec![
                Part {
                    heading: "packing".to_owned(),
                    points: vec![Point {
                        text: "Each cell singly.".to_owned(),
                        source: "P908".to_owned(),
                        verify_with: Some("your authority".to_owned()),
                        doubt: Some("from memory".to_owned()),
                    }],
                },
                Part { heading: "training".to_owned(), points: Vec::new() },
            ],
            words: vec![Words {
                words: "DAMAGED".to_owned(),
                below: vec!["since 2026-11-25".to_owned()],
                letter_mm: Some(12),
                on: "on each package".to_owned(),
            }],
            to_fill_in: vec!["signature".to_owned()],
        }
    }

    #[test]
    fn text_opens_and_ends_with_the_notice_and_tells_source_whom_to_ask_and_doubt() {
        let text = sheet().text(&Style::new(80, false));
        assert!(text.starts_with("DRAFT, TO BE CHECKED\n\nshipment S-1\n"), "{text}");
        assert!(text.ends_with("draft, to be checked\n"), "{text}");
        for part in ["PE-1  45 g", "[P908] verify with your authority", "In doubt: from memory."] {
            assert!(text.contains(part), "{part}: {text}");
        }
        assert!(!text.contains("training"), "a part without points is left out: {text}");
    }

    #[test]
    fn the_page_says_the_same_escapes_what_was_typed_and_loads_nothing() {
        let page = sheet().html();
        for part in
            ["Gull Point &lt;Recycling&gt;", "PE-1", "P908", "verify with your authority", "from memory"]
        {
            assert!(page.contains(part), "{part}: {page}");
        }
        assert!(!page.contains("<Recycling>") && !page.contains("http") && !page.contains("<script"));
    }

    /// Small letters such as x reach about half of the font's size: Liberation Sans and Arial 0.519, DejaVu Sans 0.547.
    #[test]
    fn letters_are_set_so_that_the_small_ones_reach_the_height_too() {
        let page = sheet().html();
        assert!(page.contains("font-size:24.0mm"), "{page}");
    }
}
