//! A cell that was judged just now is put into the container that takes it, or later.

use super::container::put::{Put, chosen, enter};
use crate::as_it_was::AsItWas;
use crate::desk::{Desk, DeskArguments, Who};
use crate::error::Error;
use crate::io::Io;
use celltriage_rules::LegalState;
use celltriage_workshop::clock::HeldClock;

/// Offers the container that takes a cell which was judged just now.
///
/// # Errors
/// Input and book errors; the judgement stands.
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
