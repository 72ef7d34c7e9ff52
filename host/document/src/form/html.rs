//! A document as one self-contained HTML page for a browser and the printer of the shop; it loads nothing from anywhere.
//!
//! The colours of signal words are near the safety colours of ISO 3864 (screen values: our choice); the word says the same.

use crate::document::{
    Banner, Block, Bullets, Document, Emergency, Facts, Heading, Kind, Large, Level, Paragraph, Points, Table,
};
use crate::phrase::{LANGUAGE, Phrase};
use crate::plain::{plain, plain_lines};
use crate::text::{Text, Tone};
use celltriage_rules::Severity;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Height of small letters without strokes up or down, as a part of the font's size, rounded down: the fonts named in the
/// style have 0.52 or more (measured in their files: Liberation Sans 0.519, DejaVu Sans 0.547).
const SMALL_LETTER: f64 = 0.5;
/// Font size in mm where no letter height is known; our choice.
const USUAL_MM: f64 = 20.0;
/// How it looks, on a screen and in print.
const STYLE: &str = include_str!("html/page.css");

/// Writes a document: what it says first, then each of its words in large letters on a page of its own.
pub fn page(document: &Document) -> String {
    let title = plain(&document.title.said());
    let (large, said): (Vec<&Block>, Vec<&Block>) =
        document.blocks.iter().partition(|block| matches!(block, Block::Large(_)));
    let paper = document.kind == Kind::Paper;
    let mut drawings = 0;
    // Each word of a label is cut out by itself: what stands above everything else must go with it.
    let below = if document.is_label() { document.notices.as_slice() } else { &[] };
    html! {
        (DOCTYPE)
        html lang=(LANGUAGE) {
            head {
                meta charset="utf-8";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body class=(if paper { "paper" } else { "page" }) {
                @if !document.is_label() {
                    (notices(document))
                    @if paper { h1 { (spans(&document.title)) } }
                    @for block in said { (one(block, &mut drawings)) }
                    @if paper { (notices(document)) }
                }
                @for block in large {
                    @if let Block::Large(words) = block { (self::large(words, below)) }
                }
            }
        }
    }
    .into_string()
}

fn notices(document: &Document) -> Markup {
    html! {
        @match document.kind {
            Kind::Paper => @if !document.notices.is_empty() {
                p class="notice" { (spans(&document.notices_in_one())) }
            },
            Kind::Page | Kind::Screen => @for notice in &document.notices { p class="notice" { (spans(notice)) } },
        }
    }
}

fn one(block: &Block, drawings: &mut usize) -> Markup {
    match block {
        Block::Banner(found) => banner(found),
        Block::Emergency(found) => emergency(found),
        Block::Heading(found) => heading(found),
        Block::Paragraph(found) => paragraph(found),
        Block::Facts(found) => facts(found),
        Block::Bullets(found) => bullets(found),
        Block::Points(found) => points(found),
        Block::Table(found) => table(found),
        Block::FillIn(lines) => html! { @for line in lines { p class="fill" { (spans(line)) } } },
        Block::Large(found) => large(found, &[]),
        Block::Figure(found) => {
            *drawings += 1;
            html! { figure { (found.inside(*drawings)) } }
        }
        Block::Picture(found) => html! {
            figure class="photograph" {
                img src=(found.address()) alt=(plain(&found.shows.said()));
                figcaption { (spans(&found.shows)) }
            }
        },
        Block::Verbatim(found) => {
            let lines: Vec<String> = plain_lines(&found.text.said()).collect();
            html! { pre { (lines.join("\n")) } }
        }
        Block::Fitting(found) => html! { @for block in &found.wide { (one(block, drawings)) } },
        Block::Rule => html! { hr; },
        Block::Space => html! {},
    }
}

fn banner(banner: &Banner) -> Markup {
    html! {
        div class={ "banner " (class(banner.severity)) } {
            span class="result" { (spans(&banner.result)) }
            span { (banner.severity.word()) }
        }
        p { strong { (spans(&banner.statement)) } }
        p { (spans(&banner.about)) }
    }
}

fn emergency(emergency: &Emergency) -> Markup {
    html! {
        div class="emergency" role="alert" {
            @for (severity, text) in &emergency.texts { p class=(class(*severity)) { (spans(text)) } }
        }
    }
}

fn heading(heading: &Heading) -> Markup {
    let words = html! {
        (spans(&heading.text))
        @if let Some(aside) = &heading.aside { " " span class="aside" { (spans(aside)) } }
    };
    match heading.level {
        Level::Title => html! { h1 { (words) } },
        Level::Section => html! { h2 { (words) } },
        Level::Label => html! { h3 { (words) } },
    }
}

fn paragraph(paragraph: &Paragraph) -> Markup {
    html! {
        @if paragraph.beginning.is_empty() {
            p { (spans(&paragraph.text)) }
        } @else {
            p class="beside" {
                span { (spans(&paragraph.beginning)) } " "
                span { (spans(&paragraph.text)) }
            }
        }
    }
}

fn facts(facts: &Facts) -> Markup {
    html! {
        table class="head" {
            @for (name, value) in &facts.rows {
                tr { th scope="row" { (spans(name)) } td { (spans(value)) } }
            }
        }
    }
}

fn bullets(bullets: &Bullets) -> Markup {
    html! {
        ul {
            @for item in &bullets.items {
                li { span class="sign" { (bullets.mark.sign()) } (spans(item)) }
            }
        }
    }
}

fn points(points: &Points) -> Markup {
    html! {
        ul class="points" {
            @for point in &points.points {
                li {
                    (spans(&point.text)) br;
                    span class="from" { "[" (plain(&point.source.said())) "]" }
                    @if let Some(whom) = &point.verify_with {
                        " " span class="from verify" { (plain(&Phrase::VerifyWith.said(&[("whom", whom)]))) }
                    }
                    @if let Some(doubt) = point.in_doubt() { br; (spans(&doubt)) }
                }
            }
        }
    }
}

fn table(table: &Table) -> Markup {
    html! {
        table class="list" {
            thead { tr { @for column in &table.columns { th scope="col" { (spans(&column.heading)) } } } }
            tbody {
                @for row in &table.rows {
                    tr { @for cell in row.iter().take(table.columns.len()) { td { (spans(cell)) } } }
                }
            }
        }
    }
}

fn large(large: &Large, notices: &[Text]) -> Markup {
    let size = large.letter_mm.map_or(USUAL_MM, |height| f64::from(height) / SMALL_LETTER);
    let height = match large.letter_mm {
        Some(height) => Phrase::LetterHeight.said(&[("mm", &height.to_string())]),
        None => Phrase::NoLetterHeight.said(&[]),
    };
    html! {
        section class="words" {
            div class="frame" {
                div style=(format!("font-size:{size:.1}mm")) { (spans(&large.words)) }
                @for line in notices.iter().chain(&large.below) { div class="below" { (spans(line)) } }
            }
            p class="how" { (spans(&large.on)) "; " (height) }
        }
    }
}

fn spans(text: &Text) -> Markup {
    html! {
        @for span in &text.spans {
            @let words = plain(&span.words.said());
            @match span.tone {
                Tone::Plain => (words),
                Tone::Strong => strong { (words) },
                Tone::Muted => span class="from" { (words) },
                Tone::Signal(severity) => span class=(class(severity)) { (words) },
            }
        }
    }
}

const fn class(severity: Severity) -> &'static str {
    match severity {
        Severity::Danger => "danger",
        Severity::Warning => "warning",
        Severity::Caution => "caution",
        Severity::Notice => "note",
    }
}

#[cfg(test)]
mod tests;
