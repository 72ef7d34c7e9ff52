//! `trial`: a cell fitted into a device, taken out of it, and what happened to it there; one scan each.

use super::say_json;
use crate::as_it_was::AsItWas;
use crate::choice::{INCIDENTS, one_of};
use crate::desk::{Desk, DeskArguments, Signing};
use crate::error::{EXIT_DONE, Error};
use crate::io::{Io, fitted};
use celltriage_custody::cell::Cell;
use celltriage_custody::cell_name::typed::{known_cell, new_cell};
use celltriage_custody::event::{Incident, TakenOutOfDevice};
use celltriage_verdict::LifeEvent;
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::signer::Entered;
use celltriage_workshop::trial::{InService, ToFit};
use clap::{Args, Subcommand};
use serde_json::json;

/// Options of `trial`.
#[derive(Debug, Args)]
pub struct TrialArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What to do.
    #[command(subcommand)]
    pub action: TrialAction,
}

/// What to do with a cell and a device.
#[derive(Debug, Subcommand)]
pub enum TrialAction {
    /// A cell goes into a device, for a trial or to stay.
    Fit {
        /// The cell; one that the book does not know yet begins its story here.
        #[arg(value_parser = new_cell)]
        cell: String,
        /// The job.
        #[arg(long, value_name = "TEXT", required_unless_present = "device")]
        job: Option<String>,
        /// The device: what it is, or its number.
        #[arg(long, value_name = "TEXT")]
        device: Option<String>,
        /// It is to stay there; only for a cell that was graded or judged for reuse.
        #[arg(long)]
        stays: bool,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// A cell comes out of its device; it is screened again before it counts as stock.
    Out {
        /// The cell.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// What the trial has shown, or why it was taken out.
        #[arg(long, value_name = "TEXT")]
        because: Option<String>,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// A short circuit, an overheated or wetted device, a fall: written down for the cell that was in it.
    Incident {
        /// The cell.
        #[arg(value_parser = new_cell)]
        cell: String,
        /// What happened.
        #[arg(long, value_parser = one_of(&INCIDENTS))]
        what: LifeEvent,
        /// What else was seen.
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Cells that are in a device, and those that came out of one and were not screened since.
    List {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

/// Runs `trial`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &TrialArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    match &arguments.action {
        TrialAction::List { json } => {
            let desk = Desk::open(&arguments.desk, false, &clock, io)?;
            list(&desk.shop.in_service()?, *json, io)?;
        }
        TrialAction::Fit { cell, job, device, stays, as_it_was, who } => {
            let mut desk = Desk::begin(&arguments.desk, &clock, io)?;
            let signer = desk.signs(who, io)?;
            let (job, device) = (job.clone(), device.clone());
            let new = ToFit { cell: cell.clone(), device, job, stays: *stays };
            let entered = as_it_was.enter(&mut desk, &signer, &Happened::Fitted(new.clone()), |desk| {
                desk.shop.fit(&signer, &desk.rules, &new)
            })?;
            desk.tell(&entered, io);
        }
        TrialAction::Out { cell, because, as_it_was, who } => {
            let mut desk = Desk::open(&arguments.desk, true, &clock, io)?;
            let signer = desk.signs(who, io)?;
            let taken = TakenOutOfDevice { cell: cell.clone(), because: because.clone() };
            let happened = Happened::OutOfDevice(taken.clone());
            let entered = as_it_was.enter(&mut desk, &signer, &happened, |desk| {
                desk.shop.take_out_of_device(&signer, &desk.rules, taken)
            })?;
            desk.tell(&entered, io);
            tell_next(cell, &entered, io);
        }
        TrialAction::Incident { cell, what, note, who } => {
            // Whoever writes this may stand before a cell that is getting hot.
            io.note("Hot, hissing, smoking, smelling or swelling now? Hands off and out of the room; then: celltriage container escalate");
            let mut desk = Desk::begin(&arguments.desk, &clock, io)?;
            let signer = desk.signs(who, io)?;
            let incident = Incident { cell: cell.clone(), happened: *what, note: note.clone() };
            let entered = desk.shop.record_incident(&signer, &desk.rules, incident)?;
            desk.tell(&entered, io);
            tell_next(cell, &entered, io);
        }
    }
    Ok(EXIT_DONE)
}

/// Says what is to be done with the cell next.
fn tell_next(name: &str, entered: &Entered, io: &mut Io<'_>) {
    let Some(cell) = entered.state.cells.get(name) else { return };
    io.note(&next(name, cell));
}

fn next(name: &str, cell: &Cell) -> String {
    match cell.standing().next() {
        Some(found) if !found.bars().load => format!(
            "next: look at {name} for every sign and assess it ({}): celltriage assess --id {name}; it is neither charged nor reused \
             before a test has come to its end with no sign found",
            found.short()
        ),
        Some(found) => format!(
            "next: keep {name} apart as a damaged cell ({}), look at it for every sign and have it judged: celltriage judge {name}; \
             it is neither loaded nor charged nor reused unless a person strikes that entry, with a reason",
            found.short()
        ),
        None => format!(
            "next: look at {name} for every sign and screen it before it goes to stock: celltriage assess --id {name}; what was \
             assessed before no longer counts"
        ),
    }
}

fn list(cells: &[InService], json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if json {
        let cells: Vec<_> = cells
            .iter()
            .map(|one| json!({ "cell": one.cell, "where": one.place, "to_screen": one.to_screen }))
            .collect();
        return say_json(&json!({ "schema": "celltriage.in-service/1", "cells": cells }), io);
    }
    for one in cells {
        let line = match &one.to_screen {
            Some(because) => format!("{:<12} {}; not screened since it {because}", one.cell, one.place),
            None => format!("{:<12} {}", one.cell, one.place),
        };
        io.say(&fitted(&line, io.width));
    }
    if cells.is_empty() {
        io.note("no cell is in a device, and none is to be screened after one");
    }
    Ok(())
}
