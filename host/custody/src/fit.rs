//! Whether a cell may be in a container.

use crate::cell::Cell;
use crate::event::ContainerKind;
use crate::refusal::Refusal;
use crate::state::Container;
use celltriage_rules::LegalState;

/// Says for what a cell counts as damaged whatever a person judges, where it does.
///
/// # Errors
/// What was found, and what ends it.
pub fn not_damaged(name: &str, cell: &Cell) -> Result<(), Refusal> {
    let Some(found) = cell.damaged_for() else { return Ok(()) };
    let (found, ends) = (found.words(), found.kind.row().release.words());
    Err(Refusal::CountsAsDamaged { cell: name.to_owned(), found, ends })
}

/// Says whether a cell as it is now may be in a container; holds for cells that go in and for cells that are in.
///
/// # Errors
/// The rule of mixing that it breaks.
pub fn fits(name: &str, cell: &Cell, container: &Container) -> Result<(), Refusal> {
    let legal = cell.legal();
    let kind = container.opened.kind;
    // A quarantine container is for no waste: a cell under watch stands there whatever it was graded before.
    let watched_there = kind == ContainerKind::Quarantine && cell.watch.is_some();
    if cell.is_for_reuse() && !watched_there {
        return Err(Refusal::ForReuse(name.to_owned()));
    }
    if legal == LegalState::Critical {
        return Err(Refusal::Critical(name.to_owned()));
    }
    let right_mix = match kind {
        ContainerKind::Intact => legal == LegalState::IntactWaste,
        ContainerKind::Damaged => legal.counts_as_damaged(),
        ContainerKind::Quarantine => legal.counts_as_damaged() || cell.is_for_reuse() && watched_there,
    };
    if !right_mix {
        return Err(Refusal::WrongMix {
            cell: name.to_owned(),
            state: cell.legal_in_words(),
            container: container.opened.container.clone(),
            takes: kind.words(),
        });
    }
    match &cell.watch {
        Some(watch) if kind != ContainerKind::Quarantine => Err(Refusal::UnderWatch {
            cell: name.to_owned(),
            since: watch.since,
            because: watch.hold.because.clone(),
        }),
        _ => Ok(()),
    }
}
