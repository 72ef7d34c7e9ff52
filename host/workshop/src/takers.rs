//! Which container takes a cell, and what a person said last of being able to judge: proposals, to be taken or not.

use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_book::Filter;
use celltriage_custody::check::check;
use celltriage_custody::event::{CellPlaced, ContainerKind, Event, SCHEMA, Signed};
use celltriage_custody::event_in_book::event_of;
use celltriage_custody::{PackRules, Refusal, Scope};

/// So many of the newest judgements are looked at (our choice).
const MOST_JUDGEMENTS: u32 = 50;

/// A container that takes a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Taker {
    /// Its name.
    pub name: String,
    /// What it is for.
    pub kind: ContainerKind,
    /// Where it stands.
    pub stands: String,
    /// How many cells are in it.
    pub cells: usize,
    /// A free name for the cell's inner packing, where it needs one.
    pub inner: Option<String>,
}

/// The containers that take a cell, and why the others do not.
#[derive(Clone, Debug, Default)]
pub struct Takers {
    /// Those that take it, the one to propose first.
    pub fit: Vec<Taker>,
    /// The others that stand here, each with what is in the way.
    pub refused: Vec<(String, Refusal)>,
}

impl Workshop<'_> {
    /// Returns the containers here that would take a cell today, by the very check that its placing passes: those for waste before
    /// those for quarantine, those of the cell's place first, then the one opened last.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn takers_of(&self, cell: &str, rules: &PackRules) -> Result<Takers> {
        let mut state = self.state(Scope::Shop)?;
        state.cells.extend(self.state_about(&[cell])?.cells);
        let (here, circumstances) = (self.place_of(cell), self.circumstances(rules));
        let mut takers = Takers::default();
        let mut ranked = Vec::new();
        for (name, container) in state.containers.iter().filter(|(_, container)| container.is_here()) {
            let kind = container.opened.kind;
            let inner = (kind != ContainerKind::Intact).then(|| cell.to_owned());
            let placed = CellPlaced {
                cell: cell.to_owned(),
                container: name.clone(),
                inner: inner.clone(),
                weighed: None,
            };
            // Whoever signs is asked later.
            let by = "anybody".to_owned();
            let signed =
                Signed { schema: SCHEMA, by, on: circumstances.today, event: Event::CellPlaced(placed) };
            if let Err(refusal) = check(&state, &signed, &circumstances) {
                takers.refused.push((name.clone(), refusal));
                continue;
            }
            let elsewhere = here.as_ref().is_some_and(|here| *here != container.opened.place);
            let rank = (kind, elsewhere, std::cmp::Reverse(container.opened_on), name.clone());
            let (stands, cells) = (container.opened.stands.clone(), state.cells_in(name).count());
            ranked.push((rank, Taker { name: name.clone(), kind, stands, cells, inner }));
        }
        ranked.sort_by(|(one, _), (other, _)| one.cmp(other));
        takers.fit = ranked.into_iter().map(|(_, taker)| taker).collect();
        Ok(takers)
    }

    /// Returns what a person gave last as what makes them able to judge; `None` where the newest judgements are of others.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn last_qualification(&self, by: &str) -> Result<Option<String>> {
        let judgements =
            Filter { kind: Some("judgement".to_owned()), limit: Some(MOST_JUDGEMENTS), ..Filter::default() };
        for entry in self.book.entries(&judgements)? {
            if let Some(Signed { by: signed_by, event: Event::Judgement(judgement), .. }) =
                event_of(&self.book, &entry)?
                && signed_by == by
            {
                return Ok(Some(judgement.qualification));
            }
        }
        Ok(None)
    }
}
