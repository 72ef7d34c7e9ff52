//! What comes after a decision, offered to the person who was led to it: the judgement, and the container. Each can wait.

use super::judge::{JudgeArguments, judged};
use super::put_away::put_away;
use crate::desk::DeskArguments;
use crate::error::Error;
use crate::io::Io;
use celltriage_verdict::{CellState, Fate, Verdict};

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
    // Who has just ended the test wants to leave.
    if io.ask.is_none() || io.stop_wanted() || is_critical || !is_judged_next {
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
