//! One container: what it holds, the words on it, what is counted, what is not.

use crate::counter::{counter_line, verify};
use celltriage_custody::cell::Cell;
use celltriage_custody::counters::Counter;
use celltriage_custody::event::ReceivedAs;
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
    page.push(Paragraph::of(sums(state, name).and("; ").and(first)));
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

/// Returns what a container holds in all: cells, mass and energy, marked where some of it is only estimated.
pub(crate) fn sums(state: &State, name: &str) -> Text {
    let count = cells(state.count_in(name));
    let sums = Text::from(format!("{count}, {}, {}", state.mass_in(name), state.energy_in(name)));
    if state.is_estimated_in(name) { sums.and(Phrase::WithEstimates) } else { sums }
}

/// Says as what it was received, with the count of a lot; `None` of a cell that was assessed.
pub(crate) fn held_as(held: &Cell) -> Option<String> {
    let is = held.is_as().filter(|_| held.is_received())?;
    let count = (is == ReceivedAs::Lot).then(|| format!(", {}", cells(held.count() as usize)));
    Some(format!("{}{}", is.words(), count.unwrap_or_default()))
}

/// Says its mass; of what was received with what it rests on.
pub(crate) fn mass_words(held: &Cell) -> Text {
    match held.stated_mass() {
        Some(mass) if held.is_received() => mass.words().into(),
        Some(mass) => mass.value.to_string().into(),
        None => say!(NotWeighedShort, mass = held.mass()),
    }
}

/// Says its energy; of what was received with what it rests on.
pub(crate) fn energy_words(held: &Cell) -> Text {
    match held.stated_energy() {
        Some(energy) if held.is_received() => energy.words().into(),
        Some(energy) => energy.value.to_string().into(),
        None if held.is_received() => say!(EnergyNotTold, energy = held.energy()),
        None => held.energy().to_string().into(),
    }
}

fn cell_words(held: &Cell) -> Text {
    let discarded = held.discarded_on();
    let discarded = discarded.map_or(Phrase::NoClock.into(), |day| say!(DiscardedOn, day = day));
    let what = held_as(held).map_or_else(Text::default, |what| say!(HeldAs, what = what));
    what.and(format!("{}, ", held.legal()))
        .and(mass_words(held))
        .and(", ")
        .and(energy_words(held))
        .and(", ")
        .and(discarded)
        .and(format!("; {}", held.whereabouts.words()))
}
