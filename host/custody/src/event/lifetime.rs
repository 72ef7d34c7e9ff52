//! What is written down of a cell's life before it came, and what is drawn from several such records.

use celltriage_verdict::{CameAs, Lifetime, Noted, PastEvent, Source};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A record of a cell's life: as much as is known. A later one adds to an earlier one or corrects it, fact by fact.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LifetimeRecord {
    /// The cell.
    pub cell: String,
    /// What the record rests on.
    pub from: Source,
    /// As what it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came_as: Option<CameAs>,
    /// Kind and model of the device that it came out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Serial number of that device.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// The job with which it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub job: Option<String>,
    /// The model of the cell, as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// The date on the cell, as printed: makers write it in many ways.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dated: Option<String>,
    /// Charge cycles, as the device's own gauge showed them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycles: Option<u32>,
    /// Health in per cent, as the device's own gauge showed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub health_percent: Option<f64>,
    /// On what day the gauge was read; `None`: on the day of the record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_on: Option<Date>,
    /// What happened before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub events: Vec<PastEvent>,
    /// Whether it is to go back into the device that it came out of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub goes_back: Option<bool>,
    /// What else is to be said; it counts for nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl LifetimeRecord {
    /// Begins a record that says nothing yet.
    pub fn of(cell: &str, from: Source) -> Self {
        Self {
            cell: cell.to_owned(),
            from,
            came_as: None,
            device: None,
            serial: None,
            job: None,
            model: None,
            dated: None,
            cycles: None,
            health_percent: None,
            read_on: None,
            events: Vec::new(),
            goes_back: None,
            note: None,
        }
    }

    /// Returns whether it names a device or a job.
    pub const fn names_a_device(&self) -> bool {
        self.device.is_some() || self.serial.is_some() || self.job.is_some()
    }

    /// Returns what of it counts as damage until a person withdraws that, in words; `None` where nothing does.
    pub fn damage(&self) -> Option<String> {
        let damage = self.events.iter().filter(|event| event.what.is_damage());
        let told: Vec<String> = damage.map(PastEvent::words).collect();
        (!told.is_empty()).then(|| format!("{} {}", told.join(", "), self.from.words()))
    }

    /// Says it in one line; `on` is its day.
    pub fn words(&self, on: Date) -> String {
        let mut lifetime = Lifetime::default();
        self.add_to(&mut lifetime, 0, on);
        let note = self.note.iter().cloned();
        let told = Some(lifetime.told()).filter(|told| !told.is_empty());
        told.into_iter().chain(note).collect::<Vec<_>>().join("; ")
    }

    /// Adds what it says to what was recorded before; what it says anew goes before what was said.
    pub fn add_to(&self, lifetime: &mut Lifetime, entry: u32, on: Date) {
        let from = self.from;
        let text = |given: &Option<String>| given.clone().map(|value| Noted { value, entry, on, from });
        put(&mut lifetime.came_as, self.came_as.map(|value| Noted { value, entry, on, from }));
        put(&mut lifetime.device, text(&self.device));
        put(&mut lifetime.serial, text(&self.serial));
        put(&mut lifetime.job, text(&self.job));
        put(&mut lifetime.model, text(&self.model));
        put(&mut lifetime.dated, text(&self.dated));
        let read = self.read_on.unwrap_or(on);
        put(&mut lifetime.cycles, self.cycles.map(|value| Noted { value, entry, on: read, from }));
        let health = self.health_percent.map(|value| Noted { value, entry, on: read, from });
        put(&mut lifetime.health_percent, health);
        put(&mut lifetime.goes_back, self.goes_back.map(|value| Noted { value, entry, on, from }));
        let events = self.events.iter().cloned();
        lifetime.events.extend(events.map(|value| Noted { value, entry, on, from }));
    }
}

fn put<T>(place: &mut Option<T>, new: Option<T>) {
    if new.is_some() {
        *place = new;
    }
}
