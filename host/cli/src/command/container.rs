//! `container`: open, fill, empty, weigh, watch, show; each a signed event in the book.

mod arguments;
mod page;
pub(super) mod put;
mod repack;

pub use arguments::{ContainerAction, ContainerArguments};

use super::known_first::tell_alike;
use crate::as_it_was::{AsItWas, with_hint};
use crate::desk::{AtDesk, Desk, Who, grams, kilograms, litres, watt_hours};
use crate::entry_hint::with_cell_hint;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::paper;
use celltriage_custody::Scope;
use celltriage_custody::event::*;
use celltriage_custody::units::Milligrams;
use celltriage_rules::PlaceCode;
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::corrections::NewCorrection;
use celltriage_workshop::quarantine::NewWatch;

/// Runs `container`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &ContainerArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    use ContainerAction as Do;
    let reads =
        matches!(arguments.action, Do::List { .. } | Do::Show { .. } | Do::Label { .. } | Do::Sheet { .. });
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::open(&arguments.desk, !reads, &clock, io)?.told_as_json(arguments.action.json());
    let done = act(&mut desk, &arguments.action, io);
    done.map(|()| EXIT_DONE).map_err(|error| match arguments.action.cell() {
        Some(cell) => with_cell_hint(error, desk.shop.book(), cell),
        None => error,
    })
}

fn act(desk: &mut Desk<'_>, action: &ContainerAction, io: &mut Io<'_>) -> Result<(), Error> {
    use ContainerAction as Do;
    match action {
        Do::List { json } => page::list(&desk.shop.state(Scope::AllContainers)?, *json, io)?,
        Do::Show { name, json } => page::show(&desk.shop.container(name, &desk.rules)?, name, *json, io)?,
        Do::Label { name, html, files, json } => {
            let view = desk.shop.container(name, &desk.rules)?;
            if files.asks() || *json {
                page::one_label(&view, name, desk.shop.today(), files, *json, io)?;
            } else {
                page::label(&view, name, *html, io)?;
            }
        }
        Do::Sheet { name, pdf, html } => {
            let sheet = page::sheet(&desk.shop.container(name, &desk.rules)?, name, desk.shop.today());
            let files = paper::Files { pdf: pdf.as_deref(), html: html.as_deref() };
            if files.write(&sheet, desk.shop.today(), io)?.is_empty() {
                io.show(&sheet);
            }
        }
        Do::Open { .. } => open(desk, action, io)?,
        Do::Move { .. } | Do::Merge { .. } | Do::Split { .. } | Do::Empty { .. } => {
            repack::act(desk, action, io)?
        }
        Do::Place { name, cell, inner, mass_g, as_it_was, who } => {
            let (container, cell, inner) = (name.as_deref(), cell.as_deref(), inner.as_deref());
            let said = put::Said { container, cell, inner, mass_g: *mass_g };
            put::put(desk, (&who.who, as_it_was), &said, io)?;
        }
        Do::TakeOut { cell, because, as_it_was, who } => {
            let taken = CellTakenOut { cell: cell.clone(), because: because.clone() };
            let signer = desk.signer(who, io)?;
            let happened = Happened::TakenOut(taken.clone());
            let entered = as_it_was
                .enter(desk, &signer, &happened, |desk| desk.shop.take_out(&signer, &desk.rules, taken))?;
            desk.tell(&entered, io);
        }
        Do::Weigh { cell, mass_g, who } => {
            let mass = grams(Some(*mass_g))?.unwrap_or_default();
            let signer = desk.signer(who, io)?;
            let weighed = CellWeighed { cell: cell.clone(), mass };
            let entered = desk.shop.weigh(&signer, &desk.rules, weighed)?;
            desk.tell(&entered, io);
        }
        Do::Labelled { cell, who } => {
            let signer = desk.signer(who, io)?;
            let entered = desk.shop.put_label_on(&signer, &desk.rules, cell)?;
            desk.tell(&entered, io);
        }
        Do::Hold { cell, because, stands, until, every_days, who } => {
            let (cell, because, stands) = (cell.clone(), because.clone(), stands.clone());
            let watch = NewWatch { cell, because, stands, until: *until, every_days: *every_days };
            let signer = desk.signer(who, io)?;
            let held = desk.shop.hold(&signer, &desk.rules, watch)?;
            desk.tell(&held.entered, io);
            if held.end_in_doubt {
                io.note("note: entries before this one have later times, so some clock stood wrong: of the time until the end of this watch only that counts in which something is written at least once a day");
            }
        }
        Do::Inspect { cell, look, temperature_c, air_c, note, who } => {
            let (temperature_c, air_c, look) = (*temperature_c, *air_c, *look);
            let seen = Inspection { cell: cell.clone(), temperature_c, air_c, look, note: note.clone() };
            let signer = match look {
                Look::Active => desk.signer_at_once(who, io),
                _ => desk.signer(who, io)?,
            };
            let entered = desk.shop.inspect(&signer, &desk.rules, &seen, &mut AtDesk(io))?;
            desk.tell(&entered, io);
        }
        Do::Release { cell, because, who } => {
            let release = Release { cell: cell.clone(), because: because.clone() };
            let signer = desk.signer(who, io)?;
            let entered = desk.shop.release(&signer, &desk.rules, release)?;
            desk.tell(&entered, io);
            io.note("note: have the cell judged before it goes on: celltriage judge");
        }
        Do::Escalate { cell, because, who } => {
            let escalation = Escalation { cell: cell.clone(), because: because.clone() };
            let signer = desk.signer_at_once(who, io);
            let entered = desk.shop.escalate(&signer, &desk.rules, &escalation, &mut AtDesk(io))?;
            desk.tell(&entered, io);
            // After the entry: nothing holds up a report.
            tell_alike(&entered.state, cell, io);
        }
        Do::Correct { entry, because, strike, who } => {
            // Nobody is asked about the clock for an entry that is not there.
            desk.shop.to_correct(*entry)?;
            let new = NewCorrection { entry: *entry, because: because.clone(), strike: *strike };
            let signer = desk.signer(who, io)?;
            let entered = desk.shop.correct(&signer, &desk.rules, &new)?;
            desk.tell(&entered, io);
        }
    }
    Ok(())
}

fn open(desk: &mut Desk<'_>, action: &ContainerAction, io: &mut Io<'_>) -> Result<(), Error> {
    let ContainerAction::Open {
        name,
        kind,
        place,
        stands,
        tare_kg,
        most_cells,
        most_kg,
        most_wh,
        volume_l,
        one_chemistry,
        who,
    } = action
    else {
        return Ok(());
    };
    let place: PlaceCode = place.parse().map_err(|error| Error::input(format!("{error}")))?;
    let opened = ContainerOpened {
        container: name.clone(),
        kind: *kind,
        place,
        stands: stands.clone(),
        tare: kilograms(*tare_kg)?,
        most_cells: *most_cells,
        most_mass: kilograms(*most_kg)?,
        most_energy: watt_hours(*most_wh)?,
        one_chemistry: *one_chemistry,
        volume: litres(*volume_l)?,
    };
    let signer = desk.signer(who, io)?;
    let entered = desk.shop.open_container(&signer, &desk.rules, opened)?;
    desk.tell(&entered, io);
    Ok(())
}

fn place(
    desk: &mut Desk<'_>,
    (who, as_it_was): (&Who, &AsItWas),
    cell: CellPlaced,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let name = cell.cell.clone();
    let signer = desk.signer(who, io)?;
    if let Some(action) = &as_it_was.action {
        let happened = Happened::Placed(cell);
        let entered = desk.shop.write_as_it_was(&signer, &desk.rules, &happened, action)?;
        desk.tell(&entered, io);
        return Ok(());
    }
    let placed = desk.shop.place(&signer, &desk.rules, cell).map_err(with_hint)?;
    desk.tell(&placed.entered, io);
    if let Some(mass) = placed.counted_as {
        io.note(&format!(
            "note: the mass of cell {name} is not known, so it counts as {mass}; weigh it: celltriage container weigh {name}"
        ));
    }
    page::tell_passed(&placed.passed, io);
    Ok(())
}

/// Asks for a mass that is neither on the label nor in the book, where somebody is there to answer.
fn ask_for_mass(desk: &Desk<'_>, cell: &str, io: &mut Io<'_>) -> Result<Option<Milligrams>, Error> {
    let missing = desk.shop.mass_is_missing(cell)?;
    let Some(ask) = io.ask.as_mut().filter(|_| missing) else { return Ok(None) };
    let line =
        ask(&format!("Mass of cell {cell} in g, as weighed [empty = not weighed] ")).unwrap_or_default();
    match line.trim() {
        "" => Ok(None),
        text => match text.replace(',', ".").parse::<f64>() {
            Ok(figure) => grams(Some(figure)),
            Err(_) => Err(Error::input(format!("\"{text}\" is no mass in g; nothing was written"))),
        },
    }
}
