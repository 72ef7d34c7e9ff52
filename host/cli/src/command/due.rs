//! `due`: what falls due: alarms, then overdue first.

use super::say_json;
use crate::desk::{Desk, DeskArguments};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::counters::{Counter, of_site};
use celltriage_custody::due::{Due, Urgency, due, item, most_urgent_first};
use celltriage_instrument::standing::all_due;
use celltriage_report::due_page::due_page;
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

/// Returns what falls due on the fixtures.
fn fixtures(desk: &Desk) -> Result<Vec<Due>, Error> {
    let found = all_due(desk.book())?;
    Ok(found
        .into_iter()
        .map(|due| {
            // A stop has no last day: it holds today.
            let (urgency, on) =
                if due.stopped { (Urgency::Now, desk.today) } else { (Urgency::Dated, due.on) };
            let source = "the fixture's own records";
            Due { urgency, ..item(&due.fixture, &due.what, on, desk.today, source) }
        })
        .collect())
}

/// Runs `due`.
///
/// # Errors
/// Book errors.
pub fn run(arguments: &DueArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let desk = Desk::open(&arguments.desk, false, io)?;
    let state = desk.state()?;
    let mut items = due(&state, &desk.circumstances());
    items.extend(fixtures(&desk)?);
    most_urgent_first(&mut items);
    if let Some(days) = arguments.within {
        items.retain(|item| item.days_left <= i64::from(days));
    }
    // The site's counters for each place in which a container stands.
    let places: BTreeMap<&str, _> = state
        .containers
        .values()
        .map(|container| &container.opened.place)
        .map(|place| (place.as_str(), place))
        .collect();
    let mut site: Vec<Counter> = Vec::new();
    for counter in places.values().flat_map(|place| of_site(&state, place, &desk.circumstances())) {
        // A rule of the country holds in each of its parts, and is told once.
        if !site.contains(&counter) {
            site.push(counter);
        }
    }
    if arguments.json {
        say_json(
            &json!({ "schema": "celltriage.due/1", "today": desk.today, "due": items, "site": site }),
            io,
        )?;
        return Ok(EXIT_DONE);
    }
    if !items.is_empty() || !site.is_empty() {
        io.show(&due_page(&items, &site));
    }
    if items.is_empty() {
        io.note(&format!("{}: nothing that this book knows of falls due", desk.today));
    }
    Ok(EXIT_DONE)
}
