//! `assess`: one cell, from label and looks over the fixture to decision and book.

use super::{known_first, show};
use crate::arguments::{AssessArguments, LabelArguments};
use crate::case::{ask_for_thickness, read_label, read_looks};
use crate::clock_check::open_to_write;
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::known_label::compare_with_known;
use crate::measure::{Leave, SaidIn, finished, measure};
use celltriage_assessment::Assessment;
use celltriage_assessment::case::{Case, Origin};
use celltriage_assessment::record::{self, Evidence};
use celltriage_book::{Book, NewAttachment, RecordingNumber};
use celltriage_instrument::simulated::KEPT_OFF;
use celltriage_link::{BenchCell, Link};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::plan::{Extent, plan};
use celltriage_verdict::{CellState, Finding, KnownFinding};

/// Signs that must have been looked for, and not found, before a cell is loaded.
const BEFORE_LOAD: [Sign; 5] =
    [Sign::ActiveNow, Sign::Leaked, Sign::CasingBreached, Sign::Swollen, Sign::Deformed];

/// Runs `assess`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &AssessArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    // Looks first: where the cell is reacting now, nothing else may stand before the emergency text.
    let setting = crate::case::read_setting(&arguments.case.setting, io)?;
    let simulated_run = arguments.bench.simulated.is_some();
    let before =
        known_first::told(&arguments.book.path, &arguments.id, &arguments.case.looks, simulated_run, io)?;
    let observations = read_looks(&arguments.case.looks, io)?;
    if observations.answer(Sign::ActiveNow) == Answer::Yes {
        crate::case::alarm(&setting, io);
    }
    let choice = arguments.bench.choice()?;
    let (mut nameplate, files) = label(&arguments.case.label, choice.bench_cell())?;
    let mut observations = observations;
    ask_for_thickness(&mut observations, &nameplate, io);
    let reacting = observations.answer(Sign::ActiveNow) == Answer::Yes;
    let mut book = open_to_write(&arguments.book.path, reacting, io)?;
    compare_with_known(&book, &arguments.id, &mut nameplate, io)?;
    let model = nameplate.model.as_deref();
    let history =
        celltriage_workshop::history::read(&book, &arguments.id, model, before.simulated, io.now, &io.zone)?;
    let case = Case { id: arguments.id.clone(), nameplate, observations, setting, history, files };

    let leave = Leave::by_options(&arguments.leave);
    let assessed = if let Some(why) = must_not_be_loaded(&case) {
        not_measured(&case, &why, before.simulated, &mut book, io)?
    } else {
        looked_at(&case.observations, leave.said_in)?;
        let choice = if arguments.extent == Extent::Full { choice.charged() } else { choice };
        assess(&case, choice.link(Some(&book))?, arguments.extent, &leave, &mut book, io)?
    };
    io.note(&format!("written as entry {} of {}", assessed.entry, arguments.book.path.display()));
    show(&assessed.assessment, arguments.json, io)?;
    if io.screen && assessed.assessment.verdict.condition == CellState::Critical {
        // The page has scrolled away what came first.
        crate::case::alarm_again(&case.setting, io);
    }
    let run = &assessed.assessment.conditions.run;
    let by_choice = assessed.by_choice;
    Ok(if by_choice || finished(run) { EXIT_DONE } else { EXIT_UNFINISHED })
}

/// A decision that stands in the book.
#[derive(Debug)]
pub struct Assessed {
    /// Number of the entry.
    pub entry: u32,
    /// The decision.
    pub assessment: Assessment,
    /// Whether the cell was kept off the fixture on purpose.
    pub by_choice: bool,
}

/// A cell that was measured and judged, before that is written down.
#[derive(Debug)]
pub struct Judged {
    /// The decision.
    pub assessment: Assessment,
    /// The recording of its run.
    pub recording: RecordingNumber,
    notes: Vec<String>,
}

/// Measures, judges and records one cell.
///
/// # Errors
/// A measurement error where the run could not begin, a book error where it could not be kept.
pub fn assess(
    case: &Case,
    link: impl Link,
    extent: Extent,
    leave: &Leave,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Assessed, Error> {
    judged(case, link, extent, leave, book, io)?.written(case, book, io)
}

/// Measures and judges one cell; the recording stands in the book, the decision does not yet.
///
/// # Errors
/// A measurement error where the run could not begin, a book error where it could not be kept.
pub fn judged(
    case: &Case,
    link: impl Link,
    extent: Extent,
    leave: &Leave,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Judged, Error> {
    // The plan's number only has to differ from the one before it.
    let number = u32::try_from(io.now.as_second().rem_euclid(1_000_000)).unwrap_or(1);
    let planned = plan(&case.nameplate, extent, number).map_err(|why| {
        Error::input(why.to_string()).hint("test it by other means, or send it for recycling untested")
    })?;
    let measured = measure(link, &planned, leave, &case.id, book, io)?;
    let used = measured.calibration_used;
    let mut notes = planned.deviations.clone();
    notes.extend(measured.remarks);
    let despite = used.iter().filter_map(|used| used.despite_stop.as_ref());
    notes.extend(despite.map(|why| format!("the fixture was used despite its stop: {why}")));
    let origin = Origin::of(measured.source.clone(), &measured.recorded, &notes).calibrated(used);
    let assessment = case.judge(measured.recorded.trace.as_ref(), origin);
    if assessment.verdict.condition == CellState::Critical {
        // The fixture has seen what the person may not have.
        crate::case::alarm_again(&case.setting, io);
    }
    Ok(Judged { assessment, recording: measured.recording, notes })
}

impl Judged {
    /// Writes it down.
    ///
    /// # Errors
    /// A book error.
    pub fn written(self, case: &Case, book: &mut Book, io: &Io<'_>) -> Result<Assessed, Error> {
        let Self { assessment, recording, notes } = self;
        let evidence = Evidence::Recording(recording);
        let entry = record::write(book, case, &assessment, evidence, &notes, io.now)?;
        Ok(Assessed { entry: entry.number, assessment, by_choice: false })
    }
}

/// Judges and records a cell that is kept off the fixture; `simulated` says whether that is the simulated bench.
///
/// # Errors
/// A book error.
pub fn not_measured(
    case: &Case,
    why: &str,
    simulated: bool,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Assessed, Error> {
    let mut origin = Origin::none(why);
    if simulated {
        KEPT_OFF.clone_into(&mut origin.source);
    }
    let assessment = case.judge(None, origin);
    let entry = record::write(book, case, &assessment, Evidence::Nothing, &[], io.now)?;
    Ok(Assessed { entry: entry.number, assessment, by_choice: true })
}

/// Says why a cell must not be put on the fixture, if its looks or what was found before decide alone: measuring it
/// would add danger and no knowledge.
pub fn must_not_be_loaded(case: &Case) -> Option<String> {
    kept_off_for_its_looks(case).or_else(|| {
        let known: Vec<String> = case.history.known.iter().map(KnownFinding::short).collect();
        (!known.is_empty()).then(|| {
            format!("kept off the fixture for what is known of it from before: {}", known.join("; "))
        })
    })
}

/// The same for its looks alone.
pub fn kept_off_for_its_looks(case: &Case) -> Option<String> {
    let by_looks = case.judge(None, Origin::none("not yet measured"));
    let found: Vec<String> = by_looks
        .verdict
        .reasons
        .iter()
        .filter(|reason| reason.finding == Finding::Fail)
        .filter(|reason| reason.sign.is_some() || reason.quantity == Some(Quantity::ThicknessGrowth))
        .map(|reason| reason.title.to_lowercase())
        .collect();
    (!found.is_empty()).then(|| format!("kept off the fixture for its looks: {}", found.join(", ")))
}

/// Sees that somebody has looked at the cell before it is loaded.
pub(super) fn looked_at(observations: &Observations, said_in: SaidIn) -> Result<(), Error> {
    looked_for(&BEFORE_LOAD, "the cell is not put under load", observations, said_in)
}

/// Sees that each of these signs was looked for and not found; `withheld` says what is not done before.
pub(super) fn looked_for(
    signs: &[Sign],
    withheld: &str,
    observations: &Observations,
    said_in: SaidIn,
) -> Result<(), Error> {
    let open: Vec<Sign> =
        signs.iter().copied().filter(|sign| observations.answer(*sign) != Answer::No).collect();
    if open.is_empty() {
        return Ok(());
    }
    let words: Vec<&str> = open.iter().copied().map(Sign::words).collect();
    Err(Error::input(format!("{withheld} before it was looked at for: {}", words.join(", ")))
        .hint(said_in.look(&open)))
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
