//! `due`: what falls due: alarms, then overdue first.

use super::container::say_json;
use crate::custody::counters::{Counter, of_site};
use crate::custody::desk::{Desk, DeskArguments};
use crate::custody::due::due;
use crate::custody::limits::Amount;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use clap::Args;
use serde_json::json;
use std::collections::BTreeMap;

/// Options of `due`.
#[derive(Debug, Args)]
pub struct DueArguments {
    /// Only what falls due within this many days.
    #[arg(long, value_name = "DAYS")]
    pub within: Option<u32>,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `due`.
///
/// # Errors
/// Book errors.
pub fn run(arguments: &DueArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let desk = Desk::open(&arguments.desk, false, io)?;
    let state = desk.state()?;
    let mut items = due(&state, &desk.circumstances());
    if let Some(days) = arguments.within {
        items.retain(|item| item.days_left <= i64::from(days));
    }
    // One site counter for each country in which a container stands.
    let places: BTreeMap<&str, _> = state
        .containers
        .values()
        .map(|container| &container.opened.place)
        .map(|place| (place.country(), place))
        .collect();
    let site: Vec<Counter> =
        places.values().flat_map(|place| of_site(&state, place, &desk.circumstances())).collect();
    if arguments.json {
        say_json(
            &json!({ "schema": "celltriage.due/1", "today": desk.today, "due": items, "site": site }),
            io,
        )?;
        return Ok(EXIT_DONE);
    }
    for item in &items {
        let verify = if item.verify { ", VERIFY" } else { "" };
        io.say(&format!(
            "{}  {:<22} {:<14} {} [{}{verify}]",
            item.on,
            item.when(),
            item.subject,
            item.what,
            item.source
        ));
    }
    for counter in &site {
        let Amount::Mass(limit) = counter.limit.limit else { continue };
        let passed = if counter.passed == Some(true) { "PASSED" } else { "not reached" };
        let notes: String = counter.notes.iter().map(|note| format!("; {note}")).collect();
        io.say(&format!(
            "on the site: {} of {limit}, {passed}: {} [{}]{notes}",
            counter.counted.as_deref().unwrap_or("not counted"),
            counter.limit.means,
            counter.limit.citation
        ));
    }
    if items.is_empty() {
        io.note(&format!("{}: nothing that this book knows of falls due", desk.today));
    }
    Ok(EXIT_DONE)
}
