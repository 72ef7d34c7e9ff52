//! celltriage on the bench computer: link, trace, estimates, verdict, rules, book, pages.
//!
//! Data goes one way, each arrow one function, each noun one file:
//!
//! ```text
//! bytes -> frames   link/, recorded.rs        a plan goes the other way: plan.rs, before the run
//!       -> trace    trace/  (a CSV file joins here: bdf/)
//!       -> estimates estimate/
//!       -> verdict  verdict/  (policy as data: ../policy)
//!       -> cautions rules/    (packs as data: ../rules)
//!       -> assessment assessment.rs
//!       -> page, JSON, book   report/ and document/, record.rs, book/
//! ```
//! [`run`] is the whole program but for the real terminal; everything that moves comes in through [`io::Io`].

pub mod arguments;
pub mod case;
pub mod cell_name;
pub mod choice;
pub mod clock_check;
pub mod command;
pub mod danger_first;
pub mod desk;
pub mod error;
pub mod fault_words;
pub mod fixture_arguments;
pub mod io;
pub mod known_label;
pub mod measure;
pub mod plain_text;
pub mod refusal_hint;
pub mod session;
pub mod simulated;
pub mod spoken;

use arguments::{Arguments, Command};
use clap::Parser;
use clap::error::ErrorKind;
use io::Io;
use plain_text::{PlainStream, shown};
use std::ffi::OsString;
use std::io::Write;

/// Runs one call, from what was typed to the exit code. All that is printed or asked goes through [`plain_text`].
pub fn run(typed: impl IntoIterator<Item = OsString>, io: &mut Io<'_>) -> u8 {
    let typed: Vec<OsString> = typed.into_iter().collect();
    let (mut out, mut err) = (PlainStream::new(io.out), PlainStream::new(io.err));
    let mut ask = io.ask.as_mut().map(|ask| |question: &str| ask(&shown(question)));
    let code = command(
        typed,
        &mut Io {
            out: &mut out,
            err: &mut err,
            ask: ask.as_mut().map(|ask| ask as _),
            now: io.now,
            stated_day: io.stated_day,
            zone: io.zone.clone(),
            width: io.width,
            height: io.height,
            colour: io.colour,
            live: io.live,
            bars: io.bars.clone(),
            screen: io.screen,
            told: Vec::new(),
            stop: io.stop,
        },
    );
    let output = out.finish();
    if let Some(error) = &output {
        let text = format!("error: the output could not be written: {error}; what is there is not whole");
        let _nobody_may_read_it = writeln!(
            err,
            "{text}\nhint: make room; what the command wrote into the book stands there, and `celltriage book show` prints it again"
        );
    }
    match err.finish().or(output) {
        Some(_) if code == error::EXIT_DONE => error::EXIT_OUTPUT,
        _ => code,
    }
}

fn command(typed: Vec<OsString>, io: &mut Io<'_>) -> u8 {
    danger_first::tell_where_reported(&typed, io);
    let arguments = match Arguments::try_parse_from(typed) {
        Ok(arguments) => arguments,
        Err(error) => {
            let text = error.render().to_string();
            return match error.kind() {
                ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
                    io.say(&text);
                    error::EXIT_DONE
                }
                _ => {
                    io.note(text.trim_end());
                    error::Error::input("").exit_code()
                }
            };
        }
    };
    io.stated_day = arguments.today;
    // What may be about a cell that reacts at this moment is held up by no question: those commands ask later.
    let may_be_urgent = matches!(
        arguments.command,
        Command::Assess(_)
            | Command::Grade(_)
            | Command::Guided(_)
            | Command::Judge(_)
            | Command::Container(_)
            | Command::HotCellWatch(_)
    );
    let stated = if may_be_urgent { Ok(()) } else { clock_check::stated_day_holds(io) };
    let done = stated.and_then(|()| dispatch(&arguments.command, io));
    match done {
        Ok(code) => code,
        Err(error) => {
            io.note(&error.to_string());
            error.exit_code()
        }
    }
}

fn dispatch(command: &Command, io: &mut Io<'_>) -> Result<u8, error::Error> {
    match command {
        Command::Demo(arguments) => command::demo::run(arguments, io),
        Command::Assess(arguments) => command::assess::run(arguments, io),
        Command::Grade(arguments) => command::grade::run(arguments, io),
        Command::Explain(arguments) => command::explain::run(arguments, io),
        Command::Model(arguments) => command::model::run(arguments, io),
        Command::Guided(arguments) => command::guided::run(arguments, io),
        Command::Batch(arguments) => command::batch::run(arguments, io),
        Command::Book(arguments) => command::book::run(arguments, io),
        Command::Judge(arguments) => command::judge::run(arguments, io),
        Command::Container(arguments) => command::container::run(arguments, io),
        Command::Shipment(arguments) => command::shipment::run(arguments, io),
        Command::Rules(arguments) => command::rules::run(arguments, io),
        Command::Fixture(arguments) => command::fixture::run(arguments, io),
        Command::HotCellWatch(arguments) => command::hot_cell_watch::run(arguments, io),
        Command::Due(arguments) => command::due::run(arguments, io),
    }
}
