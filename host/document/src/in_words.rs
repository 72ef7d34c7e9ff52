//! A document in words: without drawings, frames and signs, for a program that reads the lines aloud.
//!
//! Letters of any language stay, since they are read as they are; a sign becomes the word that a person would say for it. What
//! must be exact (a command, the words of a law on a label) stays as it is.

use crate::document::{
    Banner, Block, Bullets, Column, Document, Emergency, Facts, Fitting, Heading, Paragraph, Point, Points,
    Table,
};
use crate::text::{Span, Text, Words};

/// Signs and the words for them, the longer ones first.
const SIGNS: [(&str, &str); 18] = [
    (" · ", ", "),
    ("Ohm·Ah", "Ohm Ah"),
    ("mV/h", "mV an hour"),
    ("± ", "plus or minus "),
    ("±", "plus or minus "),
    ("≤ ", "at most "),
    ("≥ ", "at least "),
    ("≤", "at most "),
    ("≥", "at least "),
    ("°C", "degrees C"),
    ("×", "times"),
    ("·", " "),
    ("Ω", "Ohm"),
    ("µ", "micro"),
    ("—", "-"),
    ("–", "-"),
    ("…", "..."),
    ("§", "section "),
];

/// Puts a document into words.
pub(crate) fn in_words(document: &Document) -> Document {
    Document {
        kind: document.kind,
        title: spoken(&document.title),
        notices: document.notices.iter().map(spoken).collect(),
        blocks: document.blocks.iter().flat_map(block).collect(),
    }
}

/// Says a text.
fn spoken(text: &Text) -> Text {
    let span = |span: &Span| {
        let mut words = span.words.said();
        for (sign, word) in SIGNS {
            words = words.replace(sign, word);
        }
        Span { words: Words::Given(words), tone: span.tone }
    };
    Text { spans: text.spans.iter().map(span).collect() }
}

fn block(block: &Block) -> Vec<Block> {
    let all = |texts: &[Text]| texts.iter().map(spoken).collect::<Vec<_>>();
    let one: Block = match block {
        Block::Banner(Banner { severity, result, statement, about }) => {
            let result = Text::from(result.said().to_uppercase()).and(format!(", {}", severity.word()));
            let lines = [result.strong(), spoken(statement).strong(), spoken(about)];
            return lines.into_iter().map(|line| Paragraph::of(line).into()).collect();
        }
        Block::Emergency(Emergency { texts }) => {
            let line = |(severity, text): &(_, Text)| {
                Paragraph::of(Text::signal(*severity).and(": ").and(spoken(text))).into()
            };
            return texts.iter().map(line).collect();
        }
        Block::Figure(figure) => {
            let indent = figure.indent();
            let title = std::iter::once(spoken(&figure.title)).filter(|title| !title.is_empty());
            let panels = figure.panels.iter().map(|panel| spoken(&panel.in_words()));
            return title.chain(panels).map(|line| Paragraph::of(line).indented(indent).into()).collect();
        }
        Block::Rule => Block::Space,
        Block::Heading(heading) => Heading {
            text: spoken(&heading.text),
            aside: heading.aside.as_ref().map(spoken),
            level: heading.level,
        }
        .into(),
        Block::Paragraph(paragraph) => Paragraph {
            text: spoken(&paragraph.text),
            beginning: spoken(&paragraph.beginning),
            ..paragraph.clone()
        }
        .into(),
        Block::Facts(facts) => {
            let rows = facts.rows.iter().map(|(name, value)| (spoken(name), spoken(value))).collect();
            Facts { rows, column: facts.column }.into()
        }
        Block::Bullets(bullets) => Bullets { items: all(&bullets.items), ..bullets.clone() }.into(),
        Block::Points(points) => {
            let point = |point: &Point| Point {
                text: spoken(&point.text),
                source: spoken(&point.source),
                ..point.clone()
            };
            Points { points: points.points.iter().map(point).collect() }.into()
        }
        Block::Table(table) => {
            let column = |column: &Column| Column { heading: spoken(&column.heading), widest: column.widest };
            let columns = table.columns.iter().map(column).collect();
            Table { columns, rows: table.rows.iter().map(|row| all(row)).collect(), indent: table.indent }
                .into()
        }
        Block::FillIn(lines) => Block::FillIn(all(lines)),
        Block::Fitting(Fitting { least, wide, narrow }) => {
            let all = |blocks: &[Block]| blocks.iter().flat_map(self::block).collect();
            Fitting { least: *least, wide: all(wide), narrow: all(narrow) }.into()
        }
        Block::Large(_) | Block::Picture(_) | Block::Verbatim(_) | Block::Space => block.clone(),
    };
    vec![one]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Bullet;
    use crate::figure::{Figure, NumberLine, Zones};
    use crate::form::terminal::Terminal;
    use celltriage_rules::Severity;

    #[test]
    fn frames_signs_and_drawings_become_words_and_letters_stay() {
        let mut page = Document::screen("cell PE-1");
        page.notice("SIMULATED · not real").push(Emergency::danger(["STOP: hands off."]));
        page.push(Banner {
            severity: Severity::Notice,
            result: "reuse".into(),
            statement: "It rests at 4.2 ± 0.1 V.".into(),
            about: "cell ß-1 · 25 °C".into(),
        });
        page.push(Block::Rule).push(Bullets::of(["≤ 0.68 Ohm·Ah"]).marked(Bullet::Heed, 2));
        let line = NumberLine {
            value: 0.694,
            interval: [0.687, 0.702],
            limit: Some(0.8),
            zones: Zones { passes: [Some(0.81), None], fails: [Some(0.79), None] },
        };
        let percent = |at: f64| format!("{:.1} %", at * 100.0);
        page.push(Figure::of(line.panel(percent, percent)));
        let expected = [
            "SIMULATED, not real",
            "DANGER: STOP: hands off.",
            "REUSE, NOTICE",
            "It rests at 4.2 plus or minus 0.1 V.",
            "cell ß-1, 25 degrees C",
            "",
            "  ! at most 0.68 Ohm Ah",
            "  69.4 %, from 68.7 to 70.2; the limit is 80.0 %",
        ];
        let said = Terminal::new(80).in_words(true).text(&page);
        assert_eq!(said.lines().collect::<Vec<_>>(), expected);
        assert!(Terminal::new(80).text(&page).contains('━'));
    }
}
