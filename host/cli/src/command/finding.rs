//! `finding`: findings against a cell: what they block, and what ends them.

use super::say_json;
use crate::desk::{Desk, DeskArguments, Signing};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::cell_name::typed::{entry_number, known_cell};
use celltriage_report::case_file_page::case_file_page;
use celltriage_report::known_table_page::known_table_page;
use celltriage_verdict::KNOWN_TABLE;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::corrections::NewCorrection;
use celltriage_workshop::findings::NewLook;
use clap::{Args, Subcommand};
use serde_json::json;

/// Options of `finding`.
#[derive(Debug, Args)]
pub struct FindingArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What to do.
    #[command(subcommand)]
    pub action: FindingAction,
}

/// What to do with findings.
#[derive(Debug, Subcommand)]
pub enum FindingAction {
    /// The table: what can be found, what it blocks, what ends it. Takes no book.
    Table {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// What is known of a cell.
    Of {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Write down a look at a cell's temperature: two of them, an hour apart and cool, end that it was warm at rest.
    Look {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Temperature of the cell's surface in degC.
        #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
        temperature_c: f64,
        /// Temperature of the air in degC.
        #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
        air_c: f64,
        /// Who looked.
        #[command(flatten)]
        who: Signing,
    },
    /// End what an entry found, where the rule of its kind allows it.
    End(OfEntry),
    /// Strike an entry as a mistake, such as a wrong cell or a wrong tick; it stays readable.
    Strike(OfEntry),
}

/// An entry that no longer counts, or something it found.
#[derive(Debug, Args)]
pub struct OfEntry {
    /// Number of the entry, as `12` or `entry:12`.
    #[arg(value_parser = entry_number)]
    pub entry: u32,
    /// Why, and what is right.
    #[arg(long, value_name = "TEXT")]
    pub because: String,
    /// Who answers for it.
    #[command(flatten)]
    pub who: Signing,
}

/// Runs `finding`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &FindingArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    use FindingAction as Do;
    if let Do::Table { json } = &arguments.action {
        return table(*json, io);
    }
    let clock = HeldClock::at(io.now);
    let reads = matches!(arguments.action, Do::Of { .. });
    let mut desk = Desk::open(&arguments.desk, !reads, &clock, io)?;
    let entered = match &arguments.action {
        Do::Table { .. } => return Ok(EXIT_DONE),
        Do::Of { cell, json } => {
            let known = desk.shop.case_file(cell)?;
            match json {
                true => say_json(
                    &json!({ "schema": "celltriage.case-file/1", "cell": cell, "known": known }),
                    io,
                )?,
                false => io.show(&case_file_page(cell, &known)),
            }
            return Ok(EXIT_DONE);
        }
        Do::Look { cell, temperature_c, air_c, who } => {
            let look = NewLook { cell: cell.clone(), temperature_c: *temperature_c, air_c: *air_c };
            let signer = desk.signs(who, io)?;
            desk.shop.look_at_temperature(&signer, &desk.rules, &look)?
        }
        Do::End(OfEntry { entry, because, who }) => {
            let signer = desk.signs(who, io)?;
            desk.shop.end_finding(&signer, &desk.rules, *entry, because)?
        }
        Do::Strike(OfEntry { entry, because, who }) => {
            let new = NewCorrection { entry: *entry, because: because.clone(), strike: true };
            let signer = desk.signs(who, io)?;
            desk.shop.correct(&signer, &desk.rules, &new)?
        }
    };
    desk.tell(&entered, io);
    Ok(EXIT_DONE)
}

fn table(as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    match as_json {
        true => say_json(&json!({ "schema": "celltriage.known-table/1", "rows": KNOWN_TABLE }), io)?,
        false => io.show(&known_table_page()),
    }
    Ok(EXIT_DONE)
}
