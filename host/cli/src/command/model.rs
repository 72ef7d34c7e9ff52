//! `model`: what the book knows of a model of cells, the source of every comparison with siblings.

use super::say_json;
use crate::arguments::BookPath;
use crate::clock_check::open_to_read;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_report::model_page::{ModelShown, model_page};
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::history::ModelCells;
use clap::{Args, Subcommand};
use serde_json::json;

/// Options of `model`.
#[derive(Debug, Args)]
pub struct ModelArguments {
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// What to read.
    #[command(subcommand)]
    pub action: ModelAction,
}

/// What to read.
#[derive(Debug, Subcommand)]
pub enum ModelAction {
    /// The models that the book knows.
    List {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// The cells of one model, their spread, and what is expected of one more.
    Show {
        /// Name of the model, as on the nameplate.
        name: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

/// Runs `model`.
///
/// # Errors
/// A book error, or an input error where the book knows no such model.
pub fn run(arguments: &ModelArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let shop = Workshop::new(open_to_read(&arguments.book.path, io)?, &clock, io.zone.clone());
    match &arguments.action {
        ModelAction::List { json } => {
            let models = shop.models()?;
            if *json {
                say_json(&json!({ "schema": "celltriage.models/1", "models": models }), io)?;
                return Ok(EXIT_DONE);
            }
            for (model, cells) in &models {
                io.say(&format!("{model:<24} {cells} cells"));
            }
            if models.is_empty() {
                io.note(
                    "no nameplate in this book names a model; write model = \"your name for it\" into it",
                );
            }
        }
        ModelAction::Show { name, json } => show(name, &shop.model(name)?, *json, io)?,
    }
    Ok(EXIT_DONE)
}

fn show(name: &str, found: &ModelCells, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let cells = &found.cells;
    let (capacity, resistance) = (found.capacity_fraction(), found.resistance_25c());
    if as_json {
        let mut model = json!({
            "schema": "celltriage.model/1", "model": name, "cells": cells,
            "capacity_fraction": capacity, "resistance_25c_ohm": resistance,
        });
        if let Some(members) = model.as_object_mut() {
            if found.simulated {
                members.insert("simulated".to_owned(), true.into());
            }
            if found.left_out > 0 {
                members.insert("simulated_left_out".to_owned(), found.left_out.into());
            }
        }
        return say_json(&model, io);
    }
    io.show(&model_page(&ModelShown {
        name,
        cells,
        simulated: found.simulated,
        left_out: found.left_out,
        capacity: capacity.as_ref(),
        resistance: resistance.as_ref(),
    }));
    Ok(())
}
