//! The last stage of a capacity run: the cell is checked to be full, then screened and discharged.

use crate::command::assess::{self, Assessed, Judged, looked_at, must_not_be_loaded, not_measured};
use crate::error::{Error, Kind};
use crate::io::Io;
use crate::measure::Leave;
use celltriage_assessment::case::Case;
use celltriage_book::Book;
use celltriage_custody::state::State;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::plan::Extent;
use celltriage_verdict::RunOutcome;
use celltriage_workshop::capacity_run::{self as guided, Stage, Step};
use celltriage_workshop::charge_permit::{ChargePermit, against, permit};

/// What came of the last stage.
pub enum Checked {
    /// A decision, written down.
    Decided(Box<Assessed>),
    /// The rest did not tell its voltage; nothing was decided of the cell, and its run goes on where it was.
    NoRestVoltage(Box<Judged>),
}

impl Checked {
    /// Takes the decision; a person at the bench puts the clips right and calls again.
    ///
    /// # Errors
    /// A measurement error where there is none.
    pub fn decided(self, case: &Case) -> Result<Assessed, Error> {
        match self {
            Self::Decided(assessed) => Ok(*assessed),
            Self::NoRestVoltage(rest) => Err(no_rest_voltage(case, &rest)),
        }
    }
}

/// Checks that a cell is really full, then screens and discharges it; every stage goes into the book. A cell whose rest
/// already shows that it must not be charged is judged by that rest, and its run ends there. `simulated` says whether it is a
/// cell of the simulated bench.
///
/// # Errors
/// A measurement error where it is not full, or the run could not begin; a book error where it could not be kept.
pub fn checked_and_discharged(
    case: &Case,
    (choice, simulated): (&FixtureChoice, bool),
    leave: &Leave,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Checked, Error> {
    if let Some(why) = must_not_be_loaded(case) {
        let assessed = not_measured(case, &why, simulated, book, io)?;
        return closed(assessed, case, book, io);
    }
    looked_at(&case.observations, leave.said_in)?;
    let rest = assess::judged(case, choice.link(Some(book))?, Extent::Rest, leave, book, io)?;
    let tripped = matches!(rest.assessment.conditions.run, RunOutcome::Tripped { .. });
    if let Some(why) =
        against(&rest.assessment, &case.nameplate).filter(|_| tripped || rest_v(&rest).is_some())
    {
        io.note(&format!("warning: {} is not discharged, and not to be charged again: {why}", case.id));
        let assessed = rest.written(case, book, io)?;
        return closed(assessed, case, book, io);
    }
    let Some(volts) = rest_v(&rest) else { return Ok(Checked::NoRestVoltage(Box::new(rest))) };
    match guided::ready(&case.nameplate, volts) {
        Ok(note) => {
            io.note(&format!("3 of 3  {} rests at {volts:.3} V: full; discharging", case.id));
            note.iter().for_each(|note| io.note(&format!("note: {note}")));
        }
        Err(why) => return Err(to_be_charged_again(case, rest, why, book, io)?),
    }
    let step = Step::new(Stage::Discharging, case.nameplate.clone());
    guided::write(book, &case.id, &step, vec![rest.recording], io.now)?;
    let leave = leave.for_the_next_run();
    let assessed = assess::assess(case, choice.link(Some(book))?, Extent::Full, &leave, book, io)?;
    closed(assessed, case, book, io)
}

/// Ends the run with a decision.
fn closed(assessed: Assessed, case: &Case, book: &mut Book, io: &Io<'_>) -> Result<Checked, Error> {
    let step = Step::new(Stage::Done { decision: assessed.entry }, case.nameplate.clone());
    guided::write(book, &case.id, &step, Vec::new(), io.now)?;
    Ok(Checked::Decided(Box::new(assessed)))
}

/// Writes down the rest of a cell that is not full and returns what to tell: charge it again only where the book, which
/// now has that rest, lets somebody be told so.
fn to_be_charged_again(
    case: &Case,
    rest: Judged,
    why: String,
    book: &mut Book,
    io: &Io<'_>,
) -> Result<Error, Error> {
    let id = &case.id;
    rest.written(case, book, io)?;
    let hint = match permit(book, &State::read(book)?, id, &case.nameplate, io.now)? {
        ChargePermit::Given => format!(
            "charge it again until the charger ends by itself; after charging: celltriage guided --id {id} --charged"
        ),
        ChargePermit::Open { why } => {
            format!("before it is charged again ({why}): celltriage guided --id {id}")
        }
        ChargePermit::Refused { why } => format!("{id} is not to be charged again: {why}"),
    };
    let step = Step::new(Stage::ToCharge { why: Some(why.clone()) }, case.nameplate.clone());
    guided::write(book, id, &step, Vec::new(), io.now)?;
    Ok(Error { kind: Kind::Measurement, message: format!("{id}: {why}"), hints: Vec::new() }.hint(hint))
}

fn rest_v(rest: &Judged) -> Option<f64> {
    rest.assessment.estimates.get(&Quantity::RestVoltage).map(|rest| rest.value)
}

fn no_rest_voltage(case: &Case, rest: &Judged) -> Error {
    let missing = &rest.assessment.conditions.not_estimated;
    let why = missing.get(&Quantity::RestVoltage).map_or("nothing was recorded", String::as_str);
    let message = format!("{}: no rest voltage: {why}", case.id);
    Error { kind: Kind::Measurement, message, hints: Vec::new() }.hint("check the clips, then call again")
}
