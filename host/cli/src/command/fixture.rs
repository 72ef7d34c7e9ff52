//! `fixture`: find it, ask it, test it, watch it, calibrate it, check it, give it another program.

mod calibrate;
mod check_standard;
mod list;
mod page;
mod reference;
mod standing;
mod update;
mod watch;

use crate::arguments::BookPath;
use crate::error::{EXIT_ALARM, EXIT_DONE, Error};
use crate::fixture_arguments::FixtureArguments;
use crate::io::Io;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::readings::ReadingEvent;
use celltriage_link::Attendant;
use celltriage_report::fixture_page::{checks_page, identity_page};
use celltriage_workshop::fixture::look::{self, Identified};
use celltriage_workshop::fixture::reading::read_once;
use clap::{Args, Subcommand};
use serde_json::json;

/// Options of `fixture`.
#[derive(Debug, Args)]
pub struct FixtureCommand {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with the fixture.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// All serial ports of this computer, and what is behind those that carry the fixture's USB identity.
    List {
        /// Also ask at this port, which has no such identity (a serial adapter); may be given again.
        #[arg(long, value_name = "PORT")]
        port: Vec<String>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Who is it, what can it do, which calibration does it use?
    Identify {
        /// As JSON.
        #[arg(long)]
        json: bool,
        /// The book.
        #[command(flatten)]
        book: BookPath,
        /// Which fixture.
        #[command(flatten)]
        fixture: FixtureArguments,
    },
    /// Leads, noise, zero, thermometers and sink, each against its limit.
    ///
    /// Put the check standard or a supply of 3.5 to 4.2 V on the leads, never a cell that was not looked at.
    SelfTest {
        /// Also load what is on the leads: 0.1, 0.5, 1 and 1.5 A, one second each.
        #[arg(long)]
        load: bool,
        /// As JSON.
        #[arg(long)]
        json: bool,
        /// The book.
        #[command(flatten)]
        book: BookPath,
        /// Which fixture.
        #[command(flatten)]
        fixture: FixtureArguments,
    },
    /// Live values until Ctrl-C; no plan is run.
    Watch(watch::WatchArguments),
    /// Read the mean voltage and current once, at rest or under a current, as `fixture calibrate --point` wants it.
    Read {
        /// Current in A; without it the load stays off.
        #[arg(long, value_name = "A", default_value_t = 0.0)]
        amps: f64,
        /// As JSON.
        #[arg(long)]
        json: bool,
        /// The book.
        #[command(flatten)]
        book: BookPath,
        /// Which fixture.
        #[command(flatten)]
        fixture: FixtureArguments,
    },
    /// Calibrate voltage, current or thermometers against a reference; step by step, or from readings taken before.
    ///
    /// The procedure is told in hardware-notes/calibration.md. Nothing is stored before old and new values were shown.
    Calibrate(calibrate::CalibrateArguments),
    /// The known resistor that shows whether the fixture still measures as it did.
    CheckStandard(check_standard::CheckStandardArguments),
    /// What the book knows of every fixture: calibrations, check measurements, what is due, what is stopped.
    Standing(standing::StandingArguments),
    /// Another program for the fixture, from a file that is checked first; what runs there then is asked and written down.
    ///
    /// No cell on the jig, fuse F1 out. The fixture goes to the chip's own boot program, whose drive takes the file. However an
    /// update ends, the chip starts a whole program or its boot program.
    Update(update::UpdateArguments),
    /// Forget the latched trip: you have looked at what is on the leads and removed the cause.
    Acknowledge {
        /// Which fixture.
        #[command(flatten)]
        fixture: FixtureArguments,
    },
}

/// Runs `fixture`.
///
/// # Errors
/// Input and measurement errors, each with what to do.
pub fn run(arguments: &FixtureCommand, io: &mut Io<'_>) -> Result<u8, Error> {
    match &arguments.action {
        Action::List { port, json } => list::run(port, *json, io),
        Action::Identify { fixture, book, json } => identify(book, fixture, *json, io),
        Action::SelfTest { fixture, book, load, json } => {
            test(fixture.connect_to_look(book)?, *load, *json, io)
        }
        Action::Watch(arguments) => watch::run(arguments, io),
        Action::Read { amps, json, book, fixture } => read(*amps, *json, fixture.connect_to_look(book)?, io),
        Action::Calibrate(arguments) => calibrate::run(arguments, io),
        Action::CheckStandard(arguments) => check_standard::run(arguments, io),
        Action::Standing(arguments) => standing::run(arguments, io),
        Action::Update(arguments) => update::run(arguments, io),
        Action::Acknowledge { fixture } => acknowledge(fixture, io),
    }
}

fn identify(
    book: &BookPath,
    fixture: &FixtureArguments,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let Identified { connected, calibration } = look::identify(&fixture.choice(1), &book.path)?;
    if as_json {
        let value = page::identity_json(&connected, &calibration);
        super::say_json(&value, io)?;
    } else {
        io.show(&identity_page(&connected, &calibration));
    }
    Ok(EXIT_DONE)
}

fn test(mut connected: Connected, load: bool, as_json: bool, io: &mut Io<'_>) -> Result<u8, Error> {
    connected.must_be_idle()?;
    let what = if load { "with load, about 9 s" } else { "without load, about 3 s" };
    io.note(&format!("{}: self-test {what}", connected.describe()));
    let test = look::test(&mut connected, load, &mut Quiet { io })?;
    let all = test.passed();
    if as_json {
        let value = json!({
            "schema": "celltriage.self-test/1", "fixture": connected.name(), "at": io.now.to_string(),
            "calibration": connected.identity.calibration, "with_load": load, "passed": all, "checks": test.checks,
        });
        super::say_json(&value, io)?;
    } else {
        io.show(&checks_page(&test.checks, load, "--load", "--json"));
    }
    Ok(if all { EXIT_DONE } else { EXIT_ALARM })
}

fn read(amps: f64, as_json: bool, mut connected: Connected, io: &mut Io<'_>) -> Result<u8, Error> {
    connected.must_be_idle()?;
    io.note(&connected.describe());
    let reading = read_once(amps, &mut connected, &mut Quiet { io })?;
    if as_json {
        let value = json!({
            "schema": "celltriage.reading/1", "fixture": connected.name(),
            "calibration": connected.identity.calibration, "reading": reading,
        });
        super::say_json(&value, io)?;
        return Ok(EXIT_DONE);
    }
    for (mean, unit) in [(reading.voltage_v, "V"), (reading.current_a, "A")] {
        io.say(&format!(
            "{:>9.5} {unit}  mean of {} readings, uncertain by {:.5} {unit} (k = 1, noise alone)",
            mean.mean,
            mean.count,
            mean.of_mean()
        ));
    }
    Ok(EXIT_DONE)
}

fn acknowledge(fixture: &FixtureArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let done = look::acknowledge(&fixture.choice(1))?;
    match done.trip {
        Some(trip) => io.say(&format!("{}: trip {trip} is forgotten; the load stays off", done.fixture)),
        None => io.say(&format!("{}: no trip is latched", done.fixture)),
    }
    Ok(EXIT_DONE)
}

/// Looks on without drawing anything.
pub(super) struct Quiet<'a, 'io> {
    /// The outside world.
    pub io: &'a mut Io<'io>,
}

impl Attendant<ReadingEvent> for Quiet<'_, '_> {
    fn sees(&mut self, event: &ReadingEvent) {
        if let ReadingEvent::Remark(text) = event {
            self.io.note(&format!("warning: {text}"));
        }
    }

    fn stop_wanted(&self) -> bool {
        self.io.stop_wanted()
    }
}
