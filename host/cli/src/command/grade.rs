//! `grade`: the same judgement from a recorded trace.

use super::columns::read_mapping;
use super::known_first;
use super::shown::{Shown, show};
use crate::arguments::{CaseArguments, GradeArguments};
use crate::beside;
use crate::case::{given_looks, read_label, read_looks};
use crate::clock_check::{begun, confirmed, stated_day_holds};
use crate::desk::AtDesk;
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use celltriage_assessment::Assessment;
use celltriage_assessment::case::Case;
use celltriage_assessment::history::History;
use celltriage_book::Book;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::CellState;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::trace_file::GivenTrace;
use std::path::Path;

/// Runs `grade`.
///
/// # Errors
/// An input error for unusable files and options, a book error where the entry cannot be written.
pub fn run(arguments: &GradeArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    if arguments.many {
        stated_day_holds(io)?;
        let (nameplate, _) = read_label(&arguments.case.label)?;
        return super::grade_many::run(&arguments.trace, nameplate, &arguments.case.setting, io);
    }
    if let Some(path) = &arguments.book {
        beside::take_in(path, io);
    }
    // Only looked into: a trace that cannot be judged makes no book.
    let known = match arguments.book.as_ref().filter(|path| path.exists()) {
        Some(path) => Some(Book::open_to_read(path)?),
        None => None,
    };
    let reacting = given_looks(&arguments.case.looks)?.answer(Sign::ActiveNow) == Answer::Yes;
    if arguments.book.is_some() {
        // Before the judging, which asks nobody anything.
        let last = known.as_ref().map(Book::time_of_last_entry).transpose()?;
        confirmed(last.flatten(), reacting, io)?;
    } else if !reacting {
        stated_day_holds(io)?;
    }
    let (case, given) = read_case(
        &arguments.trace,
        arguments.columns.as_deref(),
        arguments.id.as_deref(),
        &arguments.case,
        io,
    )?;
    let (assessment, kept) = match &arguments.book {
        Some(path) => {
            let looks = &arguments.case.looks;
            known_first::told(path, &case.id, looks, given.is_simulated(), io)?;
            let clock = HeldClock::at(io.now);
            let mut shop = Workshop::new(begun(path, io)?, &clock, io.zone.clone());
            let written = shop.grade(&case, given, &mut AtDesk(io))?;
            warn_of_the_label(&written.assessment, io);
            beside::tell_entry(&written.kept, path, io);
            (written.assessment, Some(written.kept))
        }
        None => {
            let assessment = case.judge(given.trace.as_ref(), given.origin);
            if reacting || assessment.verdict.condition == CellState::Critical {
                // The trace may show what nobody has seen.
                crate::case::alarm(&case.setting, io);
            }
            warn_of_the_label(&assessment, io);
            (assessment, None)
        }
    };
    let how = Shown { json: arguments.json, full: arguments.full, kept: kept.as_ref() };
    // The first screen says so itself.
    let unsaid = (how.json || how.full) && kept.is_none();
    if let Some(id) = arguments.id.as_ref().filter(|_| unsaid) {
        io.note(&format!(
            "note: no book was asked about {id}; what was found of it before is not in this decision. Give --book FILE"
        ));
    }
    show(&assessment, how, io)?;
    Ok(if assessment.conditions.run.is_finished() { EXIT_DONE } else { EXIT_UNFINISHED })
}

fn warn_of_the_label(assessment: &Assessment, io: &mut Io<'_>) {
    for warning in &assessment.cell.warnings {
        io.note(&format!("warning: label: {warning}"));
    }
}

/// Judges a trace without any book.
pub(super) fn judged(trace: &Path, given: &CaseArguments, io: &mut Io<'_>) -> Result<Assessment, Error> {
    let (case, given) = read_case(trace, None, None, given, io)?;
    Ok(case.judge(given.trace.as_ref(), given.origin))
}

/// Reads label, looks and trace.
fn read_case(
    trace: &Path,
    columns: Option<&Path>,
    id: Option<&str>,
    given: &CaseArguments,
    io: &mut Io<'_>,
) -> Result<(Case, GivenTrace), Error> {
    let (nameplate, files) = read_label(&given.label)?;
    // Nobody is asked here: a recorded cell may be long gone. What is not given is not observed.
    io.ask = None;
    let observations = read_looks(&given.looks, io)?;
    let setting = crate::case::read_setting(&given.setting, io)?;
    let id = match id {
        Some(id) => id.to_owned(),
        None => trace.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
    };
    let bytes = std::fs::read(trace)
        .map_err(|error| Error::input(format!("cannot read the trace {}: {error}", trace.display())))?;
    let given = match columns {
        Some(columns) => GivenTrace::read_mapped(trace, bytes, &read_mapping(columns)?)?,
        None => GivenTrace::read(trace, bytes)?,
    };
    Ok((Case { id, nameplate, observations, setting, history: History::default(), files }, given))
}
