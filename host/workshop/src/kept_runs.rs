//! The capacity runs that are under way, as the book keeps them: a shop's list of them reads no run that ended long ago.
//!
//! Folded from the stages. What was written since they were kept is folded on top, in memory; whoever writes keeps it.

use crate::capacity_run::{KIND, Run, Stage, step_of};
use celltriage_book::{Book, BookError, Change, Entry, FOLDED_AT_ONCE, Fold, Folded, Next};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is kept; another version whenever the same entries would give other values.
pub(crate) const FOLD: Fold = Fold { name: "runs", version: 1 };
/// The label of the runs that have not ended.
const OPEN: &str = "open";

/// A run as it is kept, by the name of its cell.
#[derive(Serialize, Deserialize)]
struct Kept(Run);

/// Keeps what was written since the last time; `step` hears how far it is.
///
/// # Errors
/// A book error.
pub(crate) fn keep_up(book: &mut Book, step: &mut dyn FnMut(u32)) -> Result<(), BookError> {
    book.keep_up(FOLD, folded, step)
}

/// Says whether what is kept is whole, or with `from_entries` what all entries say; see [`Book::kept_fits`].
///
/// # Errors
/// A book error.
pub(crate) fn kept_fits(
    book: &Book,
    from_entries: bool,
    step: &mut dyn FnMut(u32),
) -> Result<bool, BookError> {
    book.kept_fits(FOLD, from_entries, folded, step)
}

/// Reads the runs that have not ended, by the names of their cells.
///
/// # Errors
/// A book error.
pub(crate) fn open(book: &Book) -> Result<BTreeMap<String, Run>, BookError> {
    book.from_kept(FOLD, |from| open_from(book, from))
}

fn open_from(book: &Book, from: u32) -> Result<BTreeMap<String, Run>, BookError> {
    let mut found = BTreeMap::new();
    let kept = if from > 0 { book.kept_under(FOLD, OPEN, None)? } else { Vec::new() };
    for cell in kept {
        let Some(value) = book.kept(FOLD, &cell)? else { continue };
        let read = serde_json::from_str(&value).map_err(|error| book.kept_is_damaged(FOLD, &cell, error));
        let Kept(run) = read?;
        found.insert(cell, run);
    }
    let mut after = from;
    loop {
        let entries = book.entries_of_kind_after(KIND, after, FOLDED_AT_ONCE)?;
        let Some(last) = entries.last() else { break };
        after = last.number;
        for entry in &entries {
            found.insert(entry.subject.name.clone(), run(book, entry)?);
        }
    }
    found.retain(|_, run| !is_over(run));
    Ok(found)
}

/// Folds the next entries: those of other kinds are passed over.
fn folded(next: Next<'_>) -> Result<Folded, BookError> {
    let book = next.entries;
    let mut entries = book.entries_of_kind_after(KIND, next.from, FOLDED_AT_ONCE)?;
    let full = u32::try_from(entries.len()).is_ok_and(|count| count >= FOLDED_AT_ONCE);
    entries.retain(|entry| entry.number <= next.upto);
    let last = entries.last().map(|entry| entry.number).filter(|_| full);
    let mut newest = BTreeMap::new();
    for entry in &entries {
        newest.insert(entry.subject.name.clone(), run(book, entry)?);
    }
    let change = |(key, run): (String, Run)| {
        if is_over(&run) {
            return Ok(Change { key, value: None, labels: Vec::new() });
        }
        let value = serde_json::to_string(&Kept(run)).map_err(|error| book.not_storable("run", error))?;
        Ok(Change { key, value: Some(value), labels: vec![(OPEN.to_owned(), 0)] })
    };
    let changes = newest.into_iter().map(change).collect::<Result<_, BookError>>()?;
    Ok(Folded { to: last.unwrap_or(next.upto), changes })
}

fn run(book: &Book, entry: &Entry) -> Result<Run, BookError> {
    let step = step_of(entry).map_err(|error| book.unreadable(entry, error))?;
    Ok(Run { since: step.since(entry.at), step })
}

const fn is_over(run: &Run) -> bool {
    matches!(run.step.stage, Stage::Done { .. })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capacity_run::{Step, write};
    use celltriage_measure::test_support::nameplate;
    use jiff::Timestamp;

    #[test]
    fn runs_that_ended_are_not_read_and_what_is_kept_changes_no_answer() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        let mut second = 0;
        let mut stage = |book: &mut Book, cell: &str, stage: Stage| {
            second += 1;
            let at = Timestamp::from_second(1_764_000_000 + second).unwrap();
            write(book, cell, &Step::new(stage, nameplate()), Vec::new(), at).unwrap();
        };
        let names = |book: &Book| open(book).unwrap().into_keys().collect::<Vec<_>>();
        let to_charge = Stage::ToCharge { why: None };
        for cell in ["A", "B", "C"] {
            stage(&mut book, cell, to_charge.clone());
        }
        stage(&mut book, "B", Stage::Done { decision: 9 });
        assert_eq!(names(&book), ["A", "C"], "nothing is kept yet");
        keep_up(&mut book, &mut |_| {}).unwrap();
        let kept = open(&book).unwrap();
        assert_eq!(book.kept_to(FOLD).unwrap(), 4);
        assert_eq!(book.kept_under(FOLD, OPEN, None).unwrap(), ["A", "C"]);
        let fits = |book: &Book, from_entries| kept_fits(book, from_entries, &mut |_| {});
        assert!(fits(&book, true).unwrap());
        let stranger = rusqlite::Connection::open(book.path()).unwrap();
        stranger.execute("DELETE FROM kept_under WHERE fold = 'runs' AND key = 'A'", []).unwrap();
        assert!(fits(&book, false).unwrap() && !fits(&book, true).unwrap(), "a run that no label finds");
        book.forget_kept(FOLD).unwrap();
        assert_eq!(open(&book).unwrap(), kept, "kept or folded again");
        keep_up(&mut book, &mut |_| {}).unwrap();
        // What is written since lies on top: one ends, one begins again, one goes on.
        stage(&mut book, "A", Stage::Done { decision: 9 });
        stage(&mut book, "B", to_charge);
        stage(&mut book, "C", Stage::Resting);
        let found = open(&book).unwrap();
        assert_eq!(found.keys().collect::<Vec<_>>(), ["B", "C"]);
        assert_eq!(found["C"].step.stage, Stage::Resting);
        keep_up(&mut book, &mut |_| {}).unwrap();
        assert_eq!(open(&book).unwrap(), found);
        assert_eq!(book.kept_under(FOLD, OPEN, None).unwrap(), ["B", "C"]);
    }
}
