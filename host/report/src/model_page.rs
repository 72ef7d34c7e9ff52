//! The cells of one model, their spread, and what is expected of one more.

use celltriage_assessment::health::{Reading, Sibling};
use celltriage_document::document::{Document, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::{FIRST_LINE, SIMULATED};
use celltriage_measure::normal_model::{FEWEST_CELLS, Population};
use celltriage_verdict::{figure, figure_with_doubt};

/// What the page of a model is made of.
#[derive(Clone, Copy, Debug)]
pub struct ModelShown<'a> {
    /// Name of the model.
    pub name: &'a str,
    /// Its cells.
    pub cells: &'a [Sibling],
    /// Whether they are simulated.
    pub simulated: bool,
    /// How many simulated cells were left out.
    pub left_out: usize,
    /// What its used cells are like in capacity, where there are enough.
    pub capacity: Option<&'a Population>,
    /// The same in resistance.
    pub resistance: Option<&'a Population>,
}

/// Puts the page together.
pub fn model_page(of: &ModelShown<'_>) -> Document {
    let mut page = Document::page(say!(ModelTitle, name = of.name));
    if of.simulated {
        page.notice(FIRST_LINE);
    }
    page.push(Paragraph::of(say!(ModelHead, name = of.name, count = of.cells.len())).hanging(2));
    if of.left_out > 0 {
        let text = say!(ModelLeftOut, simulated = SIMULATED, count = of.left_out);
        page.push(Paragraph::of(text).indented(2));
    }
    let shown = |reading: Option<&Reading>, unit| {
        let known = reading.map(|reading| &reading.known);
        known.map_or_else(
            || "-".to_owned(),
            |known| figure_with_doubt(known.value, known.standard_uncertainty, unit),
        )
    };
    let headings =
        [Phrase::Cell, Phrase::Entry, Phrase::State, Phrase::CapacityOfRated, Phrase::ResistanceAt25];
    let mut table = Table::under(headings).widest(&[20, 6, 6, 20]);
    for cell in of.cells {
        let resistance = shown(cell.resistance_25c.as_ref(), "ohm");
        let resistance = match cell.sensed_at {
            Some(place) => format!("{resistance}, {}", place.words()),
            None => resistance,
        };
        table.row([
            Text::from(cell.cell.as_str()),
            cell.entry.to_string().into(),
            if cell.new { Phrase::New } else { Phrase::Used }.into(),
            shown(cell.capacity_fraction.as_ref(), "1").into(),
            resistance.into(),
        ]);
    }
    page.push(table);
    let quantities =
        [(Phrase::CapacityOfRated, of.capacity, "1"), (Phrase::ResistanceAt25, of.resistance, "ohm")];
    for (what, found, unit) in quantities {
        page.push(Paragraph::of(expected(what.english(), found, unit)).indented(2));
    }
    page.push(Paragraph::of(Phrase::NoMeasurement).indented(2));
    page
}

fn expected(what: &str, found: Option<&Population>, unit: &str) -> Text {
    let Some(found) = found else { return say!(FewerThan, what = what, least = FEWEST_CELLS) };
    say!(
        MeanOf,
        what = what,
        count = found.cells,
        mean = figure_with_doubt(found.mean.value, found.mean.standard_uncertainty, unit),
        spread = figure(found.spread, unit),
        expected = figure_with_doubt(found.expected.value, found.expected.standard_uncertainty, unit),
    )
}
