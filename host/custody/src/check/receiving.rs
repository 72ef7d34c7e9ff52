//! Checks of what is received, and of what belongs to somebody else.

use crate::cell::Cell;
use crate::event::{Received, ReceivedAs, RestsOn, Whose};
use crate::lookup::{may_be_new, one_line};
use crate::refusal::Refusal;
use crate::state::State;
use crate::units::{Milligrams, MilliwattHours};

pub(super) fn received(state: &State, event: &Received) -> Result<(), Refusal> {
    let name = &event.cell;
    let cell = may_be_new(state, name)?;
    if (Received { photographs: Vec::new(), ..event.clone() }) == Received::of(name)
        && event.photographs.is_empty()
    {
        return Err(Refusal::EmptyRecord(name.clone()));
    }
    for (what, text) in [
        ("name of who brought it", &event.from),
        ("place where it was found", &event.found),
        ("name of its owner", &event.owner),
        ("note", &event.note),
    ] {
        text.iter().try_for_each(|text| one_line(what, text))?;
    }
    event.photographs.iter().try_for_each(|name| one_line("name of a photograph", name))?;
    figures(event)?;
    let no = |why: &str| Err(Refusal::BadReceipt { cell: name.clone(), why: why.to_owned() });
    if event.owner.is_some() && event.whose == Some(Whose::Ours) {
        return no("what is the shop's own has no other owner");
    }
    let was = cell.and_then(Cell::is_as);
    let is = event.is.or(was);
    if let (Some(ReceivedAs::Lot), Some(now)) = (was, event.is)
        && now != ReceivedAs::Lot
    {
        return no("a lot stays a lot: what is taken out of it is received under a name of its own");
    }
    if event.is == Some(ReceivedAs::Lot) && cell.is_some_and(|cell| cell.facts.is_some()) {
        return no("somebody has assessed it as a cell, and a lot is another thing");
    }
    let of_lot = event.count.is_some() || event.heaviest.is_some() || event.largest.is_some();
    if of_lot && is != Some(ReceivedAs::Lot) {
        return no("only a lot is counted, with a heaviest and a largest cell");
    }
    // Whoever stands before something that reacts says what is seen, and goes.
    let new = cell.is_none_or(|cell| !cell.is_received() && cell.facts.is_none());
    if !new || event.is_urgent() {
        return Ok(());
    }
    if is.is_none() {
        return no("nobody has said what it is");
    }
    if event.from.is_none() && event.found.is_none() {
        return no("nobody has said who brought it or where it was found");
    }
    let weighed = event.mass.is_some_and(|mass| mass.rests_on == RestsOn::Measured);
    if is == Some(ReceivedAs::Lot) && (event.count.is_none() || !weighed) {
        return no("a lot is counted and weighed");
    }
    Ok(())
}

fn figures(event: &Received) -> Result<(), Refusal> {
    let masses = [event.mass, event.heaviest].into_iter().flatten();
    let energies = [event.energy, event.largest].into_iter().flatten();
    let zero = masses.into_iter().any(|mass| mass.value == Milligrams(0))
        || energies.into_iter().any(|energy| energy.value == MilliwattHours(0))
        || event.count == Some(0);
    if zero {
        return Err(Refusal::BadNumber(
            "what is received has a mass, an energy and a count above zero".to_owned(),
        ));
    }
    let more = |one: bool, what: &str| {
        let text = format!("the {what} of a lot has no more than all of it");
        if one { Err(Refusal::BadNumber(text)) } else { Ok(()) }
    };
    let mass = event.heaviest.zip(event.mass).is_some_and(|(one, all)| one.value > all.value);
    let energy = event.largest.zip(event.energy).is_some_and(|(one, all)| one.value > all.value);
    more(mass, "heaviest cell").and_then(|()| more(energy, "largest cell"))
}

/// Says that something is not the shop's to discard, where it is not.
///
/// # Errors
/// Whose it is, and what was said.
pub(crate) fn may_be_discarded(name: &str, cell: &Cell) -> Result<(), Refusal> {
    match cell.lacks_consent() {
        Some(why) => Err(Refusal::NoConsent { cell: name.to_owned(), why }),
        None => Ok(()),
    }
}
