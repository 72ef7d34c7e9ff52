//! One container: what it holds, the words on it, what is counted, what is not.

use crate::counter::{counter_line, verify};
use celltriage_custody::cell::Cell;
use celltriage_custody::counters::Counter;
use celltriage_custody::papers::Mark;
use celltriage_custody::state::{Container, State};
use celltriage_custody::summary::cells;
use celltriage_document::document::{Block, Document, Heading, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use jiff::civil::Date;

/// Column of the words beside a cell's name.
const CELL: usize = 17;

/// What the page of a container is made of.
#[derive(Clone, Copy, Debug)]
pub struct ContainerShown<'a> {
    /// Everything in custody.
    pub state: &'a State,
    /// Its name.
    pub name: &'a str,
    /// The container.
    pub container: &'a Container,
    /// The earliest day on which one of its cells was discarded.
    pub first: Option<Date>,
    /// The words that belong on it.
    pub words: &'a [Mark],
    /// What is counted of it.
    pub counters: &'a [Counter],
    /// What its place limits and this book does not count.
    pub uncounted: &'a [String],
    /// How to read more of that.
    pub more: &'a str,
}

/// Puts the page together.
pub fn container_page(of: &ContainerShown<'_>) -> Document {
    let ContainerShown { state, name, container, .. } = *of;
    let opened = &container.opened;
    let head = say!(
        ContainerHead,
        name = name,
        kind = opened.kind.words(),
        place = opened.place,
        stands = opened.stands,
        day = container.opened_on,
    );
    let mut page = Document::page(say!(ContainerTitle, name = name));
    if state.holds_simulated(name) {
        page.notice(FIRST_LINE);
    }
    page.push(Paragraph::of(head.and(stage(container))));
    for (entry, one) in state.irregular_with(name) {
        let what = one.words();
        page.push(Paragraph::of(say!(IrregularSince, day = one.on, entry = entry, what = what)));
    }
    let first = of.first.map_or(Phrase::NoneDiscarded.into(), |day| say!(EarliestDate, day = day));
    let count = cells(state.cells_in(name).count());
    let sums = format!("{count}, {}, {}; ", state.mass_in(name), state.energy_in(name));
    page.push(Paragraph::of(Text::from(sums).and(first)));
    for (cell, held) in state.cells_in(name) {
        page.push(Paragraph::of(cell_words(held)).after(2, cell.as_str(), CELL));
    }
    let inner = |text: Text| Block::from(Paragraph::of(text).indented(2));
    if !of.words.is_empty() {
        page.push(Heading::label(Phrase::WordsOnContainer));
    }
    for mark in of.words {
        let text = Text::from(format!("{} [{}]", mark.quoted(), mark.citation));
        page.push(inner(text.and(verify(mark.verify, &mark.verify_with))));
    }
    page.push(Heading::label(Phrase::Counted));
    page.blocks.extend(of.counters.iter().map(|counter| inner(counter_line(counter))));
    if of.counters.is_empty() {
        page.push(inner(Phrase::NoCounters.into()));
    }
    if !of.uncounted.is_empty() {
        let text = say!(NotCountedByBook, what = of.uncounted.join("; "), more = of.more);
        page.push(inner(text));
    }
    page
}

/// Says that a container is about to leave, or has left.
pub fn stage(container: &Container) -> Text {
    if let Some(left) = &container.left {
        return say!(LeftWithout, how = left.departure.words(), day = left.on);
    }
    match (&container.left_with, &container.drafted_for) {
        (Some(shipment), _) => say!(LeftWith, shipment = shipment),
        (None, Some(shipment)) => say!(DraftedFor, shipment = shipment),
        (None, None) => Text::default(),
    }
}

fn cell_words(held: &Cell) -> Text {
    let discarded = held.discarded_on();
    let discarded = discarded.map_or(Phrase::NoClock.into(), |day| say!(DiscardedOn, day = day));
    let mass = match held.known_mass() {
        Some(_) => held.mass().to_string().into(),
        None => say!(NotWeighedShort, mass = held.mass()),
    };
    Text::from(format!("{}, ", held.legal()))
        .and(mass)
        .and(format!(", {}, ", held.energy()))
        .and(discarded)
        .and(format!("; {}", held.whereabouts.words()))
}
