//! Things received, for tests.

use crate::event::{Consent, Event, Received, ReceivedAs, RestsOn, Stated, Symptom, Whose};
use crate::units::{Milligrams, MilliwattHours};
use celltriage_measure::observation::Sign;

/// Something of the shop's own, with every sign looked for and none found.
pub fn receipt(cell: &str, is: ReceivedAs) -> Received {
    let lot = is == ReceivedAs::Lot;
    let stated = |value, rests_on| Stated { value, rests_on };
    Received {
        is: Some(is),
        labelled: Some(false),
        found: Some("crate by the door".to_owned()),
        signs: Sign::ALL.into_iter().map(|sign| (sign, Symptom::No)).collect(),
        whose: Some(Whose::Ours),
        mass: Some(Stated { value: Milligrams::grams(310), rests_on: RestsOn::Measured }),
        energy: Some(Stated { value: MilliwattHours::watt_hours(15), rests_on: RestsOn::Estimated }),
        count: lot.then_some(7),
        heaviest: lot.then(|| stated(Milligrams::grams(48), RestsOn::Estimated)),
        ..Received::of(cell)
    }
}

/// The same as an event, with something changed.
pub fn received(cell: &str, is: ReceivedAs, change: impl FnOnce(&mut Received)) -> Event {
    let mut told = receipt(cell, is);
    change(&mut told);
    Event::Received(Box::new(told))
}

/// The same of somebody else, who was not asked yet.
pub fn received_of_somebody(cell: &str, is: ReceivedAs) -> Event {
    received(cell, is, |told| {
        told.found = None;
        told.from = Some("Mara Quill".to_owned());
        told.whose = Some(Whose::Bringer);
        told.consent = Some(Consent::NotAsked);
    })
}

/// More that is said of a thing.
pub fn added(cell: &str, change: impl FnOnce(&mut Received)) -> Event {
    let mut told = Received::of(cell);
    change(&mut told);
    Event::Received(Box::new(told))
}

/// What its owner says.
pub fn consented(cell: &str, consent: Consent) -> Event {
    added(cell, |told| told.consent = Some(consent))
}
