//! `grade`: the same judgement from a recorded trace.

use super::{known_first, show};
use crate::arguments::{CaseArguments, GradeArguments};
use crate::case::{given_looks, read_label, read_looks};
use crate::clock_check::{confirmed, stated_day_holds};
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::measure::{finished, not_mixed};
use celltriage_assessment::Assessment;
use celltriage_assessment::case::{Case, Origin, attachment};
use celltriage_assessment::history::History;
use celltriage_assessment::record::{self, Evidence, TRACE_CSV, TRACE_FRAMES};
use celltriage_assessment::recorded::Recorded;
use celltriage_book::{Book, NewAttachment};
use celltriage_instrument::simulated::is_board;
use celltriage_measure::bdf::{self, BdfError};
use celltriage_measure::observation::{Answer, Sign};
use celltriage_measure::trace::Trace;
use celltriage_verdict::CellState;
use celltriage_workshop::known_label::KnownLabel;
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
    // Only looked into: a trace that cannot be judged makes no book.
    let known = match arguments.book.as_ref().filter(|path| path.exists()) {
        Some(path) => Some(Book::open_read_only(path)?),
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
    let (case, assessment, evidence) =
        judged_beside(known.as_ref(), &arguments.trace, arguments.id.as_deref(), &arguments.case, io)?;
    let critical = assessment.verdict.condition == CellState::Critical;
    if critical || case.observations.answer(Sign::ActiveNow) == Answer::Yes {
        // The trace may show what nobody has seen.
        crate::case::alarm(&case.setting, io);
    }
    for warning in &assessment.cell.warnings {
        io.note(&format!("warning: label: {warning}"));
    }
    if let Some(path) = &arguments.book {
        let mut book = Book::open(path)?;
        let entry = record::write(&mut book, &case, &assessment, Evidence::File(evidence), &[], io.now)?;
        io.note(&format!("written as entry {} of {}", entry.number, path.display()));
    }
    if let Some(id) = arguments.id.as_ref().filter(|_| arguments.book.is_none()) {
        io.note(&format!(
            "note: no book was asked about {id}; what was found of it before is not in this decision. Give --book FILE"
        ));
    }
    show(&assessment, arguments.json, io)?;
    Ok(if finished(&assessment.conditions.run) { EXIT_DONE } else { EXIT_UNFINISHED })
}

/// Judges a trace; also returns the case and the trace as it was given, for the book.
pub(super) fn judged(
    trace: &Path,
    id: Option<&str>,
    given: &CaseArguments,
    io: &mut Io<'_>,
) -> Result<(Case, Assessment, NewAttachment), Error> {
    judged_beside(None, trace, id, given, io)
}

/// The same; where there is a book, the label is compared with the one it has of this cell.
fn judged_beside(
    book: Option<&Book>,
    trace: &Path,
    id: Option<&str>,
    given: &CaseArguments,
    io: &mut Io<'_>,
) -> Result<(Case, Assessment, NewAttachment), Error> {
    let (mut nameplate, files) = read_label(&given.label)?;
    // Nobody is asked here: a recorded cell may be long gone. What is not given is not observed.
    io.ask = None;
    let observations = read_looks(&given.looks, io)?;
    let setting = crate::case::read_setting(&given.setting, io)?;
    let id = match id {
        Some(id) => id.to_owned(),
        None => trace.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
    };
    if let Some(known) = book.map(|book| KnownLabel::read(book, &id)).transpose()?.flatten() {
        nameplate.warnings.extend(known.contradicted_by(&nameplate));
    }
    let (trace, origin, evidence) = read_trace(trace)?;
    let simulated = origin.fixture.as_deref().is_some_and(is_board);
    let known = match book {
        Some(book) => {
            let before = known_first::told_of(book, &id, simulated, io)?;
            not_mixed(book, &id, simulated)?;
            before.known
        }
        None => Vec::new(),
    };
    let case = Case {
        id,
        nameplate,
        observations,
        setting,
        history: History { known, ..History::default() },
        files,
    };
    let assessment = case.judge(trace.as_ref(), origin);
    Ok((case, assessment, evidence))
}

/// Reads a trace of either kind; a recording is known by its name's ending or by its zero bytes, which no text has.
fn read_trace(path: &Path) -> Result<(Option<Trace>, Origin, NewAttachment), Error> {
    let bytes = std::fs::read(path)
        .map_err(|error| Error::input(format!("cannot read the trace {}: {error}", path.display())))?;
    let source = format!("file {}", path.file_name().unwrap_or_default().to_string_lossy());
    if path.extension().is_some_and(|ending| ending == "frames") || bytes.contains(&0) {
        let recorded = Recorded::read(&bytes, None);
        let origin = Origin::of(source, &recorded, &[]);
        if recorded.trace.is_none() && recorded.identity.is_none() {
            return Err(Error::input(format!(
                "{}: no frame of ours can be read from it ({} unreadable pieces)",
                path.display(),
                recorded.damage.len()
            ))
            .hint("give a CSV file in the columns of the Battery Data Format, or a recording made by celltriage"));
        }
        return Ok((recorded.trace, origin, attachment(TRACE_FRAMES, "application/octet-stream", bytes)));
    }
    let trace = bdf::read(bytes.as_slice(), &path.display().to_string()).map_err(|error| {
        let several = matches!(error, BdfError::SeveralCells { .. });
        let told = Error::input(error.to_string());
        if several { told.hint("a file of many cells is for `grade --many`") } else { told }
    })?;
    let origin = Origin::elsewhere(source);
    Ok((Some(trace), origin, attachment(TRACE_CSV, "text/csv", bytes)))
}
