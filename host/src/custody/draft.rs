//! Draft papers of a shipment: built from a container, written as plain text.
//!
//! Takes a [`Request`] and the state; gives a [`ShipmentDrafted`], or the reason why there are no papers. Every page
//! says that it is a draft, to be checked by a trained person.

use crate::custody::check::{Circumstances, contents};
use crate::custody::event::{Mode, Purpose, ShipmentDrafted};
use crate::custody::papers::{Consignment, Need};
use crate::custody::refusal::Refusal;
use crate::custody::state::{Progress, Shipment, State};
use crate::custody::units::Milligrams;
use jiff::civil::Date;

/// Stands at the head and at the foot of every draft.
pub const DRAFT: &str = "draft, to be checked by a trained person";

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Request {
    /// Name of the shipment.
    pub shipment: String,
    /// The container that goes.
    pub container: String,
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
    if request.mode == Mode::Air {
        return Err(Refusal::Air);
    }
    let items = contents(state, &request.container, request.planned_on, circumstances)?;
    let Some(container) = state.containers.get(&request.container) else {
        return Err(Refusal::UnknownContainer(request.container.clone()));
    };
    let heaviest = items.iter().map(|item| item.mass).max().unwrap_or_default();
    if request.gross < heaviest {
        let text = format!(
            "the package was weighed as {}, but its heaviest cell is counted as {heaviest}; weigh the cells or check the figure",
            request.gross
        );
        return Err(Refusal::BadNumber(text));
    }
    let place = container.opened.place.clone();
    let waste_codes = circumstances.rules.waste_codes(&place, request.planned_on);
    let mut draft = ShipmentDrafted {
        shipment: request.shipment.clone(),
        container: request.container.clone(),
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
        damaged: draft.contents.iter().any(|item| item.state.counts_as_damaged()),
        cells: draft.contents.len(),
        heaviest: draft.contents.iter().map(|item| item.mass).max().unwrap_or_default(),
        largest: draft.contents.iter().map(|item| item.energy).max().unwrap_or_default(),
        net: draft.contents.iter().map(|item| item.mass).sum(),
        gross: draft.gross,
    }
}

/// Writes a shipment's papers as plain text.
pub fn text(shipment: &Shipment) -> String {
    let draft = &shipment.draft;
    let papers = &draft.papers;
    let mut out = format!(
        "{}\n\nshipment {} from container {}\n",
        DRAFT.to_uppercase(),
        draft.shipment,
        draft.container
    );
    let mut line = |name: &str, value: &str| out.push_str(&format!("  {name:<18}{value}\n"));
    line("from", draft.place.as_str());
    line("to", &draft.receiver);
    let agreed = shipment
        .agreed
        .as_ref()
        .map_or_else(|| "NOT YET".to_owned(), |(day, reference)| format!("on {day}: {reference}"));
    line("receiver agreed", &agreed);
    line("by, for", &format!("{}, {}", draft.mode.words(), draft.purpose.words()));
    line("planned day", &draft.planned_on.to_string());
    line("drafted", &format!("{} by {}", shipment.drafted_on, shipment.drafted_by));
    line("what", &format!("{}, {}, class {}", papers.un_number, papers.shipping_name, papers.class));
    let net: Milligrams = draft.contents.iter().map(|item| item.mass).sum();
    line("cells, net mass", &format!("{}, {net}", draft.contents.len()));
    line("packages", &format!("at least {}; gross mass of the heaviest {}", papers.packages, draft.gross));
    match (&shipment.handed_over, &shipment.progress) {
        (Some(handed), Progress::HandedOver { on }) => {
            line("HANDED OVER", &format!("{on} to {}, document {}", handed.received_by, handed.document));
            line("checked by", &format!("{}, {}", handed.checked_by, handed.training));
            line("waste code used", handed.waste_code.as_deref().unwrap_or("none"));
        }
        (_, Progress::Withdrawn) => line("WITHDRAWN", "not to be used"),
        _ => line("handed over", "not yet"),
    }

    out.push_str("\ncontents\n");
    for item in &draft.contents {
        let inner = item.inner.as_deref().map_or(String::new(), |inner| format!(", inner packing {inner}"));
        let decided = item.decided_on.map_or(String::new(), |day| format!(", discarded {day}"));
        let doubt = if item.mass_known { "" } else { " (NOT WEIGHED, worst case)" };
        out.push_str(&format!(
            "  {:<14}{}{doubt}, {}, {}{inner}{decided}; judged by {} (entry {})\n",
            item.cell, item.mass, item.energy, item.state, item.assessor, item.judgement
        ));
    }
    out.push_str("\nspecial provision and packing\n");
    list(&mut out, [&papers.provision, &papers.packing]);
    out.push_str("\nmarks on each package, exactly so\n");
    for mark in &papers.marks {
        let height = mark
            .letter_height_mm
            .map_or(String::new(), |height| format!(", letters at least {height} mm high"));
        out.push_str(&format!(
            "  \"{}\"{height}\n    [{}]{}\n",
            mark.words,
            mark.citation,
            verify(mark.verify)
        ));
    }
    if !papers.labels.is_empty() {
        out.push_str("\nlabels on each package\n");
        list(&mut out, &papers.labels);
    }
    out.push_str(&format!("\nwaste code on {}\n", draft.planned_on));
    if draft.waste_codes.is_empty() {
        out.push_str("  none is known here for this place; ask the waste authority\n");
    }
    for row in &draft.waste_codes {
        let hazardous = if row.hazardous { "hazardous waste" } else { "not listed as hazardous" };
        out.push_str(&format!(
            "  {}  {}; {hazardous}\n    [{}]{}\n",
            row.code,
            row.meaning,
            row.citation,
            verify(row.verify)
        ));
    }
    for (heading, needs) in [
        ("documents", &papers.documents),
        ("training", &papers.training),
        ("who must approve or be asked", &papers.approval),
    ] {
        out.push_str(&format!("\n{heading}\n"));
        list(&mut out, needs);
    }
    out.push_str("\ndoubts\n");
    for doubt in &papers.doubts {
        out.push_str(&format!("  {doubt}\n"));
    }
    out.push_str(&format!("\n{DRAFT}: name, training, date, signature\n"));
    out
}

fn list<'a>(out: &mut String, needs: impl IntoIterator<Item = &'a Need>) {
    for need in needs {
        out.push_str(&format!("  {}\n    [{}]{}\n", need.text, need.citation, verify(need.verify)));
    }
}

const fn verify(verify: bool) -> &'static str {
    if verify { " VERIFY with the authority" } else { "" }
}
