//! The containers and the shipments, one line for each, in columns that stay whatever the width: a line is one thing.

use crate::container_page::stage;
use celltriage_custody::state::{Progress, Shipment, State};
use celltriage_custody::summary::cells;
use celltriage_document::document::{Document, Verbatim};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::SIMULATED;

/// Lists the containers.
pub fn containers_page(state: &State) -> Document {
    let rows = state.containers.iter().map(|(name, container)| {
        let opened = &container.opened;
        format!(
            "{name:<14} {:<27} {:>9} {:>10} {:>10}  {} {}{}{}{}",
            opened.kind.words(),
            cells(state.count_in(name)),
            state.mass_in(name).to_string(),
            state.energy_in(name).to_string(),
            opened.place,
            opened.stands,
            stage(container).said(),
            guessed(state, name),
            mark(state.holds_simulated(name)),
        )
    });
    page(Phrase::ContainersTitle, rows)
}

/// Lists the shipments.
pub fn shipments_page(state: &State) -> Document {
    let rows = state.shipments.iter().map(|(name, shipment)| {
        let draft = &shipment.draft;
        format!(
            "{name:<14} container {:<14} {} to {}; {}{}",
            draft.containers().collect::<Vec<_>>().join(", "),
            cells(draft.cells()),
            draft.receiver,
            progress(shipment).said(),
            mark(state.simulated_in(draft).is_some()),
        )
    });
    page(Phrase::ShipmentsTitle, rows)
}

fn page(title: Phrase, rows: impl Iterator<Item = String>) -> Document {
    let mut page = Document::page(title);
    // A name may hold a line end; it is spelt out, and the row stays one line.
    for row in rows {
        page.push(Verbatim { indent: 0, text: celltriage_document::plain::plain(&row).into() });
    }
    page
}

fn guessed(state: &State, name: &str) -> &'static str {
    if state.is_estimated_in(name) { Phrase::WithEstimates.english() } else { "" }
}

fn mark(simulated: bool) -> String {
    if simulated { format!(" [{SIMULATED}]") } else { String::new() }
}

fn progress(shipment: &Shipment) -> Text {
    match shipment.progress {
        Progress::Drafted if shipment.agreed.is_none() => Phrase::DraftedUnasked.into(),
        Progress::Drafted => Phrase::DraftedAgreed.into(),
        Progress::Withdrawn => Phrase::Withdrawn.into(),
        Progress::HandedOver { on } => {
            let mut told: Text = say!(HandedOverOn, day = on);
            if !shipment.returned.is_empty() {
                let (count, all) = (shipment.returned.len(), shipment.draft.contents.len());
                told = told.and(say!(CameBack, count = count, all = all));
            }
            if !shipment.refused.is_empty() {
                told = told.and(say!(RefusedCells, cells = shipment.refused.join(", ")));
            }
            told
        }
    }
}
