//! `return`: what left comes back: from the carrier, from a receiver who refused it, from whoever found it.

use super::entered::Written;
use super::leave::Things;
use crate::choice::{WAYS_BACK, one_of};
use crate::desk::{Desk, DeskArguments, Signing};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::event::{Arrival, WayBack};
use celltriage_workshop::clock::HeldClock;
use clap::Args;

/// Options of `return`.
#[derive(Debug, Args)]
pub struct ReturnArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What comes back.
    #[command(flatten)]
    pub things: Things,
    /// How it came back.
    #[arg(long, value_parser = one_of(&WAYS_BACK))]
    pub how: WayBack,
    /// Who brought it.
    #[arg(long, value_name = "TEXT")]
    pub from: Option<String>,
    /// How it looked on arrival.
    #[arg(long, value_name = "TEXT")]
    pub seen: String,
    /// Who and when.
    #[command(flatten)]
    pub who: Signing,
}

/// Runs `return`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &ReturnArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::open(&arguments.desk, true, &clock, io)?;
    let signer = desk.signer(&arguments.who, io)?;
    let ReturnArguments { how, from, seen, .. } = arguments;
    let arrival = Arrival { how: *how, from: from.clone(), seen: seen.clone() };
    let mut written = Written::new(arguments.who.json);
    for thing in arguments.things.all() {
        match desk.shop.come_back(&signer, &desk.rules, &thing, &arrival) {
            Ok(entered) => written.tell(&desk, &entered, io),
            Err(fault) => {
                // What was written before it stands.
                written.end(io)?;
                return Err(fault.into());
            }
        }
    }
    written.end(io)?;
    io.note(
        "next: look at each for every sign and have it judged again (`celltriage judge CELL`); nothing that was assessed or judged \
         before says what it is now",
    );
    Ok(EXIT_DONE)
}
