//! Draft papers of a shipment: built from a container.
//!
//! Takes a [`Request`] and the state; gives a [`ShipmentDrafted`], or the reason why there are no papers.

use crate::circumstances::Circumstances;
use crate::contents::of_all;
use crate::event::{Mode, Purpose, ShipmentDrafted};
use crate::papers::Consignment;
use crate::refusal::Refusal;
use crate::state::State;
use crate::units::Milligrams;
use celltriage_rules::Goods;
use jiff::civil::Date;

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Request {
    /// Name of the shipment.
    pub shipment: String,
    /// The container that goes.
    pub container: String,
    /// Further containers that go with it, from the same place and of the same kind.
    pub more: Vec<String>,
    /// By what.
    pub mode: Mode,
    /// For what.
    pub purpose: Purpose,
    /// To whom.
    pub receiver: String,
    /// On what day.
    pub planned_on: Date,
    /// Gross mass of the heaviest package, as weighed.
    pub gross: Milligrams,
}

/// Builds the papers.
///
/// # Errors
/// Why there are none: by air, a critical cell, an unjudged one, a wrong mix, a local rule.
pub fn build(
    state: &State,
    request: &Request,
    circumstances: &Circumstances<'_>,
) -> Result<ShipmentDrafted, Refusal> {
    not_by_air(state, &request.container, request.mode, request.planned_on, circumstances)?;
    let all = std::iter::once(&request.container).chain(&request.more).map(String::as_str);
    let items = of_all(state, all, request.planned_on, circumstances)?;
    let Some(container) = state.containers.get(&request.container) else {
        return Err(Refusal::UnknownContainer(request.container.clone()));
    };
    let heaviest = items.iter().map(|item| item.mass).max().unwrap_or_default();
    if request.gross < heaviest {
        let text = format!(
            "the package was weighed as {}, but its heaviest cell or thing is counted as {heaviest}; weigh what is in it or check the figure",
            request.gross
        );
        return Err(Refusal::BadNumber(text));
    }
    let place = container.opened.place.clone();
    let waste_codes = circumstances.rules.waste_codes(&place, request.planned_on);
    let mut draft = ShipmentDrafted {
        shipment: request.shipment.clone(),
        container: request.container.clone(),
        more: request.more.clone(),
        place,
        mode: request.mode,
        purpose: request.purpose,
        receiver: request.receiver.clone(),
        planned_on: request.planned_on,
        gross: request.gross,
        contents: items,
        papers: Default::default(),
        waste_codes,
    };
    draft.papers = circumstances.rules.papers(&consignment(&draft, request.planned_on));
    Ok(draft)
}

/// Returns what the rules are asked about a draft that leaves on a day.
pub fn consignment(draft: &ShipmentDrafted, date: Date) -> Consignment<'_> {
    Consignment {
        place: &draft.place,
        date,
        mode: draft.mode,
        purpose: draft.purpose,
        state: draft.contents.iter().map(|item| item.state).max().unwrap_or_default(),
        goods: Goods::ALL.map(|goods| draft.contents.iter().any(|item| item.goods() == goods)),
        containers: draft.containers().count(),
        cells: draft.cells(),
        heaviest: draft
            .contents
            .iter()
            .map(|item| item.heaviest.unwrap_or(item.mass))
            .max()
            .unwrap_or_default(),
        largest: draft
            .contents
            .iter()
            .map(|item| item.largest.unwrap_or(item.energy))
            .max()
            .unwrap_or_default(),
        net: draft.contents.iter().map(|item| item.mass).sum(),
        gross: draft.gross,
    }
}

/// Refuses carriage by air, whatever the packs say: there are no papers for it here. The words are those of the nearest
/// law.
///
/// # Errors
/// Always for air.
pub fn not_by_air(
    state: &State,
    container: &str,
    mode: Mode,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    if mode != Mode::Air {
        return Ok(());
    }
    let worst = state.cells_in(container).map(|(_, cell)| cell.legal()).max().unwrap_or_default();
    let place = state.containers.get(container).map(|found| &found.opened.place);
    let by_rule = place.and_then(|place| circumstances.rules.forbids_by(place, on, worst, mode));
    Err(Refusal::Air(by_rule.unwrap_or_else(|| "waste and damaged cells do not fly".to_owned())))
}
