//! A cell in a device: fitted, taken out, and what happened to it there.

use super::lifetime::LifetimeRecord;
use celltriage_verdict::{LifeEvent, PastEvent, Source};
use serde::{Deserialize, Serialize};

/// A cell fitted into a device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitted {
    /// The cell.
    pub cell: String,
    /// The device: what it is, or its number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// The job.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub job: Option<String>,
    /// Whether it is to stay; else it is for a trial.
    pub stays: bool,
    /// What is not known of it, where it was fitted for a trial without being graded for reuse.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unproven: Option<String>,
}

/// A cell taken out of a device.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TakenOutOfDevice {
    /// The cell.
    pub cell: String,
    /// What the trial has shown, or why it was taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

/// Something that happened to a cell, or to the device that it is in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Incident {
    /// The cell.
    pub cell: String,
    /// What happened.
    pub happened: LifeEvent,
    /// What else was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Fitted {
    /// Returns the device in words.
    pub fn place(&self) -> String {
        match (&self.device, &self.job) {
            (Some(device), Some(job)) => format!("{device}, job {job}"),
            (Some(device), None) => device.clone(),
            (None, Some(job)) => format!("the device of job {job}"),
            (None, None) => "a device".to_owned(),
        }
    }
}

impl Incident {
    /// Says it in a few words.
    pub fn words(&self) -> String {
        self.as_past().words()
    }

    /// Returns it as a part of the cell's recorded life.
    pub fn as_record(&self) -> LifetimeRecord {
        LifetimeRecord { events: vec![self.as_past()], ..LifetimeRecord::of(&self.cell, Source::Workshop) }
    }

    fn as_past(&self) -> PastEvent {
        PastEvent { what: self.happened, note: self.note.clone() }
    }
}
