//! `assess`: one cell, from label and looks over the fixture to decision and book.

use super::shown::{Shown, show};
use super::{known_first, same_label};
use crate::arguments::{AssessArguments, LabelArguments, OverrideArguments};
use crate::beside;
use crate::case::{alarm, alarm_again, given_looks, read_label, read_setting, warn_of_label};
use crate::clock_check::open_to_write;
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::questions::Questions;
use crate::run_view::RunView;
use celltriage_assessment::case::Case;
use celltriage_book::NewAttachment;
use celltriage_link::BenchCell;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::CellState;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;

/// Runs `assess`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &AssessArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    // Looks first: where the cell is reacting now, nothing else may come before the emergency text.
    let setting = read_setting(&arguments.case.setting, io)?;
    let simulated_run = arguments.bench.simulated.is_some();
    beside::take_in(&arguments.book.path, io);
    let before =
        known_first::told(&arguments.book.path, &arguments.id, &arguments.case.looks, simulated_run, io)?;
    let questions =
        Questions { book: &arguments.book.path, cell: &arguments.id, known: &before.case_file.standing };
    let mut given = questions.reacts(given_looks(&arguments.case.looks)?, io)?;
    let reacting = given.answer(Sign::ActiveNow) == Answer::Yes;
    if reacting {
        alarm(&setting, io);
    }
    // What can be known beforehand, before anybody is asked anything else.
    let choice = arguments.bench.choice()?;
    let (mut nameplate, files) = label(&arguments.case.label, choice.bench_cell())?;
    if !reacting {
        let said = same_label::answered(&arguments.book.path, &arguments.id, &nameplate, &given, io)?;
        given = given.overlaid(said);
    }
    if let (true, Err(error)) = (io.ask.is_some(), choice.is_there()) {
        io.note(&format!("warning: {error}; plug the fixture in before the questions are answered"));
    }
    let mut observations = questions.signs(given, io)?;
    questions.thickness(&mut observations, &nameplate, io)?;
    let clock = HeldClock::at(io.now);
    let book = open_to_write(&arguments.book.path, reacting, io)?;
    let mut shop = Workshop::new(book, &clock, io.zone.clone());
    warn_of_label(&shop, &arguments.id, &mut nameplate, io)?;
    let case = Case { files, ..Case::new(&arguments.id, nameplate, observations, setting) };
    let (simulated, overrides) = (before.simulated, overrides(&arguments.overrides));
    let job = Job { case, choice, simulated, extent: arguments.extent, overrides };
    let attended = shop.attend(&job, &mut RunView::on(io));
    let assessed = attended.map_err(|fault| Error::from(fault).hints(questions.hint(io)))?;
    if assessed.kept.entry().is_some() {
        questions.done();
    }

    if assessed.assessment.verdict.condition == CellState::Critical {
        // The measurement may show what nobody has seen.
        alarm(&job.case.setting, io);
    }
    beside::tell_entry(&assessed.kept, &arguments.book.path, io);
    let how = Shown { json: arguments.json, full: arguments.full, kept: Some(&assessed.kept) };
    show(&assessed.assessment, how, io)?;
    if how.full && io.screen && assessed.assessment.verdict.condition == CellState::Critical {
        // The long page has scrolled away what came first; the first screen begins with it.
        alarm_again(&job.case.setting, io);
    }
    let done = if assessed.is_finished() { EXIT_DONE } else { EXIT_UNFINISHED };
    Ok(beside::exit_code(&assessed.kept, done))
}

/// Takes what the operator answers for.
pub(super) fn overrides(arguments: &OverrideArguments) -> Overrides {
    Overrides { acknowledge_trip: arguments.acknowledge_trip, despite_stop: arguments.despite_stop.clone() }
}

/// The label as given; a simulated cell brings its own where none is given.
fn label(
    arguments: &LabelArguments,
    bench: Option<&BenchCell>,
) -> Result<(Nameplate, Vec<NewAttachment>), Error> {
    match bench {
        Some(cell) if arguments.cell.is_none() && arguments.charge_limit_v.is_none() => {
            Ok((cell.nameplate.clone(), Vec::new()))
        }
        _ => read_label(arguments),
    }
}
