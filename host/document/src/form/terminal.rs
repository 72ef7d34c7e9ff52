//! A document as text for a terminal, 60 to 100 columns wide, readable without colour, and without drawings where that is asked for.

mod grid;
mod signal;

pub use signal::{Mark, bare};

use crate::document::{
    Banner, Block, Bullets, Document, Emergency, Facts, Heading, Kind, Large, Level, Paragraph, Points,
    Shown, Verbatim,
};
use crate::in_words::in_words;
use crate::plain::{plain, plain_lines};
use crate::text::{Text, Tone};
use crate::wrap::Flat;
use celltriage_rules::Severity;
use textwrap::core::display_width;

/// Narrowest page that is laid out.
const NARROWEST: usize = 60;
/// Widest page: longer lines are hard to read.
const WIDEST: usize = 100;
/// Narrowest lines of an alarm and of a screen; our choice: below it words would be cut.
const NARROWEST_ALARM: usize = 40;
/// Widest screen: its lines are short in themselves, and what stands side by side is read at a glance (our choice).
const WIDEST_SCREEN: usize = 120;
/// Fewest columns that words need beside a beginning; our choice: below it they go under it.
const ROOM: usize = 20;

/// A terminal, or whatever else text is written to.
#[derive(Clone, Copy, Debug)]
pub struct Terminal {
    given: usize,
    mark: Option<Mark>,
    /// Whether a screen is written, which is as wide as the terminal.
    screen: bool,
    in_words: bool,
}

impl Terminal {
    /// Takes the width in columns; no codes are written.
    pub fn new(width: usize) -> Self {
        Self { given: width, mark: None, screen: false, in_words: false }
    }

    /// Writes codes, each made to work by `mark`; [`bare`] where nothing stands between the text and the terminal.
    #[must_use]
    pub fn coloured(self, mark: Mark) -> Self {
        Self { mark: Some(mark), ..self }
    }

    /// Writes words in place of drawings and signs, for a program that reads the lines aloud.
    #[must_use]
    pub fn in_words(self, in_words: bool) -> Self {
        Self { in_words, ..self }
    }

    /// Returns whether words take the place of drawings and signs.
    pub const fn is_in_words(&self) -> bool {
        self.in_words
    }

    /// Returns the width of a page: the terminal's, kept between 60 and 100; that of a screen between 40 and 120.
    pub fn width(&self) -> usize {
        match self.screen {
            true => self.given.clamp(NARROWEST_ALARM, WIDEST_SCREEN),
            false => self.given.clamp(NARROWEST, WIDEST),
        }
    }

    /// Returns the form in which it writes a screen.
    #[must_use]
    pub fn for_a_screen(self) -> Self {
        Self { screen: true, ..self }
    }

    /// Writes a document.
    pub fn text(&self, document: &Document) -> String {
        let form = if document.kind == Kind::Screen { self.for_a_screen() } else { *self };
        match self.in_words {
            true => form.written(&in_words(document)),
            false => form.written(document),
        }
    }

    fn written(&self, document: &Document) -> String {
        let mut out = String::new();
        let kind = if document.is_label() { Kind::Page } else { document.kind };
        match kind {
            Kind::Page | Kind::Screen => document.notices.iter().for_each(|notice| {
                out.push_str(&self.hanging(0, &notice.clone().strong(), 2));
            }),
            Kind::Paper => {
                let notice = Text::from(document.notices_in_one().said().to_uppercase()).strong();
                out.push_str(&self.hanging(0, &notice, 0));
                out.push('\n');
                out.push_str(&self.hanging(0, &document.title.clone().strong(), 2));
            }
        }
        // Each word of a label is cut out by itself: what stands above everything else goes with it.
        let below = if document.is_label() { document.notices.as_slice() } else { &[] };
        for block in &document.blocks {
            match block {
                Block::Large(large) => out.push_str(&self.large(large, below)),
                other => out.push_str(&self.block(other)),
            }
        }
        if kind == Kind::Paper {
            if !matches!(document.blocks.last(), Some(Block::FillIn(_))) {
                out.push('\n');
            }
            out.push_str(&self.hanging(0, &document.notices_in_one().strong(), 0));
        }
        out
    }

    /// Writes what to do now: the signal word, which blinks where codes are written, then the text.
    pub fn alarm(&self, severity: Severity, text: &Text) -> String {
        let word = format!("{}:", severity.word());
        let column = display_width(&word) + 1;
        let beginning = signal::blinking(&word, self.mark) + " ";
        let width = self.given.max(NARROWEST_ALARM);
        self.lines(&beginning, text, width - column, (column, width - column)).trim_end().to_owned()
    }

    /// Writes one block.
    pub fn block(&self, block: &Block) -> String {
        match block {
            Block::Banner(banner) => self.banner(banner),
            Block::Emergency(emergency) => self.emergency(emergency),
            Block::Heading(heading) => self.heading(heading),
            Block::Paragraph(paragraph) => self.paragraph(paragraph),
            Block::Facts(facts) => self.facts(facts),
            Block::Bullets(bullets) => self.bullets(bullets),
            Block::Points(points) => self.points(points),
            Block::Table(table) => grid::grid(table, self.width()),
            Block::FillIn(lines) => {
                let lines = lines.iter().map(|line| self.hanging(0, line, 2));
                format!("\n{}", lines.collect::<String>())
            }
            Block::Large(large) => self.large(large, &[]),
            Block::Figure(figure) => {
                let indent = figure.indent();
                let lines = figure.text(self.width().saturating_sub(indent + 2)).into_iter();
                lines.map(|line| format!("{:indent$}{line}", "").trim_end().to_owned() + "\n").collect()
            }
            Block::Picture(picture) => self.hanging(2, &picture.shows.clone().muted(), 2),
            Block::Verbatim(Verbatim { indent, text }) => {
                let indent = " ".repeat(*indent);
                plain_lines(&text.said()).map(|line| format!("{indent}{line}\n")).collect()
            }
            Block::Fitting(fitting) => {
                let wide = self.width() >= fitting.least;
                let blocks = if wide { &fitting.wide } else { &fitting.narrow };
                blocks.iter().map(|block| self.block(block)).collect()
            }
            Block::Rule => self.rule('─'),
            Block::Space => "\n".to_owned(),
        }
    }

    fn banner(&self, banner: &Banner) -> String {
        let result = plain(&banner.result.said().to_uppercase());
        let spaced: Vec<String> = result.chars().map(String::from).collect();
        let (spaced, word) = (spaced.join(" "), banner.severity.word());
        let space = " ".repeat(self.width().saturating_sub(word.len() + 4 + display_width(&spaced)));
        let title = self.toned(Tone::Signal(banner.severity), &format!("  {spaced}{space}{word}  "));
        let mut out = format!("{}{}\n{}", self.rule('━'), title.trim_end(), self.rule('━'));
        // Two columns stay free on either side of the sentence.
        let width = self.width() - 4;
        out.push_str(&self.lines("  ", &banner.statement.clone().strong(), width, (2, width)));
        out + &self.hanging(2, &banner.about, 2)
    }

    fn emergency(&self, emergency: &Emergency) -> String {
        let mut out = self.rule('━');
        for (severity, text) in &emergency.texts {
            for line in Flat::of(text).lines(self.width() - 4, self.width() - 4) {
                let line: String = line.into_iter().map(|(part, _)| part).collect();
                let space = " ".repeat((self.width() - 2).saturating_sub(display_width(&line)));
                let padded = self.toned(Tone::Signal(*severity), &format!("  {line}{space}"));
                out.push_str(padded.trim_end());
                out.push('\n');
            }
        }
        out + &self.rule('━') + "\n"
    }

    fn heading(&self, heading: &Heading) -> String {
        let before = if heading.level == Level::Section { "\n" } else { "" };
        if heading.level == Level::Label {
            return self.hanging(0, &heading.text, 2);
        }
        let Some(aside) = &heading.aside else {
            return before.to_owned() + &self.hanging(0, &heading.text.clone().strong(), 0);
        };
        let (text, aside) = (plain(&heading.text.said()), plain(&aside.said()));
        let taken = display_width(&text) + display_width(&aside);
        if taken >= self.width() {
            return before.to_owned() + &self.hanging(0, &Text::from(format!("{text} {aside}")).strong(), 2);
        }
        let space = " ".repeat(self.width().saturating_sub(taken).max(1));
        format!("{before}{}\n", self.toned(Tone::Strong, &format!("{text}{space}{aside}")))
    }

    fn paragraph(&self, paragraph: &Paragraph) -> String {
        let Paragraph { indent, beginning, hang, text } = paragraph;
        match beginning.is_empty() {
            true => self.hanging(*indent, text, *hang),
            false => self.beside(*indent, beginning, text, *hang),
        }
    }

    fn facts(&self, facts: &Facts) -> String {
        let widest = facts.rows.iter().map(|(name, _)| display_width(&plain(&name.said()))).max();
        let column = facts.column.unwrap_or(widest.unwrap_or(0) + 4);
        facts.rows.iter().map(|(name, value)| self.beside(2, name, value, column)).collect()
    }

    fn bullets(&self, bullets: &Bullets) -> String {
        let column = bullets.indent + 2;
        let sign = Text::from(bullets.mark.sign());
        bullets.items.iter().map(|item| self.beside(bullets.indent, &sign, item, column)).collect()
    }

    fn points(&self, points: &Points) -> String {
        let mut out = String::new();
        for point in &points.points {
            out.push_str(&self.beside(2, &"-".into(), &point.text, 4));
            out.push_str(&self.hanging(4, &without_tone(point.origin()), 4));
            if let Some(doubt) = point.in_doubt() {
                out.push_str(&self.hanging(4, &doubt, 4));
            }
        }
        out
    }

    fn large(&self, large: &Large, notices: &[Text]) -> String {
        if large.shown == Shown::Printer {
            return String::new();
        }
        let below =
            notices.iter().chain(&large.below).map(|line| self.hanging(0, line, 2)).collect::<String>();
        let on = Text::from("(").and(large.on.clone()).and(")");
        self.hanging(0, &large.words, 0) + &below + &self.hanging(0, &on, 2)
    }

    /// Wraps text whose first line begins at one column and whose others at another; all end at the same.
    fn hanging(&self, indent: usize, text: &Text, hang: usize) -> String {
        let first = self.width().saturating_sub(hang.max(indent));
        let others = self.width().saturating_sub(hang);
        self.lines(&" ".repeat(indent), text, first, (hang, others))
    }

    /// Wraps text beside a beginning.
    fn beside(&self, indent: usize, beginning: &Text, text: &Text, hang: usize) -> String {
        let taken = indent + display_width(&plain(&beginning.said()));
        // One space at least, also after a beginning that is longer than its column.
        let start = if taken == indent { hang } else { hang.max(taken + 1) };
        let toned: String = beginning
            .spans
            .iter()
            .map(|span| self.toned(span.tone, &plain(&span.words.said()).replace('\u{a0}', " ")))
            .collect();
        if self.width().saturating_sub(start) < ROOM {
            let beginning = self.hanging(indent, beginning, indent + 2);
            let hang = hang.min(self.width() - ROOM);
            return beginning + &self.hanging(hang, text, hang);
        }
        let space = " ".repeat(start.saturating_sub(taken));
        let (first, others) = (self.width().saturating_sub(start), self.width().saturating_sub(hang));
        self.lines(&format!("{}{toned}{space}", " ".repeat(indent)), text, first, (hang, others))
    }

    fn lines(&self, beginning: &str, text: &Text, first: usize, (hang, others): (usize, usize)) -> String {
        let mut out = String::new();
        for (number, line) in Flat::of(text).lines(first, others).into_iter().enumerate() {
            let line: String = line.iter().map(|(part, tone)| self.toned(*tone, part)).collect();
            let before = if number == 0 { beginning.to_owned() } else { " ".repeat(hang) };
            out.push_str(&format!("{before}{line}\n"));
        }
        out
    }

    fn toned(&self, tone: Tone, text: &str) -> String {
        signal::toned(tone, text, self.mark)
    }

    fn rule(&self, sign: char) -> String {
        sign.to_string().repeat(self.width()) + "\n"
    }
}

/// The terminal has few tones: whom to ask is set off in print only.
fn without_tone(text: Text) -> Text {
    text.toned(Tone::Plain)
}

#[cfg(test)]
mod tests;
