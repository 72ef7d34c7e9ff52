//! A decision as it is shown: the first screen, the long page for whoever asks for it, JSON for machines.

use super::printed::Printed;
use super::say_json;
use crate::error::Error;
use crate::io::Io;
use celltriage_assessment::Assessment;
use celltriage_book::Kept;
use celltriage_report::decision_page::decision_page;
use celltriage_report::first_screen::{Around, ToType, first_screen};
use celltriage_verdict::KnownFinding;

/// How a decision is shown.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Shown<'a> {
    /// As JSON.
    pub(super) json: bool,
    /// The long page.
    pub(super) full: bool,
    /// Where it is kept; absent where no book was asked.
    pub(super) kept: Option<&'a Kept>,
}

/// Shows a decision.
///
/// # Errors
/// An error where it cannot be written as JSON.
pub(super) fn show(assessment: &Assessment, how: Shown<'_>, io: &mut Io<'_>) -> Result<(), Error> {
    if how.json || how.full {
        return show_below(&[], assessment, how.json, io);
    }
    let entry = how.kept.and_then(Kept::entry);
    let cell = assessment.cell.id.as_deref().unwrap_or("CELL");
    let typed = |what| to_type(what, cell, entry, how.kept.is_some());
    let around = Around { in_book: how.kept.is_some(), typed: &typed };
    io.show(&first_screen(assessment, &around, &io.terminal()));
    Ok(())
}

/// Shows the long page of a decision below what the book has found of the cell since.
///
/// # Errors
/// As [`show`].
pub(super) fn show_below(
    since: &[KnownFinding],
    assessment: &Assessment,
    json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    if json {
        return say_json(&Printed::of(assessment, since), io);
    }
    io.show(&decision_page(since, assessment));
    Ok(())
}

/// What is typed for what comes next.
fn to_type(what: ToType, cell: &str, entry: Option<u32>, in_book: bool) -> String {
    match what {
        ToType::Fit => format!("celltriage trial fit {cell} --job JOB"),
        ToType::Judge => format!("celltriage judge {cell}"),
        ToType::Assess => format!("celltriage assess --id {cell}"),
        ToType::Guided => format!("celltriage guided --id {cell}"),
        ToType::Watch => format!("celltriage container hold {cell}"),
        ToType::Keep => "the same with --book FILE".to_owned(),
        ToType::Whole => match entry {
            Some(entry) => format!("celltriage book show entry:{entry}"),
            // What lies beside the book is in it with the next command that writes.
            None if in_book => format!("celltriage book show {cell}"),
            None => "the same with --full".to_owned(),
        },
        ToType::Numbers => format!("celltriage explain {cell}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command_line::Arguments;
    use clap::Parser;

    /// What a screen tells to type is understood; blanks that a person fills are filled, and what else a command needs is added.
    #[test]
    fn what_is_told_to_be_typed_is_understood() {
        for what in ToType::ALL {
            let told = to_type(what, "PE-0412", Some(7), true);
            let Some(words) = told.strip_prefix("celltriage ") else {
                assert_eq!(what, ToType::Keep, "{told}");
                continue;
            };
            let more: &[&str] = match what {
                ToType::Fit => &["--by", "Ines Harrow"],
                ToType::Watch => &["--because", "hot", "--stands", "yard", "--by", "Ines Harrow"],
                _ => &[],
            };
            let book = ["--book", "book"];
            let typed =
                ["celltriage"].into_iter().chain(words.split(' ')).chain(more.iter().copied()).chain(book);
            let read = Arguments::try_parse_from(typed);
            assert!(read.is_ok(), "{told}: {read:?}");
        }
        assert_eq!(to_type(ToType::Whole, "PE-0412", None, false), "the same with --full");
    }
}
