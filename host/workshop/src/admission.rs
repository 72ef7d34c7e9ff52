//! Whether a cell may be assessed, and put under load: what the book knows of it, and what was seen of it.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use celltriage_assessment::CaseFile;
use celltriage_assessment::case::{Case, Origin};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Book, Sort, Subject, aside};
use celltriage_custody::cell_name::CellName;
use celltriage_custody::cell_name::alike::spelling;
use celltriage_custody::lookup::{in_no_device, looks_like, not_gone};
use celltriage_custody::{State, case_file};
use celltriage_instrument::hot_cell::unkept;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_verdict::{Finding, KnownFinding};
use std::path::Path;

/// Signs that must have been looked for, and not found, before a cell is loaded.
pub const BEFORE_LOAD: [Sign; 5] =
    [Sign::ActiveNow, Sign::Leaked, Sign::CasingBreached, Sign::Swollen, Sign::Deformed];

/// What the book has of a cell before it is assessed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Before {
    /// Whether it is a cell of the simulated bench, by this run or by the book.
    pub simulated: bool,
    /// Everything that is known of it.
    pub case_file: CaseFile,
    /// A cell that the book has under a name that looks the same, where it has none under this one.
    pub alike: Option<String>,
}

impl Workshop<'_> {
    /// Returns what is known of a cell before it is assessed.
    ///
    /// # Errors
    /// Nothing may be recorded of the cell: it has left, it is in a device, its name is nearly that of a cell with something against it,
    /// or none for a new cell, an alarm about it is not in the book yet, or simulated and real entries would mix.
    pub fn known_before(&self, cell: &str, simulated_run: bool) -> Result<Before> {
        known_before(&self.book, cell, simulated_run)
    }

    /// Returns the case with what the book knows of its cell, and whether the cell is a simulated one, whatever a face has handed over: no use case that touches a cell may
    /// depend on somebody having asked before.
    ///
    /// # Errors
    /// As [`Workshop::known_before`].
    pub(crate) fn with_what_is_known(&self, case: &Case, simulated: bool) -> Result<(Case, bool)> {
        let before = self.known_before(&case.id, simulated)?;
        let history = self.history(&case.id, case.nameplate.model.as_deref(), before.simulated)?;
        Ok((Case { history, ..case.clone() }, before.simulated))
    }
}

/// The same for a book that may not be there yet; it is opened to read.
///
/// # Errors
/// As [`Workshop::known_before`].
pub fn known_before_in(book: &Path, cell: &str, simulated_run: bool) -> Result<Before> {
    if !book.exists() {
        not_unkept(book, cell)?;
        a_name(cell)?;
        return Ok(Before { simulated: simulated_run, ..Before::default() });
    }
    known_before(&Book::open_to_read(book)?, cell, simulated_run)
}

/// The same for an open book.
///
/// # Errors
/// As [`Workshop::known_before`].
pub fn known_before(book: &Book, cell: &str, simulated_run: bool) -> Result<Before> {
    not_unkept(book.path(), cell)?;
    if simulated_run {
        book.takes(true)?;
    }
    let state = State::about(book, &[cell])?;
    not_another_spelling(&state, cell)?;
    // In a book of simulated cells what nobody measures is one of them.
    let simulated_run = simulated_run || book.identity()?.sort == Some(Sort::Simulated);
    let Some(known) = state.cells.get(cell) else {
        // A run may have begun of it that no decision has ended yet.
        let is_new = book.entries_of(&Subject::cell(cell))?.is_empty();
        if is_new {
            a_name(cell)?;
        }
        let alike = looks_like(&state, cell).filter(|_| is_new).cloned();
        return Ok(Before { simulated: simulated_run, alike, ..Before::default() });
    };
    not_gone(cell, known).map_err(|gone| Fault::Gone(Box::new(gone)))?;
    in_no_device(cell, known).map_err(|fitted| Fault::Fitted(Box::new(fitted)))?;
    if simulated_run && known.is_real() {
        return Err(Fault::Mixed { cell: cell.to_owned(), simulated_run });
    }
    let simulated = simulated_run || known.is_simulated();
    Ok(Before { simulated, case_file: case_file(&state, cell), alike: None })
}

/// Checks the name of a cell that the book does not know.
fn a_name(cell: &str) -> Result<()> {
    CellName::new(cell).map(drop).map_err(|why| Fault::NotAName { cell: cell.to_owned(), why })
}

/// Checks that nothing simulated is written beside what is real, and the reverse.
///
/// # Errors
/// [`Fault::Mixed`].
pub fn not_mixed_in(book: &Book, cell: &str, simulated_run: bool) -> Result<()> {
    book.takes(simulated_run)?;
    not_mixed(&State::about(book, &[cell])?, cell, simulated_run)
}

/// What a fixture measures is compared with the book once more when its board is known.
pub(crate) fn not_mixed(state: &State, cell: &str, simulated_run: bool) -> Result<()> {
    match state.cells.get(cell) {
        Some(known) if simulated_run && known.is_real() || !simulated_run && known.is_simulated() => {
            Err(Fault::Mixed { cell: cell.to_owned(), simulated_run })
        }
        _ => Ok(()),
    }
}

/// Refuses a name that looks the same as one of which something is known (case, blanks, signs, letters of the same shape):
/// a slip on a tag must not make a damaged cell a new one.
fn not_another_spelling(state: &State, typed: &str) -> Result<()> {
    let same = spelling(typed);
    let mut alike = state.cells.iter().filter(|(name, _)| *name != typed && spelling(name) == same);
    let found = alike.find(|(name, cell)| !cell.known().is_empty() || not_gone(name, cell).is_err());
    let Some((known, cell)) = found else { return Ok(()) };
    let what = cell.known().first().map_or_else(|| cell.whereabouts.words(), KnownFinding::short);
    Err(Fault::NearlyTheSameName { known: known.clone(), what, typed: typed.to_owned() })
}

/// Refuses a cell about which a watch has raised an alarm, or a decision was made, that the book could not take: it lies in a file
/// beside the book.
fn not_unkept(book: &Path, cell: &str) -> Result<()> {
    for file in unkept::beside(book) {
        if let Some(cause) = unkept::alarm_about(&file, cell) {
            return Err(Fault::UnkeptAlarm { cell: cell.to_owned(), cause, file });
        }
    }
    for file in aside::beside(book) {
        let entries = Book::open_read_only(&file)?.entries_of(&Subject::cell(cell))?;
        if entries.iter().any(|entry| entry.kind == ASSESSMENT) {
            return Err(Fault::UnkeptDecision { cell: cell.to_owned(), file });
        }
    }
    Ok(())
}

/// Returns why a cell must not be put on the fixture, if its looks or what was found before decide alone: measuring it
/// would add danger and no knowledge.
pub fn must_not_be_loaded(case: &Case) -> Option<String> {
    kept_off_for_its_looks(case).or_else(|| {
        let barring = case.history.known.iter().filter(|found| found.bars().load);
        let known: Vec<String> = barring.map(KnownFinding::short).collect();
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

/// Checks that somebody has looked at the cell before it is loaded.
///
/// # Errors
/// [`Fault::NotLookedFor`].
pub fn looked_at(observations: &Observations) -> Result<()> {
    looked_for(&BEFORE_LOAD, "the cell is not put under load", observations)
}

/// Checks that each of these signs was looked for and not found; `withheld` says what is not done before.
///
/// # Errors
/// [`Fault::NotLookedFor`].
pub fn looked_for(signs: &[Sign], withheld: &str, observations: &Observations) -> Result<()> {
    let open: Vec<Sign> =
        signs.iter().copied().filter(|sign| observations.answer(*sign) != Answer::No).collect();
    if open.is_empty() {
        return Ok(());
    }
    Err(Fault::NotLookedFor { withheld: withheld.to_owned(), open })
}
