//! Words with their weight and shade, broken into lines that end at spaces; only a word wider than a line is parted, with all its
//! letters kept.

use crate::font::{Face, Weight};
use crate::pdf_file::BadPdf;
use celltriage_document::plain::plain;
use celltriage_document::text::{Text, Tone};

/// Grey of what is less weighty.
const MUTED: u8 = 0x44;

/// Words in one weight and shade.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Run {
    pub(super) words: String,
    pub(super) weight: Weight,
    pub(super) grey: u8,
    /// From the left of the line.
    pub(super) x: f64,
}

/// The font in both weights, with the size of letters.
pub(super) struct Letters {
    regular: Face,
    bold: Face,
    pub(super) size: f64,
}

impl Letters {
    pub(super) fn of(size: f64) -> Result<Self, BadPdf> {
        let face = |weight: Weight| {
            weight.face().ok_or_else(|| BadPdf("the font that is compiled in cannot be read".to_owned()))
        };
        Ok(Self { regular: face(Weight::Regular)?, bold: face(Weight::Bold)?, size })
    }

    /// Returns how wide words are in a size.
    pub(super) fn width(&self, words: &str, weight: Weight, size: f64) -> f64 {
        let face = if weight == Weight::Bold { &self.bold } else { &self.regular };
        face.width(words) * size
    }

    /// Returns words as they are printed: what does not show, and letters that the font has not, are spelt out.
    pub(super) fn printed(&self, words: &str) -> String {
        self.regular.spelt(&plain(words).replace('\u{a0}', " "))
    }

    /// Breaks a text into lines no wider than `room`.
    pub(super) fn lines(&self, text: &Text, size: f64, room: f64, weight: Weight) -> Vec<Vec<Run>> {
        let mut lines: Vec<Vec<Run>> = vec![Vec::new()];
        let mut at = 0.0;
        let (mut blank, mut words) = (false, Vec::new());
        for span in &text.spans {
            let (bold, grey) = match span.tone {
                Tone::Plain => (weight, 0),
                Tone::Strong | Tone::Signal(_) => (Weight::Bold, 0),
                Tone::Muted => (weight, MUTED),
            };
            for part in self.printed(&span.words.said()).split_inclusive(' ') {
                let word = part.trim_end_matches(' ');
                if !word.is_empty() {
                    words.push((word.to_owned(), bold, grey, std::mem::take(&mut blank)));
                }
                blank |= part.ends_with(' ');
            }
        }
        // What follows without a blank belongs to the word before it.
        let mut from = 0;
        while from < words.len() {
            let glued = words.iter().skip(from + 1).take_while(|(_, _, _, blank)| !blank).count();
            let group = words.get(from..=from + glued).unwrap_or_default();
            from += glued + 1;
            let wide: f64 = group.iter().map(|(word, weight, _, _)| self.width(word, *weight, size)).sum();
            let space = group.first().filter(|(_, _, _, blank)| *blank && at > 0.0);
            let gap = space.map_or(0.0, |(_, weight, _, _)| self.width(" ", *weight, size));
            if at > 0.0 && at + gap + wide > room {
                // The blank stays at the end of its line, so that words stay apart for whoever reads the text alone.
                if let Some(last) = lines.last_mut().and_then(|line| line.last_mut()) {
                    last.words.push(' ');
                }
                lines.push(Vec::new());
                at = 0.0;
            }
            for (index, (word, weight, grey, _)) in group.iter().enumerate() {
                let lead = index == 0 && at > 0.0 && space.is_some();
                self.put(&mut lines, &mut at, (word, *weight, *grey), lead, size, room);
            }
        }
        lines
    }

    /// Adds a word to the last line; one that is wider than a line goes on in the next.
    fn put(
        &self,
        lines: &mut Vec<Vec<Run>>,
        at: &mut f64,
        word: (&str, Weight, u8),
        lead: bool,
        size: f64,
        room: f64,
    ) {
        let (letters, weight, grey) = word;
        let mut piece = if lead { " ".to_owned() } else { String::new() };
        let mut wide = self.width(&piece, weight, size);
        let add = |lines: &mut Vec<Vec<Run>>, at: f64, words: String| {
            let Some(line) = lines.last_mut() else { return };
            match line.last_mut() {
                Some(last) if last.weight == weight && last.grey == grey => last.words.push_str(&words),
                _ => line.push(Run { words, weight, grey, x: at }),
            }
        };
        for letter in letters.chars() {
            let width = self.width(letter.encode_utf8(&mut [0; 4]), weight, size);
            if *at + wide + width > room && *at + wide > 0.0 {
                add(lines, *at, std::mem::take(&mut piece));
                lines.push(Vec::new());
                (*at, wide) = (0.0, 0.0);
            }
            piece.push(letter);
            wide += width;
        }
        add(lines, *at, piece);
        *at += wide;
    }
}
