//! The blocks of a document as pieces, for one size of letters and one width.

mod photographs;
mod table;

use super::SIZES;
use super::piece::{Content, Frame, Part, Piece, Role};
use super::styled::{Letters, Run};
use crate::fitted_text;
use crate::font::{LINE, Weight, lowest_letter};
use crate::pdf_file::{BadPdf, POINTS_IN_MM};
use celltriage_document::document::{Block, Document, Facts, Heading, Kind, Large, Level, Paragraph, Point};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;

/// Widths in points: names of facts, beginnings of paragraphs, signs of lists.
const NAMES: f64 = 34.0 * POINTS_IN_MM;
const BEGINNING: f64 = 20.0 * POINTS_IN_MM;
const SIGN: f64 = 4.0 * POINTS_IN_MM;
/// The size of letters with which a drawing is as wide as the page.
const LARGEST: f64 = SIZES[0];
/// Height of letters in mm where none is asked for; our choice.
const LARGE_MM: f64 = 8.0;

/// Makes pieces.
pub(super) struct Maker {
    letters: Letters,
    width: f64,
    /// Lists and tables so far.
    lists: usize,
}

impl Maker {
    pub(super) fn new(size: f64, width: f64) -> Result<Self, BadPdf> {
        Ok(Self { letters: Letters::of(size)?, width, lists: 0 })
    }

    /// Makes the pieces of a document.
    pub(super) fn pieces(mut self, document: &Document) -> Result<Vec<Piece>, BadPdf> {
        let mut pieces = Vec::new();
        let notices = match document.kind {
            Kind::Paper => vec![Text::from(document.notices_in_one().said().to_uppercase())],
            Kind::Page | Kind::Screen => document.notices.clone(),
        };
        let notices: Vec<Text> = notices.into_iter().filter(|notice| !notice.is_empty()).collect();
        pieces.extend(notices.iter().map(|notice| self.framed(notice)));
        if document.kind == Kind::Paper {
            pieces.push(self.heading(&Heading::title(document.title.clone())));
        }
        let mut blocks = document.blocks.as_slice();
        while let Some(block) = blocks.first() {
            let photographs = blocks.iter().take_while(|block| matches!(block, Block::Picture(_))).count();
            if photographs > 0 {
                pieces.extend(self.photographs(blocks.get(..photographs).unwrap_or_default())?);
            } else {
                self.block(block, &mut pieces)?;
            }
            blocks = blocks.get(photographs.max(1)..).unwrap_or_default();
        }
        if document.kind == Kind::Paper {
            pieces.extend(notices.iter().map(|notice| self.framed(notice)));
        }
        Ok(pieces)
    }

    fn block(&mut self, block: &Block, pieces: &mut Vec<Piece>) -> Result<(), BadPdf> {
        let size = self.letters.size;
        match block {
            Block::Heading(heading) => pieces.push(self.heading(heading)),
            Block::Paragraph(found) => pieces.push(self.paragraph(found)),
            Block::Banner(banner) => {
                let result = Text::from(banner.result.said().to_uppercase()).strong();
                pieces.push(self.text(&result, 1.6 * size, Weight::Bold, 0.6 * size));
                pieces.push(self.text(&banner.statement, size, Weight::Bold, 0.2 * size));
                pieces.push(self.text(&banner.about, size, Weight::Regular, 0.2 * size));
            }
            Block::Emergency(found) => {
                let told = |(severity, text): &(_, Text)| Text::signal(*severity).and(": ").and(text.clone());
                pieces.extend(found.texts.iter().map(|text| self.framed(&told(text))));
            }
            Block::Facts(facts) => pieces.extend(self.facts(facts)),
            Block::Bullets(bullets) => {
                self.lists += 1;
                let sign = Text::from(bullets.mark.sign());
                pieces.extend(bullets.items.iter().map(|item| self.item(&sign, item)));
            }
            Block::Points(points) => {
                self.lists += 1;
                pieces.extend(points.points.iter().map(|point| self.point(point)));
            }
            Block::Table(table) => pieces.extend(self.table(table)),
            Block::FillIn(lines) => pieces.extend(lines.iter().map(|line| self.to_fill_in(line))),
            Block::Large(large) => pieces.extend(self.large(large)),
            Block::Figure(figure) => {
                let drawing = figure.laid_out();
                // Drawings shrink with the letters.
                let unit = self.width / drawing.width * size / LARGEST;
                let shows = self.letters.printed(&figure.in_words().said());
                let mut piece = Piece::new(Role::Figure(shows), 0.4 * size, drawing.height * unit);
                let content = vec![Content::Drawing { drawing, unit, at: [0.0, 0.0] }];
                piece.parts.push(Part { content, head: false });
                pieces.push(piece);
            }
            Block::Picture(_) => pieces.extend(self.photographs(std::slice::from_ref(block))?),
            Block::Verbatim(verbatim) => {
                for line in verbatim.text.said().lines() {
                    pieces.push(self.text(&line.into(), size, Weight::Regular, 0.0));
                }
            }
            Block::Fitting(fitting) => {
                for block in &fitting.wide {
                    self.block(block, pieces)?;
                }
            }
            Block::Rule => {
                let mut piece = Piece::new(Role::Nothing, 0.6 * size, 0.5);
                piece.frames.push(Frame { place: [0.0, 0.0, self.width, 0.5], filled: true });
                pieces.push(piece);
            }
            Block::Space => {}
        }
        Ok(())
    }

    /// Lines of a text from a place on, and how high they are.
    fn lines(&self, text: &Text, size: f64, room: f64, weight: Weight, at: [f64; 2]) -> (Vec<Content>, f64) {
        let lines = self.letters.lines(text, size, room, weight);
        let height = lines.len() as f64 * size * LINE;
        let line = |(number, runs): (usize, Vec<Run>)| {
            let baseline = at[1] + size * (number as f64 * LINE + crate::font::ABOVE);
            Content::Line { runs, at: [at[0], baseline], size }
        };
        (lines.into_iter().enumerate().map(line).collect(), height)
    }

    fn text(&self, text: &Text, size: f64, weight: Weight, above: f64) -> Piece {
        let (content, height) = self.lines(text, size, self.width, weight, [0.0, 0.0]);
        let mut piece = Piece::new(Role::Paragraph, above, height);
        piece.parts.push(Part { content, head: false });
        piece
    }

    fn framed(&self, text: &Text) -> Piece {
        let size = 1.1 * self.letters.size;
        let inside = 0.5 * size;
        let (content, height) =
            self.lines(text, size, self.width - 2.0 * inside, Weight::Bold, [inside, inside]);
        let mut piece = Piece::new(Role::Paragraph, 0.6 * size, height + 2.0 * inside);
        piece.frames.push(Frame { place: [0.0, 0.0, self.width, piece.height], filled: false });
        piece.parts.push(Part { content, head: false });
        piece
    }

    fn heading(&self, heading: &Heading) -> Piece {
        let size = self.letters.size;
        let (level, larger, above) = match heading.level {
            Level::Title => (1, 1.7, 0.5),
            Level::Section => (2, 1.05, 0.9),
            Level::Label => (3, 1.0, 0.5),
        };
        let text = match &heading.aside {
            Some(aside) => heading.text.clone().and(" · ").and(aside.clone()),
            None => heading.text.clone(),
        };
        let mut piece = self.text(&text, larger * size, Weight::Bold, above * size);
        piece.role = Role::Heading(level);
        piece.with_next = true;
        if heading.level == Level::Section {
            piece.height += 1.5;
            piece.frames.push(Frame { place: [0.0, piece.height - 1.0, self.width, 0.5], filled: true });
        }
        piece
    }

    fn paragraph(&self, paragraph: &Paragraph) -> Piece {
        let size = self.letters.size;
        if paragraph.beginning.is_empty() {
            return self.text(&paragraph.text, size, Weight::Regular, 0.25 * size);
        }
        let (beginning, one) = self.lines(&paragraph.beginning, size, BEGINNING, Weight::Regular, [0.0, 0.0]);
        let room = self.width - BEGINNING;
        let (text, other) = self.lines(&paragraph.text, size, room, Weight::Regular, [BEGINNING, 0.0]);
        let mut piece = Piece::new(Role::Paragraph, 0.25 * size, one.max(other));
        piece.parts = [beginning, text].map(|content| Part { content, head: false }).to_vec();
        piece
    }

    fn facts(&mut self, facts: &Facts) -> Vec<Piece> {
        self.lists += 1;
        let (size, table) = (self.letters.size, self.lists);
        let row = |(name, value): &(Text, Text)| {
            let (name, one) = self.lines(name, size, NAMES - 4.0, Weight::Regular, [0.0, 0.0]);
            let (value, other) = self.lines(value, size, self.width - NAMES, Weight::Regular, [NAMES, 0.0]);
            let mut piece = Piece::new(Role::Row(table), 0.12 * size, one.max(other));
            piece.parts = vec![Part { content: name, head: true }, Part { content: value, head: false }];
            piece
        };
        facts.rows.iter().map(row).collect()
    }

    fn item(&self, sign: &Text, text: &Text) -> Piece {
        let size = self.letters.size;
        let (sign, _) = self.lines(sign, size, SIGN, Weight::Regular, [0.0, 0.0]);
        let (text, height) = self.lines(text, size, self.width - SIGN, Weight::Regular, [SIGN, 0.0]);
        let mut piece = Piece::new(Role::Item(self.lists), 0.15 * size, height);
        piece.parts = [sign, text].map(|content| Part { content, head: false }).to_vec();
        piece
    }

    /// What is needed, with a box to tick, its source and its doubt.
    fn point(&self, point: &Point) -> Piece {
        let mut text = point.text.clone().and(" ").and(point.origin());
        if let Some(doubt) = point.in_doubt() {
            text = text.and(" ").and(doubt);
        }
        let mut piece = self.item(&Text::default(), &text);
        let side = 0.75 * self.letters.size;
        piece.frames.push(Frame { place: [0.0, 0.25 * self.letters.size, side, side], filled: false });
        piece
    }

    fn to_fill_in(&self, line: &Text) -> Piece {
        let size = self.letters.size;
        let mut piece = self.text(line, 0.9 * size, Weight::Regular, 2.6 * size);
        piece.frames.push(Frame { place: [0.0, 0.0, 0.6 * self.width, 0.5], filled: true });
        piece
    }

    /// Words in large letters, each at least as high as asked.
    fn large(&self, large: &Large) -> Vec<Piece> {
        let words = self.letters.printed(&large.words.said());
        let letter = large.letter_mm.map_or(LARGE_MM, f64::from) * POINTS_IN_MM;
        let size = letter / lowest_letter(&words) * 1.01;
        let room = self.width - 2.0 * 6.0;
        let broken = fitted_text::lines(&words, room, |text| self.letters.width(text, Weight::Bold, size));
        let mut below = large.below.clone();
        below.push(large.on.clone().and("; ").and(match large.letter_mm {
            Some(mm) => Text::phrase(Phrase::LetterHeight, [("mm", mm.to_string())]),
            None => Phrase::NoLetterHeight.into(),
        }));
        let mut pieces: Vec<Piece> = match broken {
            Some(lines) => {
                lines.iter().map(|line| self.text(&line.as_str().into(), size, Weight::Bold, 0.0)).collect()
            }
            None => vec![self.text(&words.as_str().into(), size, Weight::Bold, 0.0)],
        };
        if let Some(first) = pieces.first_mut() {
            first.above = 1.5 * self.letters.size;
        }
        pieces.iter_mut().for_each(|piece| piece.with_next = true);
        pieces.extend(
            below
                .iter()
                .map(|line| self.text(line, self.letters.size, Weight::Regular, 0.2 * self.letters.size)),
        );
        pieces
    }
}
