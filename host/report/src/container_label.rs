//! The labels of a container: the words that the rules of its place ask for, in large letters, to be cut out and stuck on; and one
//! label of any size with its code.

use celltriage_custody::event::ContainerOpened;
use celltriage_custody::papers::Mark;
use celltriage_document::document::{Document, Large, Shown};
use celltriage_document::label::{Label, is_scanned_alike};
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
        labels.push(Large {
            below: vec![date.clone(), say!(LabelKind, name = name, kind = opened.kind.words())],
            ..in_large(mark)
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

/// Returns words that a rule asks for, in the height of its letters, with where the rule stands and whom to verify it with.
pub(crate) fn in_large(mark: &Mark) -> Large {
    let on = say!(OnTheContainer, source = mark.citation);
    Large {
        words: mark.words.as_str().into(),
        below: Vec::new(),
        letter_mm: mark.letter_height_mm,
        on: if mark.verify { on.and(" ").and(say!(VerifyWith, whom = mark.verify_with)) } else { on },
        shown: Shown::Everywhere,
    }
}

/// Puts the one label together. Its code holds the name as it is typed; a container has no check character.
pub fn container_tag(of: &Labelled<'_>) -> Label {
    let (name, opened) = (of.name, of.opened);
    let date = of.first.map_or(Phrase::LabelNoDate.into(), |day| say!(LabelDate, day = day));
    Label {
        title: say!(ContainerLabelTitle, name = name),
        code: is_scanned_alike(name).then(|| name.to_owned()),
        notices: of.simulated.then(|| FIRST_LINE.into()).into_iter().collect(),
        name: name.into(),
        result: opened.kind.words().into(),
        lines: vec![date, say!(LabelStandsAt, place = opened.stands)],
        marks: of.words.iter().map(in_large).collect(),
        marks_elsewhere: Phrase::LabelElsewhere.into(),
    }
}
