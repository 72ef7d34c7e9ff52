//! Who writes the shop's entries: numbers them in the order of writing, dates them, and signs events as custody does.

use celltriage_book::{NewEntry, Subject, SubjectKind};
use celltriage_custody::about::About;
use celltriage_custody::event::{Correction, Event, SCHEMA, Signed};
use celltriage_custody::summary::summary;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// Everybody who signs.
const BY: [&str; 3] = ["Ines Harrow", "M. Adeyemi", "Tove Lindqvist"];

/// An entry with the frames that were recorded for it.
pub struct Written {
    pub entry: NewEntry,
    pub frames: Option<usize>,
}

/// The pen.
pub struct Pen {
    number: u32,
    now: Timestamp,
    written: Vec<Written>,
}

impl Pen {
    /// Begins with the number of the first entry.
    pub const fn new(now: Timestamp) -> Self {
        Self { number: 0, now, written: Vec::new() }
    }

    pub fn at(&mut self, now: Timestamp) {
        self.now = now;
    }

    pub const fn now(&self) -> Timestamp {
        self.now
    }

    pub fn day(&self) -> Date {
        self.now.to_zoned_datetime(TimeZone::UTC).date()
    }

    /// Writes an entry; returns its number.
    pub fn entry(&mut self, entry: NewEntry, frames: Option<usize>) -> u32 {
        self.written.push(Written { entry, frames });
        self.number += 1;
        self.number
    }

    /// Signs and writes an event, some seconds after what came before.
    pub fn event(&mut self, event: Event) -> u32 {
        self.now = self.now.saturating_add(SignedDuration::from_secs(2)).expect("a time");
        let by = BY[self.number as usize % BY.len()].to_owned();
        let signed = Signed { schema: SCHEMA, by, on: self.day(), event };
        let (kind, event) = (signed.event.kind(), &signed.event);
        let sort = match About::of(event) {
            About::Cell => SubjectKind::Cell,
            About::Container => SubjectKind::Container,
            About::Shipment => SubjectKind::Shipment,
        };
        let mut personal = vec![signed.by.clone()];
        let mut about = Vec::new();
        let mut corrects = None;
        match event {
            Event::CellPlaced(placed) => about.push(Subject::new(SubjectKind::Container, &placed.container)),
            Event::ShipmentDrafted(draft) => {
                about.push(Subject::new(SubjectKind::Container, &draft.container));
                about.extend(draft.contents.iter().map(|item| Subject::cell(&item.cell)));
                personal.extend(draft.contents.iter().map(|item| item.assessor.clone()));
            }
            Event::HandedOver(handed) => {
                personal.extend([handed.received_by.clone(), handed.checked_by.clone()]);
            }
            Event::Correction(Correction { entry, .. }) => corrects = Some(*entry),
            _ => {}
        }
        personal.sort();
        personal.dedup();
        personal.sort_by_key(|text| std::cmp::Reverse(text.len()));
        let entry = NewEntry {
            about,
            // A container is about no cell before one lies in it.
            simulated: (sort != SubjectKind::Container).then_some(false),
            summary: summary(&signed),
            inputs: serde_json::to_value(&signed).expect("JSON"),
            personal,
            corrects,
            ..NewEntry::of(kind, Subject::new(sort, event.subject()), self.now)
        };
        self.entry(entry, None)
    }

    /// Hands over what was written since the last time.
    pub fn take(&mut self) -> Vec<Written> {
        std::mem::take(&mut self.written)
    }
}
