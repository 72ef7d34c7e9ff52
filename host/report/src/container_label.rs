//! The labels of a container: the words that the rules of its place ask for, in large letters, to be cut out and stuck on.

use celltriage_custody::event::ContainerOpened;
use celltriage_custody::papers::Mark;
use celltriage_document::document::{Document, Large, Shown};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use jiff::civil::Date;

/// What the labels of a container are made of.
#[derive(Clone, Copy, Debug)]
pub struct Labelled<'a> {
    /// Its name.
    pub name: &'a str,
    /// What it was opened as.
    pub opened: &'a ContainerOpened,
    /// The words that the rules of its place ask for.
    pub words: &'a [Mark],
    /// The earliest day on which one of its cells was discarded.
    pub first: Option<Date>,
    /// Whether it holds simulated cells.
    pub simulated: bool,
}

/// Lays the labels out; where no words are asked for, the shop's own label, which says so.
pub fn container_label(of: &Labelled<'_>) -> Document {
    let (name, opened) = (of.name, of.opened);
    let mut labels = Document::page(match of.simulated {
        true => say!(SimulatedContainerTitle, simulated = FIRST_LINE, name = name),
        false => say!(ContainerTitle, name = name),
    });
    if of.simulated {
        labels.notice(FIRST_LINE);
    }
    let date = of.first.map_or(Phrase::LabelNoDate.into(), |day| say!(LabelDate, day = day));
    for mark in of.words {
        let on = say!(OnTheContainer, source = mark.citation);
        labels.push(Large {
            words: mark.words.as_str().into(),
            below: vec![date.clone(), say!(LabelKind, name = name, kind = opened.kind.words())],
            letter_mm: mark.letter_height_mm,
            on: if mark.verify { on.and(" ").and(say!(VerifyWith, whom = mark.verify_with)) } else { on },
            shown: Shown::Everywhere,
        });
    }
    if of.words.is_empty() {
        labels.push(Large {
            words: Text::from(opened.kind.words().to_uppercase()),
            below: vec![date, say!(LabelStands, name = name, place = opened.stands)],
            letter_mm: None,
            on: Phrase::OwnLabel.into(),
            shown: Shown::Everywhere,
        });
    }
    labels
}
