//! The command line of celltriage: what was typed becomes settings, a question to the person, a call of the workshop, a page.
//!
//! | file | what |
//! |---|---|
//! | [`command_line`], [`arguments`], [`fixture_arguments`], [`choice`] | options, and the words for values of the floors below |
//! | [`mod@command`] | one file for each command: it asks, calls, shows |
//! | [`case`], [`asked`], [`questions`] | label, looks and setting read from options and files; what is missing; the open questions |
//! | [`run_view`] | what happens meanwhile, as a bar or lines |
//! | [`fault_words`], [`refusal_hint`], [`error`] | a fault as words with what to do, and the exit code |
//! | [`label_files`], [`paper`] | labels and papers as files, where the feature `paper` is on |
//! | [`completing`], [`version`] | what a shell is told that asks what may follow; what this program is |
//! | [`settings`] | where the book lies, and what else this computer is set to |
//! | [`danger_first`], [`plain_text`] | before everything else: emergency words; nothing typed by others acts on the terminal |
//!
//! [`run`] is the whole program but for the real terminal; everything that moves comes in through [`io::Io`].

pub mod arguments;
pub mod as_it_was;
pub mod asked;
pub mod beside;
pub mod case;
pub mod choice;
pub mod clock_check;
pub mod command;
pub mod command_line;
pub mod completing;
pub mod danger_first;
pub mod desk;
pub mod entry_hint;
pub mod error;
pub mod fault_words;
pub mod fixture_arguments;
pub mod io;
pub mod label_files;
pub mod paper;
pub mod plain_text;
pub mod questions;
pub mod refusal_hint;
pub mod run_view;
pub mod settings;
pub mod spoken;
pub mod version;
pub mod written_to;

use clap::error::ErrorKind;
use clap::{ArgMatches, CommandFactory, FromArgMatches};
use command_line::{Arguments, Command, dispatch};
use io::{Io, Loudness};
use plain_text::{PlainStream, shown};
use settings::Settings;
use settings::for_call::{Urgency, begun, resolved};
use settings::key::{BENCH, BOOK};
use settings::options::{Given, laid_under, left_free};
use settings::surroundings::Surroundings;
use std::ffi::OsString;
use std::io::Write;
use std::time::Instant;

/// Runs one call, from what was typed to the exit code. All that is printed or asked goes through [`plain_text`].
pub fn run(typed: impl IntoIterator<Item = OsString>, around: &Surroundings, io: &mut Io<'_>) -> u8 {
    let typed: Vec<OsString> = typed.into_iter().collect();
    let (mut out, mut err) = (PlainStream::new(io.out), PlainStream::new(io.err));
    let mut ask = io.ask.as_mut().map(|ask| |question: &str| ask(&shown(question)));
    let code = command(
        &typed,
        around,
        &mut Io {
            out: &mut out,
            err: &mut err,
            ask: ask.as_mut().map(|ask| ask as _),
            now: io.now,
            stated_day: io.stated_day,
            bench: io.bench.clone(),
            zone: io.zone.clone(),
            width: io.width,
            height: io.height,
            colour: io.colour,
            live: io.live,
            bars: io.bars.clone(),
            screen: io.screen,
            told: Vec::new(),
            loudness: io.loudness,
            in_words: io.in_words,
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

fn command(typed: &[OsString], around: &Surroundings, io: &mut Io<'_>) -> u8 {
    danger_first::tell_where_reported(typed, io);
    let (arguments, settings) = match understood(typed, around, io) {
        Ok(understood) => understood,
        Err(code) => return code,
    };
    io.stated_day = arguments.today;
    arguments.shown.apply(io);
    let began = Instant::now();
    if io.loudness == Loudness::Verbose {
        told_of(&settings, io);
    }
    if let Some(bench) = settings.value(BENCH).and_then(|bench| bench.to_str()) {
        bench.clone_into(&mut io.bench);
    }
    // What may be about a cell that reacts at this moment is held up by no question: those commands ask later.
    let may_be_urgent = matches!(
        arguments.command,
        Command::Assess(_)
            | Command::Grade(_)
            | Command::Guided(_)
            | Command::Judge(_)
            | Command::Origin(_)
            | Command::Trial(_)
            | Command::Container(_)
            | Command::Leave(_)
            | Command::Irregularity(_)
            | Command::Return(_)
            | Command::HotCellWatch(_)
    );
    let stated = if may_be_urgent { Ok(()) } else { clock_check::stated_day_holds(io) };
    let done = stated.and_then(|()| dispatch(&arguments.command, &settings, io));
    if io.loudness == Loudness::Verbose {
        io.note(&format!("it took {:.2} s", began.elapsed().as_secs_f64()));
    }
    match done {
        Ok(code) => code,
        Err(error) => {
            io.note(&error.to_string());
            error.exit_code()
        }
    }
}

/// Reads what was typed, and lays the settings under what was not; returns the exit code where there is no more to do.
fn understood(
    typed: &[OsString],
    around: &Surroundings,
    io: &mut Io<'_>,
) -> Result<(Arguments, Settings), u8> {
    let known = Arguments::command();
    // First only what was typed: it says whether a setting is asked about, and which file says more.
    let matches = left_free(known.clone()).try_get_matches_from(typed).map_err(|error| told(&error, io))?;
    let given = Given::of(&known, &matches);
    let mut settings = Settings::default();
    if given.takes_one || given.settings_file.is_some() {
        settings = resolved(&given, urgency(&matches, io), around, io).map_err(|error| {
            io.note(&error.to_string());
            error.exit_code()
        })?;
        if given.takes_one {
            if !given.leaves_out(BOOK) {
                begun(&settings, matches.subcommand_name() != Some("settings"), around, io);
            }
            asked_for(&given, &mut settings, io);
        }
    }
    let all = laid_under(known, &settings).try_get_matches_from(typed);
    let arguments =
        all.and_then(|all| Arguments::from_arg_matches(&all)).map_err(|error| told(&error, io))?;
    Ok((arguments, settings))
}

/// Asks for what the command cannot do without and nobody has set, where somebody is there and no cell reacts.
fn asked_for(given: &Given, settings: &mut Settings, io: &mut Io<'_>) {
    let missing: Vec<_> = given.missing(settings).collect();
    for row in missing {
        let Some(ask) = io.ask.as_mut().filter(|_| io.told.is_empty()) else { return };
        let Some(question) = row.question().filter(|_| !given.options.contains_key(row.name)) else {
            continue;
        };
        let answer = ask(question).unwrap_or_default();
        if answer.trim().is_empty() {
            return;
        }
        settings.answer(row, answer.trim());
    }
}

/// Returns what holds this call up.
fn urgency(matches: &ArgMatches, io: &Io<'_>) -> Urgency {
    match matches.subcommand_name() {
        Some("hot-cell-watch") => Urgency::Watch,
        _ if io.told.is_empty() => Urgency::Waits,
        _ => Urgency::Reacting,
    }
}

/// Says which settings this call has, and from where.
fn told_of(settings: &Settings, io: &mut Io<'_>) {
    for one in &settings.values {
        let value = one.value.as_ref().map_or("not set".to_owned(), |value| value.display().to_string());
        io.note(&format!("{}: {value} ({})", one.name, one.set_by));
    }
}

/// Says what the command line has to tell: help, or what is wrong with what was typed.
fn told(error: &clap::Error, io: &mut Io<'_>) -> u8 {
    let text = error.render().to_string();
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            io.say(&text);
            error::EXIT_DONE
        }
        _ => {
            io.note(text.trim_end());
            error::Error::input("").exit_code()
        }
    }
}
