//! `origin`: where a cell came from and how it has lived, as far as anybody knows; without a fact, what is recorded.

use super::say_json;
use crate::choice::{CAME_AS, PAST_EVENTS, SOURCES, one_of};
use crate::desk::{Desk, DeskArguments, Who};
use crate::error::{EXIT_DONE, Error};
use crate::io::{Io, fitted};
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_custody::event::LifetimeRecord;
use celltriage_verdict::{CameAs, LifeEvent, PastEvent, Source};
use celltriage_workshop::clock::HeldClock;
use clap::Args;
use jiff::civil::Date;
use serde_json::json;

/// Options of `origin`.
#[derive(Debug, Args)]
pub struct OriginArguments {
    /// The cell's name; one that the book does not know yet begins its story here.
    #[arg(value_parser = new_cell)]
    pub cell: String,
    /// As what it came.
    #[arg(long, value_parser = one_of(&CAME_AS))]
    pub came_as: Option<CameAs>,
    /// Kind and model of the device that it came out of.
    #[arg(long, value_name = "TEXT")]
    pub device: Option<String>,
    /// Serial number of that device.
    #[arg(long, value_name = "TEXT")]
    pub serial: Option<String>,
    /// The job with which it came.
    #[arg(long, value_name = "TEXT")]
    pub job: Option<String>,
    /// Model of the cell, as printed on it.
    #[arg(long, value_name = "TEXT")]
    pub model: Option<String>,
    /// Date on the cell, as printed.
    #[arg(long, value_name = "TEXT")]
    pub dated: Option<String>,
    /// Charge cycles, as the device's own gauge shows them.
    #[arg(long, value_name = "COUNT")]
    pub cycles: Option<u32>,
    /// Health in per cent, as the device's own gauge shows it.
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true)]
    pub health: Option<f64>,
    /// Day on which the gauge was read; by default the day of the record.
    #[arg(long, value_name = "DATE")]
    pub read_on: Option<Date>,
    /// Something that happened to it or to its device before; may be given again.
    #[arg(long = "event", value_parser = one_of(&PAST_EVENTS))]
    pub events: Vec<LifeEvent>,
    /// It is to go back into the device that it came out of.
    #[arg(long)]
    pub goes_back: bool,
    /// What else is known; of an `--event other` it says what happened.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// What this rests on.
    #[arg(long, value_parser = one_of(&SOURCES), default_value = "workshop")]
    pub from: Source,
    /// Name of the person who writes it down and answers for it; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_person", long = "by", value_name = "NAME")]
    pub by: Option<String>,
    /// Day on which it was so, as 2026-11-25; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
    /// What is recorded, as JSON.
    #[arg(long)]
    pub json: bool,
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `origin`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &OriginArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let record = record(arguments);
    if record == LifetimeRecord::of(&arguments.cell, arguments.from) {
        let desk = Desk::open(&arguments.desk, false, &clock, io)?;
        show(&desk, arguments, io)?;
        return Ok(EXIT_DONE);
    }
    let who = Who::said(arguments.by.as_deref(), arguments.on, "writes it down")?;
    let mut desk = Desk::begin(&arguments.desk, &clock, io)?;
    let signer = desk.signer(&who, io)?;
    let entered = desk.shop.record_lifetime(&signer, &desk.rules, record)?;
    desk.tell(&entered, io);
    if entered.state.cells.get(&arguments.cell).is_some_and(|cell| cell.facts.is_none()) {
        io.note("note: nobody has assessed this cell; what is recorded of its life proves nothing of it");
    }
    Ok(EXIT_DONE)
}

fn record(arguments: &OriginArguments) -> LifetimeRecord {
    // A note beside something else that happened is about that.
    let other = arguments.events.contains(&LifeEvent::Other);
    let past = |what: &LifeEvent| PastEvent {
        what: *what,
        note: arguments.note.clone().filter(|_| *what == LifeEvent::Other),
    };
    LifetimeRecord {
        came_as: arguments.came_as,
        device: arguments.device.clone(),
        serial: arguments.serial.clone(),
        job: arguments.job.clone(),
        model: arguments.model.clone(),
        dated: arguments.dated.clone(),
        cycles: arguments.cycles,
        health_percent: arguments.health,
        read_on: arguments.read_on,
        events: arguments.events.iter().map(past).collect(),
        goes_back: arguments.goes_back.then_some(true),
        note: arguments.note.clone().filter(|_| !other),
        ..LifetimeRecord::of(&arguments.cell, arguments.from)
    }
}

fn show(desk: &Desk<'_>, arguments: &OriginArguments, io: &mut Io<'_>) -> Result<(), Error> {
    let lifetime = desk.shop.lifetime_of(&arguments.cell)?;
    let cell = &arguments.cell;
    if arguments.json {
        let told = json!({ "schema": "celltriage.origin/1", "cell": cell, "lifetime": lifetime });
        return say_json(&told, io);
    }
    let line = match lifetime.is_empty() {
        true => format!("{cell}: nothing is recorded of its life"),
        false => format!("{cell}: {}", lifetime.words()),
    };
    io.say(&fitted(&line, io.width));
    Ok(())
}
