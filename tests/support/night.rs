//! A watch over a hot cell: its terms, where it is kept, and what a person beside it would hear.

use crate::NOON;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::hot_cell::alarm::{Alarm, AlarmLimits};
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::watch::{Terms, WatchEvent};
use celltriage_link::{Attendant, Client, Link, LinkError};
use std::path::Path;
use std::time::Duration;

/// Collects what a person would hear.
#[derive(Debug, Default)]
pub struct Ears {
    /// The first alarm of each cause.
    pub alarms: Vec<Alarm>,
    /// What was said of the link and the book.
    pub remarks: Vec<String>,
}

impl Attendant<WatchEvent> for Ears {
    fn sees(&mut self, event: &WatchEvent) {
        match event {
            WatchEvent::Alarm { alarm, first: true } => self.alarms.push(*alarm),
            WatchEvent::Reading { .. } | WatchEvent::Alarm { .. } => {}
            WatchEvent::Remark(text) => self.remarks.push(text.clone()),
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

/// Connects over a link.
///
/// # Errors
/// What the link says.
pub fn connected(link: impl Link + 'static) -> Result<Connected, LinkError> {
    let (client, identity, state) = Client::connect(link)?;
    Ok(Connected { client, identity, state, bench: None })
}

/// A watch of so many minutes over PE-0405, with the usual limits.
///
/// # Panics
/// Never: its time can be read.
pub fn watch_terms(minutes: u64) -> Terms {
    Terms {
        cell: "PE-0405".to_owned(),
        span: Some(Duration::from_secs(60 * minutes)),
        every: Duration::from_secs(2),
        limits: AlarmLimits::default(),
        began: NOON.parse().expect("a timestamp"),
        end_on_alarm: false,
    }
}

/// Keeps such a watch in a book.
pub fn keeper(path: &Path) -> Keeper {
    Keeper::open(path, "PE-0405", watch_terms(1).began)
}
