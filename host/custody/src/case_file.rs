//! What the book knows of a cell, gathered for whoever takes it up next.

use crate::cell::{Cell, Whereabouts};
use crate::state::State;
use celltriage_assessment::CaseFile;
use celltriage_assessment::case_file::{DecidedBefore, JudgedBefore};

/// Returns a cell's case file; it is empty where the book has nothing about it.
pub fn case_file(state: &State, cell: &str) -> CaseFile {
    state.cells.get(cell).map_or_else(CaseFile::default, |found| of_cell(state, found))
}

fn of_cell(state: &State, cell: &Cell) -> CaseFile {
    let facts = cell.facts.as_ref().filter(|facts| !state.struck.contains_key(&facts.assessment));
    CaseFile {
        standing: cell.known(),
        ended: cell.found.iter().filter(|found| !found.stands()).cloned().collect(),
        judged: cell.standing_judgement().map(|judged| JudgedBefore {
            state: judged.judgement.state,
            by: judged.by.clone(),
            on: judged.on,
            entry: judged.entry,
        }),
        decided: facts.map(|facts| DecidedBefore { fate: facts.fate, on: facts.on, entry: facts.assessment }),
        lies: (cell.whereabouts != Whereabouts::Loose).then(|| cell.whereabouts.words()),
    }
}
