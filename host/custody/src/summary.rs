//! One line for each event, for lists and for the story of a cell.

use crate::event::{Arrival, Departure, Event, FollowUp, Irregularity, Look, Signed};
use jiff::civil::Date;

/// Returns what happened in one line: subject first, then what, then who answers for it.
pub fn summary(signed: &Signed) -> String {
    let what = what(&signed.event, signed.on);
    format!("{:<12} {} [{}, {}]", signed.event.subject(), what, signed.by, signed.on)
}

/// Says what happened against the rules; `on` is its day.
pub fn happened(told: &Irregularity, on: Date) -> String {
    let event = told.event.as_ref().map(|event| what(event, on));
    event.into_iter().chain(told.happened.clone()).collect::<Vec<_>>().join("; ")
}

fn what(event: &Event, on: Date) -> String {
    match event {
        Event::Judgement(event) => {
            let because = event.because.as_deref().map_or(String::new(), |text| format!(" ({text})"));
            format!("judged: {}{because}; {}", event.state, event.qualification)
        }
        Event::ContainerOpened(event) => {
            format!("container opened for {}, {}, stands {}", event.kind.words(), event.place, event.stands)
        }
        Event::CellPlaced(event) => {
            let inner =
                event.inner.as_deref().map_or(String::new(), |inner| format!(", inner packing {inner}"));
            let mass = event.weighed.map_or(String::new(), |mass| format!(", weighed {mass}"));
            format!("put into container {}{inner}{mass}", event.container)
        }
        Event::CellTakenOut(event) => format!("taken out of its container: {}", event.because),
        Event::CellWeighed(event) => format!("weighed {}", event.mass),
        Event::Hold(event) => format!(
            "under watch until {}, a look every {} d, lies {}: {}",
            event.until, event.every_days, event.stands, event.because
        ),
        Event::Inspection(event) => {
            let look = match event.look {
                Look::Unchanged => "unchanged",
                Look::Worse => "WORSE",
                Look::Active => "ACTIVE: hot, hissing, smoking or giving off gas",
            };
            let degrees = |celsius: Option<f64>| {
                celsius.map_or("not measured".to_owned(), |celsius| format!("{celsius} degC"))
            };
            let note = event.note.as_deref().map_or(String::new(), |note| format!("; {note}"));
            format!(
                "looked at: {look}; cell {}, air {}{note}",
                degrees(event.temperature_c),
                degrees(event.air_c)
            )
        }
        Event::Release(event) => format!("watch ended: {}", event.because),
        Event::Escalation(event) => format!("CRITICAL: {}", event.because),
        Event::TemperatureLook(event) => {
            format!("temperature looked at: cell {} degC, air {} degC", event.temperature_c, event.air_c)
        }
        Event::FindingReleased(event) => {
            format!("what entry {} found is ended: {}", event.entry, event.because)
        }
        Event::ShipmentDrafted(event) => format!(
            "papers drafted for container {}, {}, {} to {}, planned {}",
            event.containers().collect::<Vec<_>>().join(", "),
            cells(event.cells()),
            event.mode.words(),
            event.receiver,
            event.planned_on
        ),
        Event::ShipmentWithdrawn(event) => format!("draft given up: {}", event.because),
        Event::ReceiverAgreed(event) => format!("receiver agreed: {}", event.reference),
        Event::HandedOver(event) => {
            let code =
                event.waste_code.as_deref().map_or(String::new(), |code| format!(", waste code {code}"));
            format!(
                "handed over to {}, document {}{code}; checked by {}",
                event.received_by, event.document, event.checked_by
            )
        }
        Event::ShipmentFollowedUp(event) => followed_up(&event.follow_up),
        Event::CellLeft(event) => left(&event.departure, ""),
        Event::ContainerLeft(event) => left(&event.departure, &format!(" with {}", cells(event.cells.len()))),
        Event::CellReturned(event) => came_back(&event.arrival, ""),
        Event::ContainerReturned(event) => {
            came_back(&event.arrival, &format!(" with {}", cells(event.cells.len())))
        }
        Event::UsedRecord(event) => {
            format!("test record as a used cell, by {}; recall lists {}", event.company, event.recall.on)
        }
        Event::LifetimeRecord(event) => format!("lifetime record: {}", event.words(on)),
        Event::Fitted(event) => {
            let how = if event.stays { "to stay" } else { "for trial" };
            let unproven =
                event.unproven.as_deref().map_or(String::new(), |why| format!("; NOT PROVEN: {why}"));
            format!("fitted {how} in {}{unproven}", event.place())
        }
        Event::TakenOutOfDevice(event) => {
            let because = event.because.as_deref().map_or(String::new(), |text| format!(": {text}"));
            format!("taken out of its device{because}; to be screened again")
        }
        Event::Incident(event) => format!("INCIDENT: {}", event.words()),
        Event::LabelPutOn(event) => format!("labelled: {}", event.words()),
        Event::ContainerMoved(event) if event.corrected => format!(
            "where it stands was written down wrongly: {}, {}: {}",
            event.place, event.stands, event.because
        ),
        Event::ContainerMoved(event) => {
            format!("container moved to {}, {}: {}", event.place, event.stands, event.because)
        }
        Event::ContainerRepacked(event) => {
            let all = if event.all { "all of it, " } else { "" };
            let into =
                event.into.as_ref().map_or("out of it".to_owned(), |into| format!("into container {into}"));
            format!("repacked {into}, {all}{}: {}", things(event.cells.len()), event.because)
        }
        Event::Received(event) => event.words(),
        Event::Correction(event) => {
            let how = if event.strike { "struck" } else { "remark" };
            format!("{how} to entry {} ({}): {}", event.entry, event.of, event.because)
        }
        Event::Irregularity(event) => format!(
            "IRREGULAR: {}; against the rule: {}; what is done about it: {}",
            happened(event, on),
            event.breaks.join("; "),
            event.action
        ),
        Event::Remedy(event) => format!("irregularity of entry {} put right: {}", event.entry, event.done),
    }
}

fn left(departure: &Departure, with: &str) -> String {
    let document =
        departure.document.as_deref().map_or_else(String::new, |text| format!(", document {text}"));
    let because = departure.because.as_deref().map_or_else(String::new, |text| format!("; {text}"));
    let told = departure.told.as_deref().map_or_else(String::new, |text| format!("; told: {text}"));
    format!("LEFT{with}, {}{document}{because}{told}", departure.words())
}

fn came_back(arrival: &Arrival, with: &str) -> String {
    format!("CAME BACK{with}, {}: {}; to be screened again", arrival.words(), arrival.seen)
}

/// Says what followed a hand-over.
pub fn followed_up(follow_up: &FollowUp) -> String {
    match follow_up {
        FollowUp::Receipt { reference, net } => {
            let net = net.map_or_else(String::new, |net| format!(", weighed {net} net"));
            format!("receipt: {reference}{net}")
        }
        FollowUp::Certificate { number, issued_by } => format!("certificate {number} by {issued_by}"),
        FollowUp::Refused { refused_by, because, cells: refused } => {
            let which = refused.join(", ");
            format!("REFUSED by {refused_by}, {} ({which}): {because}", cells(refused.len()))
        }
        FollowUp::Settled { because } => format!("what was refused is settled: {because}"),
    }
}

fn things(count: usize) -> String {
    if count == 1 { "1 cell or thing".to_owned() } else { format!("{count} cells or things") }
}

/// Returns a number of cells in words.
pub fn cells(count: usize) -> String {
    if count == 1 { "1 cell".to_owned() } else { format!("{count} cells") }
}
