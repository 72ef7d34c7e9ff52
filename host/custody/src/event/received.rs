//! Something that comes into the shop, as it was received: nothing was measured, and from this moment on it is held here.

use crate::units::{Milligrams, MilliwattHours};
use celltriage_measure::observation::{Answer, Sign};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// As what something is received.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReceivedAs {
    /// A cell.
    Cell,
    /// A battery of several cells.
    Pack,
    /// A device with its battery in it.
    DeviceWithin,
    /// A device with its battery beside it.
    DeviceBeside,
    /// Loose cells, weighed and counted as one.
    Lot,
}

impl ReceivedAs {
    /// All, in the order of this list.
    pub const ALL: [Self; 5] = [Self::Cell, Self::Pack, Self::DeviceWithin, Self::DeviceBeside, Self::Lot];

    /// Returns whether it is a device with its battery.
    pub const fn is_device(self) -> bool {
        matches!(self, Self::DeviceWithin | Self::DeviceBeside)
    }

    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cell => "a cell",
            Self::Pack => "a battery pack",
            Self::DeviceWithin => "a device with its battery in it",
            Self::DeviceBeside => "a device with its battery beside it",
            Self::Lot => "a lot of loose cells",
        }
    }
}

/// What was told of a sign; one that is not named was not looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Symptom {
    /// It shows.
    Yes,
    /// Looked for, and not found.
    No,
    /// Looked for, and nobody can tell.
    CannotBeTold,
}

impl Symptom {
    /// All, in the order of this list.
    pub const ALL: [Self; 3] = [Self::Yes, Self::No, Self::CannotBeTold];

    /// Returns it as the checklist takes it: what cannot be told is as open as what nobody has looked for.
    pub const fn answer(self) -> Answer {
        match self {
            Self::Yes => Answer::Yes,
            Self::No => Answer::No,
            Self::CannotBeTold => Answer::NotObserved,
        }
    }
}

/// Whose something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Whose {
    /// The shop's own.
    Ours,
    /// Of whoever brought it.
    Bringer,
    /// Of somebody else.
    Other,
    /// Nobody knows.
    NotKnown,
}

impl Whose {
    /// All, in the order of this list.
    pub const ALL: [Self; 4] = [Self::Ours, Self::Bringer, Self::Other, Self::NotKnown];

    /// Returns it in words, as they follow "it is".
    pub const fn words(self) -> &'static str {
        match self {
            Self::Ours => "the shop's own",
            Self::Bringer => "of whoever brought it",
            Self::Other => "somebody else's",
            Self::NotKnown => "nobody knows whose",
        }
    }
}

/// Whether whose it is agrees that it is discarded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Consent {
    /// It may be discarded.
    Given,
    /// It may not.
    Refused,
    /// Nobody has asked.
    NotAsked,
}

impl Consent {
    /// All, in the order of this list.
    pub const ALL: [Self; 3] = [Self::Given, Self::Refused, Self::NotAsked];

    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Given => "consent to discard given",
            Self::Refused => "consent to discard refused",
            Self::NotAsked => "consent to discard not asked",
        }
    }
}

/// What a mass or an energy rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RestsOn {
    /// A scale or a meter.
    Measured,
    /// The label.
    Label,
    /// A guess of the person who writes.
    Estimated,
}

impl RestsOn {
    /// All, in the order of this list.
    pub const ALL: [Self; 3] = [Self::Measured, Self::Label, Self::Estimated];

    /// Returns it in words, as they follow a figure.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Label => "from the label",
            Self::Estimated => "estimated",
        }
    }
}

/// A figure and what it rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stated<T> {
    /// The figure.
    pub value: T,
    /// What it rests on.
    pub rests_on: RestsOn,
}

impl<T: std::fmt::Display> Stated<T> {
    /// Says the figure, marked with what it rests on.
    pub fn words(&self) -> String {
        format!("{} ({})", self.value, self.rests_on.words())
    }
}

/// Something received. The first record of it says what it is; a later one adds to the earlier ones or corrects them, fact by fact.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Received {
    /// The name that it is kept under.
    pub cell: String,
    /// What it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<ReceivedAs>,
    /// Whether it bears a label that can be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub labelled: Option<bool>,
    /// Who brought it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Where it was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
    /// What was seen of it, by sign.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub signs: BTreeMap<Sign, Symptom>,
    /// Whose it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whose: Option<Whose>,
    /// The name of whose it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// Whether it may be discarded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub consent: Option<Consent>,
    /// Names of the photographs that are kept with the entry.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photographs: Vec<String>,
    /// Its mass: of a device with the device.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<Stated<Milligrams>>,
    /// The energy of all its cells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub energy: Option<Stated<MilliwattHours>>,
    /// How many cells a lot has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Mass of the heaviest cell of a lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heaviest: Option<Stated<Milligrams>>,
    /// Energy of the largest cell of a lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub largest: Option<Stated<MilliwattHours>>,
    /// What else is to be said; it counts for nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Received {
    /// Begins a record that says nothing yet.
    pub fn of(cell: &str) -> Self {
        Self { cell: cell.to_owned(), ..Self::default() }
    }

    /// Returns whether somebody has looked at the thing itself, or says what it is: a judgement of before is not about that.
    pub fn is_a_look(&self) -> bool {
        self.is.is_some() || !self.signs.is_empty()
    }

    /// Returns whether it says that the thing is reacting now.
    pub fn is_urgent(&self) -> bool {
        self.signs.get(&Sign::ActiveNow) == Some(&Symptom::Yes)
    }

    /// Returns the signs with an answer.
    pub fn answered(&self, wanted: Symptom) -> Vec<&'static str> {
        let found = self.signs.iter().filter(|(_, told)| **told == wanted);
        found.map(|(sign, _)| sign.words()).collect()
    }

    /// Says it in one line.
    pub fn words(&self) -> String {
        let mut told: Vec<String> = Vec::new();
        let labelled = self.labelled.map(|label| if label { "labelled" } else { "not labelled" });
        told.extend(self.count.map(|count| format!("{count} cells")));
        told.extend(labelled.map(str::to_owned));
        told.extend(self.from.as_ref().map(|from| format!("from {from}")));
        told.extend(self.found.as_ref().map(|place| format!("found: {place}")));
        let shows = self.answered(Symptom::Yes);
        if !shows.is_empty() {
            told.push(format!("SHOWS: {}", shows.join(", ")));
        }
        told.extend(self.whose.map(|whose| format!("it is {}", whose.words())));
        told.extend(self.owner.as_ref().map(|owner| format!("owner: {owner}")));
        told.extend(self.consent.map(|consent| consent.words().to_owned()));
        told.extend(self.mass.map(|mass| mass.words()));
        told.extend(self.energy.map(|energy| energy.words()));
        told.extend(self.note.clone());
        let what = self.is.map_or("told of it", ReceivedAs::words);
        format!("received: {}", std::iter::once(what.to_owned()).chain(told).collect::<Vec<_>>().join("; "))
    }
}
