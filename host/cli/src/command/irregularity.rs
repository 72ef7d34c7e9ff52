//! `irregularity`: what happened against the rules: listed, noted in words, put right.

use super::say_json;
use crate::desk::{Desk, DeskArguments, Signing};
use crate::error::{EXIT_DONE, Error};
use crate::io::{Io, fitted};
use celltriage_custody::cell_name::typed::{entry_number, known_cell};
use celltriage_custody::event::Named;
use celltriage_custody::state::Irregular;
use celltriage_workshop::as_it_was::Remark;
use celltriage_workshop::clock::HeldClock;
use clap::{Args, Subcommand};
use serde_json::json;

/// Options of `irregularity`.
#[derive(Debug, Args)]
pub struct IrregularityArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What to do.
    #[command(subcommand)]
    pub action: IrregularityAction,
}

/// What to do with irregularities.
#[derive(Debug, Subcommand)]
pub enum IrregularityAction {
    /// Those that nothing has put right yet.
    List {
        /// Also those that were put right.
        #[arg(long)]
        all: bool,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Note one that no other command says: a near miss, an unlocked store, a box without its words.
    ///
    /// What has moved or left is written down with the command for it: `celltriage container place --irregular TEXT`, and so
    /// `container take-out`, `leave`, `shipment hand-over`, `trial fit`, `trial out`.
    Note {
        /// What it is about.
        #[command(flatten)]
        about: AboutTyped,
        /// What happened.
        #[arg(long, value_name = "TEXT")]
        happened: String,
        /// The rule that it breaks.
        #[arg(long, value_name = "TEXT")]
        breaks: String,
        /// What is done about it.
        #[arg(long, value_name = "TEXT")]
        action: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down what put one right; it is open no more.
    Remedy {
        /// Number of its entry, as `12` or `entry:12`.
        #[arg(value_parser = entry_number)]
        entry: u32,
        /// What was done.
        #[arg(long, value_name = "TEXT")]
        done: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
}

/// What an irregularity is about.
#[derive(Clone, Debug, Args)]
#[group(required = true, multiple = false)]
pub struct AboutTyped {
    /// A cell, or its tag as scanned.
    #[arg(long, value_name = "NAME", value_parser = known_cell)]
    pub cell: Option<String>,
    /// A container.
    #[arg(long, value_name = "NAME")]
    pub container: Option<String>,
    /// A shipment.
    #[arg(long, value_name = "NAME")]
    pub shipment: Option<String>,
}

/// Runs `irregularity`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &IrregularityArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    use IrregularityAction as Do;
    let clock = HeldClock::at(io.now);
    let reads = matches!(arguments.action, Do::List { .. });
    let mut desk = Desk::open(&arguments.desk, !reads, &clock, io)?;
    match &arguments.action {
        Do::List { all, json } => list(&desk.shop.irregularities(*all)?, *json, io)?,
        Do::Note { about, happened, breaks, action, who } => {
            let (about, name) = about.named();
            let (happened, breaks, action) = (happened.clone(), breaks.clone(), action.clone());
            let remark = Remark { about, name, happened, breaks, action };
            let signer = desk.signs(who, io)?;
            let entered = desk.shop.remark_irregular(&signer, &desk.rules, &remark)?;
            desk.tell(&entered, io);
        }
        Do::Remedy { entry, done, who } => {
            let signer = desk.signs(who, io)?;
            let entered = desk.shop.put_right(&signer, &desk.rules, *entry, done)?;
            desk.tell(&entered, io);
        }
    }
    Ok(EXIT_DONE)
}

impl AboutTyped {
    fn named(&self) -> (Named, String) {
        match (&self.cell, &self.container, &self.shipment) {
            (Some(cell), _, _) => (Named::Cell, cell.clone()),
            (_, Some(container), _) => (Named::Container, container.clone()),
            (_, _, shipment) => (Named::Shipment, shipment.clone().unwrap_or_default()),
        }
    }
}

fn list(found: &[(u32, Irregular)], json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if json {
        let rows: Vec<_> = found
            .iter()
            .map(|(entry, one)| {
                json!({
                    "entry": entry, "about": one.told.about, "name": one.told.name, "by": one.by, "on": one.on,
                    "happened": one.happened(), "breaks": one.told.breaks, "action": one.told.action,
                    "concerns": one.concerns, "remedied": one.remedied,
                })
            })
            .collect();
        return say_json(&json!({ "schema": "celltriage.irregularities/1", "irregularities": rows }), io);
    }
    for (entry, one) in found {
        let about = format!("{} {}", one.told.about.words(), one.told.name);
        let right = match &one.remedied {
            Some(by) => format!(" PUT RIGHT on {} by {} (entry {}): {}", by.on, by.by, by.entry, by.done),
            None => String::new(),
        };
        let line = format!("{entry:>5}  {}  {about}: {} [{}]{right}", one.on, one.words(), one.by);
        io.say(&fitted(&line, io.width));
    }
    if found.is_empty() {
        io.note("nothing irregular is open");
    }
    Ok(())
}
