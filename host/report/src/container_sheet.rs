//! The sheet of a container, to hang on it and to send with it: what it holds, cell by cell, and the words of the rules of its place in
//! letters of their height. A recycler reads from it what comes.

use crate::container_label::in_large;
use crate::container_page::{ContainerShown, energy_words, held_as, mass_words, sums};
use crate::counter::counter_line;
use celltriage_custody::cell::Cell;
use celltriage_document::document::{Block, Bullets, Document, Facts, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use jiff::civil::Date;

/// Puts the sheet together, as the container stands on a day.
pub fn container_sheet(of: &ContainerShown<'_>, today: Date) -> Document {
    let ContainerShown { state, name, container, .. } = *of;
    let opened = &container.opened;
    let mut sheet = Document::paper(say!(SheetTitle, name = name));
    if state.holds_simulated(name) {
        sheet.notice(FIRST_LINE);
    }
    let first = of.first.map_or(Phrase::NoneDiscarded.into(), |day| say!(EarliestDate, day = day));
    sheet.push(Facts::of([
        (Phrase::SheetFor, Text::from(opened.kind.words())),
        (Phrase::SheetStands, Text::from(format!("{} · {}", opened.place, opened.stands))),
        (Phrase::SheetOpened, Text::from(container.opened_on.to_string())),
        (Phrase::SheetAsOf, Text::from(today.to_string())),
        (Phrase::SheetHolds, sums(state, name).and(" · ").and(first)),
    ]));
    for mark in of.words {
        sheet.push(in_large(mark));
    }
    sheet.section(Phrase::Contents, [contents(of).into()]);
    sheet.section(Phrase::Counted, [Bullets::of(of.counters.iter().map(counter_line)).into()]);
    sheet.push(Block::FillIn(vec![Phrase::SheetChecked.into()]));
    sheet
}

fn contents(of: &ContainerShown<'_>) -> Table {
    use Phrase::{Cell as Name, Discarded, Energy, Inner, LegalState, Mass, SheetChemistry};
    let mut table = Table::under([Name, SheetChemistry, Mass, Energy, LegalState, Discarded, Inner]);
    for (name, held) in of.state.cells_in(of.name) {
        table.row(row(name, held));
    }
    table
}

fn row(name: &str, held: &Cell) -> [Text; 7] {
    let discarded = held.discarded_on().map_or_else(|| "-".to_owned(), |day| day.to_string());
    let chemistry = held.facts.as_ref().and_then(|facts| facts.chemistry);
    let inner = match &held.whereabouts {
        celltriage_custody::cell::Whereabouts::In { inner: Some(inner), .. } => inner.as_str(),
        _ => "-",
    };
    [
        held_as(held).map_or_else(|| name.to_owned(), |what| format!("{name}: {what}")).into(),
        chemistry.map_or_else(|| Phrase::NotKnown.into(), |chemistry| chemistry.key().into()),
        mass_words(held),
        energy_words(held),
        held.legal().to_string().into(),
        discarded.into(),
        inner.into(),
    ]
}
