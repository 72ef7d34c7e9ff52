//! `leave`: a cell or a container leaves without a shipment: handed back, sold, lost, taken.

use super::entered::Written;
use crate::as_it_was::AsItWas;
use crate::choice::{WAYS_OUT, one_of};
use crate::desk::{Desk, DeskArguments, Signing};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_custody::event::{Departure, WayOut};
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::leaving::Thing;
use clap::Args;

/// Options of `leave`.
#[derive(Debug, Args)]
pub struct LeaveArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What leaves.
    #[command(flatten)]
    pub things: Things,
    /// How, to whom, and what was said.
    #[command(flatten)]
    pub way: WayTyped,
    /// Against the rules.
    #[command(flatten)]
    pub as_it_was: AsItWas,
    /// Who and when.
    #[command(flatten)]
    pub who: Signing,
}

/// Cells or containers.
#[derive(Clone, Debug, Args)]
pub struct Things {
    /// The cells, or their tags as scanned.
    #[arg(value_name = "CELL", value_parser = known_cell, required_unless_present = "containers")]
    pub cells: Vec<String>,
    /// A container with all that is in it; may be given again.
    #[arg(id = "containers", long = "container", value_name = "NAME")]
    pub containers: Vec<String>,
}

/// How something leaves.
#[derive(Clone, Debug, Args)]
pub struct WayTyped {
    /// How it leaves, or was lost.
    #[arg(long, value_parser = one_of(&WAYS_OUT))]
    pub how: WayOut,
    /// To whom: needed wherever somebody has it after that.
    #[arg(long, value_name = "TEXT")]
    pub to: Option<String>,
    /// The paper that goes with it: invoice, receipt, number of a report.
    #[arg(long, value_name = "TEXT")]
    pub document: Option<String>,
    /// What was said to whoever takes it: needed where something stands against it or is not known of it.
    #[arg(long, value_name = "TEXT")]
    pub told: Option<String>,
    /// What happened, or why: needed for what was lost, stolen, burnt, taken apart or taken by an authority.
    #[arg(long, value_name = "TEXT")]
    pub because: Option<String>,
}

impl Things {
    /// Returns them all, containers last.
    pub fn all(&self) -> Vec<Thing> {
        let cells = self.cells.iter().cloned().map(Thing::Cell);
        cells.chain(self.containers.iter().cloned().map(Thing::Container)).collect()
    }
}

impl WayTyped {
    /// Returns it as a departure.
    pub fn departure(&self) -> Departure {
        let Self { how, to, document, told, because } = self.clone();
        Departure { how, to, document, told, because }
    }
}

/// Said before anything else where something burnt: it may burn still.
const BURNING: &str = "Burning, smoking, hissing or hot now? Hands off and out of the room; write later.";

/// Runs `leave`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &LeaveArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    if arguments.way.how == WayOut::Burnt {
        io.note(BURNING);
    }
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::open(&arguments.desk, true, &clock, io)?;
    let signer = desk.signer(&arguments.who, io)?;
    let departure = arguments.way.departure();
    let mut written = Written::new(arguments.who.json);
    for thing in arguments.things.all() {
        let happened = Happened::Left(thing.clone(), departure.clone());
        let entered = arguments.as_it_was.enter(&mut desk, &signer, &happened, |desk| {
            desk.shop.leave(&signer, &desk.rules, &thing, &departure)
        });
        match entered {
            Ok(entered) => written.tell(&desk, &entered, io),
            Err(error) => {
                // What was written before it stands.
                written.end(io)?;
                return Err(error);
            }
        }
    }
    written.end(io)?;
    Ok(EXIT_DONE)
}
