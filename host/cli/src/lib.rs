//! The command line of celltriage: what was typed becomes settings, a question to the person, a call of the workshop, a page.
//!
//! | file | what |
//! |---|---|
//! | [`command_line`], [`arguments`], [`fixture_arguments`], [`choice`] | options, and the words for values of the floors below |
//! | [`mod@command`] | one file for each command: it asks, calls, shows |
//! | [`case`] | label, looks and setting read from options and files; the open questions |
//! | [`run_view`] | what happens meanwhile, as a bar or lines |
//! | [`fault_words`], [`refusal_hint`], [`error`] | a fault as words with what to do, and the exit code |
//! | [`danger_first`], [`plain_text`] | before everything else: emergency words; nothing typed by others acts on the terminal |
//!
//! [`run`] is the whole program but for the real terminal; everything that moves comes in through [`io::Io`].

pub mod arguments;
pub mod beside;
pub mod case;
pub mod cell_name;
pub mod choice;
pub mod clock_check;
pub mod command;
pub mod command_line;
pub mod danger_first;
pub mod desk;
pub mod error;
pub mod fault_words;
pub mod fixture_arguments;
pub mod io;
pub mod plain_text;
pub mod refusal_hint;
pub mod run_view;
pub mod spoken;

use clap::Parser;
use clap::error::ErrorKind;
use command_line::{Arguments, Command, dispatch};
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
