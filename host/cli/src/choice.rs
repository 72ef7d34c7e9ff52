//! Values of lower floors as words of the command line: no floor below this one knows clap.
//!
//! One table for each enum: value, word, other words that are taken too, help. Each word stands here once.

use crate::error::Error;
use celltriage_custody::event::{
    Consent, ContainerKind, Look, Mode, ReceivedAs, RestsOn, WayBack, WayOut, Whose,
};
use celltriage_instrument::calibration::Quantity;
use celltriage_measure::observation::DeviceDid;
use celltriage_measure::plan::Extent;
use celltriage_rules::{Action, PlaceCode, PlaceCodeError, Presents, Purpose};
use celltriage_verdict::{CameAs, Fate, LifeEvent, Source};
use celltriage_workshop::fixture::known::Charted;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

/// One value of an option.
#[derive(Clone, Copy, Debug)]
pub struct Choice<T: 'static> {
    value: T,
    word: &'static str,
    also: &'static [&'static str],
    help: &'static str,
}

const fn choice<T>(value: T, word: &'static str, help: &'static str) -> Choice<T> {
    Choice { value, word, also: &[], help }
}

const PROOF: Choice<Extent> = choice(
    Extent::Proof,
    "proof",
    "The screen and a discharge at up to 0.5 It, then 0.2 It, ended as soon as the answer is settled: about two hours, from a full \
     charge",
);
const FULL: Choice<Extent> = choice(
    Extent::Full,
    "full",
    "The screen and a full discharge at 0.2 It, as IEC 61960-3 has it: about five hours, from a full charge",
);

/// How much `assess` measures.
pub const EXTENTS: [Choice<Extent>; 4] = [
    choice(
        Extent::Rest,
        "rest",
        "Rest voltage and temperatures only, without any load: for a second visit, about two minutes",
    ),
    choice(
        Extent::Screen,
        "screen",
        "Rest voltage, resistances, temperatures: about two and a half minutes. Can reject, never proves capacity",
    ),
    PROOF,
    FULL,
];

/// How `guided` discharges a full cell.
pub const DISCHARGES: [Choice<Extent>; 2] = [PROOF, FULL];

/// What was decided, as a filter takes it.
pub const FATES: [Choice<Fate>; 4] = [
    choice(Fate::Reuse, "reuse", "May serve again"),
    choice(Fate::Undecided, "undecided", "Nothing found against it, and not enough known for it"),
    choice(Fate::Recycle, "recycle", "At the end of its life"),
    choice(Fate::Quarantine, "quarantine", "Kept apart"),
];

/// How a cell presents itself before anybody touches it.
pub const PRESENTS: [Choice<Presents>; 10] = [
    Choice {
        also: &["hot", "hissing", "smoking"],
        ..choice(Presents::ActiveNow, "active-now", "Hot, hissing, smoking or smelling now")
    },
    choice(Presents::Swollen, "swollen", "Thicker than it was made"),
    choice(Presents::Leaking, "leaking", "Wet or sticky, and as cool as the air"),
    choice(Presents::Punctured, "punctured", "With a hole, cut or tear in its casing"),
    choice(Presents::Warming, "warming", "Warmer than the air around it, by itself"),
    choice(Presents::InternalShort, "internal-short", "Losing charge although nothing is connected"),
    choice(Presents::DeeplyDischarged, "deeply-discharged", "Far below its end-of-discharge voltage"),
    choice(Presents::OverCharged, "over-charged", "Above its charge limit"),
    choice(Presents::Unknown, "unknown", "Nobody has looked, or nobody can tell"),
    choice(Presents::Intact, "intact", "Looked at all over, no sign found"),
];

/// What one wants to do with a cell.
pub const ACTIONS: [Choice<Action>; 6] = [
    choice(Action::Touch, "touch", "Take it in the hand"),
    choice(Action::Move, "move", "Carry it to another place"),
    choice(Action::Store, "store", "Keep it"),
    choice(Action::Ship, "ship", "Pack it and send it away"),
    choice(Action::Charge, "charge", "Charge it"),
    choice(Action::Discharge, "discharge", "Discharge it"),
];

/// For what waste cells are sent.
pub const PURPOSES: [Choice<Purpose>; 2] =
    [choice(Purpose::Recycling, "recycling", "Recycling"), choice(Purpose::Disposal, "disposal", "Disposal")];

/// What a container holds.
pub const CONTAINER_KINDS: [Choice<ContainerKind>; 3] = [
    choice(ContainerKind::Intact, "intact", "Waste cells that are judged intact"),
    choice(
        ContainerKind::Damaged,
        "damaged",
        "Damaged, defective and unjudged cells, each in an inner packing of its own",
    ),
    choice(ContainerKind::Quarantine, "quarantine", "Cells under watch, each in an inner packing of its own"),
];

/// How a watched cell looks.
pub const LOOKS: [Choice<Look>; 3] = [
    choice(Look::Unchanged, "unchanged", "As before"),
    choice(Look::Worse, "worse", "Thicker, wetter, warmer, another colour"),
    choice(Look::Active, "active", "Hot, hissing, smoking, giving off gas"),
];

/// By what a shipment goes.
pub const MODES: [Choice<Mode>; 4] = [
    choice(Mode::Road, "road", "Road"),
    choice(Mode::Rail, "rail", "Rail"),
    choice(Mode::Sea, "sea", "Sea"),
    choice(Mode::Air, "air", "Air: always refused"),
];

/// How something leaves without a shipment.
pub const WAYS_OUT: [Choice<WayOut>; 9] = [
    choice(WayOut::HandedBack, "handed-back", "Handed back to its owner"),
    choice(WayOut::Sold, "sold", "Sold as a used cell"),
    choice(WayOut::Refurbisher, "refurbisher", "Given to somebody who refurbishes"),
    choice(
        WayOut::Recycler,
        "recycler",
        "Handed to a recycler without a shipment: waste without damage only",
    ),
    choice(WayOut::Lost, "lost", "Nobody knows where it is"),
    choice(WayOut::Stolen, "stolen", "Stolen"),
    choice(WayOut::Burnt, "burnt", "Burnt in the shop"),
    choice(WayOut::TakenApart, "taken-apart", "Taken apart"),
    choice(WayOut::Authority, "authority", "Taken by an authority: fire service, police, customs"),
];

/// How something comes back.
pub const WAYS_BACK: [Choice<WayBack>; 4] = [
    choice(WayBack::Carrier, "carrier", "Returned by the carrier"),
    choice(WayBack::Refused, "refused", "Refused by whoever was to take it"),
    choice(WayBack::Found, "found", "Found again"),
    choice(WayBack::BroughtBack, "brought-back", "Brought back by whoever had it"),
];

/// As what something is received.
pub const RECEIVED_AS: [Choice<ReceivedAs>; 5] = [
    choice(ReceivedAs::Cell, "cell", "A cell"),
    choice(ReceivedAs::Pack, "pack", "A battery of several cells"),
    choice(ReceivedAs::DeviceWithin, "device-within", "A device with its battery in it"),
    choice(ReceivedAs::DeviceBeside, "device-beside", "A device with its battery beside it"),
    choice(ReceivedAs::Lot, "lot", "Loose cells, weighed and counted as one"),
];

/// Whose something is.
pub const WHOSE: [Choice<Whose>; 4] = [
    choice(Whose::Ours, "ours", "The shop's own"),
    choice(Whose::Bringer, "bringer", "Of whoever brought it"),
    choice(Whose::Other, "other", "Of somebody else"),
    choice(Whose::NotKnown, "not-known", "Nobody knows"),
];

/// Whether something may be discarded, as far as it is about whose it is.
pub const CONSENTS: [Choice<Consent>; 3] = [
    choice(Consent::Given, "yes", "It may be discarded"),
    choice(Consent::Refused, "no", "It may not"),
    choice(Consent::NotAsked, "not-asked", "Nobody has asked"),
];

/// What a mass or an energy rests on.
pub const RESTS_ON: [Choice<RestsOn>; 3] = [
    choice(RestsOn::Measured, "measured", "A scale or a meter"),
    choice(RestsOn::Label, "label", "The label"),
    choice(RestsOn::Estimated, "estimated", "A guess of the person who writes"),
];

/// What of a fixture is calibrated.
pub const QUANTITIES: [Choice<Quantity>; 3] = [
    choice(Quantity::Voltage, "voltage", "The voltage channel, at two points"),
    choice(Quantity::Current, "current", "The current channel, at two points"),
    choice(Quantity::Thermometers, "thermometers", "The offsets of both thermometers, at one point"),
];

/// Which value of a check standard a chart shows.
pub const CHARTED: [Choice<Charted>; 2] = [
    choice(Charted::Resistance, "resistance", "Its resistance"),
    choice(Charted::Source, "source", "The voltage of its source"),
];

/// What a device did with the cell in it.
pub const DEVICE_DID: [Choice<DeviceDid>; 3] = [
    choice(DeviceDid::HotWhileCharging, "hot-while-charging", "It became hot while it was charged"),
    choice(DeviceDid::DoesNotStart, "does-not-start", "It does not start"),
    choice(DeviceDid::ShutsOff, "shuts-off", "It shuts off under load"),
];

/// As what a cell came.
pub const CAME_AS: [Choice<CameAs>; 3] = [
    choice(CameAs::FromDevice, "from-device", "Taken out of a device"),
    Choice { also: &["spare"], ..choice(CameAs::NewSpare, "new-spare", "A new spare, of unknown worth") },
    choice(CameAs::UsedSpare, "used-spare", "A spare that has served before, of unknown worth"),
];

/// What a record of a cell's life rests on.
pub const SOURCES: [Choice<Source>; 4] = [
    choice(Source::Gauge, "gauge", "The device's own gauge"),
    choice(Source::Label, "label", "The label of the cell or of the device"),
    choice(Source::Customer, "customer", "The customer's word"),
    choice(Source::Workshop, "workshop", "What this workshop has seen or noted"),
];

const SHORT: Choice<LifeEvent> = choice(LifeEvent::ShortCircuit, "short", "A short circuit");
const OVERHEATED: Choice<LifeEvent> =
    choice(LifeEvent::Overheated, "overheated", "It, or its device, was overheated");
const WETTED: Choice<LifeEvent> = choice(LifeEvent::Wetted, "wetted", "It, or its device, was wetted");
const DROPPED: Choice<LifeEvent> = choice(LifeEvent::Dropped, "dropped", "It, or its device, was dropped");
const REPAIRED: Choice<LifeEvent> = choice(LifeEvent::Repaired, "repaired", "Its device was repaired");
const OTHER: Choice<LifeEvent> = choice(LifeEvent::Other, "other", "Something else; the note says what");

/// What may have happened to a cell before it came.
pub const PAST_EVENTS: [Choice<LifeEvent>; 6] = [SHORT, OVERHEATED, WETTED, DROPPED, REPAIRED, OTHER];

/// What may happen to a cell here.
pub const INCIDENTS: [Choice<LifeEvent>; 5] = [SHORT, OVERHEATED, WETTED, DROPPED, OTHER];

/// Returns whether a word stands for this value, in large or small letters.
pub fn stands_for<T: PartialEq>(table: &[Choice<T>], value: &T, typed: &str) -> bool {
    let typed = typed.trim().to_lowercase();
    let words = |one: &Choice<T>| one.word == typed || one.also.contains(&typed.as_str());
    table.iter().any(|one| one.value == *value && words(one))
}

/// Reads the code of a place.
///
/// # Errors
/// An input error where it is none.
pub fn read_place(text: &str) -> Result<PlaceCode, Error> {
    text.parse().map_err(|error: PlaceCodeError| Error::input(error.to_string()))
}

/// Reads the place that an option names, or none: an empty text takes back what is set.
///
/// # Errors
/// As [`read_place`].
pub fn place_named(given: Option<&str>) -> Result<Option<PlaceCode>, Error> {
    given.filter(|text| !text.is_empty()).map(read_place).transpose()
}

/// Reads one of the words of a table.
pub fn one_of<T: Copy + Send + Sync + 'static>(
    table: &'static [Choice<T>],
) -> impl TypedValueParser<Value = T> {
    let words = table.iter().map(|one| PossibleValue::new(one.word).aliases(one.also).help(one.help));
    PossibleValuesParser::new(words).try_map(|typed: String| {
        // In capitals too, where the option takes them.
        let typed = typed.to_lowercase();
        let found = table.iter().find(|one| one.word == typed || one.also.contains(&typed.as_str()));
        found.map(|one| one.value).ok_or("not one of the words above")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn is_whole<T: Copy + PartialEq + std::fmt::Debug>(table: &[Choice<T>], all: &[T]) {
        assert_eq!(table.iter().map(|one| one.value).collect::<Vec<_>>(), all);
        let words: Vec<&str> =
            table.iter().flat_map(|one| one.also.iter().copied().chain([one.word])).collect();
        assert_eq!(words.iter().collect::<BTreeSet<_>>().len(), words.len(), "a word means one thing");
        assert!(table.iter().all(|one| !one.help.is_empty() && !one.help.ends_with('.')));
    }

    #[test]
    fn every_value_has_its_word() {
        is_whole(&EXTENTS, &[Extent::Rest, Extent::Screen, Extent::Proof, Extent::Full]);
        is_whole(&PRESENTS, &Presents::ALL);
        is_whole(&FATES, &Fate::ALL);
        assert!(FATES.iter().all(|one| one.word == one.value.key()));
        is_whole(&ACTIONS, &Action::ALL);
        is_whole(&QUANTITIES, &[Quantity::Voltage, Quantity::Current, Quantity::Thermometers]);
        is_whole(&CHARTED, &[Charted::Resistance, Charted::Source]);
        is_whole(&DEVICE_DID, &DeviceDid::ALL);
        is_whole(&CAME_AS, &[CameAs::FromDevice, CameAs::NewSpare, CameAs::UsedSpare]);
        is_whole(&SOURCES, &[Source::Gauge, Source::Label, Source::Customer, Source::Workshop]);
        let happens = [LifeEvent::ShortCircuit, LifeEvent::Overheated, LifeEvent::Wetted, LifeEvent::Dropped];
        is_whole(&INCIDENTS, &[&happens[..], &[LifeEvent::Other]].concat());
        is_whole(&PAST_EVENTS, &[&happens[..], &[LifeEvent::Repaired, LifeEvent::Other]].concat());
        is_whole(&WAYS_OUT, &WayOut::ALL);
        is_whole(&WAYS_BACK, &WayBack::ALL);
        is_whole(&RECEIVED_AS, &ReceivedAs::ALL);
        is_whole(&WHOSE, &Whose::ALL);
        is_whole(&CONSENTS, &Consent::ALL);
        is_whole(&RESTS_ON, &RestsOn::ALL);
        is_whole(&PURPOSES, &[Purpose::Recycling, Purpose::Disposal]);
    }

    #[test]
    fn a_word_and_its_other_words_are_read_and_nothing_else() {
        #[derive(clap::Parser)]
        struct Typed {
            #[arg(long, value_parser = one_of(&PRESENTS))]
            condition: Presents,
        }
        let read = |word| <Typed as clap::Parser>::try_parse_from(["x", "--condition", word]);
        assert_eq!(read("active-now").unwrap().condition, Presents::ActiveNow);
        assert_eq!(read("hissing").unwrap().condition, Presents::ActiveNow);
        assert!(read("Swollen").is_err() && read("").is_err());
    }
}
