//! A cell is put into a container: what is missing is asked for, the open container that takes the cell is proposed.

use super::{ask_for_mass, place};
use crate::as_it_was::AsItWas;
use crate::asked::id::ask_id;
use crate::desk::{Desk, Who, grams};
use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_custody::event::CellPlaced;
use celltriage_workshop::takers::Taker;

/// So many refusals are told where no container takes a cell.
const MOST_TOLD: usize = 3;

/// Where a cell is put.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Put {
    /// The container.
    pub(crate) container: String,
    /// The cell's inner packing.
    pub(crate) inner: Option<String>,
}

/// What was said of it.
pub(super) struct Said<'a> {
    pub(super) container: Option<&'a str>,
    pub(super) cell: Option<&'a str>,
    pub(super) inner: Option<&'a str>,
    pub(super) mass_g: Option<f64>,
}

/// Puts a cell into a container; what is missing is asked for where somebody is there.
///
/// # Errors
/// Input and book errors, each with what to do.
pub(super) fn put(
    desk: &mut Desk<'_>,
    (who, as_it_was): (&Who, &AsItWas),
    said: &Said<'_>,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let usage =
        "name both: celltriage container place CONTAINER CELL; at a terminal what is missing is asked for";
    let cell = match said.cell {
        Some(cell) => cell.to_owned(),
        None if io.ask.is_some() => ask_id(known_cell, io)?.name,
        None => return Err(Error::input("which cell goes into which container is not said").hint(usage)),
    };
    let inner = said.inner.map(str::to_owned);
    let put = match said.container {
        Some(container) => Put { container: container.to_owned(), inner },
        None => {
            // An unknown cell is told as such, not as one that no container takes.
            if !desk.shop.state_about(&[&cell])?.cells.contains_key(&cell) {
                desk.shop.to_judge(&cell)?;
            }
            match chosen(desk, &cell, io)? {
                Some(put) => Put { inner: inner.or(put.inner), ..put },
                None => return Err(Error::input(format!("{cell} was put into no container")).hint(usage)),
            }
        }
    };
    enter(desk, (who, as_it_was), (&cell, put), said.mass_g, io)
}

/// Writes it; a mass that nobody knows is asked for.
///
/// # Errors
/// As [`put`].
pub(crate) fn enter(
    desk: &mut Desk<'_>,
    who: (&Who, &AsItWas),
    (cell, put): (&str, Put),
    mass_g: Option<f64>,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let weighed = grams(mass_g)?.or(ask_for_mass(desk, cell, io)?);
    let placed = CellPlaced { cell: cell.to_owned(), container: put.container, inner: put.inner, weighed };
    place(desk, who, placed, io)
}

/// Proposes the container that takes a cell; `None` where there is none, nobody is there, or not now.
///
/// # Errors
/// The book cannot be read.
pub(crate) fn chosen(desk: &Desk<'_>, cell: &str, io: &mut Io<'_>) -> Result<Option<Put>, Error> {
    if io.ask.is_none() {
        return Ok(None);
    }
    let takers = desk.shop.takers_of(cell, &desk.rules)?;
    let Some(first) = takers.fit.first() else {
        let damaged = desk
            .shop
            .state_about(&[cell])?
            .cells
            .get(cell)
            .is_none_or(|cell| cell.legal().counts_as_damaged());
        let kind = if damaged { "damaged" } else { "intact" };
        io.note(&format!(
            "no container that stands here takes {cell}; open one: celltriage container open NAME --kind {kind} --stands WHERE"
        ));
        for (name, refusal) in takers.refused.iter().take(MOST_TOLD) {
            io.note(&format!("  {name}: {refusal}"));
        }
        return Ok(None);
    };
    for Taker { name, kind, stands, cells, .. } in &takers.fit {
        io.note(&format!("  {name}: {}, {stands}, {cells} in it", kind.words()));
    }
    let container = match Reply::to(&format!("Container [Enter {}, q not now]: ", first.name), io) {
        Some(Reply::Empty) => first.name.clone(),
        Some(Reply::Text(text)) if text != "q" => text,
        _ => return Ok(None),
    };
    let taker = takers.fit.iter().find(|taker| taker.name == container);
    let inner = match taker.and_then(|taker| taker.inner.clone()) {
        None => None,
        Some(free) => {
            match Reply::to(&format!("Its inner packing, a bag or box of its own [Enter {free}]: "), io) {
                Some(Reply::Text(text)) => Some(text),
                Some(Reply::Empty) => Some(free),
                _ => return Ok(None),
            }
        }
    };
    Ok(Some(Put { container, inner }))
}
