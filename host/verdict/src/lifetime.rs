//! What is recorded of a cell's life before its newest visit: where it came from, what its device's gauge showed, what happened.
//!
//! Plain data, gathered from the book entry by entry and kept with each decision. Each fact names its entry, its day and
//! what it rests on; nothing is filled in that nobody has said.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What a record rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The gauge of the device, read by whoever signs.
    Gauge,
    /// The label of the cell or of the device.
    Label,
    /// The customer's word.
    Customer,
    /// What this workshop has seen or noted.
    Workshop,
}

/// As what a cell came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CameAs {
    /// Taken out of a device.
    FromDevice,
    /// A spare that is said to be new.
    NewSpare,
    /// A spare that has served before.
    UsedSpare,
}

/// Something that happened to a cell, or to the device that it was in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LifeEvent {
    /// A short circuit.
    ShortCircuit,
    /// It, or its device, was overheated.
    Overheated,
    /// It, or its device, was wetted.
    Wetted,
    /// It, or its device, was dropped.
    Dropped,
    /// The device was repaired.
    Repaired,
    /// Something else, told in a note.
    Other,
}

/// A fact with its entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Noted<T> {
    /// What is recorded.
    pub value: T,
    /// The entry that says it.
    pub entry: u32,
    /// On what day it was so: that of the gauge's reading, else that of the entry.
    pub on: Date,
    /// What it rests on.
    pub from: Source,
}

/// Something that happened, with what was said of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PastEvent {
    /// What happened.
    pub what: LifeEvent,
    /// What else was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What is recorded of a cell's life.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Lifetime {
    /// As what it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came_as: Option<Noted<CameAs>>,
    /// Kind and model of the device that it came out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<Noted<String>>,
    /// Serial number of that device.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Noted<String>>,
    /// The job with which it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub job: Option<Noted<String>>,
    /// The model of the cell, as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<Noted<String>>,
    /// The date on the cell, as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dated: Option<Noted<String>>,
    /// Charge cycles, as the device's own gauge showed them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycles: Option<Noted<u32>>,
    /// Health in per cent, as the device's own gauge showed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub health_percent: Option<Noted<f64>>,
    /// Whether it is to go back into the device that it came out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub goes_back: Option<Noted<bool>>,
    /// What happened before, in the order of the book.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub events: Vec<Noted<PastEvent>>,
}

impl Source {
    /// Returns a few words for a line.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Gauge => "by the device's gauge",
            Self::Label => "by the label",
            Self::Customer => "by the customer's word",
            Self::Workshop => "noted by this workshop",
        }
    }
}

impl CameAs {
    /// Returns a few words for a line.
    pub const fn words(self) -> &'static str {
        match self {
            Self::FromDevice => "taken out of a device",
            Self::NewSpare => "new spare, unknown worth",
            Self::UsedSpare => "used spare, unknown worth",
        }
    }
}

impl LifeEvent {
    /// Returns a few words for a line.
    pub const fn words(self) -> &'static str {
        match self {
            Self::ShortCircuit => "short circuit",
            Self::Overheated => "overheated",
            Self::Wetted => "wetted",
            Self::Dropped => "dropped",
            Self::Repaired => "device repaired",
            Self::Other => "something else",
        }
    }

    /// Returns whether the cell counts as damaged or defective for it until a person withdraws that (UN Model Regulations and
    /// ADR, SP 376, note (b): use or misuse of the cell). A fall alone is asked about when the cell is looked at.
    pub const fn is_damage(self) -> bool {
        matches!(self, Self::ShortCircuit | Self::Overheated | Self::Wetted)
    }
}

impl PastEvent {
    /// Says it in a few words.
    pub fn words(&self) -> String {
        match (self.what, &self.note) {
            (LifeEvent::Other, Some(note)) => note.clone(),
            (what, Some(note)) => format!("{} ({note})", what.words()),
            (what, None) => what.words().to_owned(),
        }
    }
}

impl Lifetime {
    /// Returns whether nothing is recorded.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Returns whether anything is recorded of how the cell has lived. A device or a job alone says where it was, and that it
    /// is a spare says neither (our choice: the document that asks for such data was not read).
    pub const fn tells_of_its_life(&self) -> bool {
        self.dated.is_some()
            || self.cycles.is_some()
            || self.health_percent.is_some()
            || !self.events.is_empty()
    }

    /// Returns the device or job that it came from, in words.
    pub fn came_from(&self) -> Option<String> {
        let serial = self.serial.as_ref().map(|serial| format!("serial {}", serial.value));
        let job = self.job.as_ref().map(|job| format!("job {}", job.value));
        let parts: Vec<String> =
            self.device.iter().map(|device| device.value.clone()).chain(serial).chain(job).collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    }

    /// Says all of it in one line, with its entries.
    pub fn words(&self) -> String {
        let entries: Vec<String> = self.entries().into_iter().map(|entry| entry.to_string()).collect();
        let word = if entries.len() == 1 { "entry" } else { "entries" };
        format!("{} ({word} {})", self.told(), entries.join(", "))
    }

    /// Says all of it in one line.
    pub fn told(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        let came_as = self.came_as.as_ref().filter(|came| came.value != CameAs::FromDevice);
        parts.extend(came_as.map(|came| came.value.words().to_owned()));
        match self.came_from() {
            Some(from) => parts.push(format!("from {from}")),
            None if came_as.is_none() => {
                parts.extend(self.came_as.as_ref().map(|came| came.value.words().to_owned()));
            }
            None => {}
        }
        parts.extend(self.model.as_ref().map(|model| format!("model {}", model.value)));
        parts.extend(self.dated.as_ref().map(|dated| format!("date on the cell {}", dated.value)));
        parts.extend(self.gauge());
        parts.extend(
            self.events.iter().map(|event| format!("{} {}", event.value.words(), event.from.words())),
        );
        if self.goes_back.as_ref().is_some_and(|back| back.value) {
            parts.push("to go back into the same device".to_owned());
        }
        parts.join("; ")
    }

    /// What the device's own gauge showed, with the day and how it is known.
    fn gauge(&self) -> Option<String> {
        let told = |on: Date, from: Source| match from {
            Source::Gauge | Source::Workshop => format!("by the device's gauge on {on}"),
            from => format!("by the device's gauge on {on}, {}", from.words()),
        };
        let cycles =
            self.cycles.as_ref().map(|one| (format!("{} cycles", one.value), told(one.on, one.from)));
        let health = self.health_percent.as_ref();
        let health = health.map(|one| (format!("{} % health", one.value), told(one.on, one.from)));
        match (cycles, health) {
            (Some((cycles, one)), Some((health, other))) if one == other => {
                Some(format!("{cycles} and {health} {one}"))
            }
            (Some((cycles, one)), Some((health, other))) => Some(format!("{cycles} {one}; {health} {other}")),
            (Some((what, told)), None) | (None, Some((what, told))) => Some(format!("{what} {told}")),
            (None, None) => None,
        }
    }

    /// The entries that it is drawn from.
    fn entries(&self) -> BTreeSet<u32> {
        let texts = [&self.device, &self.serial, &self.job, &self.model, &self.dated];
        let texts = texts.into_iter().flatten().map(|one| one.entry);
        let others = [
            self.came_as.as_ref().map(|one| one.entry),
            self.cycles.as_ref().map(|one| one.entry),
            self.health_percent.as_ref().map(|one| one.entry),
            self.goes_back.as_ref().map(|one| one.entry),
        ];
        let events = self.events.iter().map(|one| one.entry);
        texts.chain(others.into_iter().flatten()).chain(events).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn noted<T>(value: T, entry: u32, from: Source) -> Noted<T> {
        Noted { value, entry, on: date(2026, 11, 20), from }
    }

    #[test]
    fn what_is_recorded_is_told_in_one_line_with_its_entries() {
        let lifetime = Lifetime {
            device: Some(noted("school tablet".to_owned(), 3, Source::Workshop)),
            job: Some(noted("118".to_owned(), 3, Source::Workshop)),
            cycles: Some(noted(214, 3, Source::Gauge)),
            health_percent: Some(noted(88.0, 3, Source::Gauge)),
            events: vec![noted(PastEvent { what: LifeEvent::Dropped, note: None }, 5, Source::Customer)],
            ..Lifetime::default()
        };
        assert_eq!(
            lifetime.words(),
            "from school tablet, job 118; 214 cycles and 88 % health by the device's gauge on 2026-11-20; dropped by the \
             customer's word (entries 3, 5)"
        );
        assert!(lifetime.tells_of_its_life());
        let json = serde_json::to_value(&lifetime).unwrap();
        assert_eq!(json["cycles"]["value"], 214);
        assert_eq!(serde_json::from_value::<Lifetime>(json).unwrap(), lifetime);
    }

    #[test]
    fn a_device_or_a_spare_alone_tells_nothing_of_its_life() {
        let spare =
            Lifetime { came_as: Some(noted(CameAs::NewSpare, 1, Source::Workshop)), ..Lifetime::default() };
        assert_eq!(spare.words(), "new spare, unknown worth (entry 1)");
        let job = Lifetime { job: Some(noted("118".to_owned(), 1, Source::Workshop)), ..Lifetime::default() };
        assert!(!spare.tells_of_its_life() && !job.tells_of_its_life() && !spare.is_empty());
        assert!(Lifetime::default().is_empty());
    }
}
