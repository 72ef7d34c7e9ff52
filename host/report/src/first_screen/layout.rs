//! How a part of the screen is laid out: its name at the left, its lines beside it; below it where there is no room, and with a
//! colon where the lines are read aloud.

use super::sentences::sentences;
use celltriage_document::document::{Block, Document, Paragraph};
use celltriage_document::form::terminal::Terminal;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;

/// Column at which the lines begin: the longest name and a space or two.
pub(super) const COLUMN: usize = 12;
/// Below so many columns a name stands above its lines (our choice).
const NARROW: usize = 60;
/// Columns that the lines are moved in below their name.
const BELOW: usize = 2;
/// Columns of the number of a step.
const NUMBER: usize = 3;

/// The terminal that the screen is made for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    terminal: Terminal,
}

impl Layout {
    pub(super) fn of(terminal: &Terminal) -> Self {
        Self { terminal: terminal.for_a_screen() }
    }

    /// Returns the columns left free before a line.
    pub(super) fn indent(&self) -> usize {
        match (self.terminal.is_in_words(), self.is_narrow()) {
            (true, _) => 0,
            (_, true) => BELOW,
            _ => COLUMN,
        }
    }

    fn is_narrow(&self) -> bool {
        self.terminal.width() < NARROW
    }

    /// Lays out the lines of a part.
    pub(super) fn part(&self, name: Phrase, lines: impl IntoIterator<Item = Text>) -> Vec<Block> {
        let mut lines = lines.into_iter().filter(|line| !line.is_empty());
        let Some(first) = lines.next() else { return Vec::new() };
        let mut blocks = self.named(name, first);
        blocks.extend(lines.map(|line| self.line(line)));
        blocks
    }

    /// Lays out one long line that goes on below the name of its part, nearly as wide as the terminal.
    pub(super) fn wide(&self, name: Phrase, line: Text) -> Vec<Block> {
        match line.is_empty() || self.terminal.is_in_words() {
            true => self.part(name, [line]),
            false => self.wide_under(Text::from(name).strong(), line),
        }
    }

    /// The same below words that are no name of a part.
    pub(super) fn wide_under(&self, head: Text, line: Text) -> Vec<Block> {
        match self.terminal.is_in_words() || self.is_narrow() {
            true => self.headed(head, line),
            false => vec![Paragraph::of(head.and("\u{a0}\u{a0}").and(line)).hanging(BELOW).into()],
        }
    }

    /// Lays out steps, which are numbered where there is more than one.
    pub(super) fn steps(&self, name: Phrase, steps: Vec<Text>) -> Vec<Block> {
        if steps.len() < 2 || self.terminal.is_in_words() || self.is_narrow() {
            let numbered = steps.len() > 1;
            let step = |(at, step): (usize, Text)| match numbered {
                true => Text::from(format!("{}. ", at + 1)).and(step),
                false => step,
            };
            return self.part(name, steps.into_iter().enumerate().map(step));
        }
        let hang = COLUMN + NUMBER;
        let step = |(at, step): (usize, Text)| {
            let number = (at + 1).to_string();
            let paragraph = Paragraph::of(step);
            let paragraph = match at {
                0 => paragraph.after(0, padded(name).strong().and(number), hang),
                _ => paragraph.after(COLUMN, number, hang),
            };
            Block::from(paragraph)
        };
        steps.into_iter().enumerate().map(step).collect()
    }

    /// Puts words before the first line that are no name of a part, such as the fate.
    pub(super) fn headed(&self, head: Text, line: Text) -> Vec<Block> {
        match (self.terminal.is_in_words(), self.is_narrow()) {
            (true, _) => vec![Paragraph::of(head.and(": ").and(line)).into()],
            (_, true) => vec![Paragraph::of(head).into(), self.line(line)],
            _ => vec![Paragraph::of(line).after(0, head, COLUMN).into()],
        }
    }

    /// Lays out a line that belongs to what stands above it.
    pub(super) fn line(&self, line: Text) -> Block {
        Paragraph::of(line).indented(self.indent()).into()
    }

    fn named(&self, name: Phrase, line: Text) -> Vec<Block> {
        if self.terminal.is_in_words() {
            let name = name.english().to_lowercase();
            let mut letters = name.chars();
            let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
            return vec![
                Paragraph::of(Text::from(format!("{first}{}: ", letters.as_str())).and(line)).into(),
            ];
        }
        self.headed(Text::from(name).strong(), line)
    }

    /// Returns how many lines blocks take.
    pub(super) fn count(&self, blocks: &[Block]) -> usize {
        let mut page = Document::screen("");
        page.blocks = blocks.to_vec();
        self.terminal.text(&page).lines().count()
    }

    /// Cuts a line after a sentence, else after a word, so that it takes at most so many together with what is said of the others that are
    /// left out; three points say that more was said.
    pub(super) fn cut(&self, line: &str, others: usize, most: usize) -> Text {
        let others =
            if others > 0 { format!(" {}", say!(CountMore, count = others).said()) } else { String::new() };
        let takes = |line: &str| self.count(&[self.line(format!("{line}{others}").into())]);
        if takes(line) <= most {
            return format!("{line}{others}").into();
        }
        let first = |pieces: &[&str]| {
            let of = |count: usize| format!("{} ...", pieces.get(..count).unwrap_or_default().join(" "));
            (1..pieces.len()).rev().map(of).find(|line| takes(line) <= most)
        };
        let words: Vec<&str> = line.split_whitespace().collect();
        let cut = first(&sentences(line)).or_else(|| first(&words)).unwrap_or_else(|| "...".to_owned());
        format!("{cut}{others}").into()
    }
}

fn padded(name: Phrase) -> Text {
    format!("{:<COLUMN$}", name.english()).into()
}
