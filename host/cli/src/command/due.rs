//! `due`: what falls due: alarms, then overdue first.

use super::say_json;
use crate::desk::{Desk, DeskArguments};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_report::due_page::due_page;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::due::DueList;
use clap::Args;
use serde_json::json;

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
    let clock = HeldClock::at(io.now);
    let desk = Desk::open(&arguments.desk, false, &clock, io)?;
    let DueList { today, items, site } = desk.shop.due(&desk.rules, arguments.within)?;
    if arguments.json {
        say_json(&json!({ "schema": "celltriage.due/1", "today": today, "due": items, "site": site }), io)?;
        return Ok(EXIT_DONE);
    }
    if !items.is_empty() || !site.is_empty() {
        io.show(&due_page(&items, &site));
    }
    if items.is_empty() {
        io.note(&format!("{today}: nothing that this book knows of falls due"));
    }
    Ok(EXIT_DONE)
}
