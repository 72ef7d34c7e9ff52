//! A container as a whole: moved, merged into another, split, emptied.

use super::ContainerAction;
use crate::as_it_was::AsItWas;
use crate::choice::read_place;
use crate::desk::{Desk, Who};
use crate::error::Error;
use crate::io::Io;
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::repacking::{NewPlace, Repack};

/// Does what is to be done with a container as a whole; anything else is left alone.
///
/// # Errors
/// Input and book errors, each with what to do.
pub(super) fn act(desk: &mut Desk<'_>, action: &ContainerAction, io: &mut Io<'_>) -> Result<(), Error> {
    use ContainerAction as Do;
    let repack = |name: &String, into: Option<&String>, cells: &[String], because: &String| Repack {
        container: name.clone(),
        into: into.cloned(),
        cells: cells.to_vec(),
        because: because.clone(),
    };
    match action {
        Do::Move { name, stands, place, corrects, because, as_it_was, who } => {
            let new = NewPlace {
                container: name.clone(),
                place: place.as_deref().map(read_place).transpose()?,
                stands: stands.clone(),
                corrected: *corrects,
                because: because.clone(),
            };
            moved(desk, &new, (&who.who, as_it_was), io)
        }
        Do::Merge { name, into, because, as_it_was, who } => {
            repacked(desk, &repack(name, Some(into), &[], because), (&who.who, as_it_was), io)
        }
        Do::Split { name, into, cells, because, as_it_was, who } => {
            repacked(desk, &repack(name, Some(into), cells, because), (&who.who, as_it_was), io)
        }
        Do::Empty { name, because, as_it_was, who } => {
            repacked(desk, &repack(name, None, &[], because), (&who.who, as_it_was), io)
        }
        _ => Ok(()),
    }
}

fn moved(
    desk: &mut Desk<'_>,
    new: &NewPlace,
    (who, as_it_was): (&Who, &AsItWas),
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let signer = desk.signer(who, io)?;
    let happened = Happened::Moved(new.clone());
    let entered = as_it_was
        .enter(desk, &signer, &happened, |desk| desk.shop.move_container(&signer, &desk.rules, new))?;
    desk.tell(&entered, io);
    Ok(())
}

fn repacked(
    desk: &mut Desk<'_>,
    new: &Repack,
    (who, as_it_was): (&Who, &AsItWas),
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let signer = desk.signer(who, io)?;
    let happened = Happened::Repacked(new.clone());
    let entered =
        as_it_was.enter(desk, &signer, &happened, |desk| desk.shop.repack(&signer, &desk.rules, new))?;
    desk.tell(&entered, io);
    for name in new.into.iter() {
        let mut passed = desk.shop.container(name, &desk.rules)?.counters;
        passed.retain(|counter| counter.passed == Some(true));
        super::page::tell_passed(&passed, io);
    }
    Ok(())
}
