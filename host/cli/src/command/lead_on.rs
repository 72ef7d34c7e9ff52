//! What comes after a decision, offered to the person who was led to it: the judgement, and the container. Each can wait.

use super::container::put::{Put, chosen, enter};
use super::judge::{JudgeArguments, judged};
use crate::as_it_was::AsItWas;
use crate::desk::{Desk, DeskArguments, Who};
use crate::error::Error;
use crate::io::Io;
use celltriage_rules::LegalState;
use celltriage_verdict::{CellState, Fate, Verdict};
use celltriage_workshop::clock::HeldClock;

/// A decision that was made just now.
pub(super) struct Decided<'a> {
    /// The cell.
    pub(super) cell: &'a str,
    /// What was decided.
    pub(super) verdict: &'a Verdict,
    /// Which book, and whose rules.
    pub(super) desk: DeskArguments,
    /// Who is there, where it is set.
    pub(super) person: Option<String>,
    /// What makes that person able to judge, where it is set.
    pub(super) qualification: Option<String>,
    /// The place, where it is set.
    pub(super) place: Option<String>,
}

/// Leads on from a decision that a person judges next; from a critical cell nobody is led to more questions.
///
/// # Errors
/// Input and book errors of what was done then; the decision stands.
pub(super) fn lead_on(decided: &Decided<'_>, io: &mut Io<'_>) -> Result<(), Error> {
    let is_judged_next = matches!(decided.verdict.fate, Fate::Recycle | Fate::Quarantine);
    let is_critical = decided.verdict.condition == CellState::Critical || !io.told.is_empty();
    if io.ask.is_none() || is_critical || !is_judged_next {
        return Ok(());
    }
    let arguments = JudgeArguments {
        cell: decided.cell.to_owned(),
        state: None,
        answers: Vec::new(),
        as_recorded: false,
        by: decided.person.clone(),
        qualification: decided.qualification.clone(),
        because: None,
        device: None,
        removed_on: None,
        photo: None,
        discarded_on: None,
        place: decided.place.clone(),
        on: None,
        json: false,
        desk: decided.desk.clone(),
    };
    match judged(&arguments, true, io)? {
        Some((state, by)) => put_away(decided.cell, state, &decided.desk, &by, io),
        None => {
            io.note(&format!("later: celltriage judge {}", decided.cell));
            Ok(())
        }
    }
}

/// Offers the container that takes a cell which was judged just now.
///
/// # Errors
/// As [`lead_on`].
pub(super) fn put_away(
    cell: &str,
    state: LegalState,
    desk: &DeskArguments,
    by: &str,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let stays = matches!(state, LegalState::NotWaste | LegalState::Critical);
    if io.ask.is_none() || stays || !io.told.is_empty() {
        return Ok(());
    }
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::open(desk, true, &clock, io)?;
    let Some(Put { container, inner }) = chosen(&desk, cell, io)? else {
        io.note(&format!("later: celltriage container place CONTAINER {cell}"));
        return Ok(());
    };
    let who = Who { by: by.to_owned(), on: None };
    enter(&mut desk, (&who, &AsItWas::default()), (cell, Put { container, inner }), None, io)
}
